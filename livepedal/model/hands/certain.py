"""What the hands fail at: an attack that, with those just before it, no way to share out gets through.

Looked at are the last attacks, the one in question included: two of them, four, then eight. Hands are taken to be free
before the first, which is no worse than any real ones, and every way to share these attacks out is followed that the
player can take. Where none is left, nobody could have done it.

Approximation: what only shows over more than eight attacks, or over more than `MOST` ways, is not seen, and is no
fault.

The few histories that placing.py keeps spare this where one of them comes through. They decide nothing, and so three
laws hold whatever they leave out: slower is never harder (the ways that are left at a quicker tempo are some of those
at a slower one, which come to `MOST` no later), a quicker player never does worse (who has all the ways of a slower
one), and nothing is called too hard that goes. They are laws of what is said when it is played: after an attack that
fails the hands begin anew, and where a figuration takes that back later, a fault right after it has gone unseen.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from operator import itemgetter

from livepedal.model.hands.grips import Block, HandSplit
from livepedal.model.hands.strokes import MARGIN, Hand, Stroke, Struck

BACK = (2, 4, 8)  # attacks, the one in question included
MOST = 300  # ways, over all that is looked at for one attack

Strike = Callable[[Hand, Block, tuple[int, ...], Struck], list[Stroke]]


def surely_fails(
    attacks: Sequence[Struck],
    number: int,
    divisions: Callable[[Struck], Sequence[HandSplit]],
    strike: Strike,
) -> bool:
    """Whether the player of this number (0: the slowest) cannot play the last of these attacks."""
    tried = 0

    def strokes(hand: Hand, block: Block, again: tuple[int, ...], attack: Struck) -> list[tuple[float, Hand]]:
        if not block:
            return [(0.0, hand)]
        whatever = attack.failed[number]
        found = [(strains[number], new) for new, strains, _ in strike(hand, block, again, attack)]
        return found if whatever else [one for one in found if one[0] <= MARGIN]

    def goes(attacks: Sequence[Struck]) -> bool:
        """Whether there is a way, the easiest strokes tried first; True where too many were tried."""
        nonlocal tried
        open_ways: list[tuple[int, Hand, Hand]] = [(0, (), ())]
        seen = set(open_ways)
        while open_ways:
            place, left, right = open_ways.pop()
            if place == len(attacks):
                return True
            attack = attacks[place]
            some = divisions(attack)
            tried += len(some)
            if tried > MOST:
                return True
            further = [
                (max(a, b), (place + 1, new_left, new_right))
                for split in some
                for a, new_left in strokes(left, split.left, split.left_again, attack)
                for b, new_right in strokes(right, split.right, split.right_again, attack)
            ]
            if not some and attack.failed[number]:
                further = [(0.0, (place + 1, left, right))]
            for _, way in sorted(further, key=itemgetter(0), reverse=True):
                if way not in seen:
                    seen.add(way)
                    open_ways.append(way)
        return False

    last = len(attacks) - 1
    for count in BACK:
        first = max(last + 1 - count, 0)
        # What could not be played is reported once: nothing from before it stands against what comes.
        begins = max([first, *(n for n in range(first, last) if attacks[n].failed[number])])
        if not goes(attacks[begins:]):
            return True
        if begins != last + 1 - count or tried > MOST:
            return False
    return False
