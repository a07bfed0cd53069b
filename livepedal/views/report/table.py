"""Many files, a row each: file, verdict, the worst place, how fast it could be, a remark.

Rows are drawn as files are done, so the columns are laid out before anything is known but the names. On a
terminal a row takes 80 columns or less if need be; where that leaves too little for a remark, it stands in a line
of its own underneath. In a pipe the remark and the name are written whole.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

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
        name, verdict: the widths of these columns.
        tempo: whether there is a column for the tempo.
    """

    look: Look
    folder: str
    name: int
    verdict: int
    tempo: bool

    @classmethod
    def laid_out(cls, paths: Sequence[str], look: Look, tempo: bool = False) -> Table:
        """For these files."""
        folder = "" if look.width is None else _folder(paths)
        names = [look.signs.write(clean(_inside(path, folder), 500)) for path in paths]
        longest = max(map(cells, names), default=0)
        verdict = max(len(look.signs.verdict(verdict)) for verdict in Verdict) + 2
        if look.width is None:
            return cls(look, folder, min(longest, 60), verdict, tempo)
        most = max(MOST_NAME - tempo * FASTEST, LEAST_NAME) + max(0, look.width - 80) // 2
        # On a narrow terminal the name is shortened.
        others = len(GAP) * (2 + tempo) + verdict + PLACE + tempo * FASTEST
        return cls(look, folder, max(4, min(longest, most, look.width - others)), verdict, tempo)

    @property
    def below(self) -> bool:
        """Whether remarks have their own lines."""
        if self.look.width is None:
            return False
        before = self.name + self.verdict + PLACE + self.tempo * FASTEST + len(GAP) * (3 + self.tempo)
        return self.look.width - before < LEAST_REMARK

    def head(self) -> Iterator[Line]:
        """The names of the columns, and the folder."""
        if self.folder:
            yield line((self._fit(self.look.signs.write(f"In {clean(self.folder, 500)}:"), 0), Tone.FAINT))
        heads = [f"{'file':<{self.name}}", f"{'verdict':<{self.verdict}}", f"{'worst place':<{PLACE}}"]
        if self.tempo:
            heads.append(f"{'fastest':<{FASTEST}}")
        yield line((GAP.join([*heads, *([] if self.below else ["remark"])]), Tone.FAINT))

    def rows(self, file: FileSummary) -> Iterator[Line]:
        """One file: a line, and a second one if its remark does not fit."""
        signs = self.look.signs
        name = signs.write(clean(_inside(file.path, self.folder), 500))
        if self.look.width is not None:
            name = cut_in_the_middle(name, self.name, signs.write("…"))
        head = f"{padded(name, self.name)}{GAP}"
        if file.error is not None:
            # Its own name says nothing new here.
            own = clean(file.path, 500)
            reason = clean(file.error, 2000).removeprefix(f"{own}: ").removeprefix(f"{own} ")
            yield self._line(head, (f"{'not judged':<{self.verdict}}", Tone.STRONG), reason)
            return
        verdict = signs.verdict(file.verdict) + (" ~" if file.audible else "")
        columns = [f"{_place(file):<{PLACE}}"]
        if self.tempo:
            columns.append(f"{_fastest(file.fastest):<{FASTEST}}")
        remark = self._remark(file)
        if not self.below:
            columns.append(remark)
        yield self._line(head, (f"{verdict:<{self.verdict}}", tone_of(file.verdict)), GAP.join(columns))
        if self.below and remark:
            text = self._fit(self.look.signs.write(remark), 2 * len(INDENT))
            yield line((2 * INDENT + text, Tone.FAINT))

    def _line(self, head: str, verdict: tuple[str, Tone], rest: str) -> Line:
        rest = self.look.signs.write(rest.rstrip())
        return line(head, verdict, GAP, self._fit(rest, cells(head) + len(verdict[0]) + len(GAP)))

    def _fit(self, text: str, before: int) -> str:
        """The text cut to the room left after this many columns."""
        if self.look.width is None:
            return text
        return cut(text, self.look.width - before, self.look.signs.write("…"))

    def _remark(self, file: FileSummary) -> str:
        if file.in_part:
            return f"partly read: {file.remark}"
        if file.worst is None:
            return file.remark
        what = words.what(file.worst, self.look.middle_c)
        if file.part:
            what = f"{clean(file.part, 30)}: {what}"
        return what if len(file.troubles) == 1 else f"worst of {len(file.troubles)}: {what}"


def _place(file: FileSummary) -> str:
    return "-" if file.place is None else place_text(file.place)


def _fastest(fastest: Fastest | None) -> str:
    if fastest is None:
        return ""
    if fastest.ratio == 1:
        return "as it is"
    if fastest.ratio is None or not fastest.sensible:
        return "under 50%"
    percent = percent_of(fastest.ratio)
    return percent if fastest.bpm is None else f"♩ = {fastest.bpm} ({percent})"


def _folder(paths: Sequence[str]) -> str:
    if len(paths) < 2:
        return ""
    try:
        return os.path.commonpath([os.path.dirname(path) or os.curdir for path in paths]).removeprefix(".")
    except ValueError:
        return ""  # some absolute, some not, or on several drives


def _inside(path: str, folder: str) -> str:
    return path[len(folder) :].lstrip(os.sep) if folder and path.startswith(folder + os.sep) else path
