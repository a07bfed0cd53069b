"""What is still to come, against all 2187 settings."""

from __future__ import annotations

import random
from itertools import product

import pytest

from livepedal.harp import Figures
from livepedal.model import ahead
from livepedal.model.ahead import ANY, Ahead, code_of, undominated
from livepedal.model.chords import Chords, reads
from livepedal.model.prices import CHANGE, NOTCH

HARP = Figures.builtin().instrument("47")
SETTINGS = list(product((-1, 0, 1), repeat=7))


def moving(stands: tuple[int, ...], goal: tuple[int, ...]) -> int:
    """The price of getting from one setting to another; what is no position (9) costs nothing."""
    return sum(
        CHANGE + NOTCH * abs(one - other)
        for one, other in zip(stands, goal, strict=True)
        if one != other and 9 not in (one, other)
    )


def ways_of(chord: list[int]) -> list[tuple[dict[int, int], int]]:
    """Each way to spell the notes, one string each, as letters with their positions, and how badly it reads."""
    found = []
    for choice in product(*(HARP.spellings(pitch) for pitch in chord)):
        needs: dict[int, int] = {}
        price = 0
        for pitch, spelling in zip(chord, choice, strict=True):
            pedal, position = int(spelling.string.pedal), int(spelling.position)
            if needs.setdefault(pedal, position) != position:
                break
            price += reads(pedal, position, 1 << pitch)
        else:
            found.append((needs, price))
    return found


def by_brute_force(chords: list[list[int]]) -> list[dict[tuple[int, ...], int]]:
    """For each chord on the least price from each setting: of all settings that hold it, move and go on."""
    rows = [dict.fromkeys(SETTINGS, 0)]
    for chord in reversed(chords):
        after = rows[-1]
        ways = ways_of(chord)
        there = {}
        for setting in SETTINGS:
            held = [
                price
                for needs, price in ways
                if all(setting[pedal] == position for pedal, position in needs.items())
            ]
            if held:
                there[setting] = min(held) + after[setting]
        # From each setting to the best of those: pedal by pedal, so that not all pairs are looked at.
        least = {setting: there.get(setting, ahead.FAR) for setting in SETTINGS}
        for pedal in range(7):
            least = {
                setting: min(
                    least[(*setting[:pedal], goal, *setting[pedal + 1 :])]
                    + (CHANGE + NOTCH * abs(goal - setting[pedal]) if goal != setting[pedal] else 0)
                    for goal in (-1, 0, 1)
                )
                for setting in SETTINGS
            }
        rows.append(least)
    return rows[::-1]


def music(seed: int) -> list[list[int]]:
    rng = random.Random(seed)
    pool = rng.sample(range(45, 85), rng.choice((6, 10, 16)))
    chords = [rng.sample(pool, rng.choice((1, 1, 1, 2, 3))) for _ in range(9)]
    return [chord for chord in chords if ways_of(chord)]


def sampled(seed: int, chords: list[list[int]]) -> list[tuple[int, tuple[int, ...]]]:
    """Some places in the music, each with a setting; in some of these letters are unset (9)."""
    rng = random.Random(seed)
    found = []
    for _ in range(60):
        setting = rng.choice(SETTINGS)
        unset = rng.choice((0, 0, 1, 3))
        letters = rng.sample(range(7), unset)
        found.append(
            (
                rng.randrange(len(chords) + 1),
                tuple(9 if n in letters else position for n, position in enumerate(setting)),
            )
        )
    return found


def least(one: Ahead, number: int, setting: tuple[int, ...]) -> int:
    return one.least(number, code_of(setting[:3]), code_of(setting[3:]))


@pytest.mark.parametrize("seed", range(8))
def test_what_is_still_to_come_is_the_least_over_all_settings(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ahead, "FEW", 10_000)
    monkeypatch.setattr(ahead, "MOST", 10_000)
    chords = music(seed)
    rows = by_brute_force(chords)
    known = Chords(HARP)
    one = Ahead([known.ways(tuple(sorted(chord))) for chord in chords])
    for number, setting in sampled(seed, chords):
        wanted = min(
            rows[number][tuple(choice)]
            for choice in product(*((-1, 0, 1) if position == 9 else (position,) for position in setting))
        )
        assert least(one, number, setting) == wanted


@pytest.mark.parametrize(("few", "most"), [(6, 64), (2, 5), (0, 1)])
@pytest.mark.parametrize("seed", range(8, 12))
def test_with_its_shortcuts_it_is_never_too_high(
    seed: int, few: int, most: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    chords = music(seed)
    known = Chords(HARP)
    ways = [known.ways(tuple(sorted(chord))) for chord in chords]
    monkeypatch.setattr(ahead, "FEW", 10_000)
    monkeypatch.setattr(ahead, "MOST", 10_000)
    exact = Ahead(ways)
    monkeypatch.setattr(ahead, "FEW", few)
    monkeypatch.setattr(ahead, "MOST", most)
    monkeypatch.setattr(ahead, "ROOM", 1)
    one = Ahead(ways)
    places = sampled(seed, chords)
    told = [(least(one, *place) // NOTCH, least(exact, *place) // NOTCH) for place in places]
    assert all(mine <= right for mine, right in told)
    if most == 64:
        assert all(mine == right for mine, right in told)  # so little music needs no more
    if most == 1:
        assert any(mine < right for mine, right in told)
    assert max(len(row) for row in one.rows) <= (most + 1) * 3 // 2


def test_of_a_foots_positions_those_stay_that_nothing_stands_in_for() -> None:
    flat, natural, sharp = (
        (price, code_of((position, 0, 0))) for price, position in ((0, -1), (0, 0), (0, 1))
    )
    assert undominated([flat, natural, sharp], 3) == [0, 1, 2]
    dear = CHANGE + NOTCH
    # From C flat it is one change to C natural, with one notch; to C sharp there are two.
    assert undominated([(dear, natural[1]), flat], 3) == [1]
    assert undominated([(dear - 1, natural[1]), flat], 3) == [1, 0]
    assert undominated([(dear, sharp[1]), flat], 3) == [1, 0]
    # Whoever wants nothing of a letter is not served by who wants something, but the other way round.
    nothing = code_of((9, 0, 0))
    assert nothing & 3 == ANY
    assert undominated([(dear, nothing), flat], 3) == [1, 0]
    assert undominated([(0, nothing), (1, flat[1])], 3) == [0]


def test_among_many_wishes_only_whole_notches_count(monkeypatch: pytest.MonkeyPatch) -> None:
    flat, natural = (code_of((position, 0, 0, 0, 0, 0, 0)) for position in (-1, 0))
    dear = CHANGE + NOTCH  # what the one costs more than the other, where it takes its place
    for few, price, kept in (
        (2, dear, 1),
        (2, dear - 1, 2),
        (0, dear + NOTCH - 1, 1),
        (0, dear, 1),
        (0, dear - 1, 2),  # read better, but a notch dearer all the same
        (0, dear - NOTCH, 2),
    ):
        monkeypatch.setattr(ahead, "FEW", few)
        found = ahead._best([(price, natural), (0, flat)])
        assert found == [(0, flat), (price, natural)][:kept]
    # Reading decides nothing: a substitute that only reads worse stands in.
    monkeypatch.setattr(ahead, "FEW", 0)
    assert ahead._best([(5, flat), (5 + dear - 3, natural)]) == [(5, flat)]
    monkeypatch.setattr(ahead, "FEW", 2)
    assert len(ahead._best([(5, flat), (5 + dear - 3, natural)])) == 2
