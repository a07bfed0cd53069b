"""Which readings another one covers: the rule for what they owe, and the sieve of many (readings.py has the proof)."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TypeAlias

from livepedal.model.feet.letters import Letter
from livepedal.model.feet.schedule import Changes

Letters: TypeAlias = tuple[Letter, ...]
Reading: TypeAlias = tuple[Letters, Changes]
Readings: TypeAlias = tuple[Reading, ...]


def contained(wanted: Changes, owed: Changes) -> bool:
    """Whether each of these changes can be paired with an owed one that is no easier to place.

    That is one whose window lies within the other's and which keeps at least the same distance. Where one foot may move
    two neighbouring pedals at once it is also a change of the same pedal: what it can be paired with depends on that.
    """
    if len(wanted) > len(owed):
        return False
    if not wanted or wanted == owed:
        return True
    left = sorted(owed, reverse=True)
    for change in sorted(wanted, reverse=True):
        latest, earliest = change[:2]
        for partner in left:
            if (
                partner[0] <= latest
                and partner[1] >= earliest
                and partner[2] >= change[2]
                and partner[3:] == change[3:]
            ):
                left.remove(partner)
                break
        else:
            return False
    return True


def without_covered(
    readings: Iterable[Reading], instead: Callable[[Letters, Letters], Changes | None]
) -> Readings:
    """The readings that no other one covers, those that owe least first.

    Args:
        readings: of one foot.
        instead: the changes that a foot with the first letters must add to do whatever one with the second can; None
            where it cannot.
    """
    # By their letters, since many readings have the same, and those need to be compared but once.
    kept: dict[Letters, list[Reading]] = {}
    known: dict[tuple[int, int], Changes | None] = {}

    def added(good: Letters, other: Letters) -> Changes | None:
        if good is other:
            return ()
        key = id(good), id(other)
        if key not in known:
            known[key] = instead(good, other)
        return known[key]

    def covered(letters: Letters, owed: Changes) -> bool:
        for others, some in kept.items():
            more = added(others, letters)
            if more is not None:
                for _, owes in some:
                    if contained(owes + more, owed):
                        return True
        return False

    # A reading that owes less can cover one that owes more, not the other way round.
    order = sorted(readings, key=lambda reading: len(reading[1]))
    for reading in order:
        letters, owed = reading
        if covered(letters, owed):
            continue
        for others, some in kept.items():
            more = added(letters, others)
            if more is not None:
                some[:] = [good for good in some if not contained(owed + more, good[1])]
        kept.setdefault(letters, []).append(reading)
    left = {id(reading) for some in kept.values() for reading in some}
    return tuple([reading for reading in order if id(reading) in left])
