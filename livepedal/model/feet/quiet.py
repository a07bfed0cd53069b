"""When is a foot quiet, so that it may forget? One rule for the verdict and the plan; readings.py has its proof."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from livepedal.model.feet.free import LONG_AGO


def quiet_until(
    moment: int,
    frees: Sequence[tuple[int, int]],
    owed: Sequence[tuple[int, ...]],
    cycle: int,
    margin: int,
    named: Sequence[tuple[int, ...]],
    possible: Callable[[Any], bool],
) -> int | None:
    """The latest time up to which a foot may forget; None where there is none, or nothing to forget.

    Every change that is owed and could start before that time, and one change of each letter that came free before it,
    can be placed with the last cycle over by then. No other letter can be changed before it.

    Args:
        moment: the time is not after it (all times in µs).
        frees: for each letter since when it is free, and since when it can be free at the soonest, whatever is plucked
            again (LONG_AGO: at any time).
        owed: changes (schedule.py).
        cycle: from the start of a change to the soonest start of the next.
        margin: from the start of a change until the foot has got round and the string may be plucked, at the most.
        named: for each letter what a change of it has beside its window.
        possible: whether a foot can make these changes, sorted.
    """
    limit: int | None = moment
    while limit is not None:
        while (lower := _before_what_lies_across(limit, frees, owed, cycle, margin)) < limit:
            limit = lower
        over, ready = limit - cycle, limit - margin
        must = [change if change[0] <= over else (over, *change[1:]) for change in owed if change[1] < limit]
        must += [
            (ready, free, *more)
            for (free, _), more in zip(frees, named)  # noqa: B905, as long, and asked very often
            if LONG_AGO < free < limit
        ]
        if not must:
            return None
        must.sort()
        if possible(tuple(must)):
            return limit
        starts = [*[time for both in frees for time in both], *[change[1] for change in owed]]
        limit = max([time for time in starts if time < limit], default=None)
    return None


def _before_what_lies_across(
    limit: int, frees: Sequence[tuple[int, int]], owed: Sequence[tuple[int, ...]], cycle: int, margin: int
) -> int:
    """The limit, or where a change may begin before it and not be over by then, the earliest beginning of those."""
    lower = limit
    ready, over = limit - margin, limit - cycle
    for free, soonest in frees:
        if free < limit:
            if ready < free < lower:
                lower = free
        elif soonest < lower:
            lower = soonest
    for change in owed:
        if over < change[1] < lower:
            lower = change[1]
    return lower
