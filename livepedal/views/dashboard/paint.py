"""Lines to bytes for a terminal: what rich would write for their tones, worked out once for each tone.

Printing a row through rich costs many times what the row itself does, and a dashboard writes up to four hundred a
second. The escape codes are still rich's own, for whatever colours this terminal has: it renders each style once,
around a mark, and the codes before and after the mark are kept.
"""

from __future__ import annotations

from rich.color import ColorSystem
from rich.console import Console
from rich.style import Style

from livepedal.sources.text import seen
from livepedal.views.lines import STYLES, Line, Tone

_MARK = "\0"


class Painter:
    """What one console can show."""

    def __init__(self, console: Console) -> None:
        self._codes: dict[Tone, tuple[str, str]] = {}
        for tone, text in STYLES.items():
            style = Style.parse(text)
            if console.no_color:
                style = style.without_color
            shown = style.render(_MARK, color_system=_system(console))
            before, _, after = shown.partition(_MARK)
            self._codes[tone] = before, after

    def at(self, row: int, line: Line) -> str:
        """The codes that put a line into a row (from 0), whatever stood there (ECMA-48, CUP and SGR); no others."""
        parts = [f"\x1b[{row + 1};1H"]
        for text, tone in line:
            before, after = self._codes[tone]
            parts += (before, seen(text), after)
        return "".join(parts)


def _system(console: Console) -> ColorSystem | None:
    names = {
        "standard": ColorSystem.STANDARD,
        "256": ColorSystem.EIGHT_BIT,
        "truecolor": ColorSystem.TRUECOLOR,
    }
    return names.get(console.color_system or "")
