"""Laws of the hands, and of feet, strings and hands together, on random attacks; each speaks of the first
unplayable attack.

They hold for attacks without glissandi: a slide has no smallest speed, so there slower, or one note fewer,
can be worse (a run that is too slow to be a glissando is played finger by finger). "One note fewer" is a law
of the feet and of the strings. Of the hands it holds but for three rules that tell what a hand does by what
there is to play, and with these out of the way it is tested here: the right hand may be late only over notes
of the left, so that to leave one of those out takes time from it; a roll ends at the top, where a chord that
fits once a note is gone leaves the hand all over it; and a note before a chord lets the hand be placed in two
goes.
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from livepedal.harp import Player
from livepedal.model.chords import Chords
from livepedal.model.grips import Grips
from livepedal.model.performer import Performer
from livepedal.music.attacks import Gathered, scale
from tests.model.playing import gathered

from .playing import HARP, RELAXED, VIRTUOSO, WORKING, hands_trouble, joint_outcomes, joint_trouble
from .sequences import passages

PIECES = [gathered(passage) for passage in passages(60, seed=77)]
NEVER = 1 << 30
MS = 1_000


def first(trouble: list[int] | int | None) -> int:
    if isinstance(trouble, list):
        return trouble[0] if trouble else NEVER
    return NEVER if trouble is None else trouble


@pytest.mark.parametrize("number", range(0, len(PIECES), 5))
def test_slower_is_never_worse(number: int) -> None:
    for piece in PIECES[number : number + 5]:
        slow = scale(piece, 2)
        assert first(hands_trouble(slow)) >= first(hands_trouble(piece))
        assert first(joint_trouble(slow)) >= first(joint_trouble(piece))


@pytest.mark.parametrize("number", range(0, len(PIECES), 5))
def test_a_quicker_player_is_never_worse(number: int) -> None:
    for piece in PIECES[number : number + 5]:
        for slower, quicker in ((RELAXED, WORKING), (WORKING, VIRTUOSO)):
            assert first(hands_trouble(piece, quicker)) >= first(hands_trouble(piece, slower))
            assert first(joint_trouble(piece, quicker)) >= first(joint_trouble(piece, slower))


@pytest.mark.parametrize("number", range(0, len(PIECES), 5))
def test_sliding_is_never_worse_than_held(number: int) -> None:
    for piece in PIECES[number : number + 5]:
        assert first(joint_trouble(piece, sliding=True)) >= first(joint_trouble(piece))


@pytest.mark.parametrize("number", range(0, len(PIECES), 5))
def test_together_is_never_better_than_each(number: int) -> None:
    """Feet, strings and hands together fail no later than the hands alone."""
    for piece in PIECES[number : number + 5]:
        assert first(joint_trouble(piece)) <= first(hands_trouble(piece))


def test_joining_only_where_it_matters_changes_nothing() -> None:
    """The performer, which joins late and ends early, against the joint search that always runs."""
    for piece in PIECES[:30]:
        for player in (WORKING, VIRTUOSO):
            assert joint_trouble(piece, player) == joint_trouble(piece, player, always=True)


def where_strings_decide(
    rng: random.Random, grips: Grips, chords: Chords, count: int = 7
) -> tuple[Gathered, ...]:
    """Music most of whose chords are a grip on some of their strings only, near each other and close in time."""
    found: list[Gathered] = []
    now, low = 0, rng.randint(36, 72)
    gaps = rng.choice(((130, 180), (180, 260, 400), (90, 600)))
    while len(found) < count:
        low = min(max(low + rng.randint(-3, 3), 30), 80)
        chord = tuple(
            sorted(
                {low, low + rng.randint(14, 19), *rng.choices(range(low, low + 20), k=rng.choice((0, 1, 2)))}
            )
        )
        ways = chords.ways(chord)
        if not ways or (len(grips.classes(chord, ways)) == 1 and rng.random() < 0.7):
            continue
        ends = [now + rng.choice((20, 100, 300, 900)) * MS for _ in chord]
        found.append(Gathered(now, tuple(zip(chord, ends, strict=True))))
        now += rng.choice(gaps) * MS
    return tuple(found)


@pytest.mark.parametrize("seed", range(4))
def test_joining_where_the_strings_decide_changes_nothing(seed: int) -> None:
    """As above, where it matters most: the performer plays plainly or joins, and says what the joint search says."""
    rng = random.Random(seed)
    chords = Chords(HARP)
    plainly = joined = failed = 0
    for _ in range(40):
        feet = rng.choice((WORKING, VIRTUOSO))
        player = replace(feet, fingers=rng.choice((2, 3, 4)), place=rng.choice((40, 100)) * MS, roll=0)
        piece = where_strings_decide(rng, Grips(player, HARP), chords)
        sliding = rng.random() < 0.5
        pairs = zip(
            joint_outcomes(piece, player, sliding=sliding),
            joint_outcomes(piece, player, sliding=sliding, always=True),
            strict=True,
        )
        for one, other in pairs:
            assert isinstance(one, Performer)
            plainly += one._plainly is not None
            joined += one._joint is not None
            assert one.failed is other.failed
            if one.failed:
                failed += 1
                break
    assert min(plainly, joined, failed) > 5


@pytest.mark.parametrize("number", range(0, len(PIECES), 5))
def test_one_note_fewer_is_never_worse(number: int) -> None:
    strict = replace(WORKING, roll=0, place_finger=0)
    for piece in PIECES[number : number + 5]:
        whole = first(hands_trouble(piece, strict))
        if whole == NEVER or rolls(piece, strict):
            continue
        for attack in range(whole):
            for note in range(len(piece[attack].notes)):
                less = thinned(piece, attack, note)
                # Without an attack of one note the others move up by one.
                gone = len(piece) - len(less)
                assert first(hands_trouble(less, strict)) + gone >= whole


def rolls(piece: tuple[Gathered, ...], player: Player) -> bool:
    """Whether two hands cannot take some chord at once."""
    grips = Grips(player, HARP)
    chords = Chords(HARP)
    return any(
        one.rolled
        for attack in piece
        for one in grips.classes(attack.attack.pitches, chords.ways(attack.attack.pitches))
    )


def thinned(piece: tuple[Gathered, ...], attack: int, note: int) -> tuple[Gathered, ...]:
    one = piece[attack]
    notes = one.notes[:note] + one.notes[note + 1 :]
    return (*piece[:attack], *((Gathered(one.us, notes),) if notes else ()), *piece[attack + 1 :])
