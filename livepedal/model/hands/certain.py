"""Is it certain that a hand fails? The few histories that placing.py keeps may all fail where another one would not.

So before an attack is called too hard for a player, the last attacks are looked at once more, two of them, then four,
eight and twelve: hands that were free before the first are no worse off than any real ones, and from there every way to
share the attacks out is followed that the player can take. Where none is left, nobody could have done it. Where some
are left after twelve attacks, or more than `MOST` had to be tried, the attack is *not decided*: that counts as no
fault.

Slower is never harder here either: the ways that are left at a quicker tempo are some of those at a slower one. And a
quicker player has all the ways of a slower one. Only after an attack that is not decided does the search begin anew,
and so a fault that comes after it at a slower tempo may go unseen at the quicker one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from livepedal.model.hands.grips import Block, HandSplit
from livepedal.model.hands.strokes import MARGIN, Hand, Stroke, Struck

BACK = (1, 2, 4, 8, 12)  # attacks, the one in question included
MOST = 800  # ways, over all that is looked at for one attack


Strike = Callable[[Hand, Block, tuple[int, ...], Struck], list[Stroke]]


def surely_fails(
    attacks: Sequence[Struck],
    number: int,
    divisions: Callable[[Struck], Sequence[HandSplit]],
    strike: Strike,
) -> bool:
    """Whether the player of this number (0: the slowest) certainly cannot play the last of these attacks."""
    known: dict[tuple[Hand, Block, int], list[Hand]] = {}

    def hands(hand: Hand, block: Block, again: tuple[int, ...], attack: Struck, whatever: bool) -> list[Hand]:
        if not block:
            return [hand]
        key = hand, block, attack.us
        found = known.get(key)
        if found is None or whatever:
            found = known[key] = [
                new
                for new, strains, _ in strike(hand, block, again, attack)
                if whatever or strains[number] <= MARGIN
            ]
        return found

    tried = 0
    for count in BACK:
        first = max(len(attacks) - count, 0)
        for place in range(first, len(attacks) - 1):
            if attacks[place].failed[number]:
                first = place
        ways: set[tuple[Hand, Hand]] = {((), ())}
        for place in range(first, len(attacks)):
            attack = attacks[place]
            whatever = attack.failed[number]
            some = divisions(attack)
            tried += len(ways) * len(some)
            if tried > MOST:
                return False
            ways = {
                (new_left, new_right)
                for left, right in ways
                for split in some
                for new_left in hands(left, split.left, split.left_again, attack, whatever)
                for new_right in hands(right, split.right, split.right_again, attack, whatever)
            }
        if not ways:
            return True
        if first == 0 or first > len(attacks) - count:
            return False
    return False
