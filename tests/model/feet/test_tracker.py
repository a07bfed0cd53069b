"""Both feet: what one does for the other, and how things go on after what cannot be played.

Rules and proofs stand at the head of model/feet/tracker.py; the working player's figures are in figures.toml: a change takes
150 ms and 20 ms more before its attack, a foot gets round in 500 ms.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from livepedal.harp import Figures, Pedal, Position, Ringing
from livepedal.model.feet.chords import Chords, Sharing, Way
from livepedal.model.feet.letters import UNSET
from livepedal.model.feet.tracker import Tracker
from livepedal.model.next_notes import table

MS = 1_000
WORKING = Figures.builtin().player("working")
RINGING = Ringing(None)


def sharing(**wanted: int) -> Sharing:
    """What an attack asks of the pedals: D=-1 for the D pedal at flat. The keys do not matter here."""
    ways: tuple[list[tuple[int, int, int]], ...] = ([], [])
    for letter, position in wanted.items():
        foot, index = Chords.group(Pedal.of_letter(letter))
        ways[foot].append((index, position, 0))
    left, right = (tuple(sorted(way)) for way in ways)
    return Sharing((left,), (right,))


def standing(free: dict[str, int] | None = None, **technique: bool) -> Tracker:
    """All pedals in the middle, free since 0 or as given (ms)."""
    tracker = Tracker(replace(WORKING, **technique), False, RINGING)
    tracker.start(tuple((0, (free or {}).get(pedal.letter, 0) * MS, 0, ()) for pedal in Pedal))
    return tracker


def plays(tracker: Tracker, ms: int, *sharings: Sharing) -> bool:
    tracker.open(ms * MS)
    return tracker.judge(sharings, ms * MS)


# One foot has time for one change until 600 ms (it starts by 430), for two from 670 ms on (0 and 500).


@pytest.mark.parametrize(
    ("wanted", "alone", "across"),
    [
        ({"D": -1, "B": -1}, False, True),  # the right foot takes B
        ({"E": 1, "F": 1}, False, True),  # the left foot takes E
        ({"D": -1, "C": -1}, False, False),  # B and E are the innermost pair; nothing else is in reach
        ({"F": 1, "G": 1}, False, False),
        ({"D": -1, "B": -1, "F": 1}, False, False),  # the other foot has a change of its own
        ({"D": -1, "B": -1, "E": 1}, False, False),
        ({"B": -1, "E": 1}, True, True),
        ({"D": -1, "F": 1}, True, True),
    ],
)
def test_a_foot_reaches_across_to_the_innermost_pedal(
    wanted: dict[str, int], alone: bool, across: bool
) -> None:
    # Common practice, no source: in an emergency the left foot moves E, or the right foot B.
    assert plays(standing(), 600, sharing(**wanted)) is alone
    assert plays(standing(reach_across=True), 600, sharing(**wanted)) is across


def test_a_foot_reaches_across_in_the_gap_before_the_attack_only() -> None:
    # The rule is livepedal's own: not before the attack ahead. From 430 ms on nothing can start for 600 ms.
    for ahead, expected in ((430, True), (431, False)):
        tracker = standing(reach_across=True)
        assert plays(tracker, ahead, sharing(G=0))
        assert plays(tracker, 600, sharing(D=-1, B=-1)) is expected


def test_a_change_handed_over_is_owed_by_the_foot_that_makes_it() -> None:
    # B came free at 300 ms, so the right foot moves it at 300 to 430 ms, and F has to wait for 500 ms more.
    for moment, expected in ((970, True), (969, False)):
        tracker = standing({"B": 300}, reach_across=True)
        assert plays(tracker, 600, sharing(D=-1, B=-1))
        assert plays(tracker, moment, sharing(F=1)) is expected


def test_the_foot_that_could_has_its_debts_after_what_the_other_could_not() -> None:
    # D and C are too much for the left foot. The right foot moves E, free since 400 ms, so F cannot follow by 1000 ms,
    # and can by 1070.
    for moment, expected in ((1070, True), (1069, False)):
        tracker = standing({"E": 400})
        assert not plays(tracker, 600, sharing(D=-1, C=-1, E=-1))
        assert plays(tracker, moment, sharing(F=1)) is expected
    # The left foot owes nothing: what cannot be played is reported once.
    tracker = standing({"C": 400})
    assert not plays(tracker, 600, sharing(D=-1, C=-1))
    assert plays(tracker, 770, sharing(B=-1))
    # The other way round.
    tracker = standing({"D": 400})
    assert not plays(tracker, 600, sharing(F=-1, G=-1, D=-1))
    assert not plays(tracker, 1069, sharing(C=1))


def test_where_one_foot_must_be_forced_the_other_is_not() -> None:
    # The first way fails on the left only, the second on both; the pedals stand as in the first, and B as one likes.
    first, second = sharing(D=-1, C=-1, E=0), sharing(D=1, C=1, F=1, G=1)
    for ways in ((first, second), (second, first)):
        tracker = standing()
        assert not plays(tracker, 600, *ways)
        ((left, right),) = tracker.after
        assert [[letter[0] for letter in letters] for letters, _ in (*left, *right)] == [
            [-1, -1, UNSET],
            [0, 0, 0, 0],
        ]


def test_a_foot_for_which_no_way_is_left_has_none() -> None:
    nothing: tuple[Way, ...] = ()
    tracker = standing()
    assert not plays(tracker, 600, Sharing(nothing, nothing))
    assert tracker.failed
    assert plays(standing(), 600, sharing(**{pedal.letter: int(Position.NATURAL) for pedal in Pedal}))


def test_the_next_note_may_use_the_movement_of_a_neighbour() -> None:
    # Two neighbouring pedals with one movement: Stickney, Giant steps for harp, 2021. D and C came free at 430 ms, and D
    # has to move then; by itself C can start a cycle later.
    for technique, c_at, b_at in ((True, 601, 1100), (False, 1100, 1100)):
        tracker = standing({"D": 430, "C": 430}, two_at_once=technique)
        assert plays(tracker, 600, sharing(D=-1))
        ready = table(tracker, tracker.after, 601 * MS)
        assert ready[Pedal.C][0].at == c_at * MS
        assert ready[Pedal.C][0].busy is not technique
        # B was free before, so it could have moved 500 ms sooner, had that been after the beginning.
        assert plays(standing({"D": 430, "B": 0}, two_at_once=technique), 600, sharing(D=-1, B=-1)) is False
        assert ready[Pedal.B][0].at == b_at * MS
