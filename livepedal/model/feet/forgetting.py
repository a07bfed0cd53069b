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
    cycle_and_pedal: Sequence[tuple[int, ...]],
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
        cycle_and_pedal: for each letter what follows the window in a change of it.
        possible: whether a foot can make these changes, sorted.
    """
    # From when to when each change that might be made would lie across: within that time a foot cannot be quiet.
    across = [(soonest, free + margin) for free, soonest in frees if free > LONG_AGO]
    across += [(change[1], change[1] + cycle) for change in owed]
    if not across:
        return None
    across.sort(reverse=True)
    first = across[-1][0]
    # What the starts of changes lie apart at least, and how many of them may start at once: that alone often says no.
    apart, at_once = min([cycle, *[change[2] for change in owed]]), len(cycle_and_pedal[0])
    limit = moment
    while True:
        count = 0  # of changes to be placed
        for start, end in across:
            if start < limit:
                count += 1
                if limit < end:
                    limit, count = start, 0
        if not count:
            return None
        over, ready = limit - cycle, limit - margin
        if (count - 1) // at_once * apart <= over - first:
            must = [
                change if change[0] <= over else (over, *change[1:]) for change in owed if change[1] < limit
            ]
            must += [
                (ready, free, *more)
                for (free, _), more in zip(frees, cycle_and_pedal)  # noqa: B905, as long, and asked very often
                if LONG_AGO < free < limit
            ]
            must.sort()
            if possible(tuple(must)):
                return limit
        limit = next(start for start, _ in across if start < limit)
