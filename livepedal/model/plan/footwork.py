"""What one foot can do for an attack, in the search for the plan.

A pedal change may be made in four ways, quiet or audible, at ease or tight; each has its own window of starts, its own
distance from the change before it, and its own price. A foot that cannot play an attack does what the verdict has it do
(readings.py): it owes nothing, and its letters that were free early enough to be changed for it may stand anywhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import product
from operator import itemgetter
from typing import TypeAlias

from livepedal.harp import Player
from livepedal.model.feet.chords import Way
from livepedal.model.feet.covering import contained
from livepedal.model.feet.forgetting import quiet_until
from livepedal.model.feet.free import LONG_AGO, FreeRule
from livepedal.model.feet.letters import UNSET
from livepedal.model.plan.orders import possible, settled
from livepedal.model.plan.prepared import Music
from livepedal.model.plan.prices import AUDIBLE, NEVER, TIGHT, step
from livepedal.model.plan.stands import (
    FREE,
    FootPedals,
    FootState,
    FootStep,
    Move,
    Moves,
    OneOf,
    Times,
    after_pluck,
    later,
    the_one,
)

# What one foot does for one attack: what that costs more than its turn, its new state, and its moves.
Step: TypeAlias = tuple[int, FootState, Moves]
# For each letter that must move the changes that can bring it there.
Kinds: TypeAlias = list[list[Move]]


def at_ease(player: Player, relaxed: Player) -> tuple[tuple[int, ...], int]:
    """The lead by notches and the cycle (µs) of a change at ease.

    Such a change keeps within this player's own figures and within the relaxed one's.
    """
    return tuple(map(max, player.leads, relaxed.leads)), max(player.cycle, relaxed.cycle)


PEDALS = 7


class Footwork:
    """The feet of one player in one part.

    relaxed: the slowest player, whose figures say what is tight. slides: whether a change may be audible anywhere.
    """

    def __init__(self, music: Music, player: Player, relaxed: Player) -> None:
        self.moments = music.moments
        self.player = player
        self.frees = music.frees(player)
        self.rule = FreeRule.held(player, music.ringing)
        self.lead = player.leads
        self.easy_lead, self.easy_cycle = at_ease(player, relaxed)
        self.margin = max(self.easy_cycle, *self.easy_lead)
        never_tight = (self.lead, player.cycle) == (self.easy_lead, self.easy_cycle)
        # For each number of notches the changes there may be: whether it is tight, its lead, its cycle.
        self._leads = [
            ((False, easy, self.easy_cycle), (True, lead, player.cycle))[: 2 - never_tight]
            for easy, lead in zip(self.easy_lead, self.lead, strict=True)
        ]
        self.slides = False
        self.across = player.reach_across
        # What follows the window of a change that nobody makes: its pedal is next to no other, so it is never paired.
        self._more = ((self.easy_cycle, *((-PEDALS,) if player.two_at_once else ())),) * PEDALS
        self.possible = lru_cache(maxsize=4_096)(possible)

    # -- one attack ----------------------------------------------------------------------------------------------------

    def steps(
        self,
        foot: FootState,
        way: Way,
        turn: FootStep,
        group: FootPedals,
        number: int,
        one_of: OneOf,
        kinds: Kinds | None = None,
    ) -> Iterator[Step]:
        """Every way for one foot to make the changes that its notes of the attack need, the cheapest first.

        Args:
            foot: before the attack.
            way: its notes of the attack.
            turn: the changes that these need.
            group: its pedals.
            number: of the attack.
            one_of: so that equal states are one object.
            kinds: of the changes that it makes, where these are not just its own.
        """
        if not way and not kinds:
            yield 0, foot, ()
            return
        if kinds is None:
            kinds = self.kinds(foot.times, way, turn, number, group)
        then = self._ended(foot.times, way, number)
        if not kinds:
            yield 0, the_one(one_of, turn.after, then, foot.owed), ()
            return
        priced = [
            (sum([move.audible for move in moves]), sum([move.tight for move in moves]), moves)
            for moves in product(*kinds)
        ]
        for audible, tight, moves in sorted(priced, key=itemgetter(0, 1)):
            jobs = tuple(sorted([*foot.owed, *[move.window for move in moves]]))
            if self.possible(jobs):
                yield AUDIBLE * audible + TIGHT * tight, the_one(one_of, turn.after, then, jobs), moves

    def kinds(
        self,
        times: tuple[Times, ...],
        way: Way,
        turn: FootStep,
        number: int,
        group: FootPedals,
        across: bool = False,
    ) -> Kinds:
        """For each letter that must move, every kind of change there is time for by itself, the cheapest first.

        Args:
            times: when the letters of the foot are free.
            way: its notes of the attack.
            turn: the changes that these need.
            number: of the attack.
            group: its pedals.
            across: only those that the other foot can make, after the attack before (tracker.py).
        """
        moment = self.moments[number]
        after = self.moments[number - 1] if across and number else LONG_AGO
        found = []
        for index, start, goal in turn.needed:
            since, slid, sounding = times[index]
            if sounding:
                keys = next(keys for letter, _, keys in way if letter == index)
                since = self.rule.free_for(since, sounding, keys, moment)
            pedal, kinds = group.first + index, []
            named = (pedal,) if self.player.two_at_once else ()
            for audible, early in ((False, since), (True, slid)) if slid < since else ((False, since),):
                early = max(early, after)
                for tight, lead, cycle in self._leads[abs(goal - start)]:
                    if early <= moment - lead:
                        job = moment - lead, early, cycle, *named
                        kinds.append(Move(pedal, start, goal, job, audible, tight, True, across))
            found.append(kinds)
        return found

    def _ended(self, times: tuple[Times, ...], way: Way, number: int) -> tuple[Times, ...]:
        """When each letter of a foot is free after an attack."""
        now = list(times)
        frees, moment = self.frees[number], self.moments[number]
        for index, _, keys in way:
            now[index] = after_pluck(now[index], keys, frees, moment)
        return tuple(now)

    def forced(self, foot: FootState, way: Way, group: FootPedals, number: int, one_of: OneOf) -> Step:
        """What a foot does for an attack that it cannot play (readings.py, `force`).

        Its letters stand as the attack needs them, those that were free early enough anywhere, and nothing is owed.
        The rule is the verdict's, but not one function with it: there the letters keep what their strings do and may
        stand anywhere at no price, here they keep when they are free, and what had to move is a move of the plan.
        """
        moment = self.moments[number]
        ready = moment - max(self.lead)
        stands, times, moves = list(foot.stand.positions), list(foot.times), []
        for index, letter in enumerate(times):
            if letter[1] <= ready:
                stands[index], times[index] = UNSET, FREE
        for index, position, _ in way:
            if stands[index] not in (position, UNSET):
                at = moment - self.lead[abs(position - stands[index])]
                move = Move(group.first + index, stands[index], position, (at, at, 0), False, True, False)
                moves.append(move)
            stands[index] = position
        then = self._ended(tuple(times), way, number)
        return 0, the_one(one_of, group.stand(tuple(stands)), then, ()), tuple(moves)

    # -- between attacks -----------------------------------------------------------------------------------------------

    def quiet(self, number: int) -> int:
        """Until when a foot may be quiet before this attack: a change across begins after the one before."""
        return self.moments[number - 1 if self.across and number else number]

    def cut(self, foot: FootState, moment: int) -> FootState:
        """A quiet foot forgets what it owes, and its letters are free at any time (forgetting.py).

        The proof needs that no change of a letter that is not forgotten starts before the limit. So where
        changes may be audible, that must not be either before the string of such a letter may be slid.
        """
        stand, times, owed = foot.key
        starts = [since for since, _, _ in times if since > LONG_AGO] + [job[1] for job in owed]
        if starts and min(starts) <= moment - self.easy_cycle:  # else nothing can be over
            frees = []
            for since, slid, sounding in times:
                free = self.rule.free_for(since, sounding, 0, 0)
                soonest = min(slid, free) if self.slides else self.rule.soonest(since, sounding, moment)
                frees.append((free, soonest))
            limit = quiet_until(moment, frees, owed, self.easy_cycle, self.margin, self._more, self.possible)
            if limit is not None:
                letters = zip(times, frees, strict=True)
                now = tuple([FREE if free < limit else letter for letter, (free, _) in letters])
                foot = FootState((stand, now, tuple([job for job in owed if job[1] >= limit])))
        if len(foot.owed) < 2:
            return foot
        since = min([moment, *[min(letter[:2]) for letter in foot.times if letter != FREE]])
        owed = settled(foot.owed, since)
        return foot if owed is foot.owed else FootState((stand, foot.times, owed))

    @staticmethod
    def turning(good: FootState, other: FootState) -> int:
        """What it costs at the most to do with `good` whatever `other` can, quietly and at ease.

        NEVER where that is not possible.
        """
        if good is other:
            return 0
        if good.owed and not contained(good.owed, other.owed):
            return NEVER
        spent = 0
        both = zip(good.stand.positions, other.stand.positions, good.times, other.times)  # noqa: B905, as long
        for stands, its, mine, theirs in both:
            if stands == UNSET:
                continue
            if stands == its:
                if mine is not theirs and later(mine, theirs):
                    return NEVER
            elif mine != FREE:
                return NEVER
            else:
                # Its next use may be anywhere, two notches off at the most.
                spent += step(-1, 1) if its == UNSET else step(stands, its)
        return spent
