"""The sequencer's clock, 24 pulses a quarter, with start, stop, continue and song position; and a tapped tempo.

Source: MIDI 1.0 Detailed Specification, "System Real Time Messages" and "Song Position Pointer": the music goes on at
the first clock after start or continue; the pointer counts sixteenths (six pulses) from the beginning.

A clock that was never started is ignored: keyboards send one all day long, at a tempo that nobody has chosen. The
clock of the source that sent the start is followed.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean

from livepedal.live.grid import FASTEST, SLOWEST, TICKS
from livepedal.sources.ports import wire
from livepedal.sources.ports.wire import Short

PULSES = 24  # a quarter
PULSE_TICKS = TICKS // PULSES
_SIXTEENTH = 6  # pulses
_EARLY = (6, 12)  # pulses after a start at which the tempo is taken before the first quarter is over
_TAP_GAP = 2_500_000  # µs; after a longer pause tapping begins anew
_MOST_TAPS = 8


@dataclass(frozen=True, slots=True)
class Started:
    """The music starts, this many pulses from the beginning of the song."""

    pulses: int


@dataclass(frozen=True, slots=True)
class Beat:
    """Where the next quarter is.

    Attributes:
        pulses: from the beginning of the song to it.
        until: µs until it comes.
        period: µs that a quarter lasts.
    """

    pulses: int
    until: int
    period: int


class Transport:
    """Follows one clock."""

    def __init__(self) -> None:
        self.running = False
        self.source: int | None = None
        self.pulses = 0  # from the beginning of the song to the next one that comes
        self._since = 0  # pulses since the start
        self._times: deque[int] = deque(maxlen=4 * PULSES + 1)

    def take(self, us: int, source: int, message: Short) -> Started | Beat | None:
        """Take a system message; what it says, if anything."""
        status = message.status
        if status == wire.START or (status == wire.CONTINUE and not self.running):
            self.pulses = 0 if status == wire.START else self.pulses
            self.running = True
            self.source = source
            self._since = 0
            self._times.clear()
            return Started(self.pulses)
        if source != self.source and self.running:
            return None
        if status == wire.STOP:
            self.running = False
        elif status == wire.SONG_POSITION:
            pulses = (message.data1 | message.data2 << 7) * _SIXTEENTH
            jumped = self.running and pulses != self.pulses
            self.pulses = pulses
            if jumped:  # the standard allows it only while stopped, but loops do it
                self._since = 0
                self._times.clear()
                return Started(pulses)
        elif status == wire.CLOCK and self.running:
            return self._pulse(us)
        return None

    def _pulse(self, us: int) -> Beat | None:
        times = self._times
        times.append(us)
        at, since = self.pulses, self._since
        self.pulses += 1
        self._since += 1
        if since == 0 or not (since % PULSES == 0 or since in _EARLY):
            return None
        period = (times[-1] - times[0]) * PULSES // (len(times) - 1)
        if not FASTEST <= period <= SLOWEST:
            return None
        left = PULSES - since % PULSES
        return Beat(at + left, period * left // PULSES, period)


class Taps:
    """A tempo tapped in quarters."""

    def __init__(self) -> None:
        self._times: deque[int] = deque(maxlen=_MOST_TAPS)

    def tap(self, us: int) -> int | None:
        """Take a tap; µs a quarter, or None after the first one."""
        if self._times and us - self._times[-1] > _TAP_GAP:
            self._times.clear()
        self._times.append(us)
        if len(self._times) < 2:
            return None
        period = round(fmean(later - earlier for earlier, later in pairwise(self._times)))
        return min(max(period, FASTEST), SLOWEST)
