"""What `check` writes beside its report on one file, each into a file of its own: the music with marks (`--marked`),
and the report as a page to look at (`--page`).
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from enum import StrEnum
from typing import TypeVar

from livepedal.advice.report import FileReport
from livepedal.cli import many
from livepedal.cli.asked import Asked
from livepedal.cli.new_file import NewFile
from livepedal.errors import LivepedalError
from livepedal.sources.reading import read_bytes
from livepedal.sources.scores.xml_units import is_score
from livepedal.sources.text import clean


class Marked:
    """The judged file, written again with marks. Its bytes are read only once, so that what is written is what was
    judged.

    source: its name and these bytes, to be judged; told: what to say once it is written.
    """

    def __init__(self, options: argparse.Namespace, paths: Sequence[str]) -> None:
        """Raises LivepedalError where there is not one file to judge, or the new one cannot go there, or marks cannot
        be written in the way that is asked for.
        """
        from livepedal.views.marks import ChangesAs
        from livepedal.views.score_marks import PedalsAs

        target = options.marked
        self._changes_as = _one_of(ChangesAs, options.changes_as, "--changes-as", ChangesAs.TEXTS)
        self._pedals = _one_of(PedalsAs, options.pedals, "--pedals", PedalsAs.WORDS)
        self._findings = options.findings
        if len(paths) != 1:
            raise LivepedalError("--marked writes one file; give one MIDI file or score to judge.")
        name, data = many.source(paths[0])
        self._file = NewFile(target, paths[0], options.force, "--marked")
        self.source = name, read_bytes(name, clean(name, 500)) if data is None else data
        self._score = is_score(self.source[1])
        is_named_so = target.lower().endswith((".musicxml", ".xml", ".mxl"))
        if self._score and (not is_named_so or options.changes_as is not None):
            raise LivepedalError(
                "--changes-as is for MIDI files; a score has --pedals."
                if is_named_so
                else "For a score --marked writes a score; call it OUT.musicxml or OUT.mxl."
            )
        if not self._score and (is_named_so or options.pedals is not None or options.findings):
            raise LivepedalError(
                "For a MIDI file --marked writes a MIDI file; call it OUT.mid."
                if is_named_so
                else "--pedals and --findings are for scores; in a MIDI file the markers show the findings anyway."
            )
        self.told = f"Written with marks: {clean(target, 500)}"

    def write(self, report: FileReport, asked: Asked) -> None:
        """Write it. Raises LivepedalError where that cannot be done."""
        name, data = self.source
        if self._score:
            from livepedal.sources.scores.marking import marked_score
            from livepedal.views.score_marks import finding_puts, pedal_puts

            puts, notes = finding_puts(report, asked.middle_c) if self._findings else ([], [])
            archive = self._file.path.suffix.lower() == ".mxl"
            puts = [*pedal_puts(report, self._pedals), *puts]
            self._file.write(marked_score(data, name, puts, notes, archive))
            return
        from livepedal.sources.marking import marked
        from livepedal.views.marks import marks

        self._file.write(marked(data, name, *marks(report, asked.middle_c, self._changes_as)))


_Form = TypeVar("_Form", bound=StrEnum)


def _one_of(known: type[_Form], asked: str | None, option: str, default: _Form) -> _Form:
    try:
        return default if asked is None else known(asked)
    except ValueError:
        raise LivepedalError(f"{option} does not know {asked!r}; it takes {', '.join(known)}.") from None


class PageFile:
    """The page of the one file that is judged. told: what to say once it is written."""

    def __init__(self, target: str, paths: Sequence[str], force: bool) -> None:
        """Raises LivepedalError where there is not one file to judge, or the page cannot go there."""
        if len(paths) != 1:
            raise LivepedalError("--page writes one page; give one file to judge.")
        self._file = NewFile(target, paths[0], force, "--page")
        self._source = paths[0]
        self.told = f"Written as a page: {clean(target, 500)}"

    def write(self, report: FileReport, asked: Asked) -> None:
        """Write it. Raises LivepedalError where that cannot be done."""
        from livepedal.views import page

        score = self._score()
        data = page.to_bytes(report, asked.basis, asked.middle_c, asked.sheet, score)
        if score is not None and not asked.sheet and b'class="notation"' not in data:
            self.told += "\nThe notation could not be engraved, so the page shows only the timeline."
        self._file.write(data)

    def _score(self) -> bytes | None:
        """The file itself, where it is a score and can be engraved; where something is wanting for that, `told` says
        so.
        """
        if self._source == "-" or not is_score(data := read_bytes(self._source, clean(self._source, 500))):
            return None
        from livepedal.views.page.engraving import HOW, can_engrave

        if can_engrave():
            return data
        self.told += f"\n{HOW}"
        return None
