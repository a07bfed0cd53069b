"""The same attacks at another tempo."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from livepedal.music.attacks import Gathered


def scale(attacks: Iterable[Gathered], ratio: Fraction | int) -> tuple[Gathered, ...]:
    """Every time multiplied by `ratio` (2: half the tempo), rounded half up; what was gathered stays together."""

    def times(us: int) -> int:
        return (us * Fraction(ratio) + Fraction(1, 2)) // 1

    return tuple(
        replace(
            attack,
            us=times(attack.us),
            notes=tuple((pitch, None if end is None else times(end)) for pitch, end in attack.notes),
        )
        for attack in attacks
    )
