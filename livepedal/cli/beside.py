"""What `check` writes beside its report on one file.

`--marked`: the music with marks; `--page`: the report as a page to look at.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from functools import partial

from livepedal.advice.report import FileReport
from livepedal.cli import many
from livepedal.cli.options import one_of
from livepedal.cli.request import Request
from livepedal.errors import LivepedalError
from livepedal.sources.reading import read_bytes
from livepedal.sources.scores.xml_units import is_score
from livepedal.sources.text import clean
from livepedal.sources.writing import NewFile


class Beside:
    """The new files that are asked for, if any.

    Attributes:
        source: the one file that is judged, by its name and its bytes: read only once, so that what is written is what
            was judged; None where no new file is asked for.
    """

    def __init__(self, options: argparse.Namespace, paths: Sequence[str]) -> None:
        """Check what is asked for.

        Raises LivepedalError where there is not one file to judge, or a new one cannot go there, or marks cannot be
        written in the way that is asked for.
        """
        self._marked, self._page = (_new_file(options, paths, option) for option in ("--marked", "--page"))
        if self._marked and self._page and os.path.realpath(options.marked) == os.path.realpath(options.page):
            raise LivepedalError("--marked and --page name the same file; give them different names.")
        self.source: tuple[str, bytes] | None = None
        if self._marked or self._page:
            name, data = many.source(paths[0])
            self.source = name, read_bytes(name, clean(name, 500)) if data is None else data
        self._options = options
        self._score = self.source is not None and is_score(self.source[1])
        wrong = _wrong_marks(options, self._score)
        if wrong:
            raise LivepedalError(wrong)
        if self._marked:
            from livepedal.views.marks import ChangesAs
            from livepedal.views.score_marks import PedalsAs

            self._changes_as = one_of(ChangesAs, options.changes_as, "--changes-as") or ChangesAs.TEXTS
            self._pedals_as = one_of(PedalsAs, options.pedals, "--pedals") or PedalsAs.WORDS

    def write(self, report: FileReport, request: Request) -> list[str]:
        """Write them. Returns what to say of them. Raises LivepedalError where that cannot be done."""
        told = []
        if self._marked:
            self._marked.write(self._with_marks(report, request.middle_c))
            told.append(f"Written with marks: {clean(self._options.marked, 500)}")
        if self._page:
            data, remark = self._as_page(report, request)
            self._page.write(data)
            told += [f"Written as a page: {clean(self._options.page, 500)}", remark]
        return told

    def _with_marks(self, report: FileReport, middle_c: str) -> bytes:
        assert self.source
        name, data = self.source
        if not self._score:
            from livepedal.sources.marking import marked
            from livepedal.views.marks import marks

            return marked(data, name, *marks(report, middle_c, self._changes_as))
        from livepedal.sources.scores.marking import marked_score
        from livepedal.views.score_marks import finding_puts, in_brief, pedal_puts

        puts, notes = finding_puts(report, partial(in_brief, middle_c=middle_c)) if self._options.findings else ([], [])
        puts = [*pedal_puts(report, self._pedals_as), *puts]
        return marked_score(data, name, puts, notes, self._options.marked.lower().endswith(".mxl"))

    def _as_page(self, report: FileReport, request: Request) -> tuple[bytes, str]:
        """The page, and what to say of the notation that it lacks."""
        from livepedal.views import page
        from livepedal.views.page.engraving import HOW, can_engrave

        assert self.source
        engraves = self._score and can_engrave()
        score = self.source[1] if engraves else None
        data = page.to_bytes(report, request.basis, request.middle_c, request.sheet, score)
        if not engraves:
            return data, HOW if self._score else ""
        missing = not request.sheet and b'class="notation"' not in data
        return data, "The notation could not be engraved, so the page shows only the timeline." if missing else ""


def _new_file(options: argparse.Namespace, paths: Sequence[str], option: str) -> NewFile | None:
    target = getattr(options, option.removeprefix("--"))
    if target is None:
        return None
    if len(paths) != 1:
        raise LivepedalError(f"{option} writes one file; give one file to judge.")
    return NewFile(target, paths[0], options.force, option)


def _wrong_marks(options: argparse.Namespace, score: bool) -> str:
    """What is wrong with the options for marks, as one sentence; "" if they suit a score, or a MIDI file."""
    marks_of_scores = options.pedals is not None or options.findings
    if options.marked is None:
        if options.changes_as is not None:
            return "--changes-as is for --marked OUT.mid."
        return "--pedals and --findings are for --marked OUT.musicxml." if marks_of_scores else ""
    named_score = options.marked.lower().endswith((".musicxml", ".xml", ".mxl"))
    if score and not named_score:
        return "For a score --marked writes a score; call it OUT.musicxml or OUT.mxl."
    if score and options.changes_as is not None:
        return "--changes-as is for MIDI files; a score has --pedals."
    if not score and named_score:
        return "For a MIDI file --marked writes a MIDI file; call it OUT.mid."
    if not score and marks_of_scores:
        return "--pedals and --findings are for scores; in a MIDI file the markers show the findings anyway."
    return ""
