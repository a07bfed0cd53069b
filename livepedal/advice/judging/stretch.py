"""Some of the music slower, the rest in tempo but later: where each moment goes."""

from __future__ import annotations

from dataclasses import dataclass

WRITTEN = 1000  # the written tempo, in thousandths of itself


@dataclass(frozen=True, slots=True)
class Stretch:
    """Music from `start` to `end` (µs; None: to the end) at `speed` thousandths of its tempo.

    What follows comes later too; `later`: that it all begins later than written (µs). Later moments stay later ones,
    so the order of events does not change.
    """

    start: int
    end: int | None = None
    speed: int = WRITTEN
    later: int = 0

    def at(self, us: int) -> int:
        """When something happens that was at `us` (µs), rounded half up."""
        if us < self.start:
            return us
        inside = (us if self.end is None else min(us, self.end)) - self.start
        return us + self.later + (2 * inside * (WRITTEN - self.speed) + self.speed) // (2 * self.speed)


AS_WRITTEN = Stretch(0)
