"""How a report is written: its signs, octave names and width; texts, headings and rows in that form."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter

from livepedal.advice.judging.report import PartReport
from livepedal.model.findings import Outcome, Verdict
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Span, Tone, badge_of, line
from livepedal.views.signs import Signs
from livepedal.views.widths import cells, folded, padded

INDENT = "  "


@dataclass(frozen=True, slots=True)
class Look:
    """How a report is written.

    Attributes:
        middle_c: what middle C is called.
        width: columns to wrap at; None: no wrapping.
        every: show all remedies, not only the best for each place.
    """

    signs: Signs
    middle_c: str = "C4"
    width: int | None = None
    every: bool = False

    def row(
        self, head: Span | str, text: str, tone: Tone = Tone.PLAIN, hang: int | None = None
    ) -> Iterator[Line]:
        """A head with a text beside it; further rows begin at column `hang`, else under the text."""
        text = self.signs.write(text)
        (start,) = line(head)
        if hang is None:
            hang = cells(start[0])
        rows = [text] if self.width is None else folded(text, max(self.width, 30), cells(start[0]), hang)
        yield line(start, (rows[0], tone))
        yield from (line((row, tone)) for row in rows[1:])

    def text(self, text: str, level: int = 1, tone: Tone = Tone.PLAIN, hang: int = 0) -> Iterator[Line]:
        """A text, indented by level; further rows begin `hang` columns further in."""
        return self.row(INDENT * level, text, tone, len(INDENT) * level + hang)

    def faint(self, text: str, level: int = 2) -> Iterator[Line]:
        """A text of less weight."""
        return self.text(text, level, Tone.FAINT)

    def remark(self, remark: str) -> Iterator[Line]:
        """A remark, at the end of a report."""
        return self.faint(f"Remark: {words.sentence(remark)}", 1)

    def heading(self, title: str, more: str = "") -> Iterator[Line]:
        """The heading of a section, and what is said beside it with less weight."""
        yield ()
        head = self.signs.write(INDENT + title)
        if self.width is None or cells(head + more) <= self.width:
            yield line((head, Tone.STRONG), (self.signs.write(more), Tone.FAINT))
        else:
            yield from self.text(title + more, 1, Tone.STRONG, hang=2)

    def table(
        self,
        heads: Sequence[str],
        rows: Sequence[tuple[Tone, Sequence[object]]],
        texts: int = 1,
        level: int = 1,
    ) -> Iterator[Line]:
        """Rows under their heads, each with its tone, without the columns in which there is nothing.

        Args:
            heads: of the columns.
            rows: a tone and the cells; 0 is shown as "-", None as nothing.
            texts: so many columns are texts, set to the left; the others are numbers.
            level: of indentation.
        """
        columns = [
            (head, *("" if cell is None else str(cell or "-") for cell in column))
            for head, *column in zip(heads, *(row for _, row in rows), strict=True)
            if any(cell is not None for cell in column)
        ]
        widths = [max(map(cells, column)) for column in columns]
        for tone, row in zip((Tone.FAINT, *(tone for tone, _ in rows)), zip(*columns, strict=True), strict=True):
            text = INDENT.join(
                padded(cell, width) if number < texts else cell.rjust(width)
                for number, (cell, width) in enumerate(zip(row, widths, strict=True))
            )
            yield line((self.signs.write(INDENT * level + text).rstrip(), tone))

    def chosen(self, player: str, chosen: str) -> tuple[Tone, str]:
        """The tone of a player's row, and the name with a sign before the one that is judged for."""
        if player == chosen:
            return Tone.STRONG, f"{self.signs.chosen} {player} player"
        return Tone.PLAIN, f"  {player} player"

    def bars(self, events: Iterable[tuple[int, str]]) -> Iterator[Line]:
        """A row for each bar: "bar 3  beat 1 F♯ · beat 2½ C♮"."""
        placed = list(events)
        width = max((len(str(bar)) for bar, _ in placed), default=1)
        for bar, group in groupby(placed, key=itemgetter(0)):
            yield from self.row(f"{INDENT * 2}bar {bar:>{width}}  ", " · ".join(text for _, text in group))

    def headline(self, part: PartReport, file_name: str, only: str = "") -> Iterator[Line]:
        """A part's verdict, which may hold `only` "as written", and its name, below if there is no room beside it."""
        verdict = f"{part.verdict.word} {only}".rstrip().upper()
        if part.verdict is Verdict.PLAYABLE and part.outcome is Outcome.CANNOT:
            verdict += f", BUT NOT FOR THE {clean(part.player).upper()} PLAYER"
        badge = (f" {self.signs.shapes[part.verdict]} {verdict} ", badge_of(part.verdict))
        title = self.signs.write(words.title(file_name, part.name))
        if self.width is None or cells(badge[0]) + 1 + cells(title) <= self.width:
            yield line(badge, (f" {title}", Tone.STRONG))
        else:
            yield line(badge)
            yield from self.text(title, 1, Tone.STRONG)
