"""The next-note strip: for each of the twelve pitch classes whether it could be struck now, when, or not.

Each has a cell: the string that would give it, a bar, and a word. A full bar is "now"; one that is filling up
stands for what is left to wait; a bar of waves is "now, but its pedal would be heard sliding"; an empty line
is "not while that key is held", and the key stands under it. So shape and word say it, and colour only
repeats it.
"""

from __future__ import annotations

from collections.abc import Callable

from livepedal.model.findings import NextNote
from livepedal.views.dashboard.canvas import Canvas
from livepedal.views.lines import Span, Tone

TITLE = "what could be struck next (pedals only)"
ROWS = 3
LABELS = 7
COLUMNS = LABELS + 12 * 5  # the least, so that a wait such as "0.3s" stands whole
_FULL_WAIT = 1_000_000  # µs; a wait of so much or more has an empty bar
_SOON = 10_000  # µs that no hand could tell from now


def strip(canvas: Canvas, notes: tuple[NextNote, ...], now: int, name: Callable[[int], str]) -> None:
    """Three rows: strings, bars, words. Empty before anything follows the music. name: of a key that is down."""
    width = (canvas.width - LABELS) // 12
    drawn = [_cell(canvas, note, now, width, name) for note in notes]
    labels = ("string", "", "struck")
    for row in range(ROWS):
        spans: list[Span] = [(labels[row].ljust(LABELS), Tone.FAINT)]
        spans += [cell[row] for cell in drawn]
        canvas.row(*spans)


def _cell(
    canvas: Canvas, note: NextNote, now: int, width: int, key: Callable[[int], str]
) -> tuple[Span, Span, Span]:
    signs = canvas.signs
    name = f"{note.pedal.letter}{note.position.sign}"
    bar = width - 1
    at = note.at
    if at is not None and at - now <= _SOON:
        return _centred(name, Tone.STRONG, width), _bar(signs.solid * bar, Tone.FREE), _word("now", width)
    slides = note.slides_at - now <= _SOON
    if at is None or (note.held_by and at - now > _FULL_WAIT):
        held = key(note.held_by[-1]) if note.held_by else "keys"
        line = (signs.wave if slides else signs.rule) * bar
        word = f"{'~' if slides else ''}{held}"
        return _centred(name, Tone.FAINT, width), _bar(line, Tone.UNPLAYABLE), _word(word, width)
    wait = at - now
    done = max(bar - 1 - (bar - 1) * wait // _FULL_WAIT, 0)
    rest = (signs.wave if slides else signs.hollow) * (bar - done)
    return (
        _centred(name, Tone.PLAIN, width),
        _bar(signs.hazy * done + rest, Tone.HELD),
        _word(f"{'~' if slides else ''}{seconds(wait)}", width),
    )


def seconds(us: int) -> str:
    """A wait, rounded up to a tenth: "0.3s"."""
    tenths = -(-us // 100_000)
    return f"{tenths // 10}.{tenths % 10}s" if tenths < 100 else f"{tenths // 10}s"


def _bar(text: str, tone: Tone) -> Span:
    return text + " ", tone


def _word(text: str, width: int) -> Span:
    return _centred(text, Tone.PLAIN, width)


def _centred(text: str, tone: Tone, width: int) -> Span:
    return text[: width - 1].center(width - 1) + " ", tone
