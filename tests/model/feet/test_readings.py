"""What a foot may forget, and which of its readings is superfluous, against all that can still come.

The theory is at the head of model/feet/readings.py: neither may turn a playable future into an unplayable one, nor
forgetting one the other way round. Here readings come from random pasts and are tried on random futures.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

import pytest

from livepedal.harp import Figures, Ringing
from livepedal.model.feet.chords import Way
from livepedal.model.feet.covering import Reading, Readings, contained
from livepedal.model.feet.free import LONG_AGO, FreeRule
from livepedal.model.feet.letters import FRESH, UNSET, Letter
from livepedal.model.feet.readings import FootRules

MS = 1_000
# A change 150 ms and 20 more before its attack, a cycle 500 ms, the grip 60 ms.
WORKING = replace(Figures.builtin().player("working"), damp=200 * MS)
# A change takes longer here than the foot takes to get round.
STIFF = replace(WORKING, flick=300 * MS, cycle=100 * MS)
UNDYING = FreeRule.held(WORKING, Ringing(None))
GAPS = (30, 60, 120, 169, 170, 190, 250, 400, 500, 670, 1000)
RINGS = (40, 200, 700, 5000)
LOUD = (0, 0, 0, 100, 300, 900)
# Keys of three octaves, and how the left foot's letters D, C and B give them: (index of the letter, position).
KEYS = {
    12 * octave + pitch_class: ways
    for octave in range(3)
    for pitch_class, ways in {
        0: ((1, 0), (2, 1)),
        1: ((0, -1), (1, 1)),
        2: ((0, 0),),
        3: ((0, 1),),
        10: ((2, -1),),
        11: ((2, 0), (1, -1)),
    }.items()
}


@dataclass(frozen=True)
class Step:
    """An attack: its moment, how it can be put on strings, its key, and the keys released before it, with when (µs) and
    the attack up to then.
    """

    moment: int
    ways: tuple[Way, ...]
    key: int
    released: dict[int, tuple[int, int]]


def new_rules(rng: random.Random) -> FootRules:
    """Rules of some player whose strings ring and are loud for as long as may come."""
    rule = replace(
        UNDYING,
        damp=rng.choice((0, 200 * MS)),
        longest=tuple(rng.choice(RINGS) * MS for _ in range(128)),
        loud=tuple(rng.choice(LOUD) * MS for _ in range(128)),
    )
    return FootRules(rng.choice((WORKING, WORKING, STIFF)), rule, [0] * 128)


def steps(rng: random.Random, last: int, begin: int, count: int, down: set[int]) -> list[Step]:
    """Attacks of one note each from `begin` on; the attack before was at `last`. down: the keys held then."""
    found = []
    now, down = begin, set(down)
    near = rng.sample(sorted(KEYS), 6)
    for _ in range(count):
        released = {key: (rng.randint(last, now), last) for key in sorted(down) if rng.random() < 0.6}
        down -= set(released)
        key = rng.choice(near)
        if key in down:
            released[key] = now, now
            down.discard(key)
        ways = tuple(((*need, 1 << key),) for need in KEYS[key])
        found.append(Step(now, ways, key, released))
        down.add(key)
        last, now = now, now + rng.choice(GAPS) * MS
    return found


def freed(rules: FootRules, released: dict[int, tuple[int, int]]) -> dict[int, int]:
    return {
        key: rules.free.free(key, rules.struck[key], us, latest) for key, (us, latest) in released.items()
    }


def play(rules: FootRules, readings: Readings, step: Step) -> Readings:
    """The readings after one attack. As tracker.py does it: keys are let go before the string is struck again."""
    readings = rules.release(readings, freed(rules, step.released))
    rules.struck[step.key] = step.moment
    return rules.attack(readings, step.ways, step.moment, 0)


def past(rng: random.Random, rules: FootRules) -> tuple[Readings, set[int], int]:
    """All readings after a random past, none of them pruned, with the keys released that came up before the next
    attack; the keys still down, and the moment of that attack.
    """
    readings: Readings = (((FRESH,) * 3, ()),)
    down: set[int] = set()
    last = 0
    for step in steps(rng, 0, 0, rng.randint(2, 9), down):
        before = list(rules.struck)
        after = play(rules, readings, step)
        if not after:
            rules.struck[:] = before
            break
        readings, last = after, step.moment
        down = (down - set(step.released)) | {step.key}
    moment = last + rng.choice(GAPS) * MS
    released = {key: (rng.randint(last, moment), last) for key in sorted(down) if rng.random() < 0.6}
    return rules.release(readings, freed(rules, released)), down - set(released), moment


def how_long(rules: FootRules, reading: Reading, future: list[Step]) -> int:
    """How many attacks of a future can be played."""
    struck = list(rules.struck)
    readings: Readings = (reading,)
    count = 0
    for step in future:
        readings = play(rules, readings, step)
        if not readings:
            break
        count += 1
    rules.struck[:] = struck
    return count


def covers(rules: FootRules, good: Reading, other: Reading, moment: int, first: int) -> bool:
    added = rules.changes_to_cover(good[0], other[0], moment, first)
    return added is not None and contained(good[1] + added, other[1])


@pytest.mark.parametrize("seed", range(6))
def test_what_a_quiet_foot_forgets_makes_no_difference(seed: int) -> None:
    rng = random.Random(seed)
    forgot = 0
    for _ in range(400):
        rules = new_rules(rng)
        readings, down, moment = past(rng, rules)
        reading = rng.choice(readings)
        less = rules.forget(reading, moment, 0)
        if less == reading:
            continue
        forgot += 1
        for _ in range(12):
            future = steps(rng, moment, moment, 4, down)
            assert how_long(rules, less, future) == how_long(rules, reading, future)
    assert forgot > 60


@pytest.mark.parametrize("seed", range(6))
def test_a_reading_that_covers_another_can_play_what_that_one_can(seed: int) -> None:
    rng = random.Random(seed)
    covered = 0
    for _ in range(500):
        rules = new_rules(rng)
        readings, down, moment = past(rng, rules)
        pairs = [(good, other) for good in readings for other in readings if good is not other]
        for good, other in rng.sample(pairs, min(len(pairs), 6)):
            if not covers(rules, good, other, moment, 0):
                continue
            covered += 1
            for _ in range(12):
                future = steps(rng, moment, moment, 4, down)
                assert how_long(rules, good, future) >= how_long(rules, other, future)
    assert covered > 60


@pytest.mark.parametrize("seed", range(6))
def test_the_search_goes_on_alike_after_an_attack_that_cannot_be_played(seed: int) -> None:
    # Whatever is forgotten and dropped, attack by attack: the same attacks cannot be played as without.
    rng = random.Random(seed)
    failures = 0
    for _ in range(120):
        rules = new_rules(rng)
        every: Readings = (((FRESH,) * 3, ()),)
        few = every
        for step in steps(rng, 0, 0, 14, set()):
            every, few = (rules.release(some, freed(rules, step.released)) for some in (every, few))
            rules.struck[step.key] = step.moment
            few = rules.forget_and_prune(few, step.moment, 0, prune=True)
            after = [rules.attack(some, step.ways, step.moment, 0) for some in (every, few)]
            assert bool(after[0]) == bool(after[1])
            if not after[0]:
                failures += 1
                after = [rules.force(some, step.ways, step.moment) for some in (every, few)]
            every, few = after
            if len(every) > 2_000:
                break
    assert failures > 60


CYCLE = 500 * MS
OWED = ((-200 * MS, -900 * MS, CYCLE), (-100 * MS, -400 * MS, CYCLE))
# Keys 0, 12 and 24 are on three strings of a letter.
READING: Reading = (
    (
        (0, -300 * MS, 1, ()),
        (1, -50 * MS, 0, ((0, -200 * MS, -20 * MS),)),
        (-1, -700 * MS, 1 << 12 | 1 << 24, ()),
    ),
    OWED,
)


@pytest.mark.parametrize(
    ("letter", "expected"),
    [
        (FRESH, True),
        ((0, -300 * MS, 0, ()), True),
        ((0, -301 * MS, 1, ()), True),
        ((0, -299 * MS, 1, ()), False),
        ((0, -300 * MS, 1 | 1 << 12, ()), False),  # held by a key that does not hold the other's
        ((0, -400 * MS, 0, ((12, -600 * MS, -300 * MS),)), True),
        ((0, -400 * MS, 0, ((12, -600 * MS, -299 * MS),)), False),  # late where the other is free
        ((1, LONG_AGO, 0, ()), False),  # elsewhere, and no debt of the other's has room for its change
    ],
)
def test_what_a_letter_that_covers_looks_like(letter: Letter, expected: bool) -> None:
    rules = FootRules(WORKING, UNDYING, [0] * 128)
    better = (letter, *READING[0][1:]), OWED
    assert covers(rules, better, READING, 0, 0) is expected


@pytest.mark.parametrize(
    ("owed", "expected"),
    [
        ((), True),
        (OWED[:1], True),
        (((-199 * MS, -901 * MS, CYCLE), OWED[1]), True),
        (((-201 * MS, -900 * MS, CYCLE), OWED[1]), False),
        (((-200 * MS, -899 * MS, CYCLE), OWED[1]), False),
        # Each of the two would do for the second, and neither for the first.
        ((OWED[1], OWED[1]), False),
        ((*OWED, OWED[1]), False),
    ],
)
def test_what_debts_that_cover_look_like(owed: tuple[tuple[int, int, int], ...], expected: bool) -> None:
    rules = FootRules(WORKING, UNDYING, [0] * 128)
    assert covers(rules, (READING[0], owed), READING, 0, 0) is expected


def test_a_letter_that_stands_elsewhere_takes_the_room_of_a_debt() -> None:
    # Its change can start up to 215 ms before the next attack (20 and 1.3 flicks, for two notches), so it contains
    # the first debt, whose last start is 200 ms before, only where the attack is 15 ms later.
    rules = FootRules(WORKING, UNDYING, [0] * 128)
    elsewhere = ((-1, -900 * MS, 0, ()), *READING[0][1:]), OWED[1:]
    assert covers(rules, elsewhere, READING, 15 * MS, 0)
    assert not covers(rules, elsewhere, READING, 15 * MS - 1, 0)
    assert not covers(rules, (elsewhere[0], OWED), READING, 15 * MS, 0)
    for free, expected in ((-900 * MS, True), (-900 * MS + 1, False)):
        assert (
            covers(rules, (((-1, free, 0, ()), *READING[0][1:]), OWED[1:]), READING, 15 * MS, 0) is expected
        )
    # A key that holds it frees it only when it dies.
    rules.free = replace(UNDYING, longest=(1_000 * MS,) * 128)
    rules.struck[7] = -1_899 * MS
    held = ((-1, -900 * MS, 1 << 7, ()), *READING[0][1:]), OWED[1:]
    assert not covers(rules, held, READING, 15 * MS, 0)
    rules.struck[7] = -1_900 * MS
    assert covers(rules, held, READING, 15 * MS, 0)


@pytest.mark.parametrize(
    ("late", "expected"),
    [
        (((0, -200 * MS, -20 * MS),), True),
        (((0, -201 * MS, -21 * MS),), True),
        (((0, -199 * MS, -20 * MS),), False),
        (((0, -200 * MS, -19 * MS),), False),
        (((12, -200 * MS, -20 * MS),), False),  # another string: damped when the other's is not
        (((12, -400 * MS, -50 * MS),), True),
    ],
)
def test_what_late_strings_that_cover_look_like(
    late: tuple[tuple[int, int, int], ...], expected: bool
) -> None:
    rules = FootRules(WORKING, UNDYING, [0] * 128)
    good = (READING[0][0], (1, -60 * MS, 0, late), READING[0][2]), OWED
    assert covers(rules, good, READING, 0, 0) is expected


def test_changes_are_told_apart_by_pedal_where_two_go_at_once() -> None:
    # Stickney, Giant steps for harp, 2021: two neighbours with one movement, so it matters which they are.
    rules = FootRules(replace(WORKING, two_at_once=True), UNDYING, [0] * 128)
    one, other = (((FRESH,) * 3, (rules.change(-200 * MS, -900 * MS, pedal),)) for pedal in (0, 1))
    assert covers(rules, one, one, 0, 0)
    assert not covers(rules, one, other, 0, 0)
    assert not covers(rules, other, one, 0, 0)


def test_nothing_is_forgotten_of_a_key_that_still_sounds() -> None:
    rules = FootRules(WORKING, replace(UNDYING, longest=(900 * MS,) * 128), [0] * 128)
    reading: Reading = (((0, 0, 1 << 5, ()), FRESH, FRESH), ((-300 * MS, -900 * MS, CYCLE),))
    letters, _ = rules.forget(reading, 800 * MS, 0)
    assert letters[0] == (0, 0, 1 << 5, ())
    # Dead before the attack, and the foot has had a cycle since: the letter may stand anywhere.
    letters, owed = rules.forget(reading, 1500 * MS, 0)
    assert letters[0][0] == UNSET
    assert owed == ()


def test_what_could_still_be_damped_is_not_forgotten() -> None:
    # The string of key 5 is free at 700; plucked again at 800 it is free at 600. So a change of it may start then, and
    # the change that is owed, which starts at 150 at the latest, must be over a cycle before: at 600, not at 700.
    rules = FootRules(WORKING, UNDYING, [0] * 128)
    late: Letter = (0, 0, 0, ((5, 0, 700 * MS),))
    for latest, forgotten in ((100, True), (101, False)):
        # Its string came free just before.
        owed = ((latest * MS, latest * MS, CYCLE),)
        _, left = rules.forget(((late, FRESH, FRESH), owed), 800 * MS, 0)
        assert (left == ()) is forgotten


def test_a_foot_that_fails_has_its_free_letters_as_it_likes_and_goes_on_with_held_ones() -> None:
    rules = FootRules(WORKING, UNDYING, [0] * 128)
    # Free so long ago that even two notches could be over (215 ms before the attack); not so long ago; held twice.
    letters: tuple[Letter, ...] = (
        (1, -215 * MS, 0, ()),
        (0, -214 * MS, 0, ()),
        (0, -300 * MS, 1 << 11 | 1 << 23, ()),
    )
    (reading,) = rules.force(((letters, OWED),), (((2, 1, 1 << 12),),), 0)
    # The B string that gives 12 as B♯ gave 11 as B♮: it is plucked again, the other goes on.
    assert reading == ((FRESH, letters[1], (1, 0, 1 << 12 | 1 << 23, ())), ())
