"""Places: what a remedy is about.

A *place* is a short passage, or in a longer one the bars around troubles that lie close together; to slow
down five minutes for one note is no advice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from livepedal.advice.remedies.trial import Trial
from livepedal.model.findings import Passage
from livepedal.music.timemap import TimeMap

LOOKBACK = 10  # attacks before a trouble whose notes may have to go for it
SHORT_PASSAGE = 20_000_000  # µs; a passage up to this long is one place


@dataclass(frozen=True, slots=True)
class HardPlace:
    """A place that cannot be played.

    Attributes:
        troubles: the numbers of its attacks that cannot be played.
        first: the attack that its bars begin with.
        start, end: of its bars (µs).
        until: the attack before which judging stops: the next place's first trouble, or the end.
        time_map: None live, where nobody counts bars.
        since: troubles before this attack are another place's, in the same bars.
    """

    troubles: tuple[int, ...]
    first: int
    start: int
    end: int
    passage: Passage
    until: int
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

    def halves(self, trial: Trial) -> tuple[HardPlace, HardPlace]:
        """The place parted at the longest time between two of its troubles, if possible where a bar lies between."""
        moments = [trial.attacks[number].us for number in self.troubles]
        cuts = sorted(range(1, len(moments)), key=lambda n: moments[n - 1] - moments[n])
        parted = (self._parted(trial, cut) for cut in cuts)
        return next((both for both in parted if both[0].end <= both[1].start), self._parted(trial, cuts[0]))

    def _parted(self, trial: Trial, cut: int) -> tuple[HardPlace, HardPlace]:
        before, after = self.troubles[:cut], self.troubles[cut:]
        return (
            replace(self._around(trial, before), until=after[0]),
            replace(self._around(trial, after), since=before[-1] + 1),
        )

    def _around(self, trial: Trial, troubles: tuple[int, ...]) -> HardPlace:
        """The place with these troubles alone, and the bars around them."""
        assert self.time_map is not None
        start = bars_around(trial.attacks[troubles[0]].us, self.time_map)[0]
        first = max(self.first, min(trial.at(start), troubles[0]))
        last = trial.attacks[troubles[-1]].us
        end = max(last + 1, min(self.end, bars_around(last, self.time_map)[1]))
        return replace(self, troubles=troubles, first=first, start=trial.attacks[first].us, end=end)


def passage_at(passages: Sequence[Passage], us: int) -> Passage:
    """The passage that a moment (µs) belongs to."""
    return next(passage for passage in reversed(passages) if passage.start <= us)


def places_of(
    trial: Trial, troubles: Sequence[int], passages: Sequence[Passage], time_map: TimeMap
) -> list[HardPlace]:
    """The places of these attacks; those that lie close together are one."""
    found: list[HardPlace] = []
    for number in troubles:
        us = trial.attacks[number].us
        passage = passage_at(passages, us)
        start, end = passage.start, passage.end
        if end - start > SHORT_PASSAGE:
            start, end = bars_around(us, time_map)
            start, end = max(start, passage.start), min(end, passage.end)
        first = min(trial.at(start), number)
        start, end = trial.attacks[first].us, max(end, us + 1)
        last = found[-1] if found else None
        if last is not None and last.passage == passage and start < last.end:
            found[-1] = replace(last, troubles=(*last.troubles, number), end=max(last.end, end))
        else:
            found.append(HardPlace((number,), first, start, end, passage, len(trial.attacks), time_map))
    return [replace(one, until=following.troubles[0]) for one, following in pairwise(found)] + found[-1:]


def bars_around(us: int, time_map: TimeMap) -> tuple[int, int]:
    """Where the bar of a trouble starts and ends (µs).

    The bar before is included where the trouble lies in the first beat: that is where it comes from.
    """
    place = time_map.place(us)
    start = time_map.us_of_bar(place.bar - (place.beat < 2))
    return start, time_map.us_of_bar(place.bar + 1)
