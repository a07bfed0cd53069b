"""One attack in the search for the plan: the states after it, from those before, the best first.

States are looked at in the order of the least that a whole path through them can cost (prepared.py), and no way to
play the attack before its turn comes. Where the first way from a state cannot be played free of slides and hurry, the
least that either foot has to pay there is worked out once, over all its ways: whatever way is taken from there costs
as much.
"""

from __future__ import annotations

from heapq import heapify, heappop, heappush
from itertools import product
from typing import NamedTuple, TypeAlias

from livepedal.model.feet.chords import Way
from livepedal.model.plan.footwork import Footwork, Step
from livepedal.model.plan.prepared import Music
from livepedal.model.plan.prices import CHANGE, IMPOSSIBLE, NEVER
from livepedal.model.plan.stands import FootState, Moves, OneOf, Stand

COMPARED = 40  # a state is held against so many of the best ones
UNKNOWN = -1


class State(NamedTuple):
    """Both feet at the end of a path: the least that a whole path through there can cost, the price so far, the state
    before, and what each foot did last.
    """

    least: int
    price: int
    left: FootState
    right: FootState
    before: State | None
    left_way: Way
    left_moves: Moves
    right_way: Way
    right_moves: Moves


# What is still to be looked at, in order: the least that it can cost, a running number, the place of its state, the
# number of its choice, and either what both feet have to pay more at the least, or what they do.
_Todo: TypeAlias = tuple[int, int, int, int, int, "_Pair | None"]


class _Pair(NamedTuple):
    price: int
    left: Step
    right: Step


class Attack:
    """The attack of this number, from these states.

    rest: what all attacks from the next one on cost at the least, but for their first changes; paid: what of giving it
    up is paid already, since the verdict says that it cannot be played; may_fail: whether it may be given up.
    """

    def __init__(
        self,
        music: Music,
        work: Footwork,
        states: list[State],
        number: int,
        rest: int,
        paid: int,
        may_fail: bool,
    ) -> None:
        self.music = music
        self.work = work
        self.states = states
        self.number = number
        self.choices = music.choices[number]
        self.rest = rest
        self.paid = paid
        self.may_fail = may_fail
        self.extra = paid or (IMPOSSIBLE if music.left_out[number] else 0)
        self.looked = 0
        self._one_of: OneOf = {}
        self._steps: tuple[dict[tuple[FootState, Way], tuple[Step, ...]], ...] = ({}, {})
        self._costs: dict[tuple[FootState, FootState], int] = {}
        self._serial = 0
        moment = music.moments[number]
        settled: dict[FootState, FootState] = {}
        for state in states:
            for foot in (state.left, state.right):
                if foot not in settled:
                    quiet = work.cut(foot, moment)
                    settled[foot] = self._one_of.setdefault(quiet.key, quiet)
        self._feet = [(settled[state.left], settled[state.right]) for state in states]
        self._todo: list[_Todo] = [
            (state.least, place, place, 0, UNKNOWN, None) for place, state in enumerate(states)
        ]
        self._serial = len(states)
        heapify(self._todo)

    def after(self, most: int, alike: int, limit: int, effort: int | None) -> tuple[list[State], bool]:
        """The states after it that can end below `limit`: `most` of them at most, and at most `alike` with the pedals
        standing the same; and whether that was all. effort: how many choices to look at, none are left where that is
        not enough.
        """
        seen: set[tuple[FootState, FootState]] = set()
        kept: list[State] = []
        standing: dict[tuple[Stand, Stand], int] = {}
        while self._todo:
            least, _, place, number, floor, pair = heappop(self._todo)
            if least >= limit:
                break
            if pair is None:
                if self.looked == effort:
                    return [], False
                self._look(least, place, number, floor)
                continue
            feet = pair.left[1], pair.right[1]
            if feet in seen:
                continue
            seen.add(feet)
            stands = feet[0].stand, feet[1].stand
            if standing.get(stands, 0) == alike or self._worse(feet, pair.price, kept):
                continue
            standing[stands] = standing.get(stands, 0) + 1
            if len(kept) == most:
                return kept, False
            choice, before = self.choices[number], self.states[place]
            kept.append(
                State(
                    least, pair.price, *feet, before, choice.left, pair.left[2], choice.right, pair.right[2]
                )
            )
            if most == 1:
                return kept, False
        return kept, True

    def _push(self, least: int, place: int, number: int, floor: int, pair: _Pair | None = None) -> None:
        heappush(self._todo, (least, self._serial, place, number, floor, pair))
        self._serial += 1

    def _look(self, least: int, place: int, number: int, floor: int) -> None:
        """Look at what the feet can do with one choice, from one state."""
        left, right = self._feet[place]
        state = self.states[place]
        if number and floor == UNKNOWN:
            floor = self._floor(left, right)
            if floor:
                self._push(least + floor, place, number, floor)
                return
        self.looked += 1
        music = self.music
        choice = self.choices[number]
        if number + 1 < len(self.choices):
            more = state.price + self.extra + self.choices[number + 1].price + self.rest + max(floor, 0)
            self._push(more, place, number + 1, floor)
        turn, its = (
            music.groups[0].turn(left.stand, choice.left),
            music.groups[1].turn(right.stand, choice.right),
        )
        before = state.price + self.extra + choice.price
        for one, other in product(self._ways(0, left, choice.left), self._ways(1, right, choice.right)):
            price = before + turn.price + its.price + one[0] + other[0]
            if one[0] + other[0] >= IMPOSSIBLE:
                price -= self.paid
            ahead = music.ahead(self.number + 1, 0, one[1].stand) + music.ahead(
                self.number + 1, 1, other[1].stand
            )
            self._push(price + self.rest + ahead, place, number, floor, _Pair(price, one, other))

    def _ways(self, foot_number: int, foot: FootState, way: Way) -> tuple[Step, ...]:
        """What one foot can do with its part of a choice."""
        known = self._steps[foot_number].get((foot, way))
        if known is None:
            group = self.music.groups[foot_number]
            turn = group.turn(foot.stand, way)
            known = tuple(self.work.steps(foot, way, turn, group, self.number, self._one_of))
            if not known and self.may_fail:
                known = (self.work.forced(foot, way, group, self.number, self._one_of),)
            self._steps[foot_number][foot, way] = known
        return known

    def _floor(self, left: FootState, right: FootState) -> int:
        """What the feet have to pay at the least, whatever they play."""
        floor = 0
        for foot_number, foot in enumerate((left, right)):
            ways = self.music.foot_ways[self.number][foot_number]
            floor += min(
                [steps[0][0] for way in ways if (steps := self._ways(foot_number, foot, way))], default=NEVER
            )
        # What is given up anyway costs no more where it is one foot that gives it up.
        return max(0, floor - self.paid) if self.paid else floor

    def _worse(self, feet: tuple[FootState, FootState], price: int, kept: list[State]) -> bool:
        """Whether a better one of the states kept can turn itself into this one."""
        costs = self._costs
        for good in kept[:COMPARED]:
            spare = price - good.price
            if spare < 0:
                continue
            for mine, its in ((good.left, feet[0]), (good.right, feet[1])):
                if spare < CHANGE and mine.stand is not its.stand and mine.stand.whole:
                    break  # it takes one change at least
                cost = costs.get((mine, its))
                if cost is None:
                    cost = costs[mine, its] = self.work.turning(mine, its)
                spare -= cost
                if spare < 0:
                    break
            else:
                return True
        return False
