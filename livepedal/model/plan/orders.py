"""An order for one foot's changes, where not all of them keep the same distance from the change before.

The players' own rule is one distance for all, the cycle (schedule.py). A plan would rather have its changes at ease,
so there a change may keep the cycle of the relaxed player while another one, made in a hurry, keeps the player's own.
That is no longer a problem of equal jobs. Of mixed distances every order is tried, which is exact; what keeps it quick
is that
- the order of deadlines is tried first, and mostly does;
- where all keep the same distance, schedule.py has the answer;
- where too many must start between two moments, nothing does;
- of two ways to have made the same changes only the one that is over sooner is followed: each change starts when it may
  and the one before is far enough away, so nothing after it starts later;
- a change before which another one fits in, and delays nothing, need not be the next. For wherever a schedule has that
  other one later, it can be taken out there, and nothing starts later for that, and put here;
- nor need a change be the next when another one may start no later, is due no later and keeps at least the same
  distance: the two can change places, and nothing starts later for that either.
Either way the next change is then one that starts sooner, or at the same moment and is due sooner; so there is always
one that remains.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import TypeAlias

from livepedal.model.feet.free import LONG_AGO
from livepedal.model.feet.schedule import Change, as_one, earliest_starts, pairings, placeable

Job: TypeAlias = Change  # each with its own distance
PLAIN = 3  # the length of a job without its pedal, which only players with `two_at_once` need (schedule.py)
MOST_SETTLED = 8  # changes that are drawn together at once, at the most


def possible(jobs: Sequence[Job]) -> bool:
    """Whether one foot can make all these changes. Exact."""
    return _possible(jobs) or any(_possible(together) for _, together in _pairs(jobs))


def _possible(jobs: Sequence[Job]) -> bool:
    jobs = sorted(jobs)
    if _in_order(jobs, range(len(jobs))) is not None:
        return True
    distances = {job[2] for job in jobs}
    if len(distances) == 1:
        return placeable(tuple([(job[0], job[1], 0) for job in jobs]), *distances)
    return not _too_many(jobs) and next(_in_any_order(jobs, 0, LONG_AGO, {}), None) is not None


def _too_many(jobs: Sequence[Job]) -> bool:
    """Whether too many of these, sorted, must start between two moments.

    Only the first of those that start there need not keep its distance.
    """
    for _, first, *_ in jobs:
        now, most = first, 0
        for job in jobs:
            if job[1] >= first:
                distance = job[2]
                if distance > most:
                    now, most = now + most, distance
                else:
                    now += distance
                if now > job[0]:
                    return True
    return False


def orderable(jobs: Sequence[Job]) -> tuple[int, ...] | None:
    """Starts (µs) for the jobs of one foot, in the order in which they are given; None where there are none. Exact."""
    starts = _orderable(jobs)
    for groups, together in _pairs(jobs) if starts is None else ():
        found = _orderable(together)
        if found is not None:
            at = {number: start for group, start in zip(groups, found, strict=True) for number in group}
            return tuple([at[number] for number in range(len(jobs))])
    return starts


def _pairs(jobs: Sequence[Job]) -> Iterator[tuple[tuple[tuple[int, ...], ...], list[Job]]]:
    """The ways to make some of these two at once: which belong together, and these as one job each."""
    if not jobs or len(jobs[0]) == PLAIN:
        return
    for groups in islice(pairings(jobs), 1, None):
        yield groups, [as_one([jobs[number] for number in group]) for group in groups]


def _orderable(jobs: Sequence[Job]) -> tuple[int, ...] | None:
    order = sorted(range(len(jobs)), key=lambda number: jobs[number][:2])
    starts = _in_order(jobs, order)
    if starts is not None:
        return starts
    distances = {job[2] for job in jobs}
    if len(distances) == 1:
        return earliest_starts(tuple([(job[0], job[1], 0) for job in jobs]), *distances)
    ordered = [jobs[number] for number in order]
    found = None if _too_many(ordered) else next(_in_any_order(ordered, 0, LONG_AGO, {}), None)
    return None if found is None else _in_order(jobs, [order[place] for place in found[1]])


def _in_any_order(
    jobs: Sequence[Job], done: int, last: int, seen: dict[int, int]
) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Orders for the jobs that are left, each with the start of the last job of all.

    Orders that are left out are over no sooner.

    Args:
        jobs: all jobs, sorted.
        done: those that are done (a bit mask).
        last: the last start among them.
        seen: when the same jobs were done at the soonest.
    """
    if done == (1 << len(jobs)) - 1:
        yield last, ()
        return
    if seen.get(done, last + 1) <= last:
        return
    seen[done] = last
    following = []
    for number, job in enumerate(jobs):
        if not done >> number & 1:
            latest, earliest, distance = job[:PLAIN]
            start = max(earliest, last + distance)
            if start > latest:
                return  # and that only gets later
            following.append((start, number, distance))
    following.sort()
    for count, (start, number, distance) in enumerate(following):
        for at, sooner, its in following[:count]:
            # The other one fits in before it and delays nothing, or the two can change places.
            if at + distance <= start or (sooner < number and its >= distance):
                break
        else:
            for over, rest in _in_any_order(jobs, done | 1 << number, start, seen):
                yield over, (number, *rest)


def settled(jobs: tuple[Job, ...], since: int) -> tuple[Job, ...]:
    """What a foot owes, with the changes that come before all others drawn together into one.

    Args:
        jobs: sorted, and possible.
        since: no change to come can start before (µs), unless it can start as long ago as it likes.

    Of some changes that are all due before the others may start, and before `since`, every schedule has these first.
    All that matters for what comes after them is when the last of them starts, and the sooner the better.
    """
    if not jobs or len(jobs[0]) != PLAIN:
        return jobs
    for count in range(len(jobs), 1, -1):
        if count < len(jobs):
            since = min(since, jobs[count][1])
        if count <= MOST_SETTLED and jobs[count - 1][0] <= since:
            first = jobs[:count]
            starts = _in_order(first, range(count))
            if starts is None or starts[-1] > max(job[1] for job in first):
                # One of them has to wait for another: perhaps less in another order.
                over = min(over for over, _ in _in_any_order(first, 0, LONG_AGO, {}))
            else:
                over = starts[-1]
            return (over, over, min(job[2] for job in first)), *jobs[count:]
    return jobs


def _in_order(jobs: Sequence[Job], order: Sequence[int]) -> tuple[int, ...] | None:
    """The earliest starts for the jobs one after another in this order, or None where one of them is too late."""
    starts = [0] * len(jobs)
    last = LONG_AGO
    for number in order:
        latest, earliest, distance = jobs[number][:PLAIN]
        start = max(earliest, last + distance)
        if start > latest:
            return None
        starts[number] = last = start
    return tuple(starts)
