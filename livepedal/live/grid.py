"""The ticks of a take: the time map that its file will have, and how it bends to a tempo while the music goes on.

960 ticks a quarter, so at 120 quarters a minute a tick is 0.52 ms: less than one note takes on a MIDI cable
(0.96 ms; MIDI 1.0, 31,250 baud). Everything live is rounded to ticks before anything else sees it, because a file can
hold nothing finer. A new tempo only concerns what comes after the last tick in use, so no moment ever changes
afterwards.
"""

from __future__ import annotations

from collections.abc import Iterable

from livepedal.music.timemap import Metre, Tempo, TimeMap
from livepedal.sources.raw import Division

TICKS = 960  # a quarter
FASTEST, SLOWEST = 120_000, 6_000_000  # µs a quarter: 500 and 10 quarters a minute
_JITTER = 4_000  # µs by which a sequencer's beats may be off before the tempo is bent to them


def grid(tempos: Iterable[Tempo], metre: tuple[int, int] = (4, 4), first_bar: int = 1) -> TimeMap:
    """A take's time map."""
    return TimeMap(Division(per_quarter=TICKS), tempos, [Metre(0, *metre)], (), first_bar)


def bar_ticks(metre: tuple[int, int]) -> int:
    """Ticks of a bar."""
    numerator, denominator = metre
    return 4 * TICKS * numerator // denominator


def retimed(time_map: TimeMap, *tempos: Tempo) -> TimeMap:
    """The map with these tempos, and no others, from the first of their ticks on. No later tick may be in use yet."""
    before = [tempo for tempo in time_map.tempos if tempo.tick < tempos[0].tick]
    bounded = [Tempo(tick, min(max(per_quarter, FASTEST), SLOWEST)) for tick, per_quarter in tempos]
    return TimeMap(time_map.division, [*before, *bounded], time_map.metres, (), time_map.first_bar)


def bent(time_map: TimeMap, tick: int, us: int, beat: int, until: int, period: int) -> TimeMap:
    """The map, bent from `tick` on so that the tick `beat` falls `until` µs after `us`.

    Nothing changes where the beat falls within 4 ms of that anyway and the tempo is right within 1 %, since the clocks
    of sequencers jitter by as much.

    Args:
        time_map: the take's.
        tick: the last one in use.
        us: the moment of now (µs of the take).
        beat: a later tick.
        until: µs from now until that should come.
        period: µs that a quarter lasts after it.
    """
    now = time_map.tempos[-1].per_quarter
    if abs(time_map.us(beat) - us - until) <= _JITTER and abs(now - period) * 100 <= now:
        return time_map
    ticks = beat - tick
    if ticks <= 0:
        return time_map
    per_quarter = max(us + until - time_map.us(tick), 1) * TICKS // ticks
    # A lurch is worse than a late beat: twice or half the tempo at most, the rest at the next beat.
    per_quarter = min(max(per_quarter, period // 2), period * 2)
    return retimed(time_map, Tempo(tick, per_quarter), Tempo(beat, period))
