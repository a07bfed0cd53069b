"""Feet, strings and hands on one choice of strings: a passage is playable only if one and the same choice
serves all three.

Which string a note is played on ties the three together. What that means for each:
- the feet: the string's letter must be in position (readings.py);
- the strings: it must not have been plucked too recently (repeats.py). A rule about letters, so it is part of
  the feet's readings;
- the hands: the strings of one attack must be grips (grips.py). What a hand remembers does not depend on
  strings, so a choice only ever matters to the attack itself, and only to the few chords that have more than
  one class of grips.

So the joint search keeps *branches* (pairs of the feet's readings, readings of the hands): within a branch
any history of the feet goes with any of the hands'. An attack leaves a branch one branch as long as its chord
has one class; else each class makes one of its own, the feet restricted to the ways of that class. Branches
with one side in common are merged, as pairs are in tracker.py: with the same hands, the pairs of both; with
the same pairs, the hands of both. Hands that are free forget, so that branches meet again within a second.

Exact: a branch is a set of whole histories, of which each is a history of the feet (strings minded) and one
of the hands on the same strings, and none is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from enum import StrEnum

from livepedal.harp import Instrument, Player, Ringing
from livepedal.model.chords import Sharing
from livepedal.model.grips import GripClass
from livepedal.model.hands import REST, Hands, HandsTracker, Links, Readings
from livepedal.model.readings import Letter
from livepedal.model.repeats import Plucks, Repeats, StringTracker
from livepedal.model.tracker import Feet, Pair, Released, merge


class Obstacle(StrEnum):
    """Which of the three, or what of them together, stands in the way."""

    FEET = "feet"  # the feet alone cannot play the attack
    HANDS = "hands"  # the hands alone cannot
    STRINGS = "strings"  # feet and hands could, but a string would be plucked again too soon
    CHOICE = "choice"  # each could, but not on the same strings


class Branch:
    """Histories of the feet and of the hands, any with any: those before the open attack, and those after it."""

    __slots__ = ("after", "before", "feet")

    def __init__(self, feet: StringTracker, before: Readings, after: Readings) -> None:
        self.feet = feet
        self.before = before
        self.after = after


class Joint:
    """One player under one notion of when a string is free, feet, strings and hands together.

    Fed as a Tracker is. Only watched strings are minded. `failed`: whether the open attack cannot be played,
    and `obstacles` then say why; `rolled`: whether every way to play it rolls its chord.
    """

    def __init__(self, player: Player, instrument: Instrument, sliding: bool, ringing: Ringing) -> None:
        self.hands = HandsTracker(player, instrument)
        self.repeats = Repeats(player)
        self._fixed_string = {
            pitch: one.string.number
            for pitch in range(128)
            for one in instrument.spellings(pitch)
            if one.fixed
        }
        self._new = StringTracker(player, sliding, ringing)
        self.start(None)

    def start(self, letters: tuple[Letter, ...] | None) -> None:
        """Nothing owed, hands free, nothing plucked; letters unset, or as given (seven, in the order of the
        pedals).
        """
        feet = self._new.fork()
        feet.start(letters)
        self.before = [Branch(feet, REST, REST)]
        self.after = self.before
        self.watched: frozenset[int] = frozenset()
        self.fixed: Plucks = ()
        self.fixed_before: Plucks = ()
        self.failed = self.rolled = False
        self.obstacles: frozenset[Obstacle] = frozenset()

    def begin(self, feet: Feet, hands: Readings, watched: frozenset[int]) -> None:
        """Start between two attacks from what a tracker of the feet and one of the hands have after the last
        one (performer.py).
        """
        self.start(None)
        (branch,) = self.after
        branch.feet.go_on_from(replace(feet, after=StringTracker.marked(feet.after)))
        branch.before = branch.after = hands
        self.watch(watched)

    def watch(self, strings: frozenset[int]) -> None:
        """Mind these strings too, from now on."""
        self.watched |= strings
        for feet in self._feet():
            feet.rules.watched = self.watched

    def fork(self) -> Joint:
        """A copy that goes its own way."""
        copy = object.__new__(Joint)
        copy.__dict__.update(self.__dict__)
        copy.hands = self.hands.fork()
        same = {
            id(branch): Branch(branch.feet.fork(), branch.before, branch.after)
            for branch in (*self.before, *self.after)
        }
        copy.before = [same[id(branch)] for branch in self.before]
        copy.after = [same[id(branch)] for branch in self.after]
        return copy

    # -- what is fed -----------------------------------------------------------------------------------------

    def open(self, moment: int) -> None:
        """A new attack begins at `moment` (µs)."""
        for branch in self.after:
            branch.feet.open(moment)
            branch.before = self.hands.settle(branch.after, moment)
        self.before = _meet(self.after)
        self.after = self.before
        self.fixed_before = self.repeats.forget(self.fixed, moment)

    def strike(self, pitch: int, moment: int) -> None:
        """A key goes down for the open attack."""
        for feet in self._feet():
            feet.strike(pitch, moment)

    def release_before(self, released: Sequence[Released]) -> None:
        """Keys that were struck before the open attack were released."""
        for branch in self.before:
            branch.feet.release_before(released)

    def release_after(self, released: Sequence[Released]) -> None:
        """Keys were released, whichever attack struck them."""
        for feet in self._feet():
            feet.release_after(released)

    def _feet(self) -> Iterable[StringTracker]:
        return {id(branch.feet): branch.feet for branch in (*self.before, *self.after)}.values()

    def judge(
        self, pitches: tuple[int, ...], ways: tuple[Sharing, ...], moment: int, links: Links = ()
    ) -> bool:
        """Whether the attack at `moment` (µs) can be played; sets `after`, `failed`, `obstacles` and
        `rolled`.

        pitches: upwards, each once, all with a string and together in some setting; ways: theirs (chords.py).
        """
        strings = [self._fixed_string[pitch] for pitch in pitches if pitch in self._fixed_string]
        fixed = self.repeats.pluck(self.fixed_before, strings, moment)
        classes = self.hands.grips.classes(pitches, ways)
        found: list[Branch] = []
        flat = False
        for branch in self.before if fixed is not None else ():
            for chord in classes:
                hands = self.hands.attempt(branch.before, chord, moment, links)
                pairs = branch.feet.attempt(branch.feet.before, chord.ways, moment) if hands else ()
                if pairs:
                    after = branch
                    if len(classes) > 1:
                        after = Branch(branch.feet.fork(), branch.before, hands)
                    after.feet.after, after.feet.failed, after.after = pairs, False, hands
                    found.append(after)
                    flat = flat or not chord.rolled
        self.failed = not found
        self.rolled = bool(found) and not flat
        self.fixed = fixed or ()
        if found:
            self.after = found
            self.obstacles = frozenset()
        else:
            self.obstacles = self._obstacles(classes, ways, moment, links, fixed is None)
            self.after = self._go_on(classes, ways, moment, links)
        return not self.failed

    def _obstacles(
        self,
        classes: tuple[GripClass, ...],
        ways: tuple[Sharing, ...],
        moment: int,
        links: Links,
        fixed_too_soon: bool,
    ) -> frozenset[Obstacle]:
        found: set[Obstacle] = set()
        if not any(branch.feet.possible(ways, moment, strict=False) for branch in self.before):
            found.add(Obstacle.FEET)
        elif fixed_too_soon or not any(
            branch.feet.possible(ways, moment, strict=True) for branch in self.before
        ):
            found.add(Obstacle.STRINGS)
        if not any(
            self.hands.attempt(branch.before, chord, moment, links)
            for branch in self.before
            for chord in classes
        ):
            found.add(Obstacle.HANDS)
        return frozenset(found or {Obstacle.CHOICE})

    def _go_on(
        self, classes: tuple[GripClass, ...], ways: tuple[Sharing, ...], moment: int, links: Links
    ) -> list[Branch]:
        """The branches after an attack that cannot be played: each side goes on by itself, forced where it
        fails.
        """
        found: list[Branch] = []
        for branch in self.before:
            feet = branch.feet.fork()
            feet.judge(ways, moment)
            hands = tuple(
                dict.fromkeys(
                    one
                    for chord in classes
                    for one in self.hands.attempt(branch.before, chord, moment, links)
                )
            )
            hands = hands or self.hands.go_on(branch.before, classes, moment)
            found.append(Branch(feet, branch.before, hands))
        return found


def _meet(branches: list[Branch]) -> list[Branch]:
    """Branches with one side in common, before the open attack, made one, until none has."""
    while len(branches) > 1:
        by_hands: dict[frozenset[Hands], Branch] = {}
        for branch in branches:
            known = by_hands.setdefault(frozenset(branch.before), branch)
            if known is not branch:
                known.feet.before = merge([*known.feet.before, *branch.feet.before])
        by_feet: dict[tuple[Pair, ...], Branch] = {}
        for branch in by_hands.values():
            known = by_feet.setdefault(branch.feet.before, branch)
            if known is not branch:
                known.before = tuple(sorted({*known.before, *branch.before}))
        if len(by_feet) == len(branches):
            break
        branches = list(by_feet.values())
    return branches
