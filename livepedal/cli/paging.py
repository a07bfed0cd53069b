"""`check --page`: the report of one file as a page to look at, in a file of its own."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
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
        from livepedal.sources.writing import Target

        if len(paths) != 1:
            raise LivepedalError("--page writes one page; name the one MIDI file to judge with it.")
        self._target = Target(target, paths, force, "--page")

    def write(self, file: FileReport, asked: Asked) -> None:
        """Write it, unless the file could not be judged, which has been told."""
        if file.error is not None:
            return
        from livepedal.views import page

        data = page.to_bytes(
            file, asked.player, asked.instrument, asked.figures.ringing, middle_c=asked.middle_c
        )
        self._target.write(data)
