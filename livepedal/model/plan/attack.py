"""One attack in the search for the plan: the states after it, from those before, the best first.

States are looked at in the order of the least that a whole path through them can cost (prepared.py). From each the
cheapest choice of strings is looked at first, and the others only if that one may not be the best. What one foot can do
from where it stands is worked out once for all states that have it stand so.

An attack may be given up for the next one, which the verdict says cannot be played: then the next is counted, which it
is anyway, and this one as well only if the next is given up too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from typing import NamedTuple, TypeAlias

from livepedal.harp import Pedal
from livepedal.model.feet.chords import Way
from livepedal.model.plan.footwork import Footwork, Kinds
from livepedal.model.plan.prepared import Music
from livepedal.model.plan.prices import IMPOSSIBLE, NEVER
from livepedal.model.plan.stands import FootState, Moves, OneOf, Stand

COMPARED = 12  # a state is held against so many of the best ones


class Taken(NamedTuple):
    """What each foot does for one attack on a path, and whether the attack is given up."""

    left_way: Way
    left_moves: Moves
    right_way: Way
    right_moves: Moves
    given_up: bool


class State(NamedTuple):
    """Both feet at the end of a path.

    With the least that a whole path through there can cost, the price so far, the state before, what was done last, and
    how many attacks were given up.
    """

    least: int
    price: int
    left: FootState
    right: FootState
    before: State | None
    taken: Taken
    given_up: int = 0


@dataclass(slots=True, eq=False)
class _Way:
    """One thing that a foot can do. more: the least that its first changes after the attack cost."""

    price: int
    more: int
    foot: FootState
    moves: Moves
    given_up: bool
    _others: Iterator[_Way] | None = None
    _after: _Way | None = None

    @classmethod
    def first(cls, ways: Iterator[_Way]) -> _Way | None:
        """The first of some ways, which leads to the others."""
        way = next(ways, None)
        if way is not None:
            way._others = ways
        return way

    @property
    def after(self) -> _Way | None:
        """The next cheapest thing that the foot can do, worked out when it is asked for."""
        if self._others is not None:
            self._after, self._others = self.first(self._others), None
        return self._after


# What is still to be looked at, in order: the least that it can cost, a running number, the place of its state, the
# number of its choice, and one pair of the ways of the feet; None where nobody has looked at what the feet can do.
_Todo: TypeAlias = tuple[int, int, int, int, "_Pair | None"]


class _Pair(NamedTuple):
    """What the feet do for one choice, each one of its ways.

    price: of the path with that; given_up: whether it gives up the attack; first: whether the right foot does the
    cheapest thing it can.
    """

    price: int
    given_up: bool
    left: _Way
    right: _Way
    first: bool


@dataclass
class AttackStep:
    """The attack of this number, from these states.

    rest: what all attacks from the next one on cost at the least, but for their first changes; fails: whether it cannot
    be played, as the verdict has it; instead: whether the next one cannot, so that this one may be given up instead;
    may_fail: whether it may be given up at all.
    """

    music: Music
    work: Footwork
    states: list[State]
    number: int
    rest: int
    fails: bool
    instead: bool
    may_fail: bool

    def __post_init__(self) -> None:
        self.choices = self.music.choices[self.number]
        self.looked = 0
        self._one_of: OneOf = {}
        self._known: tuple[dict[tuple[FootState, Way], _Way | None], ...] = ({}, {})
        # For each state of a foot what it costs others to turn themselves into it.
        self._costs: dict[FootState, dict[FootState, int]] = {}
        moment = self.work.quiet(self.number)
        settled: dict[FootState, FootState] = {}
        for state in self.states:
            for foot in (state.left, state.right):
                if foot not in settled:
                    quiet = self.work.cut(foot, moment)
                    settled[foot] = self._one_of.setdefault(quiet.key, quiet)
        self._feet = [(settled[state.left], settled[state.right]) for state in self.states]
        self._todo: list[_Todo] = [
            (state.least, place, place, 0, None) for place, state in enumerate(self.states)
        ]
        self._serial = len(self.states)
        heapify(self._todo)

    def after(self, most: int, alike: int, limit: int, effort: int | None) -> tuple[list[State], bool]:
        """The states after it that can end below `limit`, and whether these are all.

        Args:
            most: how many at the most.
            alike: how many with the pedals standing the same, at the most.
            limit: the price that a whole path through a state has to stay below.
            effort: how many choices to look at; no state is returned where that is not enough.
        """
        seen: set[tuple[FootState, FootState, int]] = set()
        kept: list[State] = []
        standing: dict[tuple[Stand, Stand], int] = {}
        while self._todo:
            least, _, place, number, pair = heappop(self._todo)
            if least >= limit:
                break
            if pair is None:
                if effort is not None and self.looked >= effort:
                    return [], False
                self._look(place, number)
                continue
            price, gives_up, left, right, first = pair
            feet = left.foot, right.foot
            stands = feet[0].stand, feet[1].stand
            if standing.get(stands, 0) == alike:
                continue  # all that the feet can do with this choice has them stand so
            if most > 1:
                # The pairs that cost more than this one, so that each is met once.
                self._push(place, number, left, right.after, False)
                if first:
                    self._push(place, number, left.after, right, True)
            choice, before = self.choices[number], self.states[place]
            given_up = before.given_up + gives_up
            if (*feet, given_up) in seen:
                continue
            seen.add((*feet, given_up))
            if self._worse(feet, price, given_up, kept):
                continue
            standing[stands] = standing.get(stands, 0) + 1
            if len(kept) == most:
                return kept, False
            taken = Taken(choice.left, left.moves, choice.right, right.moves, gives_up)
            kept.append(State(least, price, *feet, before, taken, given_up))
            if most == 1:
                return kept, False
        return kept, True

    def _look(self, place: int, number: int) -> None:
        """Look at what the feet can do from one state: with the first choice, then with all others."""
        choices = self.choices
        numbers = range(number, len(choices) if number else 1)
        if not number and len(choices) > 1:
            self._serial += 1
            least = self.states[place].price + IMPOSSIBLE * self.fails + choices[1].price + self.rest
            heappush(self._todo, (least, self._serial, place, 1, None))
        left, right = self._feet[place]
        for number in numbers:
            self.looked += 1
            _, way, its = choices[number]
            self._push(place, number, self._ways(0, left, way), self._ways(1, right, its), True)
            if self.work.across:
                for mine, other in self._across(left, way, right, its):
                    self._push(place, number, mine, other, True)

    def _push(self, place: int, number: int, left: _Way | None, right: _Way | None, first: bool) -> None:
        """The feet do this, if they can."""
        if left is None or right is None:
            return
        state = self.states[place]
        gives_up = left.given_up or right.given_up or self.music.left_out[self.number]
        more = state.given_up + gives_up - state.price // IMPOSSIBLE
        if more > self.fails and self.instead:
            more -= 1
        price = (
            state.price
            + IMPOSSIBLE * max(self.fails, more)
            + self.choices[number].price
            + left.price
            + right.price
        )
        self._serial += 1
        pair = _Pair(price, gives_up, left, right, first)
        heappush(self._todo, (price + self.rest + left.more + right.more, self._serial, place, number, pair))

    def _across(
        self, left: FootState, way: Way, right: FootState, its: Way
    ) -> Iterator[tuple[_Way | None, _Way | None]]:
        """What the feet can do where the left one moves E, or the right one B, or both do."""
        mine, own_b, b = self._kinds(0, left, way, Pedal.B)
        other, own_e, e = self._kinds(1, right, its, Pedal.E)
        # Who hands over: the left foot B, the right one E, or both.
        for hands_b, hands_e in ((True, False), (False, True), (True, True)):
            if (b or not hands_b) and (e or not hands_e):
                kinds = [*mine, *([] if hands_b else own_b), *(e if hands_e else [])]
                its_kinds = [*other, *([] if hands_e else own_e), *(b if hands_b else [])]
                yield (
                    _Way.first(self._found(0, left, way, kinds)),
                    _Way.first(self._found(1, right, its, its_kinds)),
                )

    def _kinds(self, foot_number: int, foot: FootState, way: Way, pedal: Pedal) -> tuple[Kinds, Kinds, Kinds]:
        """The kinds of changes that a foot needs: but for one pedal; of that one; and of that one by the other foot."""
        group = self.music.groups[foot_number]
        turn = group.turn(foot.stand, way)
        own = self.work.kinds(foot.times, way, turn, self.number, group)
        across = self.work.kinds(foot.times, way, turn, self.number, group, across=True)
        handed = [group.first + index == pedal for index, _, _ in turn.needed]
        return (
            [one for one, its in zip(own, handed, strict=True) if not its],
            [one for one, its in zip(own, handed, strict=True) if its],
            [one for one, its in zip(across, handed, strict=True) if its],
        )

    def _ways(self, foot_number: int, foot: FootState, way: Way) -> _Way | None:
        """The cheapest thing that one foot can do with its part of a choice."""
        known, which = self._known[foot_number], (foot, way)
        try:
            return known[which]
        except KeyError:
            first = known[which] = _Way.first(self._found(foot_number, foot, way, may_fail=self.may_fail))
            return first

    def _found(
        self, foot_number: int, foot: FootState, way: Way, kinds: Kinds | None = None, may_fail: bool = False
    ) -> Iterator[_Way]:
        group, work = self.music.groups[foot_number], self.work
        turn = group.turn(foot.stand, way)
        steps = work.steps(foot, way, turn, group, self.number, self._one_of, kinds)
        step = next(steps, None)
        given_up = step is None and may_fail
        if given_up:
            step = work.forced(foot, way, group, self.number, self._one_of)
        while step is not None:
            more, new, moves = step
            ahead = self.music.ahead(self.number + 1, foot_number, new.stand)
            yield _Way(turn.price + more, ahead, new, moves, given_up)
            step = next(steps, None)

    def _worse(self, feet: tuple[FootState, FootState], price: int, given_up: int, kept: list[State]) -> bool:
        """Whether a better one of the states kept can turn itself into this one."""
        left, right = feet
        to_left, to_right = self._costs.setdefault(left, {}), self._costs.setdefault(right, {})
        turning = self.work.turning
        for good in kept[:COMPARED]:
            cost = to_left.get(good.left)
            if cost is None:
                cost = to_left[good.left] = turning(good.left, left)
            if cost == NEVER:
                continue
            its = to_right.get(good.right)
            if its is None:
                its = to_right[good.right] = turning(good.right, right)
            if its != NEVER and good.price + IMPOSSIBLE * (good.given_up > given_up) + cost + its <= price:
                return True
        return False
