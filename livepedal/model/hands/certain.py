"""What the hands fail at: an attack that, with those just before it, no way to share out gets through.

Looked at are the last attacks, the one in question included: four of them, then sixteen (eight of each
hand, where two lines go in turn). Hands are taken to be free before the first, which is no worse than any real ones,
and every way to share these attacks out is followed that the player can take. Where none is left, nobody could have
done it.

Approximation: what only shows over more than sixteen attacks, or over more than `MOST` ways, is not seen, and is no
fault.

The few histories that histories.py keeps spare this where one of them comes through. They decide nothing, and so three
laws hold whatever they leave out: slower is never harder (the ways that are left at a quicker tempo are some of those
at a slower one, which come to `MOST` no later), a quicker player never does worse (who has all the ways of a slower
one), and nothing is called too hard that goes. They are laws of what is said when it is played: after an attack that
fails the hands begin anew, and where a figuration takes that back later, a fault right after it has gone unseen.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import itemgetter

from livepedal.model.hands.grips import Block
from livepedal.model.hands.placing import Placing
from livepedal.model.hands.strokes import MARGIN, Hand, Struck

BACK = (4, 16)  # attacks, the one in question included
MOST = 300  # ways, over all that is looked at for one attack

_Way = tuple[int, Hand, Hand]  # the attack that comes next, and the hands before it


def surely_fails(placing: Placing, attacks: Sequence[Struck], number: int) -> bool:
    """Whether the player of this number (0: the slowest) cannot play the last of these attacks."""
    last, tried = len(attacks) - 1, 0
    for count in BACK:
        first = max(last + 1 - count, 0)
        # What could not be played is reported once: nothing from before it stands against what comes.
        begins = max([first, *(n for n in range(first, last) if attacks[n].failed[number])])
        goes, tried = _goes(placing, attacks[begins:], number, tried)
        if not goes:
            return True
        if begins != last + 1 - count or tried > MOST:
            return False
    return False


def _goes(placing: Placing, attacks: Sequence[Struck], number: int, tried: int) -> tuple[bool, int]:
    """Whether there is a way, and how many were tried up to now; so it is, too, where too many were.

    The easiest strokes are tried first.
    """
    open_ways: list[_Way] = [(0, (), ())]
    seen = set(open_ways)
    while open_ways:
        place, left, right = open_ways.pop()
        if place == len(attacks):
            return True, tried
        attack = attacks[place]
        some = placing.divisions(attack)
        tried += len(some)
        if tried > MOST:
            return True, tried
        further: list[tuple[float, _Way]] = []
        for split in some:
            lefts = _strokes(placing, left, split.left, split.left_again, attack, number)
            rights = lefts and _strokes(placing, right, split.right, split.right_again, attack, number)
            further += [
                (max(a, b), (place + 1, new_left, new_right)) for a, new_left in lefts for b, new_right in rights
            ]
        if not some and attack.failed[number]:
            further = [(0.0, (place + 1, left, right))]
        for _, way in sorted(further, key=itemgetter(0), reverse=True):
            if way not in seen:
                seen.add(way)
                open_ways.append(way)
    return False, tried


def _strokes(
    placing: Placing, hand: Hand, block: Block, again: tuple[int, ...], attack: Struck, number: int
) -> list[tuple[float, Hand]]:
    """The ways of one hand that the player can take, of an attack that could not be played all of them."""
    most = float("inf") if attack.failed[number] else MARGIN
    every = placing.strokes(hand, block, again, attack)
    return [(strains[number], new) for new, strains in every if strains[number] <= most]
