"""The forms in which `check` and `watch` write what they found: a whole report, a row in a table, JSON, CSV."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from functools import partial
from io import TextIOWrapper

from livepedal.advice.report import FileReport
from livepedal.advice.summary import Tally
from livepedal.cli.many import Done
from livepedal.cli.output import Output, complain
from livepedal.cli.request import Request
from livepedal.errors import LivepedalError
from livepedal.views import words
from livepedal.views.lines import Tone, line
from livepedal.views.report import text as report


class Writer:
    """Writes whole reports, file by file, in colour on a terminal.

    Attributes:
        keep: whether it needs the report itself.
        render: makes the text that it needs of each report, in the process that judges.
        talks: whether it writes for people.
    """

    keep = True
    render: Callable[[FileReport], str] | None = None
    talks = True

    def __init__(self, request: Request, plain: bool) -> None:
        self._request = request
        self._out = Output(sys.stdout, plain)
        self._look = self._out.look(request.middle_c, request.every)
        self._opened = False

    def opening(self) -> None:
        """Write what stands before the first file: nothing, until one could be judged."""

    def file(self, done: Done) -> None:
        """Write what came of a file."""
        if done.error is not None:
            complain(done.error)
            return
        self._open()
        if done.report is not None:
            lines = report.pedal_sheet_lines if self._request.sheet else report.file_lines
            self._out.write(lines(done.report, self._look))

    def _open(self) -> None:
        if not self._opened:
            self._opened = True
            basis = self._request.basis
            self._out.write(report.opening(basis.chosen, basis.instrument, self._look, basis.layers))

    def closing(self, tally: Tally) -> None:
        """Write what stands behind the last file."""
        if self._opened or tally.files > 1:  # else the error has been told already
            self._out.write(report.closing(tally, self._request.basis.chosen, self._look, self._request.bare))


class TableWriter(Writer):
    """A row for each file; quietly only the rows of files that fail."""

    keep = False

    def __init__(self, request: Request, plain: bool, paths: Sequence[str], quiet: bool = False) -> None:
        from livepedal.views.report.table import Table

        super().__init__(request, plain)
        self._table = Table.laid_out(paths, self._look, request.task.remedies)
        self._quiet = quiet
        self._audible = False

    def opening(self) -> None:
        """Write what stands before the first file."""
        if not self._quiet:
            self._open()
            self._out.write([(), *self._table.head()])

    def file(self, done: Done) -> None:
        """Write what came of a file."""
        # A file that could not be judged has a row like all others, so standard error stays empty.
        self._audible |= done.summary.audible
        self._out.write(self._table.rows(done.summary))

    def closing(self, tally: Tally) -> None:
        """Write what stands behind the last file."""
        if self._quiet:
            return
        notes = {
            f"{words.FLAGS['audible']} {words.CHANGE_KINDS['audible']}": self._audible,
            "playable at: in crotchets a minute, and as a share of the written tempo": self._request.task.remedies
            and tally.files > tally.failed,
        }
        self._out.write(line((text, Tone.FAINT)) for text, counts in notes.items() if counts)
        super().closing(tally)


class DataWriter(Writer):
    """For programs: text that is the same everywhere.

    Args:
        row: what stands for a file; the first is told apart.
        tracks: of a file in which nobody can tell the harp's track, the tracks are shown.
    """

    keep = talks = False

    def __init__(
        self,
        render: Callable[[FileReport], str],
        head: str,
        row: Callable[[Done, bool], str],
        end: str = "",
        tracks: bool = False,
    ) -> None:
        self.render = render
        self._head, self._row, self._end, self._tracks = head, row, end, tracks
        self._first = True

    def opening(self) -> None:
        """Write what stands before the first file."""
        sys.stdout.write(self._head)

    def file(self, done: Done) -> None:
        """Write what came of a file."""
        if done.error is not None:
            complain(done.error, self._tracks)
        sys.stdout.write(self._row(done, self._first))
        self._first = False

    def closing(self, tally: Tally) -> None:
        """Write what stands behind the last file."""
        sys.stdout.write(self._end)


def json_lines(request: Request) -> DataWriter:
    """A line of JSON for each file."""
    from livepedal.views import json_view

    basis = request.basis
    head = json_view.line_head(basis.chosen, basis.instrument, basis.figures)
    return DataWriter(json_text, "", lambda done, first: json_view.line_text(head, done.text, done.seconds))


def writer_for(options: argparse.Namespace, request: Request, paths: Sequence[str]) -> Writer:
    """The writer of the form that is asked for. Raises LivepedalError where two options contradict each other."""
    if options.jsonl:
        return json_lines(request)
    if options.json:
        from livepedal.views import json_view

        if options.quiet:
            raise LivepedalError("--json always writes the whole document; with --quiet use --jsonl.")
        head, end = json_view.opening(request.basis.chosen, request.basis.instrument), json_view.CLOSING
        return DataWriter(
            json_text, head, lambda done, first: json_view.separated(done.text, first), end, tracks=True
        )
    if options.csv:
        from livepedal.views import csv_view

        if isinstance(sys.stdout, TextIOWrapper):
            sys.stdout.reconfigure(encoding="utf-8")  # not the code page of a Windows pipe, which has no ♭
        render = partial(csv_view.rows, middle_c=request.middle_c)
        return DataWriter(render, csv_view.head(), lambda done, first: done.text)
    if options.quiet or (len(paths) > 1 and not options.full and not options.sheet):
        return TableWriter(request, options.plain, paths, options.quiet)
    return Writer(request, options.plain)


def json_text(file: FileReport) -> str:
    """The report on a file as JSON, on one line."""
    from livepedal.views import json_view

    return json_view.dumps(file.to_dict())
