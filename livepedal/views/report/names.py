"""Notes that the harp plays under other names than the ordinary ones, and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from livepedal.advice.spelling.departures import Departure
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line
from livepedal.views.report.look import INDENT, Look, wrapped


def name_lines(departures: Sequence[Departure], look: Look, most: int | None = None) -> Iterator[Line]:
    """A heading, and a row for each place. most: so many rows at the most; None: all."""
    yield line()
    yield line((f"{INDENT}Names that differ from the ordinary spelling", Tone.STRONG))
    for departure in departures[:most]:
        bars = words.bar_span(departure.first_bar, departure.last_bar)
        why = f"; otherwise {departure.reason.value}" if departure.reason is not None else ""
        yield from wrapped(f"{bars}: {_names(departure)}{why}", look, indent=INDENT * 2, hang=3 * len(INDENT))
    more = len(departures[most:]) if most else 0
    if more:
        text = f"and {words.counted(more, 'place')} more; livepedal spell shows all"
        yield from wrapped(text, look, Tone.FAINT, indent=INDENT * 2)


def _names(departure: Departure) -> str:
    cells = []
    for ordinary, harp, count in departure.names:
        times = f" ({words.counted(count, 'note')})"
        why = ", which no pedal makes" if ordinary in departure.doubles else ""
        cells.append(f"{harp} for {ordinary}{why}{times}")
    return ", ".join(cells)
