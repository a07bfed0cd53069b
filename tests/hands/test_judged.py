"""Hands alone, and feet, strings and hands together, against their statement for OR-Tools CP-SAT
(tests/judge/hands.py).

Random music, dense enough that most pieces break somewhere. Both sides name the first attack that cannot be
played.
"""

from __future__ import annotations

import random

import pytest

from livepedal.harp import Player, Ringing
from tests.judge import cpsat, hands
from tests.model.playing import gathered

from .playing import hands_trouble, joint_trouble
from .sequences import passage

_MS = 1_000


def random_hand(rng: random.Random) -> hands.Hand:
    """The working player's figures, or any."""
    if rng.random() < 0.5:
        return hands.Hand()
    return hands.Hand(
        reach=rng.randint(5, 11),
        inner=rng.randint(3, 9),
        spread=rng.randint(5, 12),
        near=rng.randint(1, 8),
        fingers=rng.randint(2, 4),
        place=rng.randint(30, 250) * _MS,
        finger=rng.randint(0, 80) * _MS,
        leap=rng.randint(0, 40) * _MS,
        turn=rng.randint(20, 150) * _MS,
        late=rng.choice((0, 25, 60)) * _MS,
        restrike=rng.randint(30, 200) * _MS,
        repeat=rng.randint(60, 300) * _MS,
    )


def player_of(hand: hands.Hand, feet: cpsat.Figures) -> Player:
    return Player(
        "judged",
        feet.flick,
        feet.two_notch_flick,
        feet.cycle,
        feet.settle,
        feet.overlap,
        feet.grip,
        feet.damp,
        two_at_once=False,
        reach_across=False,
        reach=hand.reach,
        inner_reach=hand.inner,
        rolled_reach=hand.spread,
        turn_reach=hand.near,
        fingers=hand.fingers,
        place=hand.place,
        place_finger=hand.finger,
        leap=hand.leap,
        turn=hand.turn,
        roll=hand.late,
        restrike=hand.restrike,
        repeat=hand.repeat,
        sustained=1.0,  # no matter of single attacks
    )


@pytest.mark.parametrize("batch", range(4))
def test_hands_alone(batch: int) -> None:
    for number in range(5):
        seed = 10_000 * batch + number
        piece = passage(seed)
        hand = random_hand(random.Random(seed))
        mine = hands_trouble(gathered(piece), player_of(hand, cpsat.Figures(0, 0, 0)))
        assert (mine[0] if mine else None) == hands.first_unplayable(piece, hand), (seed, hand)


@pytest.mark.parametrize("batch", range(4))
def test_feet_strings_and_hands_together(batch: int) -> None:
    for number in range(4):
        seed = 500_000 + 10_000 * batch + number
        piece = passage(seed, most=7)
        rng = random.Random(seed)
        hand = random_hand(rng)
        feet = rng.choice(
            (cpsat.Figures(150 * _MS, 195 * _MS, 500 * _MS), cpsat.Figures(60 * _MS, 90 * _MS, 150 * _MS))
        )
        player = player_of(hand, feet)
        notion: cpsat.Notion = rng.choice(("held", "sliding"))
        expected = hands.first_unplayable(piece, hand, feet, notion)
        for always in (False, True):
            found = joint_trouble(
                gathered(piece), player, ringing=Ringing(None), sliding=notion == "sliding", always=always
            )
            assert found == expected, (seed, hand, feet, notion, always)


def test_a_joint_search_that_starts_again_knows_what_was_before() -> None:
    """Found by the benchmark (exactness --whole --seed 9): a string that was to be watched later on made the search
    start again from an attack in the middle, and forget what had tied it down until then.
    """
    seed = 9_000_016
    piece = passage(seed, most=7)
    hand, feet = random_hand(random.Random(seed)), cpsat.Figures(150 * _MS, 195 * _MS, 500 * _MS)
    expected = hands.first_unplayable(piece, hand, feet, "held")
    assert expected == 5
    assert joint_trouble(gathered(piece), player_of(hand, feet), ringing=Ringing(None)) == expected


def test_the_judge_on_known_answers() -> None:
    """The statement itself: nine notes, ten strings, two placings, by hand count."""
    feet = cpsat.Figures(150 * _MS, 195 * _MS, 500 * _MS)

    def piece(*attacks: tuple[int, tuple[int, ...]]) -> cpsat.Passage:
        return cpsat.Passage(
            tuple(
                cpsat.Attack(t * _MS, tuple(cpsat.Note(p, t * _MS + 1) for p in some)) for t, some in attacks
            )
        )

    nine = (36, 43, 48, 52, 60, 64, 67, 72, 76)
    assert hands.first_unplayable(piece((0, nine)), hands.Hand()) is None  # rolled, from rest
    assert hands.first_unplayable(piece((0, (36, 72)), (150, nine)), hands.Hand()) == 1
    # A run of four in one hand and a chord in the other goes off at any speed, the fifth note does not.
    run = [(40 * n, (48, 52, 55, 60) if n == 0 else (72 + 2 * n,)) for n in range(6)]
    assert hands.first_unplayable(piece(*run), hands.Hand(leap=1 << 30)) == 5
    # One string, three plucks: 2 * 160 ms.
    g = [(n * 150, (67,)) for n in range(3)]
    assert hands.first_unplayable(piece(*g), hands.Hand(), feet) == 2
    b_flat = [(n * 150, (70,)) for n in range(3)]
    assert hands.first_unplayable(piece(*b_flat), hands.Hand(), feet) is None
