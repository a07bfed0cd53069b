"""One player, tracked exactly under one notion of when a string is free: is there any schedule at all?

The two feet hardly know of each other (chords.py): only the notes that either foot's pedals could give tie them
together. So the tracker keeps *pairs* (readings of the left foot, readings of the right foot), one for each history of
those choices that still matters: within a pair any left reading goes with any right one. An attack turns a pair into
one for every choice; a pair lives on while both its feet have a reading.

Pairs with one side in common are one pair: (L, R1) and (L, R2) together allow just what (L, R1 and R2) allows. A left
reading goes from its pair when another pair has a left reading that covers it and right readings that cover
all of its right ones, for then whatever the reading could do with a partner, the other can with that partner's better; likewise on the right.

After an attack that the player cannot play the tracker goes on from the readings before it: the foot that fails has its
letters as the attack needs them and nothing owed, so that one impossibility is reported once, and a second one right
after it is still found. A tracker is cheap to copy: its state is tuples that nobody changes.
"""

from __future__ import annotations

from dataclasses import dataclass

from livepedal.harp import Player
from livepedal.model.chords import Sharing
from livepedal.model.readings import FRESH, FootRules, Readings

Pair = tuple[Readings, Readings]

# A safety net, never reached on any music tried: beyond it a foot's readings are cut to the first so many, which can
# only ever turn a playable attack into an unplayable one. How often is counted and reported.
MOST_READINGS = 20_000
RIGHT_FIRST_PEDAL = 3


class Tracker:
    """All readings of one player under one notion of free.

    `before` are the pairs before the open attack, `after` those after it, `failed` whether none was left.
    """

    __slots__ = ("after", "before", "bounded", "failed", "rules", "sizes")

    def __init__(self, player: Player, sliding: bool, dies: dict[int, int]) -> None:
        self.rules = FootRules(player, sliding, dies)
        self.sizes = (7, 0) if player.reach_across else (3, 4)
        self.bounded = 0
        self.start(None)

    def start(self, letters: tuple[tuple[int, int, int], ...] | None) -> None:
        """Nothing owed; letters unset, or as given (seven, in the order of the pedals)."""
        letters = letters or (FRESH,) * 7
        left = self.sizes[0]
        self.before: tuple[Pair, ...] = ((((letters[:left], ()),), ((letters[left:], ()),)),)
        self.after = self.before
        self.failed = False

    def fork(self, dies: dict[int, int]) -> Tracker:
        """A copy that goes its own way; `dies` is the copy's own table of keys that are down."""
        copy = object.__new__(Tracker)
        copy.rules = object.__new__(FootRules)
        for name in FootRules.__slots__:
            setattr(copy.rules, name, getattr(self.rules, name))
        copy.rules.dies = dies
        copy.sizes, copy.bounded, copy.failed = self.sizes, self.bounded, self.failed
        copy.before, copy.after = self.before, self.after
        return copy

    def open(self, moment: int) -> None:
        """A new attack begins at `moment`: what was after the last one is now before this one, and settled."""
        rules = self.rules
        if len(self.after) == 1:
            ((left, right),) = self.after
            self.before = (
                (rules.settle(left, moment, 0), rules.settle(right, moment, RIGHT_FIRST_PEDAL)),
            )
            return
        settled: dict[Readings, Readings] = {}
        pairs: list[Pair] = []
        for left, right in self.after:
            for side, first in ((left, 0), (right, RIGHT_FIRST_PEDAL)):
                if side not in settled:
                    settled[side] = rules.settle(side, moment, first)
            pairs.append((settled[left], settled[right]))
        self.before = self._prune(_merge(pairs), moment)

    def release_before(self, released: dict[int, int]) -> None:
        """Keys that were struck before the open attack were released."""
        if not self.rules.sliding:
            self.before = self._release(self.before, released)

    def release_after(self, released: dict[int, int]) -> None:
        """Keys were released, whichever attack struck them."""
        if not self.rules.sliding:
            self.after = self._release(self.after, released)

    def _release(self, pairs: tuple[Pair, ...], released: dict[int, int]) -> tuple[Pair, ...]:
        release = self.rules.release
        if len(pairs) == 1:
            ((left, right),) = pairs
            return ((release(left, released), release(right, released)),)
        return _merge([(release(left, released), release(right, released)) for left, right in pairs])

    def judge(self, ways: tuple[Sharing, ...], moment: int) -> bool:
        """Whether the attack at `moment` can be played from `before`; sets `after` and `failed`."""
        pairs = self.attempt(self.before, ways, moment)
        self.failed = not pairs
        self.after = pairs or self._go_on(ways, moment)
        return not self.failed

    def attempt(self, before: tuple[Pair, ...], ways: tuple[Sharing, ...], moment: int) -> tuple[Pair, ...]:
        """The pairs after an attack at `moment` from `before`; () where it cannot be played."""
        attack = self.rules.attack
        pairs: list[Pair] = []
        for left, right in before:
            for sharing in ways:
                new_left = attack(left, sharing.left, moment, 0)
                if not new_left:
                    continue
                new_right = attack(right, sharing.right, moment, RIGHT_FIRST_PEDAL)
                if new_right:
                    pairs.append((self._bound(new_left), self._bound(new_right)))
        if len(pairs) > 1:
            return _merge(pairs)
        return tuple(pairs)

    def _bound(self, readings: Readings) -> Readings:
        if len(readings) > MOST_READINGS:
            self.bounded += 1
            return readings[:MOST_READINGS]
        return readings

    def _go_on(self, ways: tuple[Sharing, ...], moment: int) -> tuple[Pair, ...]:
        """The pairs after an attack that cannot be played: one foot forced where that is enough, else both."""
        rules = self.rules
        one: list[Pair] = []
        both: list[Pair] = []
        for left, right in self.before:
            for sharing in ways:
                new_left = rules.attack(left, sharing.left, moment, 0)
                new_right = rules.attack(right, sharing.right, moment, RIGHT_FIRST_PEDAL)
                pair = (
                    new_left or rules.force(left, sharing.left, moment),
                    new_right or rules.force(right, sharing.right, moment),
                )
                (one if new_left or new_right else both).append(pair)
        return _merge(one or both) if (one or both) else self.before

    def _prune(self, pairs: tuple[Pair, ...], moment: int) -> tuple[Pair, ...]:
        """Drop the readings of each pair that another pair makes superfluous."""
        if len(pairs) == 1:
            return pairs
        covers = self.rules.covers

        def all_covered(worse: Readings, better: Readings) -> bool:
            return all(any(covers(b, w, moment) for b in better) for w in worse)

        kept = list(pairs)
        for number in range(len(kept)):
            for other in range(len(kept)):
                left, right = kept[number]
                if not left or not right:
                    break
                if other == number:
                    continue
                good_left, good_right = kept[other]
                if not good_left or not good_right:
                    continue
                if all_covered(right, good_right):
                    left = tuple(x for x in left if not any(covers(good, x, moment) for good in good_left))
                elif all_covered(left, good_left):
                    right = tuple(x for x in right if not any(covers(good, x, moment) for good in good_right))
                kept[number] = (left, right)
        return _merge([pair for pair in kept if pair[0] and pair[1]])


def _merge(pairs: list[Pair]) -> tuple[Pair, ...]:
    """Pairs with one side in common made one, until none has."""
    if len(pairs) < 2:
        return tuple(pairs)
    sides = [(frozenset(left), frozenset(right)) for left, right in pairs]
    while True:
        by_left: dict[frozenset, frozenset] = {}
        for left, right in sides:
            known = by_left.get(left)
            by_left[left] = right if known is None else known | right
        by_right: dict[frozenset, frozenset] = {}
        for left, right in by_left.items():
            known = by_right.get(right)
            by_right[right] = left if known is None else known | left
        merged = [(left, right) for right, left in by_right.items()]
        if len(merged) == len(sides):
            break
        sides = merged
    # Sorted, so that the same music gives the same order of readings whatever the hash seed.
    return tuple((tuple(sorted(left)), tuple(sorted(right))) for left, right in sides)
