"""`check --page`: the report of one file as a page to look at, in a file of its own."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from livepedal.cli.options import Asked
from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.advice.report import FileReport


def page_options(parser: argparse.ArgumentParser) -> None:
    """The options of `check` that ask for a page."""
    parser.add_argument(
        "--page", metavar="OUT.html", help="write the report as one HTML page, with a timeline of the part"
    )


class Page:
    """Where the page of the one file that is judged goes; a place where it cannot go is told before that."""

    def __init__(self, target: str, paths: Sequence[str], force: bool) -> None:
        from livepedal.sources.writing import check_target

        if len(paths) != 1:
            raise LivepedalError("--page writes one page; name the one MIDI file to judge with it.")
        self._target = Path(target)
        self._inputs = [] if paths[0] == "-" else [Path(paths[0])]
        self._force = force
        check_target(self._target, self._inputs, force, "--page")

    def write(self, file: FileReport, asked: Asked) -> None:
        """Write it, unless the file could not be judged, which has been told."""
        if file.error is not None:
            return
        from livepedal.sources.writing import write_new
        from livepedal.views import page

        data = page.to_bytes(
            file, asked.player, asked.instrument, asked.figures.ringing, middle_c=asked.middle_c
        )
        write_new(self._target, data, self._inputs, self._force, "--page")
