"""How text is written: signs, octave names and width, the folding of lines, and the lines that several views have
alike.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from livepedal.advice.judging.report import PartReport
from livepedal.views import words
from livepedal.views.lines import Line, Tone, badge_of, line
from livepedal.views.signs import Signs
from livepedal.views.widths import folded

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


def wrapped(
    text: str, look: Look, tone: Tone = Tone.PLAIN, indent: str = INDENT, hang: int | None = None
) -> Iterator[Line]:
    """Text from an indent, its further lines hanging under it."""
    hang = len(indent) if hang is None else hang
    for number, row in enumerate(fold(look.signs.write(text), look, len(indent), hang)):
        yield line(indent if number == 0 else " " * hang, (row, tone))


def fold(text: str, look: Look, first: int, hang: int) -> list[str]:
    """Text in rows; the first begins at column `first`, the others at `hang`."""
    return [text] if look.width is None else folded(text, max(look.width, 30), first, hang)


def note(remark: str, look: Look) -> Iterator[Line]:
    """A remark, at the end of a report."""
    yield from wrapped(f"Note: {words.sentence(remark)}", look, Tone.FAINT)


def headline(part: PartReport, file_name: str, look: Look) -> Line:
    """A part's verdict, and its name."""
    return line(
        (f" {look.signs.shapes[part.verdict]} {part.verdict.word.upper()} ", badge_of(part.verdict)),
        (f" {look.signs.write(words.title(file_name, part.name))}", Tone.STRONG),
    )
