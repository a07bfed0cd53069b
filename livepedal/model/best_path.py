"""The search behind the plan: the cheapest path through the attacks of a part.

A state holds what the verdict search's readings hold (readings.py), for both feet, but remembers every
pedal's position, for each move has a price. A pedal change may be made in four ways, quiet or audible, at
ease or tight; each has its own window of starts and its own distance from the change before it, and its own
price. As there, a quiet foot forgets what it owes (here its letters stay where they are, free to be changed
at ease at any time), and a state goes when another one can turn itself into it, quietly and at ease, without
paying more. Both rules keep the best path. Where more states are left than a search may keep, those go that
would cost the most with the least that is still to come (ahead.py); how often is counted in `bounded`.

What a part brings along is made ready beforehand (prepared.py, stands.py). Paths keep only what the plan needs
of them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from itertools import pairwise
from operator import itemgetter
from typing import TypeAlias

from livepedal.harp import Player, Setting
from livepedal.model.chords import Sharing, Way
from livepedal.model.orders import Job, possible
from livepedal.model.prepared import NOWHERE, Music, Path, Run, Shared, State, States
from livepedal.model.prices import AUDIBLE, CHANGE, IMPOSSIBLE, NEVER, NOTCH, TIGHT
from livepedal.model.readings import LONG_AGO, UNSET
from livepedal.model.stands import FootState, Group, Move, Moves, OneOf, Stand

# The quick search keeps one state while there is time for what costs the least in the end (ahead.py), and KEPT of them
# for WIDE attacks from where there is not. Where it is stuck it goes back so many attacks and keeps so many (BACK).
KEPT = 3
WIDE = 12
BACK = ((12, 24), (40, 80))
# In music of up to so many attacks what was found at ease is kept for the other players (some 2 kB an attack).
SHARED = 5_000
# The search for the cheapest of all gives up when it has looked at so many pairs of a state and a way (some 3 s), each
# foot's changes to put in order counting as so many for each of them.
WORK = 200_000
ORDER = 0.5
COMPARED = 40  # a state is held against so many of the best ones

# What a search may resort to at one attack, in this order.
EASE, QUICK, HEARD, BROKEN = range(4)

# What one foot does for one attack: its new state, the price, the way, and its moves.
Step: TypeAlias = tuple[FootState, int, Way, Moves]
# A way to go on, before it is made a state: its price, the path before, the steps of both feet, and the least price of
# a whole path that it begins.
_Onward: TypeAlias = tuple[int, Path, Step, Step, int]
# The ways of one foot for an attack, the ends of their notes (`_ends`), and the steps known so far.
_Half: TypeAlias = tuple[tuple[Way, ...], list[list[tuple[int, int, int]]], dict[FootState, list[Step]]]


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
        self.lead = player.leads
        self.easy_lead, self.easy_cycle = at_ease(player, relaxed)
        self.margin = max(self.easy_cycle, *self.easy_lead)
        self._never_tight = (self.lead, player.cycle) == (self.easy_lead, self.easy_cycle)
        self.bounded = 0
        self.slides = False  # whether the search at hand may resort to audible changes
        self._work = 0.0  # of the search for the cheapest of all
        self._placed: dict[tuple[Job, ...], bool] = {}

    def first(self, start: Setting | None, start_us: int) -> tuple[FootState, FootState]:
        """Both feet before the music: their letters set at a moment (µs), or in whatever position is wanted
        first.
        """
        positions = start.positions if start else (None,) * 7
        feet = []
        for group in (self.music.left, self.music.right):
            mine = positions[group.first : group.first + group.count]
            times = tuple(LONG_AGO if position is None else start_us for position in mine)
            stand = group.stand(tuple(UNSET if position is None else int(position) for position in mine))
            feet.append(FootState((stand, times + times, ())))
        return feet[0], feet[1]

    # -- whole paths ---------------------------------------------------------------------------------------------------

    def quick(
        self, first: tuple[FootState, FootState], expected: Mapping[int, int] | None, far: bool = True
    ) -> Path:
        """A cheap path, found with few states: at ease where that is possible, more only where it is not.

        expected: see `Planner.plan`; far: whether to go back far where it is stuck.
        """
        run = self._begin(first)
        while not self._goes_easily(run):
            expect = EASE if expected is None else expected.get(self.music.moments[run.number], EASE)
            for level in range(QUICK, BROKEN + 1):
                # To go back is no other for QUICK than for EASE.
                if level > expect and (level != HEARD or expect == QUICK):
                    states = self._back_again(run, level - 1, BACK if far else BACK[:1])
                    if states:
                        break
                states = self._step(run.before[-1], run.number, level, KEPT)
                if states:
                    break
            run.states = states
            run.number += 1
        return min([path for _, _, path in run.states], key=itemgetter(0))

    def _begin(self, first: tuple[FootState, FootState]) -> Run:
        """The search at ease up to where it is stuck: the same for all players who are as slow at their ease."""
        key = *self._at_ease, first[0].key, first[1].key
        run = self.music.begun.get(key)
        if run is not None:
            self.bounded += run.bounded
        else:
            bounded = self.bounded
            run = Run(deque(maxlen=BACK[-1][0]), [(*first, NOWHERE)], 0, 0, 0)
            while not self._goes_easily(run):
                states = self._back_again(run, EASE, BACK[:1], EASE)
                if not states:
                    run.states = run.before.pop()
                    break
                run.states = states
                run.number += 1
            run.bounded = self.bounded - bounded
            self.music.begun[key] = run
        return Run(run.before.copy(), run.states, run.number, run.wide, run.bounded)

    @property
    def _at_ease(self) -> tuple[object, ...]:
        """All that tells searches at ease through the same music apart."""
        return self.easy_lead, self.easy_cycle, self.player.overlap, self.player.grip, self.slides

    def _goes_easily(self, run: Run) -> bool:
        """Go on at ease; whether that comes to the end. Where it is stuck at an attack, the states before that are
        the last ones.
        """
        shared = None
        if len(self.music.moments) <= SHARED:
            shared = self.music.shared.setdefault(self._at_ease, {})
        for number in range(run.number, len(self.music.moments)):
            run.number = number
            run.before.append(run.states)
            if number >= run.wide:
                walked = self._walk(run.states[0], number)
                if walked is not None:
                    run.states = [walked]
                    continue
                run.wide = number + WIDE
            run.states = (
                self._easy_step(run.states, number, KEPT)
                if shared is None
                else self._shared(run.states, number, shared)
            )
            if not run.states:
                return False
        run.number = len(self.music.moments)
        return True

    def _back_again(
        self, run: Run, level: int, farther: Sequence[tuple[int, int]], usually: int = QUICK
    ) -> States:
        """The states after the attack where it is stuck without resorting to more than `level` there, from a while
        back and with more states; `usually`: what it may resort to anyway.
        """
        before, number = run.before, run.number
        for back, most in farther:
            back = min(back, len(before))
            states = before[-back]
            found = [states]
            for again in range(number - back + 1, number + 1):
                usual = min(HEARD, level) if again < number else level
                states = self._step(states, again, max(usual, usually), most)
                if not states:
                    break
                found.append(states)
            if states:
                for place, known in enumerate(found[:-1]):
                    before[len(before) - back + place] = known
                price = self.music.price
                states.sort(key=lambda s: s[2][0] + price(number + 1, s[0].stand, s[1].stand))
                return states[: 4 * KEPT]
            if back == len(before):
                break
        return []

    def whole(self, first: tuple[FootState, FootState], most: int, limit: int) -> Path | None:
        """The cheapest path of all below `limit`, unless some states had to be dropped (`bounded`); None
        where there is none, or where finding it is too much work.
        """
        states: States = [(*first, NOWHERE)]
        # What a path below this price may resort to at all.
        level = (
            BROKEN if limit > IMPOSSIBLE else HEARD if limit > AUDIBLE else QUICK if limit > TIGHT else EASE
        )
        self._work = 0.0
        for number, ways in enumerate(self.music.ways):
            self._work += len(states) * sum([len(sharing.left) * len(sharing.right) for sharing in ways])
            if self._work > WORK:
                self.bounded += 1
                return None
            states = self._step(states, number, level, most, limit)
            if not states:
                return None
        return min([path for _, _, path in states], key=itemgetter(0))

    # -- one attack ----------------------------------------------------------------------------------------------------

    def _walk(self, state: State, number: int) -> State | None:
        """The state after one attack at ease that costs the least in the end, were there time for everything; None
        where there is no time for it.
        """
        left, right, path = state
        music = self.music
        left_group, right_group = music.left, music.right
        moment = music.moments[number]
        left, right = self._cut(left, moment), self._cut(right, moment)
        # (least price from here on, the choice, numbers of both turns)
        best: tuple[int, Sharing, int, int] | None = None
        for sharing in music.ways[number]:
            mine, its = left_group.apt(left.stand, sharing.left), right_group.apt(right.stand, sharing.right)
            turns = left.stand.turns[id(sharing.left)]
            others = right.stand.turns[id(sharing.right)]
            for one in mine:
                for other in its:
                    turn, its_turn = turns[one], others[other]
                    price = turn.price + its_turn.price + music.price(number + 1, turn.after, its_turn.after)
                    if best is None or price < best[0]:
                        best = price, sharing, one, other
        assert best is not None  # what no setting holds was left out of the attack
        _, sharing, one, other = best
        first = self._easy(left, sharing.left, one, left_group, number, moment, {})
        if first is None:
            return None
        second = self._easy(right, sharing.right, other, right_group, number, moment, {})
        if second is None:
            return None
        price = path[0] + first[1] + second[1] + (IMPOSSIBLE if music.left_out[number] else 0)
        return first[0], second[0], Path(price, path, first[2], first[3], second[2], second[3])

    def _shared(self, states: States, number: int, shared: Shared) -> States:
        """`_easy_step`, looked up where another player's search was in the same states.

        At ease all players are as slow as the slowest, and only differences between prices matter.
        """
        base = states[0][2][0]
        seen = number, tuple([(left.key, right.key, path[0] - base) for left, right, path in states])
        known = shared.get(seen)
        if known is None:
            bounded = self.bounded
            after = self._easy_step(states, number, KEPT)
            places = {id(path): place for place, (_, _, path) in enumerate(states)}
            shared[seen] = (
                [
                    (left, right, path[0] - base, places[id(path.before)], path._replace(before=None))
                    for left, right, path in after
                ],
                self.bounded - bounded,
            )
            return after
        found, bounded = known
        self.bounded += bounded
        return [
            (left, right, step._replace(price=base + more, before=states[place][2]))
            for left, right, more, place, step in found
        ]

    def _easy_step(self, states: States, number: int, most: int, limit: int | None = None) -> States:
        """The states after one attack at ease: the same as `_step` gives, with less work.

        At ease there is one way to make a change, so what a state will cost at the least is known before it
        is known whether there is time for it. They are looked at in that order, until there are enough.
        """
        music = self.music
        left_group, right_group = music.left, music.right
        moment = music.moments[number]
        after = number + 1
        below = NEVER if limit is None else limit
        extra = IMPOSSIBLE if music.left_out[number] else 0
        one_of: OneOf = {}
        settled: dict[FootState, FootState] = {}
        choices = music.ways[number]
        feet: list[tuple[FootState, FootState, Path]] = []
        # (least price of a whole path, running number, number of the state, of the choice, of both turns)
        candidates: list[tuple[int, int, int, int, int, int]] = []
        least_of: dict[tuple[Stand, Stand], int] = {}
        least = music.ahead.least
        for place, (left, right, path) in enumerate(states):
            quiet = settled.get(left)
            if quiet is None:
                quiet = self._cut(left, moment)
                quiet = settled[left] = one_of.setdefault(quiet.key, quiet)
            left = quiet
            quiet = settled.get(right)
            if quiet is None:
                quiet = self._cut(right, moment)
                quiet = settled[right] = one_of.setdefault(quiet.key, quiet)
            right = quiet
            feet.append((left, right, path))
            base = path[0] + extra
            for choice, sharing in enumerate(choices):
                rights = right_group.turns(right.stand, sharing.right)
                for one, (_, price, _, mine) in enumerate(left_group.turns(left.stand, sharing.left)):
                    so_far = base + price
                    for other, (_, more, _, its) in enumerate(rights):
                        there = mine, its
                        ahead = least_of.get(there)
                        if ahead is None:
                            ahead = least_of[there] = least(after, mine.code, its.code)
                        whole = so_far + more + ahead
                        if whole < below:
                            candidates.append((whole, len(candidates), place, choice, one, other))
        candidates.sort()
        known: dict[tuple[FootState, int, int], Step | None] = {}
        seen: set[tuple[FootState, FootState]] = set()
        found: list[_Onward] = []
        kept: list[_Onward] = []
        worse = self._worse
        costs: tuple[dict[tuple[FootState, FootState], int], dict[tuple[FootState, FootState], int]] = {}, {}
        for at_least, _, place, choice, one, other in candidates:
            left, right, path = feet[place]
            sharing = choices[choice]
            play = left, choice, one
            if play in known:
                first = known[play]
            else:
                first = known[play] = self._easy(left, sharing.left, one, left_group, number, moment, one_of)
            if first is None:
                continue
            play = right, choice, other
            if play in known:
                second = known[play]
            else:
                second = known[play] = self._easy(
                    right, sharing.right, other, right_group, number, moment, one_of
                )
            if second is None:
                continue
            pair = first[0], second[0]
            if pair in seen:
                continue
            seen.add(pair)
            item = path[0] + extra + first[1] + second[1], path, first, second, at_least
            found.append(item)
            if len(found) <= most:
                continue
            # There are more than may be kept: what a better one can turn into goes.
            for new in found if len(found) == most + 1 else (item,):
                if not worse(new, kept, costs):
                    if len(kept) == most:
                        break
                    kept.append(new)
            else:
                continue
            self.bounded += 1
            break
        if len(found) <= most:
            kept = found
        return [
            (one[0], other[0], Path(price, path, one[2], one[3], other[2], other[3]))
            for price, path, one, other, _ in kept
        ]

    def _easy(
        self,
        foot: FootState,
        options: tuple[Way, ...],
        number: int,
        group: Group,
        attack: int,
        moment: int,
        one_of: OneOf,
    ) -> Step | None:
        """What one foot does to play the way of this number at ease; None where it has no time."""
        stand, times, owed = foot.key
        way, price, needed, after = stand.turns[id(options)][number]
        if not way:
            return foot, 0, way, ()
        moves: Moves = ()
        jobs = owed
        if needed:
            cycle = self.easy_cycle
            for index, start, goal in needed:
                early = times[index]
                latest = moment - self.easy_lead[abs(goal - start)]
                if early > latest:
                    return None
                job = latest, early, cycle
                moves += (Move(group.first + index, start, goal, job, False, False, True),)
                jobs += (job,)
            if len(jobs) > 1:
                jobs = tuple(sorted(jobs))
                if not self._possible(jobs):
                    return None
        now = list(times)
        count = group.count
        for index, held, slid in self._ends_of(group.struck(options)[number], attack):
            if held > now[index]:
                now[index] = held
            if slid > now[index + count]:
                now[index + count] = slid
        key = after, tuple(now), jobs
        new = one_of.get(key)
        if new is None:
            new = one_of[key] = FootState(key)
        return new, price, way, moves

    def _worse(
        self,
        item: _Onward,
        kept: list[_Onward],
        costs: tuple[dict[tuple[FootState, FootState], int], dict[tuple[FootState, FootState], int]],
    ) -> bool:
        """Whether a better one of the states can turn itself into this one. costs: what is known of that."""
        price, _, one, other, _ = item
        left, right = one[0], other[0]
        left_cost, right_cost = costs
        for good in kept[:COMPARED]:
            spare = price - good[0]
            if spare < CHANGE:
                if spare < 0:
                    continue
                # It takes at least one change where they stand elsewhere.
                stand = good[2][0].stand
                if stand is not left.stand and stand.whole:
                    continue
                stand = good[3][0].stand
                if stand is not right.stand and stand.whole:
                    continue
            pair = good[2][0], left
            cost = left_cost.get(pair)
            if cost is None:
                cost = left_cost[pair] = self._turning(good[2][0], left)
            if cost > spare:
                continue
            pair = good[3][0], right
            more = right_cost.get(pair)
            if more is None:
                more = right_cost[pair] = self._turning(good[3][0], right)
            if cost + more <= spare:
                return True
        return False

    def _step(self, states: States, number: int, level: int, most: int, limit: int | None = None) -> States:
        """The states after one attack, resorting to no more than `level`: at most `most` of them, those that
        can end below `limit`.
        """
        if level == EASE or (level == QUICK and self._never_tight):
            return self._easy_step(states, number, most, limit)
        music = self.music
        left_group, right_group = music.left, music.right
        moment = music.moments[number]
        extra = IMPOSSIBLE if music.left_out[number] else 0
        able = False  # whether the attack can be played at all, at whatever price
        below = NEVER if limit is None else limit
        one_of: OneOf = {}
        settled: dict[FootState, FootState] = {}
        cut = self._cut
        for left, right, _ in states:
            for foot in (left, right):
                if foot not in settled:
                    quiet = cut(foot, moment)
                    settled[foot] = one_of.setdefault(quiet.key, quiet)
        found: dict[tuple[FootState, FootState], _Onward] = {}
        least_of: dict[tuple[Stand, Stand], int] = {}
        least = music.ahead.least
        choices: list[tuple[_Half, _Half]] = [
            (
                (sharing.left, self._ends(left_group, sharing.left, number), {}),
                (sharing.right, self._ends(right_group, sharing.right, number), {}),
            )
            for sharing in music.ways[number]
        ]
        steps = self._steps
        for left, right, path in states:
            left, right = settled[left], settled[right]
            base = path[0] + extra
            for (left_ways, left_ends, known), (right_ways, right_ends, others) in choices:
                lefts = known.get(left)
                if lefts is None:
                    lefts = known[left] = steps(left, left_ways, left_ends, left_group, moment, level, one_of)
                if not lefts:
                    continue
                rights = others.get(right)
                if rights is None:
                    rights = others[right] = steps(
                        right, right_ways, right_ends, right_group, moment, level, one_of
                    )
                able = able or bool(rights)
                for one in lefts:
                    mine = one[0]
                    so_far = base + one[1]
                    for other in rights:
                        key = mine, other[0]
                        price = so_far + other[1]
                        best = found.get(key)
                        if best is not None and price >= best[0]:
                            continue
                        there = mine.stand, other[0].stand
                        ahead = least_of.get(there)
                        if ahead is None:
                            ahead = least_of[there] = least(number + 1, there[0].code, there[1].code)
                        if price + ahead < below:
                            found[key] = price, path, one, other, price + ahead
        # Where the whole is searched, an attack that could be played may be given up for the sake of others.
        if level >= BROKEN and (not able or limit is not None):
            self._broken(states, settled, number, found, one_of)
        order = list(found.values())
        if len(order) > 1 or limit is not None:
            order.sort(key=itemgetter(4))
            if limit is not None:
                order = [item for item in order if item[4] < limit]
            if len(order) > most:
                order = self._best(order, most)
        return [
            (one[0], other[0], Path(price, path, one[2], one[3], other[2], other[3]))
            for price, path, one, other, _ in order
        ]

    def _best(self, order: list[_Onward], most: int) -> list[_Onward]:
        """The first `most` of the states that no better one can turn into."""
        kept: list[_Onward] = []
        costs: tuple[dict[tuple[FootState, FootState], int], dict[tuple[FootState, FootState], int]] = {}, {}
        for item in order:
            if not self._worse(item, kept, costs):
                if len(kept) == most:
                    self.bounded += 1
                    break
                kept.append(item)
        return kept

    def _ends(self, group: Group, options: tuple[Way, ...], number: int) -> list[list[tuple[int, int, int]]]:
        """(index of letter, free when held counts, free when it does not) of the letters of each way."""
        return [self._ends_of(strikes, number) for strikes in group.struck(options)]

    def _ends_of(
        self, strikes: tuple[tuple[int, tuple[int, ...]], ...], number: int
    ) -> list[tuple[int, int, int]]:
        free = self.frees[number]
        ends = []
        for index, pitches in strikes:
            held, slid = free[pitches[0]]
            for pitch in pitches[1:]:
                one, two = free[pitch]
                if one > held:
                    held = one
                if two > slid:
                    slid = two
            ends.append((index, held, slid))
        return ends

    def _steps(
        self,
        foot: FootState,
        options: tuple[Way, ...],
        ends: list[list[tuple[int, int, int]]],
        group: Group,
        moment: int,
        level: int,
        one_of: OneOf,
    ) -> list[Step]:
        """Every way for one foot to play its notes of the attack, with every kind of change it may resort to."""
        stand, times, owed = foot.key
        count = group.count
        found: list[Step] = []
        turns = stand.turns.get(id(options))
        if turns is None:
            turns = group.turns(stand, options)
        for (way, price, needed, after), struck in zip(turns, ends):  # noqa: B905, as long as options
            if not way:
                found.append((foot, 0, way, ()))
                continue
            kinds: Sequence[Moves] = ((),)
            if needed:
                kinds = self._kinds(times, needed, moment, group, level)
                if not kinds:
                    continue
            # A key held from before an audible change goes on to want its string: changing back slides it
            # again.
            now = list(times)
            for index, held, slid in struck:
                if held > now[index]:
                    now[index] = held
                if slid > now[index + count]:
                    now[index + count] = slid
            then = tuple(now)
            for moves in kinds:
                jobs = owed
                cost = price
                if moves:
                    jobs = tuple(sorted([*owed, *[move[3] for move in moves]]))
                    if not self._possible(jobs):
                        continue
                    for move in moves:
                        cost += AUDIBLE * move[4] + TIGHT * move[5]
                key = after, then, jobs
                new = one_of.get(key)
                if new is None:
                    new = one_of[key] = FootState(key)
                found.append((new, cost, way, moves))
        return found

    def _kinds(
        self,
        times: tuple[int, ...],
        needed: tuple[tuple[int, int, int], ...],
        moment: int,
        group: Group,
        level: int,
    ) -> list[Moves]:
        """Every combination of kinds of change for the letters that must move."""
        combinations: list[Moves] = [()]
        first, count = group.first, group.count
        for index, start, goal in needed:
            held, slid = times[index], times[index + count]
            notches = abs(goal - start)
            easy = self.easy_lead[notches], self.easy_cycle
            kinds = [(False, held, False, *easy)]
            quick = self.lead[notches], self.player.cycle
            tight = level >= QUICK and quick != easy
            if tight:
                kinds.append((False, held, True, *quick))
            if slid < held and level >= HEARD:
                kinds.append((True, slid, False, *easy))
                if tight:
                    kinds.append((True, slid, True, *quick))
            moves = [
                Move(first + index, start, goal, (moment - lead, early, cycle), audible, hurried, True)
                for audible, early, hurried, lead, cycle in kinds
                if early <= moment - lead
            ]
            if not moves:
                return []
            combinations = [(*known, move) for known in combinations for move in moves]
        return combinations

    def _broken(
        self,
        states: States,
        settled: dict[FootState, FootState],
        number: int,
        found: dict[tuple[FootState, FootState], _Onward],
        one_of: OneOf,
    ) -> None:
        """The states after an attack that is not played as it should: one foot forced where that is enough, else
        both.
        """
        music = self.music
        moment = music.moments[number]
        groups = music.left, music.right
        for left, right, path in states:
            feet = settled[left], settled[right]
            for sharing in music.ways[number]:
                both = []
                for foot, options, group in zip(feet, (sharing.left, sharing.right), groups, strict=True):
                    ends = self._ends(group, options, number)
                    able = self._steps(foot, options, ends, group, moment, BROKEN, one_of)
                    played = {id(step[2]) for step in able}
                    forced = self._forced(foot, options, ends, group, moment, one_of)
                    both.append((able, [step for step in forced if id(step[2]) not in played]))
                (left_able, left_forced), (right_able, right_forced) = both
                pairs = [(left_able, right_forced), (left_forced, right_able)]
                if not left_able and not right_able and not found:
                    # Where failing with one foot is enough, failing with both is not looked at.
                    pairs.append((left_forced, right_forced))
                base = path[0] + IMPOSSIBLE
                for lefts, rights in pairs:
                    for one in lefts:
                        for other in rights:
                            key = one[0], other[0]
                            price = base + one[1] + other[1]
                            best = found.get(key)
                            if best is None or price < best[0]:
                                ahead = music.price(number + 1, key[0].stand, key[1].stand)
                                found[key] = price, path, one, other, price + ahead

    def _forced(
        self,
        foot: FootState,
        options: tuple[Way, ...],
        ends: list[list[tuple[int, int, int]]],
        group: Group,
        moment: int,
        one_of: OneOf,
    ) -> list[Step]:
        """For an attack that this foot cannot play: its letters as it needs them, nothing owed."""
        stand, times, _ = foot.key
        found: list[Step] = []
        for turn, struck in zip(group.turns(stand, options), ends, strict=True):
            now = list(times)
            for index, held, slid in struck:
                now[index] = max(now[index], held)
                now[index + group.count] = max(now[index + group.count], slid)
            moves = []
            for index, start, goal in turn.needed:
                at = moment - self.lead[abs(goal - start)]
                moves.append(Move(group.first + index, start, goal, (at, at, 0), False, True, False))
            key = turn.after, tuple(now), ()
            new = one_of.get(key)
            if new is None:
                new = one_of[key] = FootState(key)
            found.append((new, turn.price, turn.way, tuple(moves)))
        return found

    def _possible(self, jobs: tuple[Job, ...]) -> bool:
        if len(jobs) == 1:
            return jobs[0][1] <= jobs[0][0]
        known = self._placed.get(jobs)
        if known is None:
            if len(self._placed) > 50_000:
                self._placed.clear()
            self._work += ORDER * len(jobs)
            known = self._placed[jobs] = possible(jobs)
        return known

    def _cut(self, foot: FootState, moment: int) -> FootState:
        """A quiet foot forgets what it owes, and its letters are free at any time (readings.py has the
        proof).

        The proof needs that no change of a letter that is not forgotten starts before the limit. So where
        changes may be audible, that must not be either before the string of such a letter may be slid.
        """
        stand, times, owed = foot.key
        count = len(stand.positions)
        freed = [free for free in times[:count] if LONG_AGO < free < moment]
        if not freed and not owed:
            return foot
        limits = {moment, *freed}
        if self.slides:
            limits.update(
                slid
                for free, slid in zip(times, times[count:])  # noqa: B905, the first half is longer
                if LONG_AGO < slid < moment <= free
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
            for index in range(count):
                free = times[index]
                if self.slides and times[index + count] < limit <= free:
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

    @staticmethod
    def _forgetful(foot: FootState, limit: int) -> FootState:
        stand, times, owed = foot.key
        count = len(stand.positions)
        now = list(times)
        for index in range(count):
            if times[index] < limit:
                now[index] = now[index + count] = LONG_AGO
        return FootState((stand, tuple(now), tuple([job for job in owed if job[1] >= limit]) if owed else ()))

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
                if (mine[index] > theirs[index] or mine[index + count] > theirs[index + count]) and (
                    good.stand.positions[index] != UNSET
                ):
                    return NEVER
        else:
            places = other.stand.positions
            for index, position in enumerate(good.stand.positions):
                their = places[index]
                if position == their:
                    if (mine[index] > theirs[index] or mine[index + count] > theirs[index + count]) and (
                        position != UNSET
                    ):
                        return NEVER
                elif position != UNSET:
                    if mine[index] != LONG_AGO:
                        return NEVER
                    # Its next use may be anywhere, two notches off at the most.
                    spent += CHANGE + NOTCH * (2 if their == UNSET else abs(position - their))
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
