"""Notes that the harp plays under other names than the ordinary ones, and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from livepedal.advice.spelling.departures import Departure
from livepedal.views import words
from livepedal.views.lines import Line
from livepedal.views.report.look import Look


def name_lines(
    departures: Sequence[Departure], look: Look, most: int | None = None, by: str = ""
) -> Iterator[Line]:
    """A heading, with what the ordinary spelling goes `by`, and a row for each place, `most` of them if given."""
    yield from look.heading("Names that differ from the ordinary ones", by)
    for departure in departures[:most]:
        names = []
        for ordinary, harp, count in departure.names:
            why = ", which no pedal makes" if ordinary in departure.doubles else ""
            names.append(f"{harp} for {ordinary}{why} ({words.counted(count, 'note')})")
        bars = words.bar_span(departure.first_bar, departure.last_bar)
        why = "" if departure.reason is None else f"; {departure.reason.value}"
        yield from look.text(f"{bars}: {', '.join(names)}{why}", 2, hang=2)
    more = len(departures[most:]) if most else 0
    if more:
        yield from look.faint(f"and {words.counted(more, 'more place')}; livepedal spell shows all of them")
