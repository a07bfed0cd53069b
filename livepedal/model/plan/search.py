"""The search behind the plan: the cheapest path through the attacks of a part (prices.py says what costs what).

A state holds what the verdict search's readings hold (readings.py), for both feet, but remembers every
pedal's position, for each move has a price. A pedal change may be made in four ways, quiet or audible, at
ease or tight; each has its own window of starts and its own distance from the change before it, and its own
price. As there, a quiet foot forgets what it owes (here its letters stay where they are, free to be changed
at ease at any time), and a state goes when another one can turn itself into it, quietly and at ease, without
paying more. Both rules keep the best path.

Where something cannot be played, the search may give up an attack that could be played by itself for the sake of
others. Otherwise a spelling that somebody asks for could be cheaper than the best plan. So an impossible change need
not stand at a finding.

States are looked at in the order of the least that a whole path through them can cost (prepared.py), and no way to
play an attack before its turn comes. Music in which the written names can be played at ease therefore takes one look
an attack, and is proved the best. Where they cannot, the search goes back a while and keeps many states, until it is
past the place. Where that may not be the best, `bounded` counts the attacks at which states were dropped.
"""

from __future__ import annotations

from heapq import heapify, heappop, heappush
from itertools import pairwise, product
from typing import NamedTuple, TypeAlias

from livepedal.harp import Player, Setting
from livepedal.model.feet.chords import Way
from livepedal.model.feet.free import FreeRule
from livepedal.model.feet.readings import LONG_AGO, UNSET
from livepedal.model.plan.orders import Job, possible
from livepedal.model.plan.prepared import Music
from livepedal.model.plan.prices import AUDIBLE, CHANGE, IMPOSSIBLE, NAME, NEVER, TIGHT, step
from livepedal.model.plan.stands import (
    FREE,
    FootState,
    Group,
    Move,
    Moves,
    OneOf,
    Stand,
    Times,
    Turn,
    held,
    held_for,
    plucked,
)

# One state is followed while the written names can be played at ease. Where an attack costs this much more, the search
# goes back so many attacks, keeps so many states, and goes on with them for ON attacks.
LOOKS = ((NAME, 16, 8), (AUDIBLE, 40, 32))
ON = 12
ALIKE = 4  # and of these so many with the pedals standing the same, so that there are some that are unlike
COMPARED = 40  # a state is held against so many of the best ones


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


_Costs: TypeAlias = dict[tuple[FootState, FootState], int]
# What one foot does for one attack: what that costs more than its turn, its new state, and its moves.
Step: TypeAlias = tuple[int, FootState, Moves]
# What is still to be looked at, in order: the least that it can cost, a running number, and what it is: a choice of a
# state, not looked at or with its turns, or steps of both feet.
_Todo: TypeAlias = tuple[int, int, "_Untold | _Told | _Steps"]


class _Untold(NamedTuple):
    place: int  # of the state
    number: int  # of the choice


class _Told(NamedTuple):
    place: int
    number: int
    price: int  # of the path with the choice and its turns, but without what its changes cost more
    left: Turn
    right: Turn
    broken: bool  # whether the attack is given up


class _Steps(NamedTuple):
    told: _Told
    left: Step
    right: Step


def at_ease(player: Player, relaxed: Player) -> tuple[tuple[int, ...], int]:
    """The lead by notches and the cycle (µs) of a change at ease: within this player's own figures and within
    the relaxed one's.
    """
    return tuple(map(max, player.leads, relaxed.leads)), max(player.cycle, relaxed.cycle)


class Search:
    """The search for the best path of one player through one part.

    relaxed: the slowest player, whose figures say what is tight.
    """

    def __init__(self, music: Music, player: Player, relaxed: Player) -> None:
        self.music = music
        self.player = player
        self.frees = music.frees(player)
        self.rule = FreeRule.held(player, music.ringing)
        self.lead = player.leads
        self.easy_lead, self.easy_cycle = at_ease(player, relaxed)
        self.margin = max(self.easy_cycle, *self.easy_lead)
        self._never_tight = (self.lead, player.cycle) == (self.easy_lead, self.easy_cycle)
        self.bounded = 0
        self.slides = False  # whether a change may be audible anywhere
        self._placed: dict[tuple[Job, ...], bool] = {}

    def first(self, start: Setting | None, start_us: int) -> State:
        """Both feet before the music: their letters set at a moment (µs), or in whatever position is wanted
        first.
        """
        positions = start.positions if start else (None,) * 7
        feet = []
        least = self.music.rest[0]
        for number, group in enumerate(self.music.groups):
            mine = positions[group.first : group.first + group.count]
            times = tuple(FREE if position is None else (start_us, start_us, ()) for position in mine)
            stand = group.stand(tuple(UNSET if position is None else int(position) for position in mine))
            least += self.music.ahead(0, number, stand)
            feet.append(FootState((stand, times, ())))
        return State(least, 0, feet[0], feet[1], None, (), (), (), ())

    # -- whole paths ---------------------------------------------------------------------------------------------------

    def quick(self, first: State, far: bool = True) -> State:
        """The end of a cheap path. far: whether to go back far at hard places."""
        state, number = first, 0
        while number < len(self.music.moments):
            (after,) = self.step([state], number, 1)
            better = None
            for spared, back, most in LOOKS if far else LOOKS[:1]:
                # What it costs here may be spared by what was done before.
                if better is None and after.least - state.least >= spared:
                    begin, calm = self._calm(state, number, back)
                    better = self._through([calm], begin, number + ON, most, after.least)
            if better is not None:
                state, number = better, min(number + ON, len(self.music.moments))
                continue
            state, number = after, number + 1
        return state

    def _through(self, states: list[State], begin: int, end: int, most: int, limit: int) -> State | None:
        """The best state after some attacks that is found below `limit`, if there is one."""
        for number in range(begin, min(end, len(self.music.moments))):
            states = self.step(states, number, most, limit)
            if not states:
                return None
        return states[0]

    def _calm(self, state: State, number: int, back: int) -> tuple[int, State]:
        """The last attack up to this one before which nothing was owed and every string was free, and the state there;
        at most `back` attacks ago.
        """
        begin = number
        while state.before is not None and begin > number - back:
            feet = [self._cut(foot, self.music.moments[begin]) for foot in (state.left, state.right)]
            if all(not foot.owed and all(times == FREE for times in foot.times) for foot in feet):
                break
            begin, state = begin - 1, state.before
        return begin, state

    def whole(self, first: State, most: int, limit: int, effort: int) -> State | None:
        """The best path of all that cost less than `limit`; None where there is none, or where that is not known
        (`bounded`). effort: how many steps to look at, at the most.
        """
        states = [first]
        for number in range(len(self.music.moments)):
            states = self.step(states, number, most, limit, most, effort)
            effort -= self.looked
            if not states:
                return None
        return states[0]

    # -- one attack ----------------------------------------------------------------------------------------------------

    def step(
        self,
        states: list[State],
        number: int,
        most: int,
        limit: int = NEVER,
        alike: int = ALIKE,
        effort: int | None = None,
    ) -> list[State]:
        """The states after one attack: at most `most` of them, those that can end below `limit`, the best first; at
        most `alike` of them with the pedals standing the same. effort: how many steps to look at; none are left where
        that is not enough.
        """
        music = self.music
        moment = music.moments[number]
        choices = music.choices[number]
        extra = IMPOSSIBLE if music.left_out[number] else 0
        rest = music.rest[number + 1]
        one_of: OneOf = {}
        settled: dict[FootState, FootState] = {}
        steps: tuple[dict[tuple[FootState, Way], list[Step]], ...] = ({}, {})
        forced: tuple[dict[tuple[FootState, Way], list[Step]], ...] = ({}, {})
        feet: list[tuple[FootState, FootState]] = []
        todo: list[_Todo] = []
        serial = 0
        for place, state in enumerate(states):
            left, right = state.left, state.right
            for foot in (left, right):
                if foot not in settled:
                    quiet = self._cut(foot, moment)
                    settled[foot] = one_of.setdefault(quiet.key, quiet)
            feet.append((settled[left], settled[right]))
            todo.append((state.price + extra + choices[0].price + rest, serial, _Untold(place, 0)))
            serial += 1
        heapify(todo)
        seen: set[tuple[FootState, FootState]] = set()
        kept: list[State] = []
        costs: _Costs = {}
        standing: dict[tuple[Stand, Stand], int] = {}
        self.looked = 0
        while todo:
            least, _, item = heappop(todo)
            if least >= limit:
                break
            if isinstance(item, _Steps):
                told, one, other = item
                pair = one[1], other[1]
                if pair in seen:
                    continue
                seen.add(pair)
                price = told.price + one[0] + other[0]
                stands = one[1].stand, other[1].stand
                if standing.get(stands, 0) == alike or self._worse(pair, price, kept, costs):
                    continue
                standing[stands] = standing.get(stands, 0) + 1
                if len(kept) == most:
                    self.bounded += 1
                    break
                choice = choices[told.number]
                before = states[told.place]
                kept.append(State(least, price, *pair, before, choice.left, one[2], choice.right, other[2]))
                if most == 1:
                    self.bounded += 1
                    break
                continue
            if self.looked == effort:
                self.bounded += 1
                return []
            self.looked += 1
            left, right = feet[item.place]
            choice = choices[item.number]
            if isinstance(item, _Untold):
                if item.number + 1 < len(choices):
                    more = least + choices[item.number + 1].price - choice.price
                    heappush(todo, (more, serial, _Untold(item.place, item.number + 1)))
                    serial += 1
                turn, its = (
                    music.groups[0].turn(left.stand, choice.left),
                    music.groups[1].turn(right.stand, choice.right),
                )
                price = states[item.place].price + extra + choice.price + turn.price + its.price
                least = (
                    price
                    + rest
                    + music.ahead(number + 1, 0, turn.after)
                    + music.ahead(number + 1, 1, its.after)
                )
                heappush(todo, (least, serial, _Told(item.place, item.number, price, turn, its, False)))
                serial += 1
                continue
            ways = ((0, left, choice.left, item.left), (1, right, choice.right, item.right))
            able: list[list[Step]] = []
            for foot_number, foot, way, turn in ways:
                known = steps[foot_number].get((foot, way))
                if known is None:
                    known = steps[foot_number][foot, way] = self._steps(
                        foot, way, turn, music.groups[foot_number], number, one_of
                    )
                able.append(known)
            lefts, rights = able
            if not item.broken:
                # An attack may be given up even where it could be played, for the sake of others.
                heappush(todo, (least + IMPOSSIBLE, serial, item._replace(broken=True)))
                serial += 1
                pairs = [*product(lefts, rights)]
            else:
                given_up = []
                for (foot_number, foot, way, turn), known in zip(ways, able, strict=True):
                    found = forced[foot_number].get((foot, way))
                    if found is None:
                        found = []
                        if not known:
                            found = [self._forced(foot, way, turn, music.groups[foot_number], number, one_of)]
                        forced[foot_number][foot, way] = found
                    given_up.append(found)
                none, neither = given_up
                pairs = [*product(lefts, neither), *product(none, rights), *product(none, neither)]
                item = item._replace(price=item.price + IMPOSSIBLE)
            for one, other in pairs:
                heappush(todo, (least + one[0] + other[0], serial, _Steps(item, one, other)))
                serial += 1
        return kept

    def _ended(self, foot: FootState, way: Way, group: Group, number: int) -> tuple[Times, ...]:
        """When each letter of a foot is free after an attack."""
        now = list(foot.times)
        frees, moment = self.frees[number], self.music.moments[number]
        for index, pitches in group.struck(way):
            now[index] = plucked(now[index], pitches, frees, moment, self.rule)
        return tuple(now)

    def _steps(
        self, foot: FootState, way: Way, turn: Turn, group: Group, number: int, one_of: OneOf
    ) -> list[Step]:
        """Every way for one foot to make the changes that its notes of the attack need, the cheapest first."""
        if not way:
            return [(0, foot, ())]
        owed = foot.owed
        plans: list[tuple[int, Moves, tuple[Job, ...]]] = [(0, (), owed)]
        if turn.needed:
            plans = []
            for moves in product(*self._kinds(foot.times, way, turn, self.music.moments[number], group)):
                jobs = tuple(sorted([*owed, *[move.window for move in moves]]))
                if self._possible(jobs):
                    price = sum([AUDIBLE * move.audible + TIGHT * move.tight for move in moves])
                    plans.append((price, moves, jobs))
            if len(plans) > 1:
                plans.sort(key=lambda plan: plan[0])
        if not plans:
            return []
        then = self._ended(foot, way, group, number)
        found: list[Step] = []
        for price, moves, jobs in plans:
            key = turn.after, then, jobs
            new = one_of.get(key)
            if new is None:
                new = one_of[key] = FootState(key)
            found.append((price, new, moves))
        return found

    def _kinds(
        self, times: tuple[Times, ...], way: Way, turn: Turn, moment: int, group: Group
    ) -> list[list[Move]]:
        """For each letter that must move every kind of change there is time for by itself, the cheapest first."""
        found = []
        for index, start, goal in turn.needed:
            since, slid = times[index][0], times[index][1]
            if times[index][2]:
                since = held_for(times[index], dict(group.struck(way))[index], moment, self.rule)
            notches = abs(goal - start)
            kinds = []
            for audible, early in ((False, since), (True, slid)) if slid < since else ((False, since),):
                for tight, lead, cycle in (
                    (False, self.easy_lead[notches], self.easy_cycle),
                    (True, self.lead[notches], self.player.cycle),
                ):
                    if early <= moment - lead and not (tight and self._never_tight):
                        job = moment - lead, early, cycle
                        kinds.append(Move(group.first + index, start, goal, job, audible, tight, True))
            found.append(kinds)
        return found

    def _forced(
        self, foot: FootState, way: Way, turn: Turn, group: Group, number: int, one_of: OneOf
    ) -> Step:
        """For an attack that this foot cannot play: its letters as it needs them, nothing owed."""
        moves = []
        for index, start, goal in turn.needed:
            at = self.music.moments[number] - self.lead[abs(goal - start)]
            moves.append(Move(group.first + index, start, goal, (at, at, 0), False, True, False))
        key = turn.after, self._ended(foot, way, group, number), ()
        new = one_of.get(key)
        if new is None:
            new = one_of[key] = FootState(key)
        return 0, new, tuple(moves)

    def _worse(self, pair: tuple[FootState, FootState], price: int, kept: list[State], costs: _Costs) -> bool:
        """Whether a better one of the states can turn itself into this one. costs: what is known of that."""
        for good in kept[:COMPARED]:
            spare = price - good.price
            if spare < 0:
                continue
            for mine, its in ((good.left, pair[0]), (good.right, pair[1])):
                if spare < CHANGE and mine.stand is not its.stand and mine.stand.whole:
                    break  # it takes one change at least
                cost = costs.get((mine, its))
                if cost is None:
                    cost = costs[mine, its] = self._turning(mine, its)
                spare -= cost
                if spare < 0:
                    break
            else:
                return True
        return False

    def _possible(self, jobs: tuple[Job, ...]) -> bool:
        if len(jobs) == 1:
            return jobs[0][1] <= jobs[0][0]
        known = self._placed.get(jobs)
        if known is None:
            if len(self._placed) > 50_000:
                self._placed.clear()
            known = self._placed[jobs] = possible(jobs)
        return known

    def _cut(self, foot: FootState, moment: int) -> FootState:
        """A quiet foot forgets what it owes, and its letters are free at any time (readings.py has the
        proof).

        The proof needs that no change of a letter that is not forgotten starts before the limit. So where
        changes may be audible, that must not be either before the string of such a letter may be slid.
        """
        _, times, owed = foot.key
        frees = [held(letter) for letter in times]
        freed = [free for free in frees if LONG_AGO < free < moment]
        if not freed and not owed:
            return foot
        limits = {moment, *freed}
        # Since when each letter that is not forgotten may be changed at all.
        since = [self._sooner(letter, free, moment) for letter, free in zip(times, frees, strict=True)]
        if since != frees:
            limits.update(
                soon for free, soon in zip(frees, since, strict=True) if LONG_AGO < soon < moment <= free
            )
        elif not owed:
            return self._cut_free(foot, moment, freed)
        for job in owed:
            if job[1] < moment:
                limits.add(job[1])
        # At the last of them nothing lies before, so there is nothing to forget.
        for limit, before in pairwise(sorted(limits, reverse=True)):
            over, ready = limit - self.easy_cycle, limit - self.margin
            if before > over:
                continue  # what begins then is not over, and what may be slid then may not be
            must: list[Job] = []
            fits = True
            for job in owed:
                if job[1] < limit:
                    if job[1] > over:
                        fits = False
                        break
                    must.append((min(job[0], over), job[1], job[2]))
            if not fits:
                continue
            for free, soon in zip(frees, since, strict=True):
                if soon < limit <= free:
                    fits = False
                    break
                if LONG_AGO < free < limit:
                    if free > ready:
                        fits = False
                        break
                    must.append((ready, free, self.easy_cycle))
            if fits and must and self._possible(tuple(sorted(must))):
                return self._forgetful(foot, limit)
        return foot

    def _cut_free(self, foot: FootState, moment: int, freed: list[int]) -> FootState:
        """The same where nothing is owed and nothing may slide: the letters all have the same deadline, so
        they are changed as they come free.
        """
        freed.sort()
        limit = moment
        while freed:
            before = freed[-1]
            ready = limit - self.margin
            if before <= ready:
                start = LONG_AGO
                for free in freed:
                    start = max(free, start + self.easy_cycle)
                if start <= ready:
                    return self._forgetful(foot, limit)
            limit = before
            while freed and freed[-1] == limit:
                freed.pop()
        return foot

    def _sooner(self, times: Times, free: int, moment: int) -> int:
        """Since when (µs) a letter may be changed for an attack at `moment` or later, whichever that plucks."""
        if self.slides:
            return min(times[1], free)
        since = times[0]
        for _, struck, late in times[2]:
            since = max(since, self.rule.damped(late, struck, moment))
        return since

    @staticmethod
    def _forgetful(foot: FootState, limit: int) -> FootState:
        stand, times, owed = foot.key
        now = tuple([FREE if held(letter) < limit else letter for letter in times])
        return FootState((stand, now, tuple([job for job in owed if job[1] >= limit]) if owed else ()))

    @staticmethod
    def _turning(good: FootState, other: FootState) -> int:
        """What it costs at the most to do with `good` whatever `other` can, quietly and at ease; NEVER where
        that is not possible.
        """
        if good is other:
            return 0
        spent = 0
        count = len(good.stand.positions)
        mine, theirs = good.times, other.times
        if good.stand is other.stand:
            for index in range(count):
                if _later(mine[index], theirs[index]) and (good.stand.positions[index] != UNSET):
                    return NEVER
        else:
            places = other.stand.positions
            for index, position in enumerate(good.stand.positions):
                their = places[index]
                if position == their:
                    if _later(mine[index], theirs[index]) and (position != UNSET):
                        return NEVER
                elif position != UNSET:
                    if mine[index] != FREE:
                        return NEVER
                    # Its next use may be anywhere, two notches off at the most.
                    spent += step(-1, 1) if their == UNSET else step(position, their)
        my_jobs, their_jobs = good.owed, other.owed
        if my_jobs and my_jobs != their_jobs:
            if len(my_jobs) > len(their_jobs):
                return NEVER
            left = list(their_jobs)
            for job in my_jobs:
                for partner in left:
                    if partner[0] <= job[0] and partner[1] >= job[1] and partner[2] >= job[2]:
                        left.remove(partner)
                        break
                else:
                    return NEVER
        return spent


def _later(mine: Times, its: Times) -> bool:
    """Whether a letter may be free later than the other."""
    return mine != its and (
        mine[0] > its[0]
        or mine[1] > its[1]
        or not all(late in its[2] or late[2] <= its[0] for late in mine[2])
    )
