"""Smears: pedal changes that are heard on strings of their letter that ring on."""

from __future__ import annotations

from decimal import Decimal

import pytest

from livepedal.harp import Figures, HarpString, Pedal, Position, Ringing, SmearFigures, Spelling
from livepedal.model.ringing_remarks import SmearGrade, smears

FIGURES = Figures.builtin()
S = 1_000_000


def spelling(name: str, position: Position = Position.NATURAL) -> Spelling:
    return Spelling(HarpString.parse(name), position)


def test_a_pedal_moves_its_letter_in_all_octaves() -> None:
    # Berlioz p. 83: a pedal acts on its letter in every octave. Low strings ring long (Volpé Bligh, item 5):
    # a C2 plucked a second ago is heard when the C pedal moves, though the note that needs the change is a
    # high one; when the D pedal moves it is not.
    plucks = [(0, spelling("C2"))]
    (smear,) = smears(plucks, [(1 * S, Pedal.C)], FIGURES.ringing, FIGURES.smear)
    assert (smear.string.name, smear.grade, smear.us) == ("C2", SmearGrade.CLEAR, S)
    assert smears(plucks, [(1 * S, Pedal.D)], FIGURES.ringing, FIGURES.smear) == ()


def test_what_has_died_away_is_not_heard() -> None:
    """The same change later is faint, and later still silent; the higher the string, the sooner."""
    grades = {}
    for name in ("C2", "C6"):
        for after in (0.1, 0.6, 5, 30):
            found = smears(
                [(0, spelling(name))], [(round(after * S), Pedal.C)], FIGURES.ringing, FIGURES.smear
            )
            grades[name, after] = found[0].grade if found else None
    assert [grades["C2", after] for after in (0.1, 0.6, 5, 30)] == [
        SmearGrade.CLEAR, SmearGrade.CLEAR, SmearGrade.FAINT, None,
    ]  # fmt: skip
    assert [grades["C6", after] for after in (0.1, 0.6, 5, 30)] == [
        SmearGrade.CLEAR,
        SmearGrade.FAINT,
        None,
        None,
    ]


def test_the_string_with_most_left_counts() -> None:
    plucks = [(0, spelling("C2")), (9 * S, spelling("C5")), (0, spelling("C3"))]
    (smear,) = smears(plucks, [(9 * S + S // 2, Pedal.C)], FIGURES.ringing, FIGURES.smear)
    assert smear.string.name == "C5"
    assert smear.left == 80  # half a second of 2.5 s


def test_a_string_without_pedal_is_not_changed() -> None:
    fixed = Spelling(HarpString.parse("C1"), Position.NATURAL, fixed=True)
    assert smears([(0, fixed)], [(S, Pedal.C)], FIGURES.ringing, FIGURES.smear) == ()


def test_a_pluck_in_the_moment_of_the_change_comes_after_it() -> None:
    assert smears([(S, spelling("C4"))], [(S, Pedal.C)], FIGURES.ringing, FIGURES.smear) == ()


def test_strings_that_never_die_away_are_always_clear() -> None:
    (smear,) = smears([(0, spelling("C7"))], [(600 * S, Pedal.C)], Ringing(None), FIGURES.smear)
    assert (smear.grade, smear.left) == (SmearGrade.CLEAR, 100)


@pytest.mark.parametrize(
    ("after", "left", "grade"),
    [
        (0.001, 100, SmearGrade.CLEAR),
        (0.3, 70, SmearGrade.CLEAR),
        (0.301, 70, SmearGrade.CLEAR),  # hundredths are rounded up
        (0.311, 69, SmearGrade.FAINT),
        (0.5, 50, SmearGrade.FAINT),
        (0.7, 30, SmearGrade.FAINT),
        (0.711, 29, None),
        (2.0, 0, None),
    ],
)
def test_what_is_left_falls_evenly(after: float, left: int, grade: SmearGrade | None) -> None:
    """[smear] of figures.toml: faint from 0.3 of the ring on, clear from 0.7; here every string rings a second."""
    ringing = Ringing(((24, S),))
    change = 1 + round(after * S)
    later = [(change + S, Pedal.C)]  # when nothing is left, nor anything more plucked
    found = smears([(1, spelling("C4"))], [(change, Pedal.C), *later], ringing, FIGURES.smear)
    assert [(smear.left, smear.grade) for smear in found] == ([] if grade is None else [(left, grade)])


def test_a_grade_of_the_whole_ring_is_never_reached_once_it_falls() -> None:
    whole = SmearFigures(Decimal(1), Decimal(1))
    for after, heard in ((1, 1), (S // 100 - 1, 1), (S // 100, 0)):
        assert len(smears([(0, spelling("C4"))], [(after, Pedal.C)], Ringing(((24, S),)), whole)) == heard
