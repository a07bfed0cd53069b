"""Many files, a row each: file, verdict, the worst finding's place, how fast it could be, a remark.

Rows are drawn as files are done, so the columns are laid out before anything is known but the names. On a
terminal a row takes 80 columns or less if need be; where that leaves too little for a remark, it stands in a line
of its own underneath. In a pipe the remark and the name are written whole.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from livepedal.advice.remedies.telling import percent_of
from livepedal.advice.summary import Fastest, FileSummary
from livepedal.model.findings import Verdict
from livepedal.music.wording import place_text
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line, tone_of
from livepedal.views.report.look import INDENT, Look
from livepedal.views.widths import cells, cut, cut_in_the_middle, padded

GAP = "  "
MOST_NAME = 26  # columns of a name on 80; names are cut in the middle, for their ends tell versions apart
LEAST_NAME = 16
PLACE = 18
FASTEST = 12
LEAST_REMARK = 24  # columns; a shorter remark would say nothing


@dataclass(frozen=True, slots=True)
class Table:
    """The layout of one table.

    Attributes:
        folder: the folder of all files, shown once above; empty in a pipe.
        name: width of its column.
        tempo: whether there is a column for the tempo.
    """

    look: Look
    folder: str
    name: int
    tempo: bool

    @classmethod
    def laid_out(cls, paths: Sequence[str], look: Look, tempo: bool = False) -> Table:
        """The table for these files."""
        folder = "" if look.width is None else _folder(paths)
        table = cls(look, folder, 0, tempo)
        name = max((cells(table._name(path)) for path in paths), default=0)
        if look.width is None:
            return replace(table, name=min(name, 60))
        most = max(MOST_NAME - tempo * FASTEST, LEAST_NAME) + max(0, look.width - 80) // 2
        # On a narrow terminal the name is shortened.
        return replace(table, name=max(4, min(name, most, look.width - table._before + len(GAP))))

    @property
    def _verdict(self) -> int:
        """The width of this column."""
        return max(len(self.look.signs.verdict(verdict)) for verdict in Verdict) + 2

    @property
    def _before(self) -> int:
        """Columns before the remark."""
        return self.name + self._verdict + PLACE + self.tempo * FASTEST + len(GAP) * (3 + self.tempo)

    @property
    def below(self) -> bool:
        """Whether remarks have their own lines."""
        return self.look.width is not None and self.look.width - self._before < LEAST_REMARK

    def head(self) -> Iterator[Line]:
        """The names of the columns, and the folder."""
        if self.folder:
            yield line((self._fit(f"In {clean(self.folder, 500)}:", 0), Tone.FAINT))
        heads = [f"{'file':<{self.name}}", f"{'verdict':<{self._verdict}}", f"{'worst finding':<{PLACE}}"]
        heads += [f"{'playable at':<{FASTEST}}"] * self.tempo + ["remark"] * (not self.below)
        yield line((GAP.join(heads), Tone.FAINT))

    def rows(self, file: FileSummary) -> Iterator[Line]:
        """One file: a line, and a second one if its remark does not fit."""
        signs = self.look.signs
        name = self._name(file.path)
        if self.look.width is not None:
            name = cut_in_the_middle(name, self.name, signs.write("…"))
        verdict, tone, below = "not judged", Tone.STRONG, ""
        if file.error is not None:
            # Its own name says nothing new here.
            own = clean(file.path, 500)
            rest = clean(file.error, 2000).removeprefix(f"{own}: ").removeprefix(f"{own} ")
        else:
            verdict, tone = (
                signs.verdict(file.verdict) + (" ~" if file.audible else ""),
                tone_of(file.verdict),
            )
            columns = [f"{'-' if file.place is None else place_text(file.place):<{PLACE}}"]
            columns += [f"{_fastest(file.fastest):<{FASTEST}}"] * self.tempo
            remark = self._remark(file)
            below = remark if self.below else ""
            rest = GAP.join([*columns, *([] if self.below else [remark])])
        head = f"{padded(name, self.name)}{GAP}"
        before = self.name + self._verdict + 2 * len(GAP)
        yield line(head, (f"{verdict:<{self._verdict}}", tone), GAP, self._fit(rest.rstrip(), before))
        if below:
            yield line((2 * INDENT + self._fit(below, 2 * len(INDENT)), Tone.FAINT))

    def _name(self, path: str) -> str:
        """A path as its row shows it, without the folder of all files."""
        if self.folder and path.startswith(self.folder + os.sep):
            path = path[len(self.folder) :].lstrip(os.sep)
        return self.look.signs.write(clean(path, 500))

    def _fit(self, text: str, before: int) -> str:
        """The text cut to the room left after this many columns."""
        text = self.look.signs.write(text)
        return (
            text
            if self.look.width is None
            else cut(text, self.look.width - before, self.look.signs.write("…"))
        )

    def _remark(self, file: FileSummary) -> str:
        if file.in_part:
            return f"partly read: {file.remark}"
        if file.worst is None:
            return file.remark
        what = words.what(file.worst, self.look.middle_c)
        if file.part:
            what = f"{clean(file.part, 30)}: {what}"
        if len(file.troubles) > 1:
            what = f"worst of {len(file.troubles)} findings: {what}"
        return f"{file.spelling} ({file.free.word} in another spelling): {what}" if file.spelling else what


def _fastest(fastest: Fastest | None) -> str:
    if fastest is None:
        return ""
    if fastest.ratio == 1:
        return "full tempo"
    if fastest.ratio is None or not fastest.sensible:
        return "no tempo" if fastest.missing else "not at half"
    percent = percent_of(fastest.ratio)
    return percent if fastest.bpm is None else f"♩ = {fastest.bpm} ({percent})"


def _folder(paths: Sequence[str]) -> str:
    if len(paths) < 2:
        return ""
    try:
        return os.path.commonpath([os.path.dirname(path) or os.curdir for path in paths]).removeprefix(".")
    except ValueError:
        return ""  # some absolute, some not, or on several drives
