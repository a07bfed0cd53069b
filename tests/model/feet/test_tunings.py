"""Strings without pedals, tuned for the piece (siba, scordatura). On 47 strings they are C1, D1 and the top G, usually
natural (figures.toml).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from livepedal.harp import Figures, Position
from livepedal.model.feet.tunings import Tunings

HARP = Figures.builtin().instrument("47")
C_FLAT, C, D_FLAT, D, E_FLAT, G_FLAT, G, G_SHARP = 23, 24, 25, 26, 27, 102, 103, 104


def test_what_only_a_string_without_a_pedal_gives() -> None:
    # D♯1 lies on the E string too, and F♯7 (G♭7) on the F string; both have pedals. Up strains the string.
    given = [pitch for pitch in range(128) if any(one.fixed for one in HARP.spellings(pitch))]
    assert given == [C_FLAT, C, D_FLAT, D, G]


@pytest.mark.parametrize(
    ("attacks", "wrong", "told"),
    [
        ([(False, [C, D, G])], [[]], []),
        ([(False, [60, E_FLAT, G_FLAT])], [[]], []),  # nothing that concerns them
        ([(False, [D_FLAT])], [[]], ["D♭"]),
        ([(False, [C_FLAT, D_FLAT])], [[]], ["C♭", "D♭"]),
        # One pitch a string.
        ([(False, [C_FLAT, C])], [[C]], ["C♭"]),
        ([(False, [C, D_FLAT, D])], [[D]], ["D♭"]),
        ([(False, [D]), (False, [D_FLAT])], [[], [D_FLAT]], []),
        ([(False, [D_FLAT]), (False, [D]), (False, [D_FLAT])], [[], [D], []], ["D♭"]),
        # What was retuned stays so until the next break; in that only the strings that are needed are.
        ([(False, [D]), (True, [D_FLAT]), (False, [D])], [[], [], [D]], ["D♭ 1"]),
        ([(False, [D_FLAT]), (True, [60]), (False, [D])], [[], [], []], ["D♭", "D♮ 2"]),
        ([(False, [C]), (True, [60]), (False, [D_FLAT])], [[], [], []], ["D♭"]),
    ],
)
def test_only_before_the_piece_or_in_a_break_is_a_string_tuned(
    attacks: list[tuple[bool, list[int]]], wrong: list[list[int]], told: list[str]
) -> None:
    tunings = Tunings(HARP)
    found = []
    for moment, (after_break, pitches) in enumerate(attacks):
        if after_break:
            tunings.rest()
        # Note by note, as they come.
        for count in range(1, len(pitches) + 1):
            last = tunings.judge(pitches[:count], moment)
        found.append(last)
    assert found == wrong
    assert [
        f"{one.spelling.pedal.letter}{one.spelling.position.sign}"
        + (f" {one.us}" if one.us is not None else "")
        for one in tunings.changed
    ] == told


def test_a_harp_that_is_tuned_otherwise() -> None:
    flat = tuple(replace(one, position=Position.FLAT) for one in HARP.fixed)
    tunings = Tunings(replace(HARP, fixed=flat))
    assert tunings.judge([D_FLAT], 0) == []
    assert tunings.changed == ()
    assert tunings.judge([C], 0) == []
    assert [one.what for one in tunings.changed] == ["tune the lowest C string to C♮"]
    # F♯7 lies on a string with a pedal, below. The feet are not asked for it where G7 is tuned to it (chords.py), so
    # G7 must stay so (the judge has it so too: `_out_of_tune` in tests/judge/cpsat.py).
    assert tunings.judge([G_FLAT], 1) == []
    assert tunings.judge([G], 2) == [G]
    # C1 and D1 on one pitch: the lower one has it, and D1 is free to be tuned up to D (the judge, seed 212, case 72).
    c_sharp = (replace(HARP.fixed[0], position=Position.SHARP), *flat[1:])
    tunings = Tunings(replace(HARP, fixed=c_sharp))
    assert tunings.judge([D_FLAT], 0) == []
    assert tunings.judge([D], 1) == []


def test_what_stands_against_a_pitch() -> None:
    tunings = Tunings(HARP)
    assert tunings.stands(D_FLAT) is None
    tunings.judge([D], 5)
    stands = tunings.stands(D_FLAT)
    assert stands is not None
    assert (stands[0].name, stands[1], stands[2]) == ("D♭1", Position.NATURAL, 5)
    above = tunings.above(G_SHARP)
    assert above is not None
    assert above.name == "G♯7"
    assert tunings.stands(60) is tunings.above(60) is None


def test_a_fork() -> None:
    tunings = Tunings(HARP)
    other = tunings.fork()
    assert other.judge([C_FLAT], 1) == []
    assert tunings.judge([C], 1) == []
    assert other.judge([C], 2) == [C]
