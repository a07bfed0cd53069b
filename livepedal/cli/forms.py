"""The forms of the report of `check`: whole, as a table of many files, as JSON, as CSV."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import Protocol

from livepedal.advice.summary import Tally
from livepedal.cli.asked import Asked
from livepedal.cli.many import Done, Form
from livepedal.cli.output import Output, complain
from livepedal.errors import LivepedalError
from livepedal.views.lines import Tone, line
from livepedal.views.report import text as report


class Writer(Protocol):
    """Writes the results, file by file. form: what it needs of each."""

    form: Form

    def opening(self) -> None: ...
    def file(self, done: Done) -> None: ...
    def closing(self, tally: Tally) -> None: ...


class _TextWriter:
    """Whole reports, in colour on a terminal."""

    form = Form.REPORT

    def __init__(self, asked: Asked, plain: bool) -> None:
        self._asked = asked
        self._out = Output(sys.stdout, plain)
        self._look = self._out.look(asked.middle_c, asked.every)
        self._opened = False

    def opening(self) -> None:
        pass  # before the first file that could be judged

    def file(self, done: Done) -> None:
        if done.error is not None:
            complain(done.error)
            return
        if not self._opened:
            self._opened = True
            self._out.write(
                report.opening(self._asked.player, self._asked.instrument, self._look, self._asked.only)
            )
        if done.report is not None:
            lines = report.sheet_lines if self._asked.sheet else report.file_lines
            self._out.write(lines(done.report, self._look))

    def closing(self, tally: Tally) -> None:
        if self._opened or tally.files > 1:  # else the error has been told already
            self._out.write(report.closing(tally, self._asked.player, self._look, self._asked.bare))


class _TableWriter:
    """A row for each file; with --quiet only the rows of files that fail."""

    form = Form.ROW

    def __init__(self, asked: Asked, plain: bool, paths: Sequence[str], quiet: bool) -> None:
        from livepedal.views.report.table import Table

        self._asked = asked
        self._out = Output(sys.stdout, plain)
        self._look = self._out.look(asked.middle_c, asked.every)
        self._table = Table.laid_out(paths, self._look, asked.remedies)
        self._quiet = quiet
        self._audible = False

    def opening(self) -> None:
        if not self._quiet:
            self._out.write(
                report.opening(self._asked.player, self._asked.instrument, self._look, self._asked.only)
            )
            self._out.write([(), *self._table.head()])

    def file(self, done: Done) -> None:
        # A file that could not be judged has a row like all others, so standard error stays empty.
        self._audible |= done.summary.audible
        self._out.write(self._table.rows(done.summary))

    def closing(self, tally: Tally) -> None:
        if self._quiet:
            return
        if self._audible:
            text = "~ an audible pedal change: its string is still sounding"
            self._out.write([line((text, Tone.FAINT))])
        if self._asked.remedies and tally.files > tally.failed:
            text = "fastest: in quarters a minute, and as a share of the written tempo"
            self._out.write([line((text, Tone.FAINT))])
        self._out.write(report.closing(tally, self._asked.player, self._look, self._asked.bare))


class _JsonWriter:
    """One JSON document, which is ASCII and the same everywhere."""

    form = Form.JSON

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        self._first = True

    def opening(self) -> None:
        from livepedal.views import json_view

        sys.stdout.write(json_view.opening(self._asked.player, self._asked.instrument))

    def file(self, done: Done) -> None:
        from livepedal.views import json_view

        if done.error is not None:
            complain(done.error)
        sys.stdout.write(json_view.separated(done.text, self._first))
        self._first = False

    def closing(self, tally: Tally) -> None:
        from livepedal.views import json_view

        sys.stdout.write(json_view.closing())


class _LinesWriter:
    """JSON lines: each file is a document on its own line."""

    form = Form.JSON

    def __init__(self, asked: Asked) -> None:
        from livepedal.views import json_view

        self._head = json_view.line_head(asked.player, asked.instrument, asked.figures)

    def opening(self) -> None:
        pass

    def file(self, done: Done) -> None:
        from livepedal.views import json_view

        if done.error is not None:
            complain(done.error, tracks=False)
        sys.stdout.write(json_view.line_text(self._head, done.text, done.seconds))

    def closing(self, tally: Tally) -> None:
        pass


class _CsvWriter:
    """A row for each finding, and one for each file that could not be judged."""

    form = Form.CSV

    def opening(self) -> None:
        from livepedal.views import csv_view

        sys.stdout.write(csv_view.head())

    def file(self, done: Done) -> None:
        if done.error is not None:
            complain(done.error, tracks=False)
        sys.stdout.write(done.text)

    def closing(self, tally: Tally) -> None:
        pass


def writer_for(options: argparse.Namespace, asked: Asked, paths: Sequence[str]) -> Writer:
    """The form that is asked for. Raises LivepedalError where two of them contradict each other."""
    if options.jsonl:
        return _LinesWriter(asked)
    if options.json:
        if options.quiet:
            raise LivepedalError("--json always writes the whole document; with --quiet use --jsonl.")
        return _JsonWriter(asked)
    if options.csv:
        return _CsvWriter()
    if options.quiet or (len(paths) > 1 and not options.full and not options.sheet):
        return _TableWriter(asked, options.plain, paths, options.quiet)
    return _TextWriter(asked, options.plain)
