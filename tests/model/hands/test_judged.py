"""The hands against their exhaustive statement in tests/judge/hands.py, which shares no code with them.

What no choice enters, the line and the strings, agrees exactly. Of the hands the package keeps only some ways to share music out,
so the strain that it tells is not always the least; what fails is the same.
"""

from __future__ import annotations

import random
from dataclasses import fields

import pytest

from livepedal.harp import Player
from livepedal.model.hands import Hands
from livepedal.model.hands.pace import Strings
from tests.judge import hands as judge

from .playing import FIGURES, HARP

MS = 1_000


def figures_of(player: Player) -> judge.Hand:
    """A player's figures as the judge takes them."""
    names = {known.name for known in fields(judge.Hand)} - {"reach"}
    return judge.Hand(reach=FIGURES.hands.reach, **{name: getattr(player, name) for name in names})


def music(rng: random.Random, count: int, most: int = 3) -> judge.Music:
    """Runs, leaps, repeats and chords, close in time."""
    found: list[tuple[int, tuple[int, ...]]] = []
    now, centre = 0, rng.randint(40, 80)
    pace = rng.choice((40, 60, 90, 140))
    while len(found) < count:
        centre = min(90, max(30, centre + rng.choice((-12, -5, -3, -2, 0, 0, 2, 3, 4, 7, 19))))
        size = rng.choice((1, 1, 1, 2, most))
        chord = tuple(
            sorted({centre, *(min(100, max(28, centre + rng.randint(-14, 14))) for _ in range(size - 1))})
        )
        if found and rng.random() < 0.15:
            chord = found[-1][1]
        found.append((now, chord))
        now += rng.choice((pace, pace, 2 * pace, pace // 2)) * MS
    return tuple(found)


def strains(piece: judge.Music) -> list[tuple[Hands, tuple[tuple[float, float, float], ...]]] | None:
    """The strains of each attack, rule by rule; None where the piece holds a figuration."""
    hands = Hands(FIGURES.players, HARP, FIGURES)
    found = []
    for us, chord in piece:
        hands.open(us)
        for pitch in chord:
            hands.strike(pitch, us)
        hands.judge(chord, us)
        if hands.here:
            return None
        found.append((hands, hands.parts))
        hands.close()
    return found


@pytest.mark.parametrize("seed", range(4))
def test_lines_and_strings(seed: int) -> None:
    rng = random.Random(seed)
    hard = pieces = 0
    while pieces < 25:
        piece = music(rng, 16)
        told = strains(piece)
        if told is None:
            continue
        pieces += 1
        for number, player in enumerate(FIGURES.players):
            mine = figures_of(player)
            for rule, said in ((1, judge.lines(piece, mine)), (2, judge.repeats(piece, mine))):
                assert [parts[rule][number] for _, parts in told] == pytest.approx(said)
                hard += max(said) > 1
    assert hard > 10


@pytest.mark.parametrize("seed", range(4))
def test_the_hands_fail_where_the_easiest_way_does(seed: int) -> None:
    rng = random.Random(seed)
    attacks = hard = 0
    while attacks < 200 or hard < 4:
        piece = music(rng, 6)
        told = strains(piece)
        if told is None:
            continue
        slow = figures_of(FIGURES.players[0])
        for number, player in enumerate(FIGURES.players):
            said = judge.easiest(piece, figures_of(player), slow)
            for (_, parts), strain in zip(told, said, strict=True):
                mine = parts[0][number]
                if max(parts[1][number], parts[2][number]) > 1.05:
                    break  # the hands are not asked
                assert (mine > 1.05) == (strain > 1.05)
                attacks += 1
                hard += strain > 1
                if strain > 1.05:
                    break  # what comes after is judged anew
    assert hard >= 4


def test_a_note_beyond_the_harp_is_no_string_struck_again() -> None:
    strings = Strings(FIGURES.players, HARP)
    for moment in (0, 20_000, 40_000):
        strings.open()
        strings.strike(104, moment)  # G♯7, above the highest string
        assert strings.judge(frozenset()) == (0, 0, 0)
