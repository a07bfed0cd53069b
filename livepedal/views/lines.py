"""Lines of text whose parts have a tone: what they mean, not how they look.

A report is the same lines everywhere; only at the very end do tones become colours, on a terminal, or
nothing, in a pipe. Nothing is said by a tone alone: the words say it too.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import Enum, auto
from typing import TYPE_CHECKING, TypeAlias

from livepedal.model.findings import Verdict
from livepedal.sources.text import seen

if TYPE_CHECKING:
    from rich.text import Text


class Tone(Enum):
    """What a piece of text means."""

    PLAIN = auto()
    FAINT = auto()  # secondary: rules, units, hints
    STRONG = auto()
    EASY = auto()
    PLAYABLE = auto()
    VIRTUOSO = auto()
    UNPLAYABLE = auto()
    EASY_BADGE = auto()
    PLAYABLE_BADGE = auto()
    VIRTUOSO_BADGE = auto()
    UNPLAYABLE_BADGE = auto()
    HELD = auto()
    FREE = auto()
    SURE = auto()  # a pedal position that is certain
    LIKELY = auto()  # one of several


Span: TypeAlias = tuple[str, Tone]
Line: TypeAlias = tuple[Span, ...]

# Hues of Okabe and Ito's palette for colour-blind readers (jfly.uni-koeln.de/color: sky blue 86 180 233, blue
# 0 114 178, orange 230 159 0, vermilion 213 94 0; the figures from memory). Blue for what a working player
# plays and warm for what not, two lightnesses each, so that the four stay apart in grey as well. Text on no
# background is toned to show on black and on white.
STYLES: dict[Tone, str] = {
    Tone.PLAIN: "",
    Tone.FAINT: "#808080",
    Tone.STRONG: "bold",
    Tone.EASY: "#45a3dc",
    Tone.PLAYABLE: "#1668ad",
    Tone.VIRTUOSO: "#cf9500",
    Tone.UNPLAYABLE: "bold #c24e00",
    Tone.EASY_BADGE: "bold #000000 on #56b4e9",
    Tone.PLAYABLE_BADGE: "bold #ffffff on #0072b2",
    Tone.VIRTUOSO_BADGE: "bold #000000 on #e69f00",
    Tone.UNPLAYABLE_BADGE: "bold #000000 on #d55e00",
    Tone.HELD: "bold #cf9500",
    Tone.FREE: "#2f86c8",
    Tone.SURE: "bold",
    Tone.LIKELY: "",
}

_TONES = {
    Verdict.EASY: (Tone.EASY, Tone.EASY_BADGE),
    Verdict.PLAYABLE: (Tone.PLAYABLE, Tone.PLAYABLE_BADGE),
    Verdict.VIRTUOSO: (Tone.VIRTUOSO, Tone.VIRTUOSO_BADGE),
    Verdict.UNPLAYABLE: (Tone.UNPLAYABLE, Tone.UNPLAYABLE_BADGE),
}


def tone_of(verdict: Verdict) -> Tone:
    """The tone of text about a verdict."""
    return _TONES[verdict][0]


def badge_of(verdict: Verdict) -> Tone:
    """The tone of the verdict itself, in large letters."""
    return _TONES[verdict][1]


def line(*spans: Span | str) -> Line:
    """A line of spans; a bare string is plain text."""
    return tuple((span, Tone.PLAIN) if isinstance(span, str) else span for span in spans)


def plain_text(row: Line) -> str:
    """The line without tones, trailing blanks and anything that acts on a terminal."""
    return seen("".join(text for text, _ in row)).rstrip()


def rich_text(lines: Iterable[Line]) -> Text:
    """The lines as one rich Text, joined by newlines; nothing in them is taken for markup or acts on a terminal.

    Neighbouring pieces of one tone become one span: a screen is drawn often, and its cost is its spans.
    """
    from rich.text import Span as RichSpan
    from rich.text import Text

    pieces: list[str] = []
    spans: list[RichSpan] = []
    at = start = 0
    style = ""
    for number, row in enumerate(lines):
        if number:
            pieces.append("\n")
            at += 1
        for text, tone in row:
            if STYLES[tone] != style:
                if style and start < at:
                    spans.append(RichSpan(start, at, style))
                style, start = STYLES[tone], at
            pieces.append(seen(text))
            at += len(text)
        if style:  # a background must not continue past the end of a line
            if start < at:
                spans.append(RichSpan(start, at, style))
            style, start = "", at
    return Text("".join(pieces), no_wrap=True, overflow="ignore", end="", spans=spans)
