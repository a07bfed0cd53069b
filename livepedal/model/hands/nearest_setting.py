"""Which setting gives a glissando over exactly these notes, and, where none does, which notes are too many."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise, product

from livepedal.harp import HarpString, Pedal, Position, Setting


@dataclass(frozen=True, slots=True)
class NearestGlissando:
    """How to set the pedals for a glissando over these pitch classes.

    setting: the one to take; count: how many give the same notes; left_out: the pitch classes that have to
    go, () where the setting gives exactly what was asked for.
    """

    setting: Setting
    count: int
    left_out: tuple[int, ...]


def nearest_glissando(pitches: Iterable[int], keep: Iterable[int] = ()) -> NearestGlissando:
    """The setting whose strings sound these notes (MIDI numbers) and no others, or as many of them as any can.

    It sounds those of `keep` in any case.

    Among several: strings in the order of their pitches, then flats, which sound fuller (Berlioz, p. 86). No setting
    sounds fewer than four pitch classes (counted over all 2187); where fewer are asked for, its others are the fewest
    that there can be.
    """
    asked = frozenset(pitch % 12 for pitch in pitches)
    kept = frozenset(pitch % 12 for pitch in keep)

    def worth(setting: Setting) -> tuple[int, int, int, int, int]:
        sounding = setting.pitch_classes
        return (
            len(kept - sounding),
            len(sounding - asked),
            len(asked - sounding),
            _crossings(setting),
            sum(int(position) for position in setting.positions if position is not None),
        )

    best = min(_settings(), key=worth)
    count = sum(setting.pitch_classes == best.pitch_classes for setting in _settings())
    return NearestGlissando(best, count, tuple(sorted(asked - best.pitch_classes)))


@cache
def _settings() -> tuple[Setting, ...]:
    return tuple(Setting(positions) for positions in product(Position, repeat=7))


def _crossings(setting: Setting) -> int:
    """Neighbouring strings of which the lower sounds higher, as E♯ and F♭."""
    sounding = []
    for number in range(HarpString(Pedal.C, 4).number, HarpString(Pedal.C, 5).number + 1):
        string = HarpString.numbered(number)
        position = setting.positions[string.pedal]
        sounding.append(string.natural + (position or 0))
    return sum(low > high for low, high in pairwise(sounding))
