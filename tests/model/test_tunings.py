"""Strings without pedals, retuned in a break. On 47 strings they are C1, D1 and the top G, tuned natural (figures.toml)."""

from __future__ import annotations

import pytest

from livepedal.harp import Figures
from livepedal.model.tunings import Tunings

HARP = Figures.builtin().instrument("47")
C_FLAT, C, C_SHARP, D, D_SHARP, G_FLAT, G, G_SHARP = 23, 24, 25, 26, 27, 102, 103, 104


def test_what_only_a_string_without_a_pedal_gives() -> None:
    # D♯1 lies on the E string too, and F♯7 (G♭7) on the F string; both have pedals.
    tunings = Tunings(HARP)
    given = {pitch: tunings.gives(pitch) for pitch in range(128)}
    assert [pitch for pitch, gives in given.items() if gives is True] == [C_FLAT, C, C_SHARP, D, G, G_SHARP]
    assert set(given.values()) == {True, False}


@pytest.mark.parametrize(
    ("attacks", "wrong"),
    [
        ([(False, [C, D, G])], [[]]),
        ([(False, [60, D_SHARP, G_FLAT])], [[]]),  # nothing that concerns them
        ([(False, [C_SHARP])], [[C_SHARP]]),
        ([(True, [C_SHARP])], [[]]),
        # One pitch a string: C♭ and C are both on C1, and C♯ with C is D♭ on D1.
        ([(True, [C_FLAT, C])], [[C]]),
        ([(True, [C, C_SHARP])], [[]]),
        ([(True, [C_SHARP, C])], [[]]),
        ([(True, [C_SHARP, C, D])], [[D]]),
        # C♯1 leaves open which of the two strings was retuned, until D or C says so.
        ([(True, [C_SHARP]), (False, [D]), (False, [C])], [[], [], [C]]),
        ([(True, [C_SHARP]), (False, [C]), (False, [D])], [[], [], [D]]),
        # What was retuned stays so until the next break.
        ([(True, [G_SHARP]), (False, [G])], [[], [G]]),
        ([(True, [G_SHARP]), (False, [60]), (True, [G])], [[], [], []]),
    ],
)
def test_only_a_break_lets_anybody_retune(
    attacks: list[tuple[bool, list[int]]], wrong: list[list[int]]
) -> None:
    tunings = Tunings(HARP)
    found = []
    for moment, (after_break, pitches) in enumerate(attacks):
        tunings.open(after_break=after_break)
        found.append(tunings.judge(pitches, moment))
    assert found == wrong


def test_what_stands_against_a_pitch() -> None:
    tunings = Tunings(HARP)
    tunings.open(after_break=False)
    tunings.judge([C], 5)
    tunings.open(after_break=False)
    against = [(wanted.name, tuned.word, used) for wanted, tuned, used in tunings.against(C_SHARP)]
    assert against == [("C♯1", "natural", 5), ("D♭1", "natural", None)]
    assert tunings.against(60) == ()


def test_a_fork_and_a_new_piece() -> None:
    tunings = Tunings(HARP)
    tunings.open(after_break=True)
    other = tunings.fork()
    assert other.judge([C_FLAT], 1) == []
    assert tunings.judge([C], 1) == []
    other.open(after_break=False)
    assert other.judge([C], 2) == [C]
    other.start()
    assert other.judge([C], 3) == []
