"""The forms of the report of `check`: whole, as a table of many files, as JSON, as CSV."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence

from livepedal.advice.summary import Tally
from livepedal.cli.asked import Asked
from livepedal.cli.many import Done, Form
from livepedal.cli.output import Output, complain
from livepedal.errors import LivepedalError
from livepedal.views.lines import Tone, line
from livepedal.views.report import text as report


class Writer:
    """Writes whole reports, file by file, in colour on a terminal. form: what it needs of each."""

    form = Form.REPORT

    def __init__(self, asked: Asked, plain: bool) -> None:
        self._asked = asked
        self._out = Output(sys.stdout, plain)
        self._look = self._out.look(asked.middle_c, asked.every)
        self._opened = False

    def opening(self) -> None:
        """Write what stands before the first file."""
        # Not before the first one that could be judged.

    def file(self, done: Done) -> None:
        """Write what came of a file."""
        if done.error is not None:
            complain(done.error)
            return
        if not self._opened:
            self._open()
        if done.report is not None:
            lines = report.pedal_sheet_lines if self._asked.sheet else report.file_lines
            self._out.write(lines(done.report, self._look))

    def _open(self) -> None:
        asked, self._opened = self._asked, True
        self._out.write(report.opening(asked.player, asked.instrument, self._look, asked.only))

    def closing(self, tally: Tally) -> None:
        """Write what stands behind the last file."""
        if self._opened or tally.files > 1:  # else the error has been told already
            self._out.write(report.closing(tally, self._asked.player, self._look, self._asked.bare))


class _TableWriter(Writer):
    """A row for each file; with --quiet only the rows of files that fail."""

    form = Form.ROW

    def __init__(self, asked: Asked, plain: bool, paths: Sequence[str], quiet: bool) -> None:
        from livepedal.views.report.table import Table

        super().__init__(asked, plain)
        self._table = Table.laid_out(paths, self._look, asked.remedies)
        self._quiet = quiet
        self._audible = False

    def opening(self) -> None:
        if not self._quiet:
            self._open()
            self._out.write([(), *self._table.head()])

    def file(self, done: Done) -> None:
        # A file that could not be judged has a row like all others, so standard error stays empty.
        self._audible |= done.summary.audible
        self._out.write(self._table.rows(done.summary))

    def closing(self, tally: Tally) -> None:
        if self._quiet:
            return
        notes = {
            "~ an audible pedal change: its string is still sounding": self._audible,
            "fastest: in quarters a minute, and as a share of the written tempo": self._asked.remedies
            and tally.files > tally.failed,
        }
        self._out.write(line((text, Tone.FAINT)) for text, said in notes.items() if said)
        super().closing(tally)


class _DataWriter(Writer):
    """For programs: text that is the same everywhere.

    Args:
        row: a file as text; the first is told apart.
        tracks: of a file in which nobody can tell the harp's track, the tracks are shown.
    """

    def __init__(
        self, form: Form, head: str, row: Callable[[Done, bool], str], end: str = "", tracks: bool = False
    ) -> None:
        self.form = form
        self._head, self._row, self._end, self._tracks = head, row, end, tracks
        self._first = True

    def opening(self) -> None:
        sys.stdout.write(self._head)

    def file(self, done: Done) -> None:
        if done.error is not None:
            complain(done.error, self._tracks)
        sys.stdout.write(self._row(done, self._first))
        self._first = False

    def closing(self, tally: Tally) -> None:
        sys.stdout.write(self._end)


def writer_for(options: argparse.Namespace, asked: Asked, paths: Sequence[str]) -> Writer:
    """The form that is asked for. Raises LivepedalError where two of them contradict each other."""
    if options.jsonl or options.json:
        from livepedal.views import json_view

        if options.jsonl:
            about = json_view.line_head(asked.player, asked.instrument, asked.figures)
            return _DataWriter(
                Form.JSON, "", lambda done, first: json_view.line_text(about, done.text, done.seconds)
            )
        if options.quiet:
            raise LivepedalError("--json always writes the whole document; with --quiet use --jsonl.")
        head, end = json_view.opening(asked.player, asked.instrument), json_view.closing()
        return _DataWriter(
            Form.JSON, head, lambda done, first: json_view.separated(done.text, first), end, tracks=True
        )
    if options.csv:
        from livepedal.views import csv_view

        return _DataWriter(Form.CSV, csv_view.head(), lambda done, first: done.text)
    if options.quiet or (len(paths) > 1 and not options.full and not options.sheet):
        return _TableWriter(asked, options.plain, paths, options.quiet)
    return Writer(asked, options.plain)
