"""`check`: judge files and write the report on them."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from livepedal.cli.options import STDIN, Asked, read_stdin
from livepedal.cli.output import WIDEST_REPORT, Output, ProgressBar, complain
from livepedal.cli.paging import Page
from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.advice.report import FileReport, Report

MIDI_ENDINGS = (".mid", ".midi", ".smf", ".kar", ".rmi")


def run_check(options: argparse.Namespace) -> int:
    from livepedal.advice.report import Report

    asked = Asked(options)
    write = _JsonWriter(asked) if options.json else _TextWriter(asked, options.plain)
    paths = list(_paths(options.files))
    page = None if options.page is None else Page(options.page, paths, options.force)
    files: list[FileReport] = []
    write.opening()
    sys.stdout.flush()
    for path in paths:
        file = _judged(path, asked)
        if page is not None:
            page.write(file, asked)
        files.append(file)
        write.file(file)
        # What is done is to be seen while the next file is judged.
        sys.stdout.flush()
    report = Report(asked.instrument, asked.player, tuple(files))
    write.closing(report)
    return report.exit_code


def _paths(arguments: Sequence[str]) -> Iterator[str]:
    """The files that are meant: a folder stands for the MIDI files in it."""
    for argument in arguments:
        path = Path(argument)
        if argument != "-" and path.is_dir():
            inside = sorted(str(file) for file in path.iterdir() if file.suffix.lower() in MIDI_ENDINGS)
            yield from inside or [argument]
        else:
            yield argument


def _judged(path: str, asked: Asked) -> FileReport:
    """The report on one file.

    Where it cannot be judged, the reason is told at once and stands in the report.
    """
    from livepedal.advice.check import check_file
    from livepedal.advice.report import FileReport

    progress = ProgressBar(path)
    remedies = ProgressBar(f"remedies: {path}")

    def advising(done: int, total: int) -> None:
        progress.close()  # one bar at a time
        remedies(done, total)

    try:
        source: Path | bytes = Path(path)
        if path == "-":
            source = read_stdin()
        elif Path(path).is_dir():
            raise LivepedalError(
                f"{path}: there are no MIDI files ({', '.join(MIDI_ENDINGS)}) in this folder."
            )
        report = check_file(
            source,
            name=STDIN if path == "-" else path,
            figures=asked.figures,
            player=asked.player.name,
            harp=asked.instrument.name,
            tracks=asked.tracks,
            merge=asked.merge,
            first_bar=asked.first_bar,
            start=asked.start,
            only=asked.only,
            spelling=asked.spelling,
            from_bar=asked.from_bar,
            remedies=asked.remedies,
            progress=progress,
            advising=advising,
        )
        return report.files[0]
    except LivepedalError as error:
        progress.close()
        remedies.close()
        complain(error)
        return FileReport(STDIN if path == "-" else path, error=str(error))
    finally:
        progress.close()
        remedies.close()


class _TextWriter:
    """Writes reports as text, in colour on a terminal."""

    def __init__(self, asked: Asked, plain: bool) -> None:
        from livepedal.views.look import Look

        self._asked = asked
        self._out = Output(sys.stdout, plain)
        width = self._out.width
        self._look = Look(
            self._out.signs, asked.middle_c, None if width is None else min(width, WIDEST_REPORT), asked.every
        )

    def opening(self) -> None:
        from livepedal.views import report

        self._out.write(report.opening(self._asked.player, self._asked.instrument, self._look))

    def file(self, file: FileReport) -> None:
        from livepedal.views import report

        self._out.write(report.file_lines(file, self._look))

    def closing(self, whole: Report) -> None:
        from livepedal.views import report

        self._out.write(report.closing(whole, self._look))


class _JsonWriter:
    """Writes reports as JSON, which is ASCII and the same everywhere."""

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        self._first = True

    def opening(self) -> None:
        from livepedal.views import json_view

        sys.stdout.write(json_view.opening(self._asked.player, self._asked.instrument))

    def file(self, file: FileReport) -> None:
        from livepedal.views import json_view

        sys.stdout.write(json_view.file_text(file, self._first))
        self._first = False

    def closing(self, whole: Report) -> None:
        from livepedal.views import json_view

        sys.stdout.write(json_view.closing())
