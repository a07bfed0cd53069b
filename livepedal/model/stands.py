"""Where one foot stands in the search for the plan, what it owes, and what a chord asks of it there.

What does not depend on time is worked out once: the positions of a foot's pedals are one object (`Stand`), which
knows what each chord leads to from there (`Turn`). The state of a foot (`FootState`) adds the times, and is one object
for all equal ones of an attack, so that states are told apart without comparing them.
"""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

from livepedal.model.ahead import code_of, undominated
from livepedal.model.chords import Way, pitches_of, reads
from livepedal.model.orders import Job
from livepedal.model.prices import CHANGE, NOTCH
from livepedal.model.readings import UNSET


class Move(NamedTuple):
    """A change that a step makes: the pedal, from, to, and its window."""

    pedal: int
    start: int
    goal: int
    window: Job
    audible: bool
    tight: bool
    possible: bool


Moves: TypeAlias = tuple[Move, ...]


class Turn(NamedTuple):
    """What one way to play a chord asks of a foot that stands somewhere.

    price: how it reads, and the changes and notches it takes; needed: (index of letter, from, to) for each
    letter that must move; after: where the foot stands then.
    """

    way: Way
    price: int
    needed: tuple[tuple[int, int, int], ...]
    after: Stand


class Stand:
    """The positions of one foot's pedals.

    code: they in one number (ahead.py); turns: for each tuple of ways by its id what they lead to; apt: which of
    these may be the cheapest.
    """

    __slots__ = ("apt", "code", "positions", "turns", "whole")

    def __init__(self, positions: tuple[int, ...]) -> None:
        self.positions = positions
        self.whole = UNSET not in positions
        self.code = code_of(positions)
        self.turns: dict[int, tuple[Turn, ...]] = {}
        self.apt: dict[int, list[int]] = {}


class FootState:
    """The state of one foot: where it stands, when each letter is free (first when held counts, then when it
    does not, µs), and the changes that it owes.
    """

    __slots__ = ("key", "owed", "stand", "times")

    def __init__(self, key: tuple[Stand, tuple[int, ...], tuple[Job, ...]]) -> None:
        self.key = key
        self.stand, self.times, self.owed = key


# The one object for all equal states of a foot.
OneOf: TypeAlias = dict[tuple[Stand, tuple[int, ...], tuple[Job, ...]], FootState]


class Group:
    """The pedals of one foot: `count` of them, from the pedal `first` on."""

    def __init__(self, first: int, count: int) -> None:
        self.first = first
        self.count = count
        self._stands: dict[tuple[int, ...], Stand] = {}
        self._struck: dict[int, list[tuple[tuple[int, tuple[int, ...]], ...]]] = {}
        self._held: dict[int, tuple[Way, ...]] = {}

    def stand(self, positions: tuple[int, ...]) -> Stand:
        """The one object for these positions."""
        known = self._stands.get(positions)
        if known is None:
            known = self._stands[positions] = Stand(positions)
        return known

    def struck(self, options: tuple[Way, ...]) -> list[tuple[tuple[int, tuple[int, ...]], ...]]:
        """(index of letter, its pitches) of each of these ways."""
        known = self._struck.get(id(options))
        if known is None:
            known = self._struck[id(options)] = [
                tuple((index, pitches_of(keys)) for index, _, keys in way) for way in options
            ]
            self._held[id(options)] = options  # so that their id stays theirs
        return known

    def turns(self, stand: Stand, options: tuple[Way, ...]) -> tuple[Turn, ...]:
        """What these ways ask of a foot that stands there, one for each."""
        known = stand.turns.get(id(options))
        if known is None:
            self._held[id(options)] = options
            known = stand.turns[id(options)] = tuple(self._turn(stand, way) for way in options)
        return known

    def apt(self, stand: Stand, options: tuple[Way, ...]) -> list[int]:
        """Which of these ways may be the cheapest for a foot that stands there, were there time for every change."""
        known = stand.apt.get(id(options))
        if known is None:
            known = stand.apt[id(options)] = undominated(
                [(turn.price, turn.after.code) for turn in self.turns(stand, options)], self.count
            )
        return known

    def _turn(self, stand: Stand, way: Way) -> Turn:
        positions = list(stand.positions)
        price = 0
        needed = []
        for index, position, keys in way:
            price += reads(self.first + index, position, keys)
            stands = positions[index]
            if stands not in (position, UNSET):
                needed.append((index, stands, position))
                price += CHANGE + NOTCH * abs(position - stands)
            positions[index] = position
        return Turn(way, price, tuple(needed), self.stand(tuple(positions)))
