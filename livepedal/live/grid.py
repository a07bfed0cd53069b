"""The tick grid of a take: moments to ticks and back, with a tempo that may change as it goes on.

960 ticks a quarter, so at 120 quarters a minute a tick is 0.52 ms: less than one note takes on a MIDI cable
(0.96 ms; MIDI 1.0, 31,250 baud). Everything live is rounded to this grid before anything else sees it,
because a file can hold nothing finer. The arithmetic is that of `TimeMap`, in which a saved file is read
again; a `TimeMap` is made once, though, and this one grows. Tempo changes only concern what comes after the
last tick in use, so no moment ever changes afterwards.
"""

from __future__ import annotations

from bisect import bisect_right

from livepedal.music.timemap import DEFAULT_METRE, DEFAULT_TEMPO, Metre, Tempo, TimeMap
from livepedal.sources.raw import Division

TICKS = 960  # a quarter
FASTEST, SLOWEST = 120_000, 6_000_000  # µs a quarter: 500 and 10 quarters a minute


class Grid:
    """Ticks and microseconds from the start of a take."""

    def __init__(self, per_quarter: int = DEFAULT_TEMPO) -> None:
        """per_quarter: microseconds a quarter lasts."""
        self._ticks = [0]
        self._elapsed = [0]  # of each tempo's start, in µs times TICKS
        self._rates = [per_quarter]

    @property
    def tempos(self) -> tuple[Tempo, ...]:
        """Every tempo with the tick at which it starts."""
        return tuple(map(Tempo, self._ticks, self._rates))

    def us(self, tick: int) -> int:
        """The moment of a tick (µs), rounded half up."""
        at = bisect_right(self._ticks, tick) - 1
        elapsed = self._elapsed[at] + (tick - self._ticks[at]) * self._rates[at]
        return (2 * elapsed + TICKS) // (2 * TICKS)

    def tick(self, us: int) -> int:
        """The tick nearest to a moment; 0 for moments before the start."""
        target = max(us, 0) * TICKS
        at = max(bisect_right(self._elapsed, target) - 1, 0)
        rate = self._rates[at]
        return self._ticks[at] + (2 * (target - self._elapsed[at]) + rate) // (2 * rate)

    def per_quarter(self, tick: int) -> int:
        """Microseconds a quarter at a tick."""
        return self._rates[bisect_right(self._ticks, tick) - 1]

    def retime(self, *tempos: Tempo) -> None:
        """From the first of these ticks on, these tempos and no others. Nothing at a later tick may be in use
        yet.
        """
        first = tempos[0].tick
        while len(self._ticks) > 1 and self._ticks[-1] >= first:
            for row in (self._ticks, self._elapsed, self._rates):
                row.pop()
        for tick, per_quarter in tempos:
            per_quarter = min(max(per_quarter, FASTEST), SLOWEST)
            if tick <= self._ticks[-1]:
                self._rates[-1] = per_quarter
            elif per_quarter != self._rates[-1]:
                self._elapsed.append(self._elapsed[-1] + (tick - self._ticks[-1]) * self._rates[-1])
                self._ticks.append(tick)
                self._rates.append(per_quarter)

    def lean(self, tick: int, us: int, beat: int, until: int, period: int) -> bool:
        """Bend the tempo from `tick` on (which is heard at `us`) so that the tick `beat` falls at `us +
        until`.

        After that beat a quarter lasts `period`. Where the beat would fall within 4 ms of it anyway and the
        tempo is right within 1 %, nothing changes, since the clocks of sequencers jitter by as much. Returns
        whether it was bent.
        """
        now = self._rates[-1]
        if abs(self.us(beat) - us - until) <= 4_000 and abs(now - period) * 100 <= now:
            return False
        here = self.us(tick)
        ticks = beat - tick
        if ticks <= 0:
            return False
        bent = max(us + until - here, 1) * TICKS // ticks
        # A lurch is worse than a beat that is late: twice or half the tempo at most, the rest at the next
        # beat.
        bent = min(max(bent, period // 2), period * 2)
        self.retime(Tempo(tick, bent), Tempo(beat, period))
        return True

    def time_map(self, metre: tuple[int, int] = DEFAULT_METRE, first_bar: int = 1) -> TimeMap:
        """The grid as a file that is saved now would have it."""
        return TimeMap(Division(per_quarter=TICKS), self.tempos, [Metre(0, *metre)], (), first_bar)
