"""What `check` writes beside its report on one file, each into a file of its own: the music with marks (`--marked`),
and the report as a page to look at (`--page`).
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from livepedal.cli import many
from livepedal.cli.new_file import NewFile
from livepedal.cli.options import Asked
from livepedal.errors import LivepedalError
from livepedal.sources.text import clean

if TYPE_CHECKING:
    from livepedal.advice.report import FileReport


def beside_options(parser: argparse.ArgumentParser) -> None:
    """The options of `check` that ask for such files."""
    parser.add_argument(
        "--marked",
        metavar="OUT.mid",
        help="write the same music with markers at the findings and the pedal changes as texts",
    )
    parser.add_argument(
        "--changes-as",
        metavar="WHAT",
        help="with --marked, the pedal changes as: texts (default), markers or lyrics",
    )
    parser.add_argument(
        "--force", action="store_true", help="replace a file that is to be written where there is one already"
    )
    parser.add_argument(
        "--page", metavar="OUT.html", help="write the report as one HTML page, with a timeline of the part"
    )


class Marked:
    """The file that is judged once more, with marks. Its bytes are read once, so that what is written is what was
    judged.

    source: its name and these bytes, to be judged; told: what to say once it is written.
    """

    def __init__(self, target: str, paths: Sequence[str], force: bool, changes_as: str | None) -> None:
        """Raises LivepedalError where there is not one file to judge, or the new one cannot go there, or pedal changes
        cannot be written as that.
        """
        from livepedal.sources.smf import read_bytes
        from livepedal.sources.xml_units import is_score
        from livepedal.views.marks import ChangesAs

        try:
            self._changes_as = ChangesAs(changes_as or ChangesAs.TEXTS)
        except ValueError:
            known = ", ".join(ChangesAs)
            raise LivepedalError(f"There is no {changes_as!r}; --changes-as knows {known}.") from None

        if len(paths) != 1:
            raise LivepedalError("--marked writes one file; name the one MIDI file to judge with it.")
        name, data = many.source(paths[0])
        self._file = NewFile(target, paths[0], force, "--marked")
        self.source = name, read_bytes(Path(name)) if data is None else data
        if is_score(self.source[1]):
            raise LivepedalError(
                f"{clean(name, 500)}: is a score; --marked puts its marks into MIDI files only."
            )
        self.told = f"Written with marks: {clean(target, 500)}"

    def write(self, report: FileReport, asked: Asked) -> None:
        """Write it. Raises LivepedalError where that cannot be done."""
        from livepedal.sources.marking import marked
        from livepedal.views.marks import marks

        name, data = self.source
        self._file.write(marked(data, name, *marks(report, asked.middle_c, self._changes_as)))


class Page:
    """The page of the one file that is judged. told: what to say once it is written."""

    def __init__(self, target: str, paths: Sequence[str], force: bool) -> None:
        """Raises LivepedalError where there is not one file to judge, or the page cannot go there."""
        if len(paths) != 1:
            raise LivepedalError("--page writes one page; name the one MIDI file to judge with it.")
        self._file = NewFile(target, paths[0], force, "--page")
        self.told = f"Written as a page: {clean(target, 500)}"

    def write(self, report: FileReport, asked: Asked) -> None:
        """Write it. Raises LivepedalError where that cannot be done."""
        from livepedal.views import page

        data = page.to_bytes(
            report, asked.player, asked.instrument, asked.figures.ringing, asked.middle_c, asked.sheet
        )
        self._file.write(data)
