"""The pedal diagram that harpists write at the head of a part.

A line with a long stroke for the gap between the feet, and seven short strokes in the order of the pedals, D
C B | E F G A: above the line for flat, on it for natural, below it for sharp (W3C MusicXML 4.0, element
harp-pedals; the long stroke in the middle is common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from livepedal.harp import Foot, Position, Setting
from livepedal.views.lines import Line, line
from livepedal.views.report.look import INDENT, Look
from livepedal.views.signs import Signs


def setting_lines(setting: Setting, look: Look, tuned: Iterable[str] = ()) -> Iterator[Line]:
    """The setting to start with: the diagram, the same in letters, and how strings without pedals are tuned."""
    yield from look.heading("Set before the start")
    for row in diagram(setting, look.signs):
        yield line(INDENT * 2 + row)
    unused = "   (· is not used)" if None in setting.positions else ""
    for text in (f"{setting}{unused}", *tuned):
        yield from look.text(text, 2)


def diagram(setting: Setting, signs: Signs) -> tuple[str, str, str, str]:
    """Four rows: the letters, what is above the line, the line, what is below.

    A pedal that is not set has no stroke.
    """
    on_line = {Position.FLAT: signs.above, Position.NATURAL: signs.on, Position.SHARP: signs.below}
    return (
        _row([[pedal.letter for pedal in foot.pedals] for foot in Foot], signs.divider),
        _strokes(setting, {Position.FLAT: signs.stroke}, signs.divider),
        _strokes(setting, on_line, signs.cross, signs.rule),
        _strokes(setting, {Position.SHARP: signs.stroke}, signs.divider),
    )


def _strokes(setting: Setting, strokes: Mapping[Position, str], divider: str, fill: str = " ") -> str:
    feet = []
    for foot in Foot:
        positions = [setting[pedal] for pedal in foot.pedals]
        feet.append([fill if at is None else strokes.get(at, fill) for at in positions])
    return _row(feet, divider, fill)


def _row(feet: list[list[str]], divider: str, fill: str = " ") -> str:
    """The signs of each foot, three columns from pedal to pedal."""
    left, right = (fill + (fill * 2).join(signs) + fill for signs in feet)
    return f"{left}{fill}{divider}{fill}{right}".rstrip()
