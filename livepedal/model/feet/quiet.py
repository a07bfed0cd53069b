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
    forgotten: Sequence[tuple[int, ...]],
    possible: Callable[[Any], bool],
) -> int | None:
    """The latest moment, not after this one (µs), up to which a foot may forget: every owed change that could start
    before, and one change of each letter that came free before, can be placed with the last cycle over by then, and
    no other letter may be changed before. None where there is none, or nothing to forget.

    frees: for each letter since when it is free, and since when it can be free at the soonest, whatever is plucked
    again; LONG_AGO: at any time. owed: changes, each (latest start, earliest start, more); forgotten: what more a
    change of each letter would have. margin: from the start of a change until the foot has got round and its string
    may be plucked, at the most. possible: whether a foot can make these changes, sorted.
    """
    limits = {moment}
    first = moment
    for free, soon in frees:
        if LONG_AGO < free < moment:
            limits.add(free)
            if free < first:
                first = free
        if LONG_AGO < soon < free and soon < moment:
            limits.add(soon)
    begins = [change[1] for change in owed if change[1] < moment]
    limits.update(begins)
    first = min([first, *begins])
    for limit in sorted(limits, reverse=True):
        if limit <= first:
            break  # nothing lies before that
        over, ready = limit - cycle, limit - margin
        must: list[tuple[int, ...]] = []
        for change in owed:
            if change[1] < limit:
                if change[1] > over:
                    break
                must.append(change if change[0] <= over else (over, *change[1:]))
        else:
            for (free, soon), more in zip(frees, forgotten):  # noqa: B905, as long, and asked very often
                if free >= limit:
                    if soon < limit:
                        break
                elif free > LONG_AGO:
                    if free > ready:
                        break
                    must.append((ready, free, *more))
            else:
                must.sort()
                if possible(tuple(must)):
                    return limit
    return None
