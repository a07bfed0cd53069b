"""Ringing: how long a plucked string is heard before it has died away by itself, and how long it is loud.

There are no dampers: a string sounds until it is muffled by hand or dies away, and the lower it is the longer
that takes (Volpé Bligh, Writing for the Pedal Harp, item 5; Rimsky-Korsakov, Principles of Orchestration, ch.
I). No source read gives seconds. The points in figures.toml are from memory and orders of magnitude only.

A wire string (C1 to G2; harpinsideout.com) is so loud at first that a pedal that moves under it is heard, as a
growl, though nobody holds the note any more (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TypeAlias

NEVER = 1 << 60
"""Microseconds that no piece lasts: what `Ringing.ring` gives when strings are taken never to die away."""

# (MIDI number, µs), upwards
Points: TypeAlias = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Ringing:
    """How long strings ring, and how long they are loud, by register.

    Attributes:
        points, loud_points: pairs of MIDI number and microseconds, both in order of rising pitch; between two of them
            the time is on the straight line, beyond the outermost it stays (layers.py checks that none rises). points
            None: strings never die away; loud_points None: no string is ever loud.
    """

    points: Points | None
    loud_points: Points | None = None
    _by_number: tuple[int, ...] = field(init=False, repr=False, compare=False)
    _loud_by_number: tuple[int, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_by_number", _by_number(self.points, NEVER))
        object.__setattr__(self, "_loud_by_number", _by_number(self.loud_points, 0))

    def ring(self, midi: int) -> int:
        """Microseconds from the pluck until the sounding MIDI number has died away, or NEVER."""
        return self._by_number[min(max(midi, 0), 127)]

    def loud(self, midi: int) -> int:
        """Microseconds from the pluck during which a pedal that moves under the sounding MIDI number is heard."""
        return self._loud_by_number[min(max(midi, 0), 127)]


def _by_number(points: Points | None, without: int) -> tuple[int, ...]:
    """The time of each MIDI number. without: that of all of them where there are no points."""
    return tuple(without if points is None else _on_line(points, midi) for midi in range(128))


def _on_line(points: Points, midi: int) -> int:
    if midi <= points[0][0]:
        return points[0][1]
    for (low, low_us), (high, high_us) in pairwise(points):
        if midi <= high:
            return low_us + (high_us - low_us) * (midi - low) // (high - low)
    return points[-1][1]
