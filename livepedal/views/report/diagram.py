"""The pedal diagram that harpists write at the head of a part.

A line with a long stroke for the gap between the feet, and seven short strokes in the order of the pedals, D
C B | E F G A: above the line for flat, on it for natural, below it for sharp (W3C MusicXML 4.0, element
harp-pedals; the long stroke in the middle is common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TypeAlias

from livepedal.harp import Foot, Pedal, Position, Setting
from livepedal.views.lines import Line, Tone, line
from livepedal.views.report.look import INDENT, Look
from livepedal.views.signs import Signs

_Sign: TypeAlias = Callable[[Pedal, Position | None], str]
_PITCH = 3  # columns from stroke to stroke


def setting_lines(setting: Setting, look: Look, tuned: Iterable[str] = ()) -> Iterator[Line]:
    """The setting to start with, as a section of a report: the diagram, and the same in letters. tuned: how strings
    without pedals are to be tuned (words.py).
    """
    yield line()
    yield line((f"{INDENT}Set before the start", Tone.STRONG))
    for row in diagram(setting, look.signs):
        yield line(f"{INDENT * 2}{row}")
    unused = any(position is None for position in setting.positions)
    yield line(
        f"{INDENT * 2}{look.signs.write(str(setting))}",
        (look.signs.write("   (· is not used)") if unused else "", Tone.FAINT),
    )
    for text in tuned:
        yield line(f"{INDENT * 2}{look.signs.write(text)}")


def diagram(setting: Setting, signs: Signs) -> tuple[str, str, str, str]:
    """Four rows: the letters, what is above the line, the line, what is below.

    A pedal that is not set has no stroke.
    """
    return (
        _row(signs, setting, " ", signs.divider, lambda pedal, _: pedal.letter),
        _row(signs, setting, " ", signs.divider, lambda _, at: signs.stroke if at is Position.FLAT else " "),
        _row(signs, setting, signs.rule, signs.cross, lambda _, at: _on_line(signs, at)),
        _row(signs, setting, " ", signs.divider, lambda _, at: signs.stroke if at is Position.SHARP else " "),
    )


def _on_line(signs: Signs, position: Position | None) -> str:
    if position is None:
        return signs.rule
    return {Position.FLAT: signs.above, Position.NATURAL: signs.on, Position.SHARP: signs.below}[position]


def _row(signs: Signs, setting: Setting, fill: str, divider: str, sign: _Sign) -> str:
    feet = []
    for foot in Foot:
        cells = [sign(pedal, setting[pedal]) for pedal in foot.pedals]
        feet.append(fill + (fill * (_PITCH - 1)).join(cells) + fill)
    return f"{feet[0]}{fill}{divider}{fill}{feet[1]}".rstrip()
