"""The ticks of a take: the time map that its file will have, and how it bends to a tempo while the music goes on.

960 ticks a quarter, so at 120 quarters a minute a tick is 0.52 ms: less than one note takes on a MIDI cable
(0.96 ms; MIDI 1.0, 31,250 baud). Everything live is rounded to ticks before anything else sees it, because a file can
hold nothing finer. A new tempo only concerns what comes after the last tick in use, so no moment ever changes
afterwards.
"""

from __future__ import annotations

from bisect import bisect_left
from copy import copy
from operator import itemgetter

from livepedal.music.timemap import Metre, Stretch, Tempo, TimeMap
from livepedal.sources.raw import Division

TICKS = 960  # a quarter
FASTEST, SLOWEST = 120_000, 6_000_000  # µs a quarter: 500 and 10 quarters a minute
_JITTER = 4_000  # µs by which a sequencer's beats may be off before the tempo is bent to them


def bar_ticks(metre: tuple[int, int]) -> int:
    """Ticks of a bar."""
    numerator, denominator = metre
    return 4 * TICKS * numerator // denominator


class Grid(TimeMap):
    """A take's time map: one tempo at first, which is bent later. Immutable, like every time map.

    Args:
        per_quarter: the tempo that it begins with (µs a quarter).
    """

    def __init__(self, per_quarter: int, metre: tuple[int, int] = (4, 4), first_bar: int = 1) -> None:
        super().__init__(
            Division(per_quarter=TICKS), [Tempo(0, per_quarter)], [Metre(0, *metre)], (), first_bar
        )

    @property
    def tempos(self) -> tuple[Tempo, ...]:
        """The tempos in order of time."""
        return tuple(Tempo(stretch.tick, stretch.per_quarter) for stretch in self._stretches)

    def retimed(self, *tempos: Tempo) -> Grid:
        """The grid with these tempos, and no others, from the first of their ticks on. No later tick is in use yet."""
        laid = self._stretches[: self._number(tempos[0].tick)]
        for tick, asked in tempos:
            per_quarter = min(max(asked, FASTEST), SLOWEST)
            last = laid[-1] if laid else self._stretches[0]
            if not laid or per_quarter != last.per_quarter:
                elapsed = last.elapsed + (tick - last.tick) * last.rate
                laid.append(Stretch(tick, elapsed, per_quarter, per_quarter))
        made = copy(self)
        made._stretches = laid
        return made

    def bent(self, tick: int, us: int, beat: int, until: int, period: int) -> Grid:
        """The grid, bent from `tick` on so that the tick `beat` falls `until` µs after `us`.

        Nothing changes where the beat falls within 4 ms of that anyway and the tempo is right within 1 %, since the
        clocks of sequencers jitter by as much.

        Args:
            tick: the last one in use.
            us: the moment of now (µs of the take).
            beat: a later tick.
            until: µs from now until that should come.
            period: µs that a quarter lasts after it.
        """
        now = self._stretches[-1].per_quarter
        if abs(self.us(beat) - us - until) <= _JITTER and abs(now - period) * 100 <= now:
            return self
        ticks = beat - tick
        if ticks <= 0:
            return self
        per_quarter = max(us + until - self.us(tick), 1) * TICKS // ticks
        # A lurch is worse than a late beat: twice or half the tempo at most, the rest at the next beat.
        per_quarter = min(max(per_quarter, period // 2), period * 2)
        return self.retimed(Tempo(tick, per_quarter), Tempo(beat, period))

    def since(self, tick: int) -> TimeMap:
        """A time map of its own that is the same from a tick on, and short: for a passage.

        The time before is summed up in two tempos, since its µs a quarter are seldom a whole number.
        """
        start = self.stretch(tick)
        later = self._stretches[self._number(start.tick) :]
        tempos = [Tempo(one.tick, one.per_quarter) for one in later]
        if start.tick:
            per_quarter, more = divmod(start.elapsed, start.tick)
            tempos = [Tempo(0, per_quarter), Tempo(start.tick - more, per_quarter + 1), *tempos]
        return TimeMap(self.division, tempos, self.metres, (), self.first_bar)

    def _number(self, tick: int) -> int:
        """How many stretches begin before a tick."""
        return bisect_left(self._stretches, tick, key=itemgetter(0))
