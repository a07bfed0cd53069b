"""The clock of a replay."""

from __future__ import annotations

import time
from collections.abc import Callable

_SECOND = 1_000_000


class Pace:
    """The clock of a replay: how far the music is (µs), at a speed, with pauses.

    Attributes:
        clock: nanoseconds that never go back.
    """

    def __init__(self, speed: float = 1.0, clock: Callable[[], int] = time.monotonic_ns) -> None:
        self.speed = speed
        self._clock = clock
        self._since: int | None = clock()
        self._before = 0

    @property
    def paused(self) -> bool:
        return self._since is None

    def position(self) -> int:
        """How far the music is (µs)."""
        if self._since is None:
            return self._before
        return self._before + int((self._clock() - self._since) * self.speed) // 1000

    def pause(self) -> None:
        """Stop, or go on."""
        if self._since is None:
            self._since = self._clock()
        else:
            self._before = self.position()
            self._since = None

    def restart(self) -> None:
        """From the start, and going."""
        self._before, self._since = 0, self._clock()

    def until(self, us: int) -> float:
        """Seconds until the music is there; never below 0."""
        return max(us - self.position(), 0) / _SECOND / self.speed
