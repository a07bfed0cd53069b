"""Can one foot make these changes? The scheduling (Garey, Johnson, Simons and Tarjan 1981) against every
order there is.

Given the order of the changes, starting each as early as it may be is best, so trying all orders is exact,
and hard to get wrong.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise, permutations

from hypothesis import example, given, settings
from hypothesis import strategies as st

from livepedal.model.feet import schedule
from livepedal.model.feet.schedule import Changes, earliest_starts, placeable
from livepedal.model.plan.orders import orderable

CYCLE = 5
# Pedals under one foot that stand beside each other (D C B, E F G A), by their place from the player's left.
BESIDE = {(0, 1), (1, 2), (3, 4), (4, 5), (5, 6)}


@st.composite
def changes(draw: st.DrawFn, most: int = 6, pedals: tuple[int, ...] = (0,)) -> Changes:
    """(latest start, earliest start, pedal), sorted; windows of all widths, a few of them empty."""
    found = []
    for _ in range(draw(st.integers(0, most))):
        earliest = draw(st.integers(0, 24))
        width = draw(st.sampled_from((-1, 0, 0, 1, 2, 3, 5, 8, 13, 21)))
        found.append((earliest + width, earliest, draw(st.sampled_from(pedals))))
    return tuple(sorted(found))


def any_order(jobs: list[tuple[int, int, int]]) -> bool:
    """Whether some order of (latest, earliest, distance from the one before) has room."""
    for order in permutations(jobs):
        last = None
        for latest, earliest, distance in order:
            start = earliest if last is None else max(earliest, last + distance)
            if start > latest:
                break
            last = start
        else:
            return True
    return False


def in_pairs(jobs: Changes) -> Iterator[list[tuple[int, int, int]]]:
    """Every way to let some neighbouring pedals go at the same moment, each pedal in one pair at most."""
    if not jobs:
        yield []
        return
    first, *rest = jobs
    for others in in_pairs(tuple(rest)):
        yield [(first[0], first[1], CYCLE), *others]
    for number, partner in enumerate(rest):
        if tuple(sorted((first[2], partner[2]))) in BESIDE:
            both = min(first[0], partner[0]), max(first[1], partner[1]), CYCLE
            for others in in_pairs(tuple(rest[:number] + rest[number + 1 :])):
                yield [both, *others]


@settings(max_examples=250, derandomize=True)
@given(changes())
# Greedy placing fails here: the change free at 0 must wait for the one that is free at 1 and cannot.
@example(((1, 1, 0), (20, 0, 0)))
@example(((6, 0, 0), (6, 5, 0), (12, 11, 0), (30, 0, 0)))
def test_placeable_is_what_some_order_allows(jobs: Changes) -> None:
    assert placeable(jobs, CYCLE) == any_order([(latest, earliest, CYCLE) for latest, earliest, _ in jobs])


@settings(max_examples=200, derandomize=True)
@given(changes())
def test_the_starts_it_finds_are_a_schedule(jobs: Changes) -> None:
    starts = earliest_starts(jobs, CYCLE) if jobs else ()
    if starts is None:
        assert not any_order([(latest, earliest, CYCLE) for latest, earliest, _ in jobs])
        return
    assert all(earliest <= start <= latest for (latest, earliest, _), start in zip(jobs, starts, strict=True))
    assert all(b - a >= CYCLE for a, b in pairwise(sorted(starts)))


@settings(max_examples=200, derandomize=True)
@given(changes(5, (0, 1, 2)) | changes(5, (3, 4, 5, 6)) | changes(5, (2, 3)))
# C and D at once, and B a cycle later; F and A are no neighbours.
@example(((0, 0, 0), (0, 0, 1), (5, 0, 2)))
@example(((0, 0, 4), (0, 0, 6)))
# B and E are neighbours on the pedal box, but the feet's groups part there.
@example(((0, 0, 2), (0, 0, 3)))
def test_two_at_once_is_what_some_pairing_allows(jobs: Changes) -> None:
    assert schedule.places_for(CYCLE, True)(jobs) == any(map(any_order, in_pairs(jobs)))
    assert schedule.places_for(CYCLE, False)(jobs) == placeable(jobs, CYCLE)


@settings(max_examples=250, derandomize=True)
@given(changes(), st.lists(st.sampled_from((3, 5, 9)), min_size=6, max_size=6))
def test_mixed_distances_are_what_some_order_allows(jobs: Changes, distances: list[int]) -> None:
    """The plan's changes keep their own distances: a tight one follows sooner than one at ease."""
    mixed = [(latest, earliest, gap) for (latest, earliest, _), gap in zip(jobs, distances, strict=False)]
    starts = orderable(mixed)
    assert (starts is not None) == any_order(mixed)
    if starts is not None:
        order = sorted(range(len(mixed)), key=lambda i: starts[i])
        assert all(mixed[i][1] <= starts[i] <= mixed[i][0] for i in order)
        assert all(starts[b] - starts[a] >= mixed[b][2] for a, b in pairwise(order))
