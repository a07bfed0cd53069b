"""Lines of text whose pieces have a tone: what they mean, not how they look.

A report is the same lines everywhere. Only at the very end do tones become colours, on a terminal, or nothing, in a
pipe. Nothing is said by a tone alone: the words say it too.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import Enum
from typing import TYPE_CHECKING, TypeAlias

from livepedal.model.findings import Verdict
from livepedal.sources.text import seen

if TYPE_CHECKING:
    from rich.segment import Segment


class Tone(Enum):
    """What a piece of text means. The value is its style, as rich writes it.

    Hues of Okabe and Ito's palette for colour-blind readers (jfly.uni-koeln.de/color: sky blue 86 180 233, blue
    0 114 178, orange 230 159 0, vermilion 213 94 0; the figures from memory). Blue for what a working player plays and
    warm for what not, two lightnesses each, so that the four stay apart in grey as well. Text on no background is
    toned to show on black and on white.
    """

    PLAIN = ""
    FAINT = "#808080"  # secondary: rules, units, hints
    STRONG = "bold"
    EASY = "#45a3dc"
    PLAYABLE = "#1668ad"
    VIRTUOSO = "#cf9500"
    UNPLAYABLE = "bold #c24e00"
    EASY_BADGE = "bold #000000 on #56b4e9"
    PLAYABLE_BADGE = "bold #ffffff on #0072b2"
    VIRTUOSO_BADGE = "bold #000000 on #e69f00"
    UNPLAYABLE_BADGE = "bold #000000 on #d55e00"
    HELD = "bold #cf9500"
    FREE = "#2f86c8"


Span: TypeAlias = tuple[str, Tone]
Line: TypeAlias = tuple[Span, ...]


def tone_of(verdict: Verdict) -> Tone:
    """The tone of text about a verdict."""
    return Tone[verdict.name]


def badge_of(verdict: Verdict) -> Tone:
    """The tone of the verdict itself, in large letters."""
    return Tone[f"{verdict.name}_BADGE"]


def line(*spans: Span | str) -> Line:
    """A line of spans; a bare string is plain text."""
    return tuple((span, Tone.PLAIN) if isinstance(span, str) else span for span in spans)


def plain_text(row: Line) -> str:
    """The line without tones, trailing blanks and anything that acts on a terminal."""
    return seen("".join(text for text, _ in row)).rstrip()


def segments(row: Line) -> Iterator[Segment]:
    """The line for a rich console; nothing in it is taken for markup or acts on a terminal."""
    from rich.segment import Segment
    from rich.style import Style

    for text, tone in row:
        yield Segment(seen(text), Style.parse(tone.value))  # which rich keeps
