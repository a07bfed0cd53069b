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


# For each position of a letter (flat is the last of a tuple) a bit of its own; none where it is UNSET.
_BITS = (2, 4, 0, 1)


def _stand(letters: Letters) -> int:
    """Where a foot stands, as an int: three bits for each letter, of which one is 1 where the letter is set."""
    stand = 0
    for letter in letters:
        stand = stand << 3 | _BITS[letter[0]]
    return stand


def without_covered(
    readings: Iterable[Reading], instead: Callable[[Letters, Letters], Changes | None]
) -> Readings:
    """The readings that no other one covers, those that owe least first.

    A reading adds one change to what it owes for each letter that it has elsewhere than the other, and may not owe more
    than the other then. That is looked at first, since it rules out most pairs.

    Args:
        readings: of one foot.
        instead: the changes that a foot with the first letters must add to do whatever one with the second can; None
            where it cannot.
    """
    kept: list[tuple[int, Reading]] = []
    for reading in sorted(readings, key=_owes):
        letters, owed = reading
        count, stand = len(owed), _stand(letters)
        for its_stand, (others, owes) in kept:
            if len(owes) + (its_stand & ~stand).bit_count() <= count:
                more = instead(others, letters)
                if more is not None and contained(owes + more, owed):
                    break
        else:
            # It covers one that came before only where both owe equally much and stand alike.
            kept = [
                (its_stand, (others, owes))
                for its_stand, (others, owes) in kept
                if len(owes) < count
                or stand & ~its_stand
                or instead(letters, others) is None
                or not contained(owed, owes)
            ]
            kept.append((stand, reading))
    return tuple([reading for _, reading in kept])


def _owes(reading: Reading) -> int:
    return len(reading[1])
