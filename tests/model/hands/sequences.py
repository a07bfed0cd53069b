"""Random music for the hands, each piece fixed by its seed: runs, broken chords, repeats, leaps, full and
wide chords, close together.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import product

from tests.judge import hands
from tests.judge.cpsat import Attack, Note, Passage

_MS = 1_000


def passage(seed: int, most: int = 9) -> Passage:
    """One piece. Every attack is a chord that some setting holds, so that only time and grips are in
    question.
    """
    rng = random.Random(seed)
    count = rng.randint(3, most)
    pace = rng.choice((40, 70, 110, 170, 260))
    attacks: list[Attack] = []
    time = 0
    centre = rng.randint(40, 85)
    last: tuple[int, ...] = ()
    for _ in range(count):
        kind = rng.random()
        if kind < 0.25 and last:
            pitches = last  # again
        elif kind < 0.55:
            centre = min(95, max(30, centre + rng.choice((-4, -3, -2, -1, 1, 2, 3, 4, 7, 12))))
            pitches = (centre,)
        elif kind < 0.8:
            size = rng.randint(2, 5)
            pitches = tuple({min(100, max(28, centre + rng.randint(-16, 16))) for _ in range(size)})
        elif kind < 0.9:
            size = rng.randint(5, 9)
            pitches = tuple({rng.randint(28, 98) for _ in range(size)})
        else:
            centre = rng.randint(30, 95)
            pitches = (centre, centre + rng.choice((16, 17, 15, 14)))
        chord = _holdable(sorted(set(pitches)))
        attacks.append(Attack(time, tuple(Note(p, time + rng.choice((10, 60, 300)) * _MS) for p in chord)))
        last = chord
        time += max(1, round(pace * rng.choice((0.5, 0.7, 1, 1, 1, 1.5, 3)))) * _MS
    return Passage(tuple(attacks), kind=f"hands {seed}")


def passages(count: int, seed: int) -> Iterator[Passage]:
    return (passage(seed * 100_000 + number) for number in range(count))


def _holdable(pitches: list[int]) -> tuple[int, ...]:
    kept: list[int] = []
    for pitch in pitches:
        if holds([*kept, pitch]):
            kept.append(pitch)
    return tuple(kept)


def holds(pitches: list[int]) -> bool:
    """Whether one setting gives all of these pitches."""
    for choice in product(*(hands.strings_of(pitch) for pitch in pitches)):
        stands: dict[int, int] = {}
        for string, pitch in zip(choice, pitches, strict=True):
            position = pitch - (12 * (string // 7 + 1) + hands.NATURAL[string % 7])
            if string not in hands.FIXED and stands.setdefault(string % 7, position) != position:
                break
        else:
            return True
    return False
