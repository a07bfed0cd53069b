"""Two lines, one in each hand: it is what each hand does that counts, not how the two fall together.

Laws, so that no source is needed: hands that strike together and hands that strike in turn play the same strokes a second
(harp-practice has one figure for both: a scale in octaves at 6 a second in each hand and a scale by hands in turn at 12
are the same 12 strokes), and who has more time has it no harder. Left out are lines closer than a fifth that go the same
way: broken thirds are one line, with a row of their own (test_rates.py).
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence

import pytest

from livepedal.model.findings import Verdict
from livepedal.music.attacks import Gathered

from .playing import line, merged, verdict

SECOND = 1_000_000
OFFSETS = (0, 1, 2, 3)  # quarters of a step by which the upper line comes later
STEPS = {"chromatic": (1,), "whole-tone": (2,), "major": (2, 2, 1, 2, 2, 2, 1), "diminished": (3,)}
Pair = tuple[list[int], list[int]]


def run(low: int, kind: str, notes: int) -> list[int]:
    """So many notes upwards."""
    steps = STEPS[kind]
    return [low + sum(steps[n % len(steps)] for n in range(place)) for place in range(notes)]


def at_offset(pair: Pair, step: int, quarters: int) -> tuple[Gathered, ...]:
    low, high = pair
    return merged(line(low, step), line(high, step, quarters * step // 4))


def apart(seed: int, *, alike: bool = False) -> Pair:
    """Two lines that stay a fifth apart or more: up or down, each of its own kind, or both of one."""
    rng = random.Random(seed)
    kinds = rng.choices(list(STEPS), k=2)
    kinds = [kinds[0], kinds[alike is False]]
    low = run(rng.randint(36, 44), kinds[0], rng.randint(10, 13))
    high = run(max(low) + rng.randint(7, 12), kinds[1], rng.randint(10, 13))
    return low[:: rng.choice((1, -1))], high[:: rng.choice((1, -1))]


def crossing(seed: int) -> Pair:
    """Two lines towards each other and past each other."""
    rng = random.Random(seed)
    kind = rng.choice(list(STEPS))
    low = run(rng.randint(45, 55), kind, 14)
    return low, low[::-1]


@pytest.mark.parametrize("seed", range(6))
def test_lines_apart_are_as_hard_at_every_offset(seed: int) -> None:
    pair = apart(seed)
    for rate in (4, 6, 8, 9, 11, 16, 20):
        said = {at_offset_verdict(pair, rate, quarters) for quarters in OFFSETS}
        assert max(said) - min(said) <= 1, rate
        assert {Verdict.EASY, Verdict.UNPLAYABLE} - said, rate


@pytest.mark.parametrize("seed", range(6))
def test_lines_that_cross_are_never_easy_together_and_unplayable_in_turn(seed: int) -> None:
    pair = crossing(seed)
    for rate in (6, 8, 9, 11, 16):
        said = {at_offset_verdict(pair, rate, quarters) for quarters in OFFSETS}
        assert {Verdict.EASY, Verdict.UNPLAYABLE} - said, rate


def at_offset_verdict(pair: Pair, rate: float, quarters: int) -> Verdict:
    return verdict(at_offset(pair, round(SECOND / rate), quarters))


@pytest.mark.parametrize("quarters", OFFSETS)
@pytest.mark.parametrize("rate", [4, 8, 12, 16, 24, 33])
def test_two_whole_tone_sweeps_are_two_glissandi(rate: int, quarters: int) -> None:
    # From the middle of the harp outwards, and back: each hand sweeps strings that stand in a row.
    up = run(62, "whole-tone", 13)
    for pair in ((run(36, "whole-tone", 13)[::-1], up), (run(36, "whole-tone", 13), up[::-1])):
        assert at_offset_verdict(pair, rate, quarters) is Verdict.EASY


# More time. Left out is a line that slides beside one that is plucked: where a rest cuts off its beginning, it is known for
# a glissando that much later, and till then its notes count as strokes.


def with_rests(music: Sequence[Gathered], rng: random.Random) -> tuple[Gathered, ...]:
    """The same with a rest or two put in."""
    waits = {rng.randrange(1, len(music)): rng.choice((10, 60, 120, 300, 1000, 3000)) for _ in range(2)}
    later, moved = 0, []
    for number, attack in enumerate(music):
        later += 1000 * waits.get(number, 0)
        moved.append(Gathered(attack.us + later, tuple((pitch, None) for pitch in attack.pitches)))
    return tuple(moved)


def spread(music: Sequence[Gathered], rng: random.Random) -> Iterator[tuple[Gathered, ...]]:
    """The same with each gap as long or longer."""
    yield with_rests(music, rng)
    us, moved = 0, []
    for before, attack in zip((None, *music), music, strict=False):
        us += rng.randint(0, 30_000) + (attack.us - before.us if before else 0)
        moved.append(Gathered(us, tuple((pitch, None) for pitch in attack.pitches)))
    yield tuple(moved)


@pytest.mark.parametrize("first", range(0, 40, 20))
def test_more_time_never_makes_it_worse(first: int) -> None:
    said = []
    for seed in range(first, first + 20):
        rng = random.Random(seed)
        pair = apart(seed, alike=True)
        music = at_offset(pair, SECOND // rng.choice((6, 8, 10, 12, 16, 24)), rng.choice(OFFSETS))
        said.append(verdict(music))
        for slower in spread(music, rng):
            assert verdict(slower) <= said[-1], seed
    assert len(set(said)) > 2
