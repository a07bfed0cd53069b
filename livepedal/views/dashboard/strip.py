"""The next-note strip: for each of the twelve pitch classes whether it could be struck now, when, or not.

Each has a cell: the string that would give it, a bar, and a word. A full bar is "now"; one that is filling up
stands for what is left to wait; a bar of waves is "now, but its pedal would be heard sliding"; an empty line
is "not while that key is held", and the key stands under it. So shape and word say it, and colour only
repeats it.
"""

from __future__ import annotations

from collections.abc import Callable

from livepedal.model.snapshot import NextNote
from livepedal.views import words
from livepedal.views.dashboard.canvas import LABELS, Canvas, centred
from livepedal.views.lines import Span, Tone
from livepedal.views.signs import Signs

TITLE = "what could be struck next (pedals only)"
ROWS = 3
COLUMNS = LABELS + 12 * 5  # the least, so that a wait such as "0.3s" stands whole
_FULL_WAIT = 1_000_000  # µs; a wait of so much or more has an empty bar
_SOON = 10_000  # µs that no hand could tell from now


def strip(canvas: Canvas, notes: tuple[NextNote, ...], now: int, name: Callable[[int], str]) -> None:
    """Three rows: strings, bars, words. Empty before anything follows the music. `name`: of a key that is down."""
    bar = (canvas.width - LABELS) // 12 - 1
    cells = [_cell(canvas.signs, note, now, bar, name) for note in notes]
    for row, label in enumerate(("string", "", "struck")):
        spans = [centred(*cell[row], bar) for cell in cells]
        canvas.row((label.ljust(LABELS), Tone.FAINT), *((f"{text} ", tone) for text, tone in spans))


def _cell(
    signs: Signs, note: NextNote, now: int, bar: int, key: Callable[[int], str]
) -> tuple[Span, Span, Span]:
    """The string, the bar and the word of a pitch class."""
    name = note.pedal.at(note.position)
    at = note.at
    if at is not None and at - now <= _SOON:
        return (name, Tone.STRONG), (signs.solid * bar, Tone.FREE), ("now", Tone.PLAIN)
    sliding = words.FLAGS["audible"] if note.slides_at - now <= _SOON else ""
    if at is None or (note.held_by and at - now > _FULL_WAIT):
        held = key(note.held_by[-1]) if note.held_by else "keys"
        line = (sliding or signs.rule) * bar
        return (name, Tone.FAINT), (line, Tone.UNPLAYABLE), (sliding + held, Tone.PLAIN)
    wait = at - now
    done = max(bar - 1 - (bar - 1) * wait // _FULL_WAIT, 0)
    rest = (sliding or signs.hollow) * (bar - done)
    # The arrow tells it from the position in which the pedal stands, which may be "now" right beside it.
    return (f"→{name}", Tone.PLAIN), (signs.hazy * done + rest, Tone.HELD), (sliding + seconds(wait), Tone.PLAIN)


def seconds(us: int) -> str:
    """A wait, rounded up to a tenth: "0.3s"."""
    tenths = -(-us // 100_000)
    return f"{tenths // 10}.{tenths % 10}s" if tenths < 100 else f"{tenths // 10}s"
