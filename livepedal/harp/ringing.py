"""Ringing: how long a plucked string is heard before it has died away by itself.

There are no dampers: a string sounds until it is muffled by hand or dies away, and the lower it is the longer
that takes (Volpé Bligh, Writing for the Pedal Harp, item 5; Rimsky-Korsakov, Principles of Orchestration, ch.
I). No source read gives seconds. The points in figures.toml are from memory and orders of magnitude only.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

from livepedal.errors import LivepedalError

NEVER = 1 << 60
"""Microseconds that no piece lasts: what `Ringing.ring` gives when strings are taken never to die away."""


@dataclass(frozen=True, slots=True)
class Ringing:
    """How long strings ring by register.

    points: pairs of MIDI number and microseconds, both in order of rising pitch; between two of them the time
    is on the straight line, beyond the outermost it stays.  None: strings never die away. Raises
    LivepedalError unless numbers rise, times are above 0, and no higher note rings longer than a lower one.
    """

    points: tuple[tuple[int, int], ...] | None
    _by_number: tuple[int, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.points is None:
            object.__setattr__(self, "_by_number", (NEVER,) * 128)
            return
        if not self.points or min(us for _, us in self.points) <= 0:
            raise LivepedalError("Ring times must be given for at least one note and be longer than 0 s.")
        for (low, low_us), (high, high_us) in pairwise(self.points):
            if high <= low or high_us > low_us:
                raise LivepedalError(
                    "Ring times must go from low notes to high ones and never get longer upwards;"
                    f" MIDI note {high} with {high_us} µs cannot follow note {low} with {low_us} µs."
                )
        object.__setattr__(self, "_by_number", tuple(_on_line(self.points, midi) for midi in range(128)))

    def ring(self, midi: int) -> int:
        """Microseconds from the pluck until the sounding MIDI number has died away, or NEVER."""
        return self._by_number[min(max(midi, 0), 127)]


def _on_line(points: tuple[tuple[int, int], ...], midi: int) -> int:
    if midi <= points[0][0]:
        return points[0][1]
    for (low, low_us), (high, high_us) in pairwise(points):
        if midi <= high:
            return low_us + (high_us - low_us) * (midi - low) // (high - low)
    return points[-1][1]
