"""When a message was played: from the time that comes with it, held against our own clock.

A message may be delivered late: this process was stopped (Ctrl-Z), the machine stood still, another thread kept
Python busy. Most MIDI systems say with each message how long after the one before it came in, taken where it came
in. These times are added up and laid against our clock where delivery was quickest:

    moment = min(our clock now, moment before + time since the one before * (1 + DRIFT))

So a message counts as played before it was delivered, never after, and the two clocks may drift apart by DRIFT.
Our clock is the check: while this process is running nothing waits for long. A message that would have waited for more
than WAIT, standstills not counted, has a wrong time, and counts as played now.

JACK's times are taken at delivery (measured: 17 messages of a standstill of 0.4 s came with 0.01 ms between them, and
nothing else tells when they were played). Of its messages those that come right after a standstill are marked as late:
all that is known of them is that they were played during it, and they count as from its start.

What is left out: a standstill of the sender or of the server alone, which nobody here can see.
"""

from __future__ import annotations

import time
from typing import NamedTuple

clock = time.perf_counter_ns
"""Our clock: ns that never go back, the same in all processes. (The monotonic clock of Windows ticks 64 times a second
before Python 3.13.)
"""
STANDSTILL = 150_000_000
"""ns without a sign of life that make a standstill (judgement). On a machine with three busy processes on two
processors, a thread that wanted to wake every 10 ms woke 40 ms after the last time at the most (of 5,000), beside a
busy thread of Python; a standstill of 189 ms has made one attack of a glissando.
"""
AFTER = 50_000_000
"""ns after a standstill in which messages of it are still delivered (measured: 3 ms; JACK's longest usual period, 2,048
frames at 44.1 kHz, is 46 ms).
"""
SLACK = 20_000_000
"""ns by which time stays behind our clock, since a message may have been stamped and not be in the queue yet."""
WAIT = 250_000_000
"""ns that a message may wait while this process is running (judgement: ALSA keeps some 500, each is taken in 0.5 ms at
the most).
"""
DRIFT = 200e-6
"""By how much two clocks may differ (memory: quartz clocks differ by 0.01 % at the most, two of them by twice that)."""
_LONGEST = 86_400.0  # seconds between two messages beyond which the time is not believed
_NEVER = -(1 << 62)


class Alive:
    """When this process was running. A thread says so every few ms (`beat`), and so does every message.

    Attributes:
        since: ns at which the last standstill began; far back where there was none.
        until: ns at which it ended.
    """

    def __init__(self, now: int) -> None:
        self._last = self._asked = now
        self.since = self.until = _NEVER

    def beat(self, now: int) -> None:
        """Note that it is running now."""
        last = self._last
        if now - last > STANDSTILL:
            if last - self.until > AFTER:  # else what waited for the one before may still be waiting
                self.since = last
            self.until = now
        self._last = max(now, last)

    def fresh(self, now: int) -> bool:
        """Whether messages of a standstill may still come."""
        return now - self.until <= AFTER

    def passed(self, now: int) -> int:
        """The moment to which time may pass: no message that is still to come was played before it.

        Whoever asks may have been held up with all others and be the first to go on, so it is what was sure before.
        """
        self.beat(now)
        sure, self._asked = self._asked + SLACK, now
        return self.since if self.fresh(now) else min(now, sure)

    def run(self, since: int, until: int) -> int:
        """For how long (ns) it was running between two moments."""
        still = min(self.until, until) - max(self.since, since)
        return until - since - max(still, 0)


class Stamp(NamedTuple):
    """When a message was played (ns); `late`: at an unknown moment, but not before that."""

    ns: int
    late: bool


class Stamps:
    """Stamps the messages of one source."""

    def __init__(self, alive: Alive, timed: bool) -> None:
        """timed: times are taken where a message comes in, not where it is delivered."""
        self._alive = alive
        self._timed = timed
        self._at: int | None = None

    def stamp(self, delta: float | None, now: int) -> Stamp:
        """Stamp a message.

        Args:
            delta: seconds since the one before, as the library says; None: nobody knows, or it is the first.
            now: our clock (ns).
        """
        alive, before = self._alive, self._at
        alive.beat(now)
        late = not self._timed and alive.fresh(now)
        at = now
        if not late and before is not None and delta is not None and 0 <= delta < _LONGEST:
            at = min(now, before + round(delta * 1e9 * (1 + DRIFT)))
            if alive.run(at, now) > WAIT:
                at = now
        if before is not None:
            at = max(at, before)  # our clock may have been set back
        self._at = at
        return Stamp(alive.since if late else at, late)
