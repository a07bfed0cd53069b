"""What a foot may forget, and which of its readings is superfluous, against all that can still come.

The theory is at the head of model/readings.py: neither may turn a playable future into an unplayable one, nor
forgetting one the other way round. Here readings come from random pasts and are tried on random futures.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

import pytest

from livepedal.harp import Figures
from livepedal.model.chords import Way
from livepedal.model.readings import FRESH, LONG_AGO, UNSET, FootRules, Reading, Readings

MS = 1_000
WORKING = Figures.builtin().player("working")  # a change 150 ms and 20 more before its attack, a cycle 500 ms
GAPS = (30, 60, 120, 169, 170, 250, 400, 500, 670, 1000)
RINGS = (40, 200, 700, 5000)


@dataclass(frozen=True)
class Step:
    """An attack: its moment, how it can be put on strings, and the keys released before it, with when (µs)."""

    moment: int
    ways: tuple[Way, ...]
    struck: int
    dies: int
    released: dict[int, int]


def steps(rng: random.Random, last: int, begin: int, count: int, down: set[int]) -> list[Step]:
    """Attacks of one note each from `begin` on; the attack before was at `last`. down: the keys held then."""
    found = []
    now, down = begin, set(down)
    for _ in range(count):
        released = {key: rng.randint(last, now) for key in sorted(down) if rng.random() < 0.6}
        down -= set(released)
        key = rng.choice([key for key in range(8) if key not in down])
        needs = [(index, position) for index in range(3) for position in (-1, 0, 1)]
        ways = tuple(((*need, 1 << key),) for need in rng.sample(needs, rng.choice((1, 1, 2))))
        found.append(Step(now, ways, key, now + rng.choice(RINGS) * MS, released))
        down.add(key)
        last, now = now, now + rng.choice(GAPS) * MS
    return found


def play(rules: FootRules, readings: Readings, step: Step) -> Readings:
    """The readings after one attack. As tracker.py does it: keys are let go before the string is struck again."""
    freed = {key: min(us, rules.dies[key]) for key, us in step.released.items()}
    readings = rules.release(readings, freed)
    rules.dies[step.struck] = step.dies
    return rules.attack(readings, step.ways, step.moment, 0)


def past(rng: random.Random, rules: FootRules) -> tuple[Readings, set[int], int]:
    """All readings after a random past, none of them pruned, with the keys released that came up before the next
    attack; the keys still down, and the moment of that attack.
    """
    readings: Readings = (((FRESH,) * 3, ()),)
    down: set[int] = set()
    last = 0
    for step in steps(rng, 0, 0, rng.randint(2, 7), down):
        before = list(rules.dies)
        after = play(rules, readings, step)
        if not after:
            rules.dies[:] = before
            break
        readings, last = after, step.moment
        down = (down - set(step.released)) | {step.struck}
    moment = last + rng.choice(GAPS) * MS
    released = {
        key: min(rng.randint(last, moment), rules.dies[key]) for key in sorted(down) if rng.random() < 0.6
    }
    return rules.release(readings, released), down - set(released), moment


def how_long(rules: FootRules, reading: Reading, future: list[Step]) -> int:
    """How many attacks of a future can be played."""
    dies = list(rules.dies)
    readings: Readings = (reading,)
    count = 0
    for step in future:
        readings = play(rules, readings, step)
        if not readings:
            break
        count += 1
    rules.dies[:] = dies
    return count


@pytest.mark.parametrize("seed", range(4))
def test_what_a_quiet_foot_forgets_makes_no_difference(seed: int) -> None:
    rng = random.Random(seed)
    forgot = 0
    for _ in range(400):
        rules = FootRules(WORKING, [0] * 128)
        readings, down, moment = past(rng, rules)
        reading = rng.choice(readings)
        less = rules.cut(reading, moment, 0)
        if less == reading:
            continue
        forgot += 1
        for _ in range(12):
            future = steps(rng, moment, moment, 4, down)
            assert how_long(rules, less, future) == how_long(rules, reading, future)
    assert forgot > 60


@pytest.mark.parametrize("seed", range(4))
def test_a_reading_that_covers_another_can_play_what_that_one_can(seed: int) -> None:
    rng = random.Random(seed)
    covered = 0
    for _ in range(400):
        rules = FootRules(WORKING, [0] * 128)
        readings, down, moment = past(rng, rules)
        pairs = [(good, other) for good in readings for other in readings if good is not other]
        for good, other in rng.sample(pairs, min(len(pairs), 6)):
            if not rules.covers(good, other, moment, 0):
                continue
            covered += 1
            for _ in range(12):
                future = steps(rng, moment, moment, 4, down)
                assert how_long(rules, good, future) >= how_long(rules, other, future)
    assert covered > 60


OWED = ((-200 * MS, -900 * MS, 0), (-100 * MS, -400 * MS, 0))
READING: Reading = (((0, -300 * MS, 1), (1, -50 * MS, 0), (-1, -700 * MS, 6)), OWED)


@pytest.mark.parametrize(
    ("letter", "covers"),
    [
        (FRESH, True),
        ((0, -300 * MS, 0), True),
        ((0, -301 * MS, 1), True),
        ((0, -299 * MS, 1), False),
        ((0, -300 * MS, 3), False),  # held by a key that does not hold the other's
        ((1, LONG_AGO, 0), False),  # elsewhere, and no debt of the other's has room for its change
    ],
)
def test_what_a_letter_that_covers_looks_like(letter: tuple[int, int, int], covers: bool) -> None:
    rules = FootRules(WORKING, [0] * 128)
    better = (letter, *READING[0][1:]), OWED
    assert rules.covers(better, READING, 0, 0) is covers


@pytest.mark.parametrize(
    ("owed", "covers"),
    [
        ((), True),
        (OWED[:1], True),
        (((-199 * MS, -901 * MS, 0), OWED[1]), True),
        (((-201 * MS, -900 * MS, 0), OWED[1]), False),
        (((-200 * MS, -899 * MS, 0), OWED[1]), False),
        # Each of the two would do for the second, and neither for the first.
        ((OWED[1], OWED[1]), False),
        ((*OWED, OWED[1]), False),
    ],
)
def test_what_debts_that_cover_look_like(owed: tuple[tuple[int, int, int], ...], covers: bool) -> None:
    rules = FootRules(WORKING, [0] * 128)
    assert rules.covers((READING[0], owed), READING, 0, 0) is covers


def test_a_letter_that_stands_elsewhere_takes_the_room_of_a_debt() -> None:
    # Its change can start up to 215 ms before the next attack (20 and 1.3 flicks, for two notches), so it contains
    # the first debt, whose last start is 200 ms before, only where the attack is 15 ms later.
    rules = FootRules(WORKING, [0] * 128)
    elsewhere = ((-1, -900 * MS, 0), *READING[0][1:]), OWED[1:]
    assert rules.covers(elsewhere, READING, 15 * MS, 0)
    assert not rules.covers(elsewhere, READING, 15 * MS - 1, 0)
    assert not rules.covers((elsewhere[0], OWED), READING, 15 * MS, 0)
    for free, covers in ((-900 * MS, True), (-900 * MS + 1, False)):
        assert rules.covers((((-1, free, 0), *READING[0][1:]), OWED[1:]), READING, 15 * MS, 0) is covers
    # A key that holds it frees it only when it dies.
    rules.dies[7] = -899 * MS
    held = ((-1, -900 * MS, 1 << 7), *READING[0][1:]), OWED[1:]
    assert not rules.covers(held, READING, 15 * MS, 0)
    rules.dies[7] = -900 * MS
    assert rules.covers(held, READING, 15 * MS, 0)


def test_changes_are_told_apart_by_pedal_where_two_go_at_once() -> None:
    # Stickney, Giant steps for harp, 2021: two neighbours with one movement, so it matters which they are.
    rules = FootRules(replace(WORKING, two_at_once=True), [0] * 128)
    one, other = (((FRESH,) * 3, ((-200 * MS, -900 * MS, pedal),)) for pedal in (0, 1))
    assert rules.covers(one, one, 0, 0)
    assert not rules.covers(one, other, 0, 0)
    assert not rules.covers(other, one, 0, 0)


def test_nothing_is_forgotten_of_a_key_that_still_sounds() -> None:
    rules = FootRules(WORKING, [0] * 128)
    rules.dies[5] = 900 * MS
    reading: Reading = (((0, 0, 1 << 5), FRESH, FRESH), ((-300 * MS, -900 * MS, 0),))
    letters, _ = rules.cut(reading, 800 * MS, 0)
    assert letters[0] == (0, 0, 1 << 5)
    # Dead before the attack, and the foot has had a cycle since: the letter may stand anywhere.
    letters, owed = rules.cut(reading, 1500 * MS, 0)
    assert letters[0][0] == UNSET
    assert owed == ()
