"""The pedals by foot: how each stands, whether it is tied up and until when, and its last change.

Seven columns in the order of the pedals, the stroke between the feet among them. A position on which all
readings agree is certain and stands alone; else all that are possible stand there, the likeliest first: C♮/♭. The bar
is the time there is against the time that is needed: full when the pedal could be moved for a note that comes
now. With room to spare the pedal diagram is drawn as well: a block above the line is flat, on it natural,
below it sharp.
"""

from __future__ import annotations

from collections.abc import Callable

from livepedal.harp import Foot, Pedal, Position
from livepedal.model.snapshot import PedalView
from livepedal.views.dashboard.canvas import LABELS, Canvas, centred
from livepedal.views.dashboard.strip import seconds
from livepedal.views.lines import Span, Tone
from livepedal.views.signs import Signs

_DIVIDER = 3  # columns between the feet
ROWS = 5
DIAGRAM_ROWS = 3


def feet(
    canvas: Canvas,
    pedals: tuple[PedalView, ...],
    now: int,
    key: Callable[[int], str],
    diagram: bool,
    more: str = "",
) -> None:
    """A line with the names of the feet, then `ROWS` - 1 rows, and the diagram's three where it is wanted.

    `key` names a key that is down; what else is to be said of pedals and strings stands at the end of the line.
    """
    signs = canvas.signs
    column = (canvas.width - LABELS - _DIVIDER) // len(Pedal)
    rule, divider = signs.rule, signs.divider.center(_DIVIDER)
    left = column * len(Foot.LEFT.pedals)
    head = f"{rule * 2} left foot ".ljust(LABELS + left, rule)
    more = f" {signs.write(more)} {rule}" if more else ""
    canvas.row(
        (f"{head}{rule} right foot ".ljust(canvas.width - len(more), rule), Tone.FAINT), (more, Tone.HELD)
    )

    def across(label: str, spans: list[Span], middle: str = divider) -> None:
        half = len(Foot.LEFT.pedals)
        canvas.row((label.ljust(LABELS), Tone.FAINT), *spans[:half], (middle, Tone.FAINT), *spans[half:])

    across("stands", [centred(*_standing(view), column) for view in pedals])
    if diagram:
        for position in Position:
            natural = position is Position.NATURAL
            fill = rule if natural else " "
            across(
                f"     {position.sign}",
                [centred(*_block(signs, view, position, fill), column, fill) for view in pedals],
                signs.cross.center(_DIVIDER, rule) if natural else divider,
            )
    across("time", [centred(*_bar(signs, view, now, column - 2), column) for view in pedals])
    across("string", [centred(*_tied(view, now, key, column), column) for view in pedals])
    # The row stays where nothing has moved yet, so that nothing jumps.
    moved = "moved" if any(view.changed for view in pedals) else ""
    across(moved, [centred(*_moved(signs, view, column), column) for view in pedals])


def _standing(view: PedalView) -> Span:
    """Letter and position, all that are possible where the readings differ."""
    if not view.positions:
        return view.pedal.letter, Tone.FAINT
    possible = dict.fromkeys((*view.positions, *(Position if view.anywhere else ())))
    signs = "/".join(position.sign for position in possible)
    return f"{view.pedal.letter}{signs}", Tone.STRONG if view.sure else Tone.PLAIN


def _block(signs: Signs, view: PedalView, position: Position, fill: str) -> Span:
    if position not in view.positions:
        return fill * 3, Tone.FAINT
    if view.sure:
        return signs.solid * 3, Tone.STRONG
    return signs.hazy * 3, Tone.PLAIN


def _wait(view: PedalView, now: int) -> int | None:
    """How long until the pedal could be elsewhere for a note (µs); None while a key holds it for good."""
    return None if view.ready_at is None else max(view.ready_at - now, 0)


def _bar(signs: Signs, view: PedalView, now: int, width: int) -> Span:
    """The time there is against the time that is needed."""
    if not view.positions:
        return " " * width, Tone.FAINT
    wait = _wait(view, now)
    if wait is None or view.held_by:
        return signs.rule * width, Tone.UNPLAYABLE
    if wait == 0:
        return signs.solid * width, Tone.FREE
    done = width * max(view.needed - wait, 0) // max(view.needed, 1)
    done = min(done, width - 1)
    return signs.hazy * done + signs.hollow * (width - done), Tone.HELD


def _tied(view: PedalView, now: int, key: Callable[[int], str], width: int) -> Span:
    """What ties the pedal up: a key, the foot, or just time; "free" where nothing does."""
    if not view.positions:
        return "not used" if width > len("not used") else "·", Tone.FAINT
    wait = _wait(view, now)
    if view.held_by:
        return f"by {key(view.held_by[-1])}", Tone.UNPLAYABLE
    if wait is None:
        return "held", Tone.UNPLAYABLE
    if wait == 0:
        return "free", Tone.FREE
    text = f"{'foot ' if view.busy else 'in '}{seconds(wait)}"
    return text if len(text) < width else seconds(wait), Tone.HELD


def _moved(signs: Signs, view: PedalView, width: int) -> Span:
    """The last change with the time that it had; one column is left free to the next pedal's."""
    change = view.changed
    if change is None:
        return "", Tone.PLAIN
    text = f"{change.start.sign}→{change.goal.sign}"
    if change.available is None:
        return text, Tone.PLAIN
    short = change.available < change.needed
    text += f" {_short(change.available)}"
    text = signs.write(text + ("!" if short else "s"))
    if len(text) >= width:
        text = text.replace("->", ">")  # ASCII's arrow is two columns wide
    if len(text) >= width:
        text = text.partition(" ")[0] + ("!" if short else "")
    return text, Tone.HELD if short else Tone.PLAIN


def _short(us: int) -> str:
    """A length of time in a few columns: "0.17", "4.2", "12", in seconds."""
    if us < 995_000:
        return f"{us / 1_000_000:.2f}"
    return f"{us / 1_000_000:.1f}" if us < 9_950_000 else f"{min(us // 1_000_000, 999)}"
