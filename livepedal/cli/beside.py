"""What `check` writes beside its report on one file, each into a file of its own.

`--marked`: the music with marks; `--page`: the report as a page to look at.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from livepedal.advice.report import FileReport
from livepedal.cli import many
from livepedal.cli.options import one_of
from livepedal.cli.request import Request
from livepedal.errors import LivepedalError
from livepedal.sources.reading import read_bytes
from livepedal.sources.scores.xml_units import is_score
from livepedal.sources.text import clean
from livepedal.sources.writing import NewFile


class Marked:
    """The judged file, written again with marks.

    Attributes:
        source: its name and its bytes, to be judged: read only once, so that what is written is what was judged.
        written: what to say once it is written.
    """

    def __init__(self, options: argparse.Namespace, paths: Sequence[str]) -> None:
        """Check what is asked for.

        Raises LivepedalError where there is not one file to judge, or the new one cannot go there, or marks cannot be
        written in the way that is asked for.
        """
        from livepedal.views.marks import ChangesAs
        from livepedal.views.score_marks import PedalsAs

        self._changes_as = one_of(ChangesAs, options.changes_as, "--changes-as") or ChangesAs.TEXTS
        self._pedals = one_of(PedalsAs, options.pedals, "--pedals") or PedalsAs.WORDS
        self._findings = options.findings
        if len(paths) != 1:
            raise LivepedalError("--marked writes one file; give one MIDI file or score to judge.")
        name, data = many.source(paths[0])
        self._file = NewFile(options.marked, paths[0], options.force, "--marked")
        self.source = name, read_bytes(name, clean(name, 500)) if data is None else data
        self._score = is_score(self.source[1])
        wrong = _wrong_marks(options, self._score)
        if wrong:
            raise LivepedalError(wrong)
        self.written = f"Written with marks: {clean(options.marked, 500)}"

    def write(self, report: FileReport, request: Request) -> None:
        """Write it. Raises LivepedalError where that cannot be done."""
        name, data = self.source
        if not self._score:
            from livepedal.sources.marking import marked
            from livepedal.views.marks import marks

            self._file.write(marked(data, name, *marks(report, request.middle_c, self._changes_as)))
            return
        from livepedal.sources.scores.marking import marked_score
        from livepedal.views.score_marks import finding_puts, pedal_puts

        puts, notes = finding_puts(report, request.middle_c) if self._findings else ([], [])
        archive = self._file.path.suffix.lower() == ".mxl"
        puts = [*pedal_puts(report, self._pedals), *puts]
        self._file.write(marked_score(data, name, puts, notes, archive))


def _wrong_marks(options: argparse.Namespace, score: bool) -> str:
    """What is wrong with the options for marks, as one sentence; "" if they suit a score, or a MIDI file."""
    named_score = options.marked.lower().endswith((".musicxml", ".xml", ".mxl"))
    if score and not named_score:
        return "For a score --marked writes a score; call it OUT.musicxml or OUT.mxl."
    if score and options.changes_as is not None:
        return "--changes-as is for MIDI files; a score has --pedals."
    if not score and named_score:
        return "For a MIDI file --marked writes a MIDI file; call it OUT.mid."
    if not score and (options.pedals is not None or options.findings):
        return "--pedals and --findings are for scores; in a MIDI file the markers show the findings anyway."
    return ""


class PageFile:
    """The page of the one file that is judged. written: what to say once it is written."""

    def __init__(self, options: argparse.Namespace, paths: Sequence[str]) -> None:
        """Raises LivepedalError where there is not one file to judge, or the page cannot go there."""
        if len(paths) != 1:
            raise LivepedalError("--page writes one page; give one file to judge.")
        self._file = NewFile(options.page, paths[0], options.force, "--page")
        self._source = paths[0]
        self.written = f"Written as a page: {clean(options.page, 500)}"

    def write(self, report: FileReport, request: Request) -> None:
        """Write it. Raises LivepedalError where that cannot be done."""
        from livepedal.views import page
        from livepedal.views.page.engraving import HOW, can_engrave

        score = None if self._source == "-" else read_bytes(self._source, clean(self._source, 500))
        if score is not None and not is_score(score):
            score = None
        if score is not None and not can_engrave():
            self.written += f"\n{HOW}"
            score = None
        data = page.to_bytes(report, request.basis, request.middle_c, request.task.sheet, score)
        if score is not None and not request.task.sheet and b'class="notation"' not in data:
            self.written += "\nThe notation could not be engraved, so the page shows only the timeline."
        self._file.write(data)
