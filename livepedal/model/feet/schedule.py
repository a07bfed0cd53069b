"""Can one foot make these pedal changes? Single-machine scheduling of equal-length jobs.

A pedal change is a job. Its start must lie in a window [earliest, latest]: not before the string is free, and
early enough to be over when the string is struck. The starts of two changes of one foot lie at least one
`cycle` apart, so a foot is one machine and each change occupies it for `cycle`, all jobs equally long.

That problem is solved exactly, and in polynomial time, by M. R. Garey, D. S. Johnson, B. B. Simons and R. E.
Tarjan, "Scheduling unit-time tasks with arbitrary release times and deadlines", SIAM Journal on Computing
10(2), 1981: first find the *forbidden regions*, stretches of time in which no job may start because jobs
released just after would then miss their deadlines; then start, whenever the foot is free and outside those
regions, the released job with the earliest deadline. Placing every change as early as possible, without the
regions, is wrong in rare cases: a change that comes free later may need the very gap that an earlier one
would fill.

Most questions are answered before that: where placing them as early as possible, or from the end as late as
possible, succeeds, it is a schedule; and where too many must go between two moments there is none.

One foot on two neighbouring pedals at once, a technique that is off by default (P. Stickney, *Giant steps for
harp*, 2021, documents it as an advanced one), is laid over it by trying every use of it.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from heapq import heappop, heappush
from operator import itemgetter

from livepedal.harp import Pedal

# A change that a foot owes, in µs: (latest start, earliest start, distance from the start of the change before it). For
# a player with `two_at_once` its pedal is the fourth element: that alone says that changes may be made together, here
# and in the plan (plan/orders.py). Sorted tuples of these are compared and hashed a great deal, which is why they are
# bare tuples; the latest start comes first so that sorting gives the order of deadlines. Here the distance of all is
# the cycle.
Change = tuple[int, ...]
Changes = tuple[Change, ...]

B_PEDAL, E_PEDAL = int(Pedal.B), int(Pedal.E)
NEVER = 1 << 61
_EARLIEST = itemgetter(1)


def placeable(changes: Changes, cycle: int) -> bool:
    """Whether one foot can start every change inside its window with starts at least `cycle` apart.

    `changes` is sorted. Exact (Garey, Johnson, Simons and Tarjan 1981).
    """
    count = len(changes)
    if count == 0:
        return True
    if count == 1:
        return changes[0][1] <= changes[0][0]
    # Earliest deadline first without forbidden regions: where it succeeds it is a schedule, and it nearly
    # always does.
    now = changes[0][1]
    for latest, earliest, _ in changes:
        if earliest > now:
            now = earliest
        if now > latest:
            break
        now += cycle
    else:
        return True
    if count == 2:
        (late_a, early_a, _), (late_b, early_b, _) = changes
        # The order of deadlines failed above; the other order is the only one left.
        start_a = early_b + cycle
        if early_a > start_a:
            start_a = early_a
        return early_b <= late_b and start_a <= late_a
    # The same backwards, each as late as possible. It often succeeds where the first order failed.
    then = changes[-1][0] + cycle
    for latest, earliest, _ in sorted(changes, key=_EARLIEST, reverse=True):
        then = latest if latest < then - cycle else then - cycle
        if then < earliest:
            break
    else:
        return True
    # Usually too many changes must fit between one release and one deadline.
    for _, first, _ in changes:
        now = first
        for latest, earliest, _ in changes:
            if earliest >= first:
                if now > latest:
                    return False
                now += cycle
    return earliest_starts(changes, cycle) is not None


def earliest_starts(changes: Changes, cycle: int) -> tuple[int, ...] | None:
    """Starts for the changes, in the order given, or None where no schedule exists.

    The algorithm of Garey, Johnson, Simons and Tarjan (1981), section 2, in its simple form: O(n^2 log n).
    """
    regions = _forbidden(changes, cycle)
    if regions is None:
        return None
    starts = [0] * len(changes)
    waiting = sorted(range(len(changes)), key=lambda i: changes[i][1], reverse=True)
    ready: list[tuple[int, int]] = []
    now = changes[waiting[-1]][1]
    while waiting or ready:
        if not ready:
            now = max(now, changes[waiting[-1]][1])
        while regions and regions[-1][0] < now:
            now = max(now, regions.pop()[1])
        while waiting and changes[waiting[-1]][1] <= now:
            index = waiting.pop()
            heappush(ready, (changes[index][0], index))
        latest, index = heappop(ready)
        if now > latest:
            return None
        starts[index] = now
        now += cycle
    return tuple(starts)


def _forbidden(changes: Changes, cycle: int) -> list[tuple[int, int]] | None:
    """The open intervals in which no change may start; None where no schedule exists.

    The latest comes first, and none lies within another.
    """
    regions: list[tuple[int, int]] = []
    ends: list[int] = []  # of the regions, negative, so that they ascend
    deadlines = sorted({latest for latest, _, _ in changes})
    # By deadline: the latest moment at which the first of the changes looked at that are due by then can start.
    starts = [latest + cycle for latest in deadlines]
    for latest, release, _ in sorted(changes, key=_EARLIEST, reverse=True):
        critical = NEVER
        for number in range(bisect_left(deadlines, latest), len(deadlines)):
            start = starts[number] - cycle
            place = bisect_left(ends, -start)  # the first region that ends no later than that
            while place and regions[place - 1][0] < start < regions[place - 1][1]:
                start = regions[place - 1][0]
                place = bisect_left(ends, -start)
            starts[number] = start
            if start < critical:
                critical = start
        if critical < release:
            return None
        if critical < release + cycle and not (regions and regions[-1][0] <= critical - cycle):
            if ends and ends[-1] == -release:
                regions.pop()
                ends.pop()
            regions.append((critical - cycle, release))
            ends.append(-release)
    return regions


def pairings(changes: Sequence[tuple[int, ...]]) -> Iterator[tuple[tuple[int, ...], ...]]:
    """Every way to make some changes of neighbouring pedals one movement (`two_at_once`).

    Each way is numbers of changes that belong together; the first has each by itself. The last of each change is its
    pedal, the first two are its window.

    One foot takes two pedals at once where they are neighbours and their windows overlap (P. Stickney, *Giant steps for
    harp*, 2021).
    """
    return _pairings(changes, tuple(range(len(changes))))


def _pairings(
    changes: Sequence[tuple[int, ...]], numbers: tuple[int, ...]
) -> Iterator[tuple[tuple[int, ...], ...]]:
    if not numbers:
        yield ()
        return
    first, *others = numbers
    for rest in _pairings(changes, tuple(others)):
        yield (first,), *rest
    change = changes[first]
    for number in others:
        other = changes[number]
        # Between B and E stands the post that parts the two groups of pedals.
        if abs(change[-1] - other[-1]) != 1 or {change[-1], other[-1]} == {B_PEDAL, E_PEDAL}:
            continue
        if max(change[1], other[1]) <= min(change[0], other[0]):
            for rest in _pairings(changes, tuple([n for n in others if n != number])):
                yield (first, number), *rest


def places_for(cycle: int, two_at_once: bool) -> Callable[[Changes], bool]:
    """The question "can one foot make all these changes?" for a player."""
    if two_at_once:
        return lambda changes: any(
            placeable(_together(changes, groups), cycle) for groups in pairings(changes)
        )
    return lambda changes: placeable(changes, cycle)


def _together(changes: Changes, groups: Sequence[tuple[int, ...]]) -> Changes:
    """The changes with those that belong together as one."""
    return tuple(sorted([as_one([changes[number] for number in group]) for group in groups]))


def as_one(changes: Sequence[Change]) -> Change:
    """Some changes that start together."""
    return (
        min([change[0] for change in changes]),
        max([change[1] for change in changes]),
        max([change[2] for change in changes]),
    )
