"""The performer: live and open, forked, and what it says for what cannot be played."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livepedal.harp import HarpString
from livepedal.model.chords import Chords
from livepedal.model.joint import Obstacle
from livepedal.model.performer import Performer
from livepedal.model.repeats import Clashes
from livepedal.model.why_hands import hands_clause, string_clause
from livepedal.music.attacks import Gathered
from tests.model.playing import gathered

from .playing import FIGURES, HARP, VIRTUOSO, WORKING, joint_outcomes, joint_trouble, line
from .sequences import passages

CHORDS = Chords(HARP)
PIECES = [gathered(passage) for passage in passages(25, seed=5)]


def note_by_note(performer: Performer, attack: Gathered) -> bool:
    pitches = tuple(pitch for pitch, _ in attack.notes)
    performer.open(attack.us)
    for count, pitch in enumerate(pitches, start=1):
        performer.strike(pitch, attack.us)
        performer.judge(pitches[:count], CHORDS.ways(pitches[:count]), attack.us)
    return not performer.failed


def at_once(performer: Performer, attack: Gathered) -> bool:
    pitches = tuple(pitch for pitch, _ in attack.notes)
    performer.open(attack.us)
    for pitch in pitches:
        performer.strike(pitch, attack.us)
    return performer.judge(pitches, CHORDS.ways(pitches), attack.us)


@pytest.mark.parametrize("piece", PIECES, ids=range(len(PIECES)))
def test_note_by_note_or_at_once(piece: tuple[Gathered, ...]) -> None:
    """Live, an attack is judged again with each note; the last verdict is that of the whole attack."""
    one, other = (Performer(WORKING, HARP, True, FIGURES.ringing) for _ in range(2))
    for attack in piece:
        assert note_by_note(one, attack) == at_once(other, attack)
        assert one.obstacles == other.obstacles


@pytest.mark.parametrize("piece", PIECES[:12], ids=range(12))
def test_a_fork_goes_its_own_way(piece: tuple[Gathered, ...]) -> None:
    plain = Performer(VIRTUOSO, HARP, True, FIGURES.ringing)
    forked = Performer(VIRTUOSO, HARP, True, FIGURES.ringing)
    for attack in piece:
        elsewhere = forked.fork()
        at_once(elsewhere, Gathered(attack.us, ((43, None), (50, None), (67, None))))
        at_once(elsewhere, Gathered(attack.us + 40_000, ((43, None), (67, None))))
        assert at_once(plain, attack) == at_once(forked, attack)
        assert plain.obstacles == forked.obstacles


def test_a_second_impossibility_right_after_the_first_is_found() -> None:
    repeated = line([67] * 6, 40_000)
    failed = [joint.failed for joint in joint_outcomes(repeated, WORKING)]
    assert failed == [False, True, True, True, True, True]


def test_what_is_said_of_hands() -> None:
    music = line([(36, 43, 48, 55), (84, 88, 91, 96, 100)], 200_000)
    performer = Performer(WORKING, HARP, True, FIGURES.ringing)
    for attack in music:
        at_once(performer, attack)
    assert Obstacle.HANDS in performer.obstacles
    fault = performer.hands_fault()
    assert "hand must leap" in hands_clause(fault)
    assert fault.needed == 530_000


@pytest.mark.parametrize(
    ("pitch", "says"),
    [
        (67, "no other string gives it"),
        (24, "no other string gives it"),
        (70, "does not help"),
    ],
)
def test_what_is_said_of_strings(pitch: int, says: str) -> None:
    """G has one string (follows from the pedals); B♭ has A♯ beside it, which four plucks in 120 ms do
    not leave free.
    """
    performer = Performer(WORKING, HARP, True, FIGURES.ringing)
    for attack in line([pitch] * 6, 30_000):
        if not at_once(performer, attack):
            break
    assert performer.obstacles == {Obstacle.STRINGS}
    fault = performer.string_fault()
    assert fault is not None
    assert fault.pitch == pitch
    assert fault.available < fault.needed
    assert says in string_clause(fault)


@pytest.mark.parametrize("pitch", [67, 24])
@pytest.mark.parametrize("always", [False, True])
def test_how_soon_a_string_can_be_plucked_again(pitch: int, always: bool) -> None:
    """The G string, and C1, which has no pedal: `restrike` from one pluck to the next, twice `repeat` for the third."""
    plucks = {
        (WORKING.restrike,): None,
        (WORKING.restrike - 1,): 1,
        (WORKING.restrike, 2 * WORKING.repeat): None,
        (WORKING.restrike, 2 * WORKING.repeat - 1): 2,
        # The third of four is late enough after the first, the fourth is not after the second.
        (WORKING.repeat, 2 * WORKING.repeat, 2 * WORKING.repeat + WORKING.restrike): 3,
    }
    for later, expected in plucks.items():
        attacks = tuple(Gathered(us, ((pitch, us + 1),)) for us in (0, *later))
        assert joint_trouble(attacks, always=always) == expected, later


def test_which_strings_may_be_plucked_too_soon() -> None:
    """Whatever strings are chosen, the foot moves the D pedal once in 200 ms and needs 10 ms for it (model/repeats.py).
    D4 is the only string of D (62); D♭ (61) lies on C4 too.
    """
    quick = replace(WORKING, flick=10_000, two_notch_flick=13_000, settle=0, cycle=200_000)
    d_string = frozenset({HarpString.parse("D4").number})

    def after(*plucks: tuple[int, int]) -> tuple[int, frozenset[int]] | None:
        clashes = Clashes(quick, HARP)
        *past, (pitch, ms) = plucks
        for one, then in past:
            clashes.add([one], then * 1000)
        return clashes.possible([pitch], ms * 1000)

    assert after((62, 0), (62, 64)) == (0, d_string)
    assert after((62, 0), (62, 65)) is None
    assert after((61, 0), (62, 64)) == (0, d_string)
    assert after((61, 0), (62, 9)) is None  # no time for the pedal, so they were not one string
    assert after((61, 0), (62, 10)) == (0, d_string)
    # The third within twice 160 ms, and from then on no more.
    assert after((62, 0), (62, 100), (62, 319)) == (0, d_string)
    assert after((62, 0), (62, 100), (62, 320)) is None
    # There and back takes two changes, so a cycle; one change does not.
    assert after((61, 0), (62, 100), (61, 199)) is None
    assert after((61, 0), (62, 100), (61, 200)) == (0, d_string)
    assert after((61, 0), (62, 100), (62, 170)) == (0, d_string)
    assert after((61, 0), (61, 70), (62, 140)) == (0, d_string)
