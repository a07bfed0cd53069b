"""Where one foot stands in the search for the plan, what it owes, and what a chord asks of it there.

What does not depend on time is worked out once: the positions of a foot's pedals are one object (`Stand`), which
knows what each chord leads to from there (`FootStep`). The state of a foot (`FootState`) adds the times, and is one
object for all equal ones of an attack, so that states are told apart without comparing them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple, TypeAlias

from livepedal.harp import Pedal, Position
from livepedal.model.feet.chords import Way, pitches_of
from livepedal.model.feet.free import LONG_AGO, Sounding, no_later, plucked
from livepedal.model.feet.letters import UNSET
from livepedal.model.plan.orders import Job
from livepedal.model.plan.prices import CROSSED, step

# Neighbouring strings that sound the wrong way round: E♯ and F♭, B♯ and C♭.
CROSSINGS = (
    ((Pedal.E, Position.SHARP), (Pedal.F, Position.FLAT)),
    ((Pedal.B, Position.SHARP), (Pedal.C, Position.FLAT)),
)


class Move(NamedTuple):
    """A change that a step makes: the pedal, from, to, and its window. across: by the other foot (`reach_across`)."""

    pedal: int
    start: int
    goal: int
    window: Job
    audible: bool
    tight: bool
    possible: bool
    across: bool = False


Moves: TypeAlias = tuple[Move, ...]


class FootStep(NamedTuple):
    """What one way to play a chord asks of a foot that stands somewhere.

    price: the changes it takes, and whether it then plays on crossed strings; needed: (index of letter, from, to) for
    each letter that must move; after: where the foot stands then.
    """

    price: int
    needed: tuple[tuple[int, int, int], ...]
    after: Stand


class Stand:
    """The positions of one foot's pedals. turns: what each way leads to from there."""

    __slots__ = ("positions", "turns", "whole")

    def __init__(self, positions: tuple[int, ...]) -> None:
        self.positions = positions
        self.whole = UNSET not in positions
        self.turns: dict[Way, FootStep] = {}


# When a letter is free (µs): when held counts, but for its strings that may still sound; when it does not; and these.
Times: TypeAlias = tuple[int, int, Sounding]
FREE: Times = (LONG_AGO, LONG_AGO, ())


def after_pluck(times: Times, keys: int, frees: Mapping[int, tuple[int, int]], moment: int) -> Times:
    """When a letter is free after an attack that plucks some of its strings.

    Args:
        times: when it was free before.
        keys: those that the attack plucks on it (a bit mask).
        frees: when each pitch is free, when held counts and when it does not (µs).
        moment: of the attack (µs).
    """
    since, sounding = plucked(times[0], times[2], keys, moment)
    pitches = pitches_of(keys)
    slid = max(times[1], *[frees[pitch][1] for pitch in pitches])
    return since, slid, (*sounding, *[(pitch, moment, frees[pitch][0]) for pitch in pitches])


def later(mine: Times, its: Times) -> bool:
    """Whether a letter may be free later than the other."""
    return mine != its and (mine[1] > its[1] or not no_later(mine[0], mine[2], its[0], its[2]))


class FootState:
    """The state of one foot: where it stands, when each letter is free, and the changes that it owes."""

    __slots__ = ("key", "owed", "stand", "times")

    def __init__(self, key: FootKey) -> None:
        self.key = key
        self.stand, self.times, self.owed = key


FootKey: TypeAlias = tuple[Stand, tuple[Times, ...], tuple[Job, ...]]
# The one object for all equal states of a foot.
OneOf: TypeAlias = dict[FootKey, FootState]


def the_one(one_of: OneOf, stand: Stand, times: tuple[Times, ...], owed: tuple[Job, ...]) -> FootState:
    """The one object for this state of a foot."""
    key = stand, times, owed
    known = one_of.get(key)
    if known is None:
        known = one_of[key] = FootState(key)
    return known


class FootPedals:
    """The pedals of one foot: `count` of them, from the pedal `first` on."""

    def __init__(self, first: int, count: int) -> None:
        self.first = first
        self.count = count
        self._stands: dict[tuple[int, ...], Stand] = {}
        self._crossings = [
            tuple((pedal - first, int(position)) for pedal, position in crossing)
            for crossing in CROSSINGS
            if all(first <= pedal < first + count for pedal, _ in crossing)
        ]

    def stand(self, positions: tuple[int, ...]) -> Stand:
        """The one object for these positions."""
        known = self._stands.get(positions)
        if known is None:
            known = self._stands[positions] = Stand(positions)
        return known

    def turn(self, stand: Stand, way: Way) -> FootStep:
        """What this way asks of a foot that stands there."""
        known = stand.turns.get(way)
        if known is None:
            known = stand.turns[way] = self._turn(stand, way)
        return known

    def _turn(self, stand: Stand, way: Way) -> FootStep:
        positions = list(stand.positions)
        price = 0
        needed = []
        for index, position, _ in way:
            stands = positions[index]
            if stands not in (position, UNSET):
                needed.append((index, stands, position))
                price += step(stands, position)
            positions[index] = position
        for crossing in self._crossings:
            if all(positions[index] == position for index, position in crossing) and any(
                need[:2] in crossing for need in way
            ):
                price += CROSSED
        return FootStep(price, tuple(needed), self.stand(tuple(positions)))
