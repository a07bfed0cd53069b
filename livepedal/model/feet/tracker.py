"""One player, tracked exactly under one notion of when a string is free: is there any schedule at all?

The two feet hardly know of each other (chords.py): only the notes that either foot's pedals could give tie
them together. So the tracker keeps *pairs* (readings of the left foot, readings of the right foot), one for
each history of those choices that still matters: within a pair any left reading goes with any right one. An
attack turns a pair into one for every choice; a pair lives on while both its feet have a reading.

Pairs with one side in common are one pair: (L, R1) and (L, R2) together allow just what (L, R1 and R2) allows.
Looking for pairs that others make superfluous was measured, and left out: it found little, and cost more than that.

After an attack that the player cannot play the tracker goes on from the readings before it: the foot that
fails has its letters as the attack needs them and nothing owed, so that one impossibility is reported once,
and a second one right after it is still found. A tracker is cheap to copy: its state is tuples that nobody
changes.

Where a foot may reach across (`Player.reach_across`), it does so in the gap before the attack that needs it, not
before the attack ahead of that. Otherwise a foot could never forget what it did, since a change for the other foot
might still have gone in between.

The work for one attack is bounded, in steps, so that live and file still agree: a step is one reading put to one
way of the attack. Where an attack would take more, its readings are *relaxed* first: they owe nothing, and their
letters that are free are UNSET, as after an attack that cannot be played. That leaves few of them, and each can
play whatever those could that it stands for. So what cannot be played from there cannot be played; what can is not
decided, is never taken for a fault, and is counted (`cut`). The search goes on from the relaxed readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

from livepedal.harp import Player, Ringing
from livepedal.model.feet.chords import RIGHT_FIRST_PEDAL, Need, Sharing, Way
from livepedal.model.feet.covering import Reading, Readings
from livepedal.model.feet.free import LONG_AGO, FreeRule
from livepedal.model.feet.letters import FRESH, Letter
from livepedal.model.feet.readings import FootRules
from livepedal.model.feet.schedule import B_PEDAL, E_PEDAL, Change, Changes

Pair = tuple[Readings, Readings]
# (key, moment of its release, moment of the latest attack up to then (its own at the earliest), damped then or not)
Released = tuple[int, int, int, bool]

# Steps for one attack, and readings between two. No harp part that was tried takes half of either.
MOST_STEPS = 6_000
MOST_READINGS = 800
ROOMY = 4  # up to this many readings, in all pairs together, pruning is not worth it


@dataclass(frozen=True, slots=True)
class _Kept:
    """Readings and ways of one foot, and the change of one letter that it hands over to the other foot.

    The letter is told by its index.
    """

    readings: Readings
    ways: tuple[Way, ...]
    changes: Changes = ()
    letter: int | None = None


class Tracker:
    """All readings of one player under one notion of free.

    `before` are the pairs before the open attack, `after` those after it, `failed` whether none was left.
    """

    def __init__(self, player: Player, sliding: bool, ringing: Ringing) -> None:
        self.free = (FreeRule.sliding if sliding else FreeRule.held)(player, ringing)
        self.sliding = sliding
        self.struck = [0] * 128
        self.rules = FootRules(player, self.free, self.struck)
        self.across = player.reach_across
        self.roomy = ROOMY
        self.start(None)

    def start(self, letters: tuple[Letter, ...] | None) -> None:
        """Start with nothing owed; letters unset, or as given (seven, in the order of the pedals)."""
        letters = letters or (FRESH,) * 7
        left, right = letters[:RIGHT_FIRST_PEDAL], letters[RIGHT_FIRST_PEDAL:]
        self.before: tuple[Pair, ...] = ((((left, ()),), ((right, ()),)),)
        self.after: tuple[Pair, ...] = self.before
        self.failed = False
        self.cut = False  # whether the search for the open attack was cut short
        self.steps = 0  # taken for the open attack, MOST_STEPS and more once it was relaxed
        self.ahead = self.latest = LONG_AGO  # the attack before the open one, and the open one
        self.set_at = max(letter[1] for letter in letters)  # when they were set, for explanations

    def fork(self) -> Tracker:
        """A copy that goes its own way."""
        twin = copy(self)
        twin.struck = list(self.struck)
        twin.rules = copy(self.rules)
        twin.rules.struck = twin.struck
        return twin

    def strike(self, pitch: int, moment: int) -> None:
        """A key goes down for the attack at `moment`; its earlier strike has been released."""
        self.struck[pitch] = moment

    def open(self, moment: int) -> None:
        """A new attack begins at `moment`: the readings after the last one are now before this one, and settled."""
        rules = self.rules
        self.steps = 0
        self.cut = False
        self.after = merge(self.after)
        size = _readings_in(self.after)
        if size > MOST_READINGS:
            self.after = self._relaxed(self.after, moment)
            size = _readings_in(self.after)
        # Looking for readings that others cover costs as the square of their number, so only when there are more.
        prune = size > self.roomy
        # A change made across starts after the latest attack, so there no foot may forget beyond that.
        quiet = min(moment, self.latest) if self.across else moment
        self.ahead, self.latest = self.latest, moment
        ready = rules.forget_and_prune
        self.before = merge(
            [
                (ready(left, quiet, 0, prune), ready(right, quiet, RIGHT_FIRST_PEDAL, prune))
                for left, right in self.after
            ]
        )
        if prune:
            self.roomy = max(ROOMY, _readings_in(self.before))

    def release_before(self, released: Sequence[Released]) -> None:
        """Keys struck before the open attack were released."""
        self.before = self._release(self.before, self._freed(released))

    def release_after(self, released: Sequence[Released]) -> None:
        """Keys were released, whichever attack struck them."""
        self.after = self._release(self.after, self._freed(released))

    def let_go(self, released: Sequence[Released]) -> tuple[Pair, ...]:
        """The pairs after the last attack as they will be with these keys released; nothing changes here."""
        return self._release(self.after, self._freed(released)) if released else self.after

    def _freed(self, released: Sequence[Released]) -> dict[int, int]:
        """When the strings of released keys are free, unless they are plucked again.

        That goes by this tracker's player and notion of free.
        """
        struck, free = self.struck, self.free.free
        return {
            pitch: free(pitch, struck[pitch], up, latest, damped) for pitch, up, latest, damped in released
        }

    def _release(self, pairs: tuple[Pair, ...], released: dict[int, int]) -> tuple[Pair, ...]:
        release = self.rules.release
        return tuple([(release(left, released), release(right, released)) for left, right in pairs])

    def judge(self, ways: tuple[Sharing, ...], moment: int) -> bool:
        """Whether the attack at `moment` can be played from `before`; sets `after` and `failed`."""
        if self.steps < MOST_STEPS:
            self.steps += sum(
                [
                    len(left) * len(sharing.left) + len(right) * len(sharing.right)
                    for left, right in self.before
                    for sharing in ways
                ]
            )
            if self.steps >= MOST_STEPS:
                self.before = self._relaxed(self.before, moment)
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
                if new_left:
                    new_right = attack(right, sharing.right, moment, RIGHT_FIRST_PEDAL)
                    if new_right:
                        pairs.append((new_left, new_right))
                if self.across:
                    pairs += self._reach_across(left, right, sharing, moment)
        return tuple(pairs)

    def _reach_across(self, left: Readings, right: Readings, sharing: Sharing, moment: int) -> list[Pair]:
        """The pairs in which the left foot changes E or the right foot B.

        An emergency measure (common practice, no source; the rule is ours): it is made in the gap before the
        attack that needs it, not before the attack ahead of that. A change handed over depends on the reading
        that hands it over, so each kind of it makes a pair of its own.
        """
        attack = self.rules.attack
        pairs: list[Pair] = []
        from_left = [
            _Kept(left, sharing.left),
            *self._handed_over(left, sharing.left, moment, B_PEDAL, B_PEDAL),
        ]
        from_right = [
            _Kept(right, sharing.right),
            *self._handed_over(right, sharing.right, moment, 0, E_PEDAL),
        ]
        for mine in from_left:
            for other in from_right:
                if not mine.changes and not other.changes:
                    continue
                new_left = attack(mine.readings, mine.ways, moment, 0, other.changes, mine.letter)
                new_right = attack(
                    other.readings, other.ways, moment, RIGHT_FIRST_PEDAL, mine.changes, other.letter
                )
                if new_left and new_right:
                    pairs.append((new_left, new_right))
        return pairs

    def _handed_over(
        self, readings: Readings, ways: tuple[Way, ...], moment: int, index: int, pedal: int
    ) -> list[_Kept]:
        """Each change of one letter that the other foot could make.

        With it come the readings and ways that need just that one.
        """
        found: dict[tuple[Need, Change], list[Reading]] = {}
        for need in {need for way in ways for need in way if need[0] == index}:
            for reading in readings:
                change = self.rules.change_of(reading[0][index], need, moment, pedal)
                if change is None:
                    continue
                latest, earliest, *named = change
                change = latest, max(earliest, self.ahead), *named
                if change[1] <= latest:
                    found.setdefault((need, change), []).append(reading)
        return [
            _Kept(
                tuple(group),
                tuple(way for way in ways if need in way),
                (change,),
                index,
            )
            for (need, change), group in found.items()
        ]

    def _relaxed(self, pairs: tuple[Pair, ...], moment: int) -> tuple[Pair, ...]:
        """The pairs with fewer readings; each one kept can play all that the dropped ones can."""
        self.cut = True
        freed = self.rules.owing_nothing
        return merge([(freed(left, moment), freed(right, moment)) for left, right in pairs])

    def _go_on(self, ways: tuple[Sharing, ...], moment: int) -> tuple[Pair, ...]:
        """The pairs after an attack that cannot be played: one foot forced where that is enough, else both."""
        rules = self.rules
        one_forced: list[Pair] = []
        both: list[Pair] = []
        for left, right in self.before:
            for sharing in ways:
                new_left = rules.attack(left, sharing.left, moment, 0)
                new_right = rules.attack(right, sharing.right, moment, RIGHT_FIRST_PEDAL)
                pair = (
                    new_left or rules.force(left, sharing.left, moment),
                    new_right or rules.force(right, sharing.right, moment),
                )
                (one_forced if new_left or new_right else both).append(pair)
        return tuple(one_forced or both) or self.before


def _readings_in(pairs: Sequence[Pair]) -> int:
    return sum([len(left) + len(right) for left, right in pairs])


def merge(pairs: Sequence[Pair]) -> tuple[Pair, ...]:
    """Merge pairs with one side in common, until there are none."""
    if len(pairs) < 2:
        return tuple(pairs)
    sides = [(frozenset(left), frozenset(right)) for left, right in pairs]
    while True:
        by_left: dict[frozenset[Reading], frozenset[Reading]] = {}
        for left, right in sides:
            known = by_left.get(left)
            by_left[left] = right if known is None else known | right
        by_right: dict[frozenset[Reading], frozenset[Reading]] = {}
        for left, right in by_left.items():
            known = by_right.get(right)
            by_right[right] = left if known is None else known | left
        merged = [(left, right) for right, left in by_right.items()]
        if len(merged) == len(sides):
            break
        sides = merged
    if len(sides) == len(pairs):
        return tuple(pairs)
    # Sorted, so that the same music gives the same order of readings whatever the hash seed.
    return tuple((tuple(sorted(left)), tuple(sorted(right))) for left, right in sides)
