"""Places: what a remedy speaks of.

A *place* is a short passage, or in a longer one the bars around troubles that lie close together; to slow
down five minutes for one note is no advice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from livepedal.advice.remedies.trial import Trial
from livepedal.model.findings import Passage
from livepedal.model.monitor import Monitor
from livepedal.music.timemap import TimeMap

LOOKBACK = 10  # attacks before a trouble whose notes may have to go for it
SHORT_PASSAGE = 20_000_000  # µs; a passage up to this long is one place
# Live, nobody knows bars before a tempo is told: then a place reaches from so long before its trouble to so
# long after it.
BEFORE, AFTER = 3_000_000, 1_000_000


@dataclass(frozen=True, slots=True)
class HardPlace:
    """A place that cannot be played.

    Attributes:
        troubles: the numbers of its attacks that cannot be played.
        first: the attack that its bars begin with.
        start, end: of its bars (µs).
        since: the attack before which troubles are another place's, in the same bars.
    """

    troubles: tuple[int, ...]
    first: int
    start: int
    end: int
    passage: Passage
    time_map: TimeMap | None = None
    since: int = 0

    @property
    def lines(self) -> tuple[int, ...]:
        """Its bar lines, its start and its end (µs)."""
        found = {self.start, self.end}
        if self.time_map is not None:
            first, last = self.time_map.place(self.start).bar, self.time_map.place(self.end).bar
            lines = {self.time_map.us_of_bar(bar) for bar in range(first, last + 1)}
            found |= {line for line in lines if self.start < line < self.end}
        return tuple(sorted(found))

    @property
    def forks(self) -> range:
        """The attacks before which a change may begin."""
        back = max(self.since, self.troubles[0] - LOOKBACK)
        return range(max(0, min(self.first, back)), self.troubles[0] + 1)

    def halves(self, trial: Trial) -> list[HardPlace]:
        """Its troubles before and after the longest time between two of them, best one between two that lie in
        different bars, with the bars around each.
        """
        moments = [trial.attacks[number].us for number in self.troubles]
        cuts = sorted(range(1, len(moments)), key=lambda n: moments[n - 1] - moments[n])
        parted = (self._parted(trial, cut) for cut in cuts)
        return next(
            (found for found in parted if found[0].end <= found[1].start), self._parted(trial, cuts[0])
        )

    def _parted(self, trial: Trial, cut: int) -> list[HardPlace]:
        found = []
        since = self.since
        for troubles in (self.troubles[:cut], self.troubles[cut:]):
            start = bars_around(trial.attacks[troubles[0]].us, self.time_map)[0]
            first = max(self.first, min(trial.at(start), troubles[0]))
            last = trial.attacks[troubles[-1]].us
            end = max(last + 1, min(self.end, bars_around(last, self.time_map)[1]))
            start = trial.attacks[first].us
            found.append(replace(self, troubles=troubles, first=first, start=start, end=end, since=since))
            since = troubles[-1] + 1
        return found


@dataclass(frozen=True, slots=True)
class Spot:
    """A hard place, ready to try remedies on.

    Attributes:
        forks: the player alone just before each attack of the place's `forks`.
        until: the attack where judging stops: the next place's trouble, or the end.
        budget: attacks that a search may feed.
    """

    place: HardPlace
    forks: dict[int, Monitor]
    until: int
    budget: int


def passage_at(passages: Sequence[Passage], us: int) -> Passage:
    return next(passage for passage in reversed(passages) if passage.start <= us)


def places_of(
    trial: Trial, troubles: Sequence[int], passages: Sequence[Passage], time_map: TimeMap | None
) -> list[HardPlace]:
    """Troubles that lie close together are one place."""
    found: list[HardPlace] = []
    for number in troubles:
        us = trial.attacks[number].us
        passage = passage_at(passages, us)
        start, end = passage.start, passage.end
        if end - start > SHORT_PASSAGE:
            start, end = bars_around(us, time_map)
            start, end = max(start, passage.start), min(end, passage.end)
        first = min(trial.at(start), number)
        start = trial.attacks[first].us
        last = found[-1] if found else None
        if last is not None and last.passage == passage and start < last.end:
            troubles = (*last.troubles, number)
            found[-1] = HardPlace(troubles, last.first, last.start, max(last.end, end), passage, time_map)
        else:
            found.append(HardPlace((number,), first, start, max(end, us + 1), passage, time_map))
    return found


def bars_around(us: int, time_map: TimeMap | None) -> tuple[int, int]:
    """The bar of a trouble, and the bar before it where the trouble lies in its first beat: that is where it
    comes from.
    """
    if time_map is None:
        return us - BEFORE, us + AFTER
    place = time_map.place(us)
    start = time_map.us_of_bar(place.bar - (place.beat < 2))
    return start, time_map.us_of_bar(place.bar + 1)
