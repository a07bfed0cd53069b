"""Counted by brute force, and through the model: which chords some setting holds, in every transposition and in
every octave.

Table C was computed by brute force over all settings and is in part published (Gotham & Gunn, Music Theory
Online 22/4, 2016).
"""

from __future__ import annotations

from itertools import combinations

import pytest

from livepedal.model.feet.chords import Chords

from .playing import HARP

CHORDS = Chords(HARP)
NAMES = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]


def held(classes: tuple[int, ...], octave: int = 4) -> bool:
    """Whether some setting holds these pitch classes, struck in one octave (no string without pedal among
    them).
    """
    return bool(CHORDS.ways(tuple(sorted(12 * (octave + 1) + c for c in classes))))


def classes(names: str) -> tuple[int, ...]:
    return tuple(sorted(NAMES.index(name) for name in names.split()))


# Table C: held sets by size.
@pytest.mark.parametrize(
    ("size", "count"), [(1, 12), (2, 66), (3, 219), (4, 482), (5, 718), (6, 691), (7, 359), (8, 0)]
)
def test_how_many_sets_are_held(size: int, count: int) -> None:
    assert sum(held(some) for some in combinations(range(12), size)) == count


# Table C: the smallest that no setting holds.
MINIMAL = {
    3: ["G Ab A"],
    4: ["B C C# D", "A Bb B C", "D Eb E F", "E F F# G"],
    5: ["A Bb C C# D", "G Ab Bb B C", "A Bb B C# D", "D Eb E F# G", "D Eb F F# G", "E F F# Ab A"],
}


@pytest.mark.parametrize("size", [1, 2, 3, 4, 5, 6, 7])
def test_smallest_sets_that_are_not_held(size: int) -> None:
    found = {
        some
        for some in combinations(range(12), size)
        if not held(some) and all(held(less) for less in combinations(some, size - 1))
    }
    if size < 6:
        assert found == {classes(names) for names in MINIMAL.get(size, [])}
    else:
        assert len(found) == 5  # "five 6-note and five 7-note minimal sets exist too"


@pytest.mark.parametrize("octave", [2, 3, 4, 5])
@pytest.mark.parametrize("names", [name for some in MINIMAL.values() for name in some])
def test_the_octave_does_not_matter(names: str, octave: int) -> None:
    assert not held(classes(names), octave)
    # Spread over octaves it is the same pedals.
    spread = tuple(sorted(12 * (octave + n % 2 + 1) + c for n, c in enumerate(classes(names))))
    assert not CHORDS.ways(spread)


# Table D: available in all twelve transpositions.
@pytest.mark.parametrize("root", range(12))
@pytest.mark.parametrize(
    "chord",
    [
        (0, 4, 7), (0, 3, 7), (0, 3, 6), (0, 4, 8), (0, 4, 7, 10), (0, 4, 7, 11), (0, 3, 7, 10),
        (0, 3, 6, 10),
        (0, 3, 6, 9), (0, 3, 7, 11), (0, 2, 4, 7, 10), (0, 1, 4, 7, 10), (0, 3, 4, 7, 10), (0, 3, 4, 7),
        (0, 1, 4, 6, 7, 10), (0, 2, 4, 6, 9, 10),
    ],
)  # fmt: skip
def test_chords_in_every_transposition(chord: tuple[int, ...], root: int) -> None:
    assert held(tuple((root + note) % 12 for note in chord))
