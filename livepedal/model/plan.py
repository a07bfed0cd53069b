"""(being written) The plan: the pedalling that a player would choose for a whole part."""

from __future__ import annotations

from dataclasses import dataclass

from livepedal.harp import Foot, Pedal, Position, Setting, Spelling


@dataclass(frozen=True, slots=True)
class PedalChange:
    """One pedal going to another position. `us`: when the foot starts (µs); `attack_us`: the attack that needs it."""

    us: int
    attack_us: int
    pedal: Pedal
    start: Position
    goal: Position
    foot: Foot
    audible: bool
    tight: bool


@dataclass(frozen=True, slots=True)
class Plan:
    """The setting to start with, the changes in the order of their starts, and for each attack how its pitches are spelled.

    `spellings[n]` belongs to the n-th attack, one Spelling for each of its pitches in ascending order (None for a note no string gives).
    """

    setting: Setting
    changes: tuple[PedalChange, ...]
    attacks: tuple[int, ...]
    spellings: tuple[tuple[Spelling | None, ...], ...]
    unplayable: int
    audible: int
    tight: int
    bounded: int
