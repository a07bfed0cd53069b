"""A screen being drawn: rows of exactly its width, so that a line drawn over another leaves nothing of it.

Views put spans on it and never count columns themselves; what does not fit is cut, with a sign that it was.
"""

from __future__ import annotations

from collections.abc import Sequence

from livepedal.views.lines import Line, Span, Tone
from livepedal.views.signs import Signs
from livepedal.views.widths import cells, cut, folded

LABELS = 7  # columns for what a row means


class Canvas:
    """Lines of one width, from the top. middle_c: what middle C is called."""

    def __init__(self, signs: Signs, width: int, middle_c: str = "C4") -> None:
        self.signs = signs
        self.middle_c = middle_c
        self.width = width
        self.lines: list[Line] = []

    def row(self, *spans: Span | str, right: Span | None = None) -> None:
        """One line; `right` stands at its end, and what is on the left gives way to it."""
        room = self.width
        tail: Span | None = None
        if right is not None:
            tail = (self.fit(right[0], room), right[1])
            room -= cells(tail[0])
        done: list[Span] = []
        for span in spans:
            text, tone = (span, Tone.PLAIN) if isinstance(span, str) else span
            text = self.fit(text, room)
            if text:
                done.append((text, tone))
                room -= cells(text)
        if room > 0:
            done.append((" " * room, Tone.PLAIN))
        if tail is not None:
            done.append(tail)
        self.lines.append(tuple(done))

    def rule(self, title: str, right: str = "") -> None:
        """A line across, with a title in it, and something at its end where there is room for both."""
        rule = self.signs.rule
        head = self.fit(f"{rule * 2} {title} ", self.width)
        tail = f" {self.signs.write(right)} {rule}" if right else ""
        room = self.width - cells(head) - cells(tail)
        if room < 1:
            tail, room = "", self.width - cells(head)
        self.lines.append(((head + rule * room + tail, Tone.FAINT),))

    def placed(self, label: Span, items: Sequence[tuple[int, str, Tone]], start: int, fill: Span) -> None:
        """A label, then texts at columns counted from `start`, in order, and `fill` (one sign) in between.

        A text that the one before it has no room for is left out.
        """
        spans: list[Span] = [(self.fit(label[0], start).ljust(start), label[1])]
        at, width = 0, self.width - start
        for column, text, tone in items:
            text = self.signs.write(text)
            if column < at or column + cells(text) > width:
                continue
            if column > at:
                spans.append((fill[0] * (column - at), fill[1]))
            spans.append((text, tone))
            at = column + cells(text)
        if at < width:
            spans.append((fill[0] * (width - at), fill[1]))
        self.lines.append(tuple(spans))

    def fit(self, text: str, room: int) -> str:
        """The text as this output can show it, cut to a number of columns."""
        return cut(self.signs.write(text), room, self.signs.write("…"))

    def rows(self, rows: Sequence[Line], count: int | None = None) -> None:
        """Several lines; with a count, so many, the last of them empty where there are fewer."""
        for spans in rows:
            self.row(*spans)
        for _ in range(max((count or 0) - len(rows), 0)):
            self.row()

    def block(self, text: str, tone: Tone = Tone.PLAIN, indent: str = " ") -> list[Line]:
        """The text in lines that fit, cut at blanks; further ones are indented."""
        indent = self.signs.write(indent)
        start = len(indent)
        first, *others = folded(self.signs.write(text), max(self.width - 1, start + 10), start, start + 2)
        return [((row, tone),) for row in (indent + first, *others)]

    def clipped(self, rows: list[Line], most: int) -> list[Line]:
        """At most so many lines; where some are left out, the last one says so, at the end of a clause if it can."""
        if len(rows) <= most or most < 1:
            return rows[:most] if most > 0 else []
        more = self.signs.write("…")
        *before, last = rows[:most]
        text = "".join(text for text, _ in last)
        clause = text.rfind("; ")
        if clause > 0:
            text = text[:clause]
        elif cells(text) + len(more) + 1 > self.width:
            text = text[: text.rfind(" ", 0, self.width - len(more) - 1)]
        return [*before, ((f"{text} {more}", last[0][1] if last else Tone.PLAIN),)]


def centred(text: str, tone: Tone, width: int, fill: str = " ") -> Span:
    """The text in the middle of so many columns."""
    return text[:width].center(width, fill), tone
