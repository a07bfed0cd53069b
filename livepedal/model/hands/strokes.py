"""What the rules of the hands speak of: one hand's strokes, and attacks as both hands meet them.

What is compared is always time needed against time there was: a *strain*. Up to 1 it is met, and up to `MARGIN` judged
as met.
"""

from __future__ import annotations

from typing import NamedTuple

from livepedal.model.hands.grips import Block

FIFTH = 7  # semitones; what lies closer together is within the fingers of one hand side by side
MARGIN = 1.05  # what is missed by less than a twentieth of its figure is judged as met

Strains = tuple[float, ...]
"""One for each player, the slowest first."""
NO_STRAIN: Strains = (0.0, 0.0, 0.0)
Failed = tuple[bool, ...]
NOBODY: Failed = (False, False, False)


class Pluck(NamedTuple):
    """One attack of one hand: when (µs), which notes, and what placing it took."""

    us: int
    block: Block
    placings: int
    fingers: int
    strings: int


Hand = tuple[Pluck, ...]
"""The last attacks of a hand, latest first, as many as can still hold a finger; () where it has not played."""


class Stroke(NamedTuple):
    """A hand after it struck some notes, and each player's strain."""

    hand: Hand
    strains: Strains


class Struck(NamedTuple):
    """An attack (µs) with what stands in figurations, and the strain of those.

    Attributes:
        strokes: the ways of one hand to strike some of it, as far as they were asked for.
        together: what a hand must reach all the time (a written tremolo or trill).
        rolled: what is written as a rolled chord.
        slid: what a glissando ends with.
        left: what the left hand takes, where the score says so.
        failed: who could not play it; nothing from before it stands against what comes after.
    """

    us: int
    pitches: Block
    figuration: frozenset[int]
    limits: Strains
    strokes: dict[tuple[Hand, Block], list[Stroke]]
    together: frozenset[int] = frozenset()
    rolled: frozenset[int] = frozenset()
    slid: frozenset[int] = frozenset()
    left: Block | None = None
    failed: Failed = NOBODY
