"""The search behind the plan: the cheapest path through the attacks of a part.

A state holds what the verdict search's readings hold (readings.py), for both feet, but remembers every
pedal's position, for each move has a price. A pedal change may be made in four ways, quiet or audible, at
ease or tight; each has its own window of starts and its own distance from the change before it, and its own
price. As there, a quiet foot forgets what it owes (here its letters stay where they are, free to be changed
at ease at any time), and a state goes when another one can turn itself into it, quietly and at ease, without
paying more. Both rules keep the best path. Where more states are left than a search may keep, the dearest are
dropped; how often is counted in `bounded`.

For speed, what does not depend on time is worked out once: the positions of a foot are one object (`Stand`)
that knows what each chord leads to, and the state of a foot is one object (`Foot`) for all equal ones of an
attack, so that states are told apart without comparing them. Paths keep only what the plan needs of them.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from operator import itemgetter
from typing import NamedTuple, TypeAlias

from livepedal.harp import Player, Ringing, Setting
from livepedal.model.ahead import Ahead, code_of, undominated
from livepedal.model.chords import Chords, Narrowing, Sharing, Way, pitches_of, reads
from livepedal.model.prices import AUDIBLE, CHANGE, IMPOSSIBLE, NEVER, NOTCH, TIGHT
from livepedal.model.readings import LONG_AGO, UNSET
from livepedal.model.schedule import earliest_starts
from livepedal.music.attacks import Gathered

# The quick search keeps one state while that costs no more than is needed at the least, and so many for some attacks
# after it did (WIDE). Where it is stuck it goes back so many attacks and keeps more (BACK).
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

# (latest start, earliest start, distance from the change before, tag of the pedal or 0, number of the attack,
# index of letter)
Job = tuple[int, int, int, int, int, int]
# For each pitch of an attack: when its string is free when held counts, and when it does not (µs).
Frees = dict[int, tuple[int, int]]


class Move(NamedTuple):
    """A change that a step makes: the pedal, from, to, and its window."""

    pedal: int
    start: int
    goal: int
    window: tuple[int, int, int]
    audible: bool
    tight: bool
    possible: bool


Moves: TypeAlias = tuple[Move, ...]


class Path(NamedTuple):
    """The end of a path through the attacks: its price, the path before, and what each foot did last."""

    price: int
    before: Path | None
    left_way: Way
    left_moves: Moves
    right_way: Way
    right_moves: Moves


NOWHERE = Path(0, None, (), (), (), ())


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


class Foot:
    """The state of one foot: where it stands, when each letter is free (first when held counts, then when it
    does not, µs), and the changes that it owes.
    """

    __slots__ = ("key", "owed", "stand", "times")

    def __init__(self, key: tuple[Stand, tuple[int, ...], tuple[Job, ...]]) -> None:
        self.key = key
        self.stand, self.times, self.owed = key


# The one object for all equal states of a foot.
OneOf: TypeAlias = "dict[tuple[Stand, tuple[int, ...], tuple[Job, ...]], Foot]"
# What one foot does for one attack: its new state, the price, the way, and its moves.
Step: TypeAlias = tuple[Foot, int, Way, Moves]
# The ways of one foot for an attack, the ends of their notes (`_ends`), and the steps known so far.
_Half: TypeAlias = tuple[tuple[Way, ...], list[list[tuple[int, int, int]]], dict[Foot, list[Step]]]
# The states of both feet that a path leads to, each pair once.
State: TypeAlias = tuple[Foot, Foot, Path]
States: TypeAlias = list[State]


@dataclass(slots=True)
class _Run:
    """A search on its way: the states before each of the last attacks, those before the attack of this number, and
    the attack until which several of them are kept.
    """

    before: deque[States]
    states: States
    number: int
    wide: int


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


# States, told by what makes them equal and their prices above the first one's; with the number of the attack.
_Seen: TypeAlias = tuple[int, tuple[tuple[object, object, int], ...]]
# The states after the attack, each with its price above that of the first one before, the number of the state
# before, and its steps; and whether some were dropped.
_Found: TypeAlias = tuple[list[tuple[Foot, Foot, int, int, Path]], int]
Shared: TypeAlias = dict[_Seen, _Found]


class Music:
    """The attacks of a part as a search needs them, for any player.

    chords: of the instrument; asked: how attacks are to be spelled, by their moment (µs).
    """

    def __init__(
        self,
        attacks: Sequence[Gathered],
        chords: Chords,
        ringing: Ringing,
        asked: Mapping[int, Narrowing] | None = None,
    ) -> None:
        self.attacks = attacks
        self.moments = [attack.us for attack in attacks]
        self.ringing = ringing
        self.ways: list[tuple[Sharing, ...]] = []
        # For each attack the pitches that its ways leave out.
        self.left_out: list[tuple[int, ...]] = []
        for attack in attacks:
            there = chords.narrowed(asked.get(attack.us, ())) if asked else chords
            pitches = [pitch for pitch, _ in attack.notes if there.options[pitch] is not None]
            ways, left_out = there.most_of(pitches)
            if left_out or len(pitches) < len(attack.notes):
                out = [pitch for pitch, _ in attack.notes if there.options[pitch] is None]
                self.left_out.append((*out, *left_out))
            else:
                self.left_out.append(())
            self.ways.append(ways)
        self.left, self.right = Group(0, 3), Group(3, 4)
        self._frees: dict[tuple[int, int], tuple[Frees, ...]] = {}
        # What `Search.quick` found at ease, for searches with the same figures for that.
        self.shared: dict[tuple[object, ...], Shared] = {}
        # How far searches at ease came, by what tells them apart (`Search._begin`).
        self.begun: dict[tuple[object, ...], _Run] = {}
        self.ahead = Ahead(self.ways)

    def frees(self, player: Player) -> tuple[Frees, ...]:
        """For each attack when its notes' strings are free, for this player."""
        key = player.overlap, player.grip
        known = self._frees.get(key)
        if known is None:
            known = self._frees[key] = free_times(self.attacks, player, self.ringing)
        return known

    def price(self, number: int, left: Stand, right: Stand) -> int:
        """The least price of the attacks from the given one on."""
        return self.ahead.least(number, left.code, right.code)


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

    def first(self, start: Setting | None, start_us: int) -> tuple[Foot, Foot]:
        """Both feet before the music: their letters set at a moment (µs), or in whatever position is wanted
        first.
        """
        positions = start.positions if start else (None,) * 7
        feet = []
        for group in (self.music.left, self.music.right):
            mine = positions[group.first : group.first + group.count]
            times = tuple(LONG_AGO if position is None else start_us for position in mine)
            stand = group.stand(tuple(UNSET if position is None else int(position) for position in mine))
            feet.append(Foot((stand, times + times, ())))
        return feet[0], feet[1]

    # -- whole paths ---------------------------------------------------------------------------------------------------

    def quick(self, first: tuple[Foot, Foot], expected: Mapping[int, int] | None, far: bool = True) -> Path:
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

    def rough(self, first: tuple[Foot, Foot]) -> Path:
        """A path that is found at once: at ease as far as it goes so, and where it does not whatever comes."""
        run = self._begin(first)
        while not self._goes_easily(run):
            for level in range(QUICK, BROKEN + 1):
                states = self._step(run.before[-1], run.number, level, 1)
                if states:
                    break
            run.states = states
            run.number += 1
        return run.states[0][2]

    def _begin(self, first: tuple[Foot, Foot]) -> _Run:
        """The search at ease up to where it is stuck: the same for all players who are as slow at their ease."""
        key = *self._at_ease, first[0].key, first[1].key
        run = self.music.begun.get(key)
        if run is None:
            run = _Run(deque(maxlen=BACK[-1][0]), [(*first, NOWHERE)], 0, 0)
            while not self._goes_easily(run):
                states = self._back_again(run, EASE, BACK[:1], EASE)
                if not states:
                    run.states = run.before.pop()
                    break
                run.states = states
                run.number += 1
            self.music.begun[key] = run
        return _Run(run.before.copy(), run.states, run.number, run.wide)

    @property
    def _at_ease(self) -> tuple[object, ...]:
        """All that tells searches at ease through the same music apart."""
        return self.easy_lead, self.easy_cycle, self.player.overlap, self.player.grip, self.slides

    def _goes_easily(self, run: _Run) -> bool:
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
        self, run: _Run, level: int, farther: Sequence[tuple[int, int]], usually: int = QUICK
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

    def whole(self, first: tuple[Foot, Foot], most: int, limit: int) -> Path | None:
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
        # (least price of a whole path, number of the choice, of both turns)
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
        settled: dict[Foot, Foot] = {}
        choices = music.ways[number]
        feet: list[tuple[Foot, Foot, Path]] = []
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
        known: dict[tuple[Foot, int, int], Step | None] = {}
        seen: set[tuple[Foot, Foot]] = set()
        found: list[tuple[int, Path, Step, Step, int]] = []
        kept: list[tuple[int, Path, Step, Step, int]] = []
        worse = self._worse
        costs: tuple[dict[tuple[Foot, Foot], int], dict[tuple[Foot, Foot], int]] = {}, {}
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
        foot: Foot,
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
                pedal = group.first + index
                moves += (Move(pedal, start, goal, (latest, early, cycle), False, False, True),)
                jobs += ((latest, early, cycle, pedal, attack, index),)
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
            new = one_of[key] = Foot(key)
        return new, price, way, moves

    def _worse(
        self,
        item: tuple[int, Path, Step, Step, int],
        kept: list[tuple[int, Path, Step, Step, int]],
        costs: tuple[dict[tuple[Foot, Foot], int], dict[tuple[Foot, Foot], int]],
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
                cost = left_cost[pair] = self._turning(good[2][0], left, 3)
            if cost > spare:
                continue
            pair = good[3][0], right
            more = right_cost.get(pair)
            if more is None:
                more = right_cost[pair] = self._turning(good[3][0], right, 4)
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
        settled: dict[Foot, Foot] = {}
        cut = self._cut
        for left, right, _ in states:
            for foot in (left, right):
                if foot not in settled:
                    quiet = cut(foot, moment)
                    settled[foot] = one_of.setdefault(quiet.key, quiet)
        found: dict[tuple[Foot, Foot], tuple[int, Path, Step, Step, int]] = {}
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
                    lefts = known[left] = steps(
                        left, left_ways, left_ends, left_group, number, moment, level, one_of
                    )
                if not lefts:
                    continue
                rights = others.get(right)
                if rights is None:
                    rights = others[right] = steps(
                        right, right_ways, right_ends, right_group, number, moment, level, one_of
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

    def _best(
        self, order: list[tuple[int, Path, Step, Step, int]], most: int
    ) -> list[tuple[int, Path, Step, Step, int]]:
        """The first `most` of the states that no better one can turn into."""
        kept: list[tuple[int, Path, Step, Step, int]] = []
        costs: tuple[dict[tuple[Foot, Foot], int], dict[tuple[Foot, Foot], int]] = {}, {}
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
        foot: Foot,
        options: tuple[Way, ...],
        ends: list[list[tuple[int, int, int]]],
        group: Group,
        number: int,
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
                    jobs = tuple(
                        sorted(
                            [
                                *owed,
                                *[(*move[3], move[0], number, move[0] - group.first) for move in moves],
                            ]
                        )
                    )
                    if not self._possible(jobs):
                        continue
                    for move in moves:
                        cost += AUDIBLE * move[4] + TIGHT * move[5]
                key = after, then, jobs
                new = one_of.get(key)
                if new is None:
                    new = one_of[key] = Foot(key)
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
        settled: dict[Foot, Foot],
        number: int,
        found: dict[tuple[Foot, Foot], tuple[int, Path, Step, Step, int]],
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
                    able = self._steps(foot, options, ends, group, number, moment, BROKEN, one_of)
                    played = {id(step[2]) for step in able}
                    forced = self._forced(foot, options, ends, group, number, moment, one_of)
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
        foot: Foot,
        options: tuple[Way, ...],
        ends: list[list[tuple[int, int, int]]],
        group: Group,
        number: int,
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
                new = one_of[key] = Foot(key)
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
            known = self._placed[jobs] = orderable([job[:3] for job in jobs]) is not None
        return known

    def _cut(self, foot: Foot, moment: int) -> Foot:
        """A quiet foot forgets what it owes, and its letters are free at any time (readings.py has the
        argument).

        The argument needs that no change of a letter that is not forgotten starts before the limit. So where
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
                    must.append((min(job[0], over), *job[1:]))
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
                    must.append((ready, free, self.easy_cycle, index, -1, index))
            if fits and must and self._possible(tuple(sorted(must))):
                return self._forgetful(foot, limit)
        return foot

    def _cut_free(self, foot: Foot, moment: int, freed: list[int]) -> Foot:
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
    def _forgetful(foot: Foot, limit: int) -> Foot:
        stand, times, owed = foot.key
        count = len(stand.positions)
        now = list(times)
        for index in range(count):
            if times[index] < limit:
                now[index] = now[index + count] = LONG_AGO
        return Foot((stand, tuple(now), tuple([job for job in owed if job[1] >= limit]) if owed else ()))

    @staticmethod
    def _turning(good: Foot, other: Foot, count: int) -> int:
        """What it costs at the most to do with `good` whatever `other` can, quietly and at ease; NEVER where
        that is not possible.
        """
        if good is other:
            return 0
        spent = 0
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


def orderable(jobs: Sequence[tuple[int, int, int]]) -> tuple[int, ...] | None:
    """Starts for jobs (latest, earliest, distance from the job before) of one foot, or None where there are
    none.

    Exact: equal distances by Garey, Johnson, Simons and Tarjan (1981); mixed ones by trying what may come
    next, where of two ways to have made the same jobs only the one that is over sooner is followed.
    """
    if not jobs:
        return ()
    order = sorted(range(len(jobs)), key=lambda i: jobs[i][:2])
    starts = _in_order(jobs, order)
    if starts is not None:
        return starts
    if len({job[2] for job in jobs}) == 1:
        return earliest_starts(tuple((job[0], job[1], 0) for job in jobs), jobs[0][2])
    # Were all distances the least of them: soon told, and mostly that is the reason.
    least = min([job[2] for job in jobs])
    if earliest_starts(tuple((job[0], job[1], 0) for job in jobs), least) is None:
        return None
    found = _in_any_order(jobs, order, 0, LONG_AGO, {})
    return None if found is None else _in_order(jobs, found)


def _in_any_order(
    jobs: Sequence[tuple[int, int, int]], order: Sequence[int], done: int, last: int, seen: dict[int, int]
) -> tuple[int, ...] | None:
    """An order for the jobs that are not in the bit mask `done`, whose last start is `last`, or None."""
    if done == (1 << len(jobs)) - 1:
        return ()
    if seen.get(done, last + 1) <= last:
        return None
    seen[done] = last
    following = []
    for number in order:
        if not done >> number & 1:
            latest, earliest, distance = jobs[number]
            start = max(earliest, last + distance)
            if start > latest:
                return None  # and it will only get later
            following.append((number, start))
    for number, start in following:
        if any(
            at + jobs[number][2] <= start and (at < start or other < number)
            for other, at in following
            if other != number
        ):
            # Another one fits in before it and delays nothing. (Where a cycle takes no time, each of two would.)
            continue
        found = _in_any_order(jobs, order, done | 1 << number, start, seen)
        if found is not None:
            return number, *found
    return None


def _in_order(jobs: Sequence[tuple[int, int, int]], order: Sequence[int]) -> tuple[int, ...] | None:
    starts = [0] * len(jobs)
    last = LONG_AGO
    for number in order:
        latest, earliest, distance = jobs[number]
        start = max(earliest, last + distance)
        if start > latest:
            return None
        starts[number] = last = start
    return tuple(starts)


def free_times(attacks: Sequence[Gathered], player: Player, ringing: Ringing) -> tuple[Frees, ...]:
    """For each attack, pitch to (free when held counts, free when it does not), in µs; monitor.py has the
    rule.
    """
    moments = [attack.us for attack in attacks]
    rings = [ringing.ring(pitch) for pitch in range(128)]
    overlap, grip = player.overlap, player.grip
    again: dict[int, int] = {}
    found: list[Frees] = []
    for attack in reversed(attacks):
        now = {}
        us = attack.us
        for pitch, release in attack.notes:
            held = us + rings[pitch]
            struck_again = again.get(pitch)
            if struck_again is not None and (release is None or release > struck_again):
                release = struck_again
            if release is not None:
                latest = moments[bisect_right(moments, release) - 1]
                if latest > us and release - latest <= overlap:
                    release = latest
                if release < held:
                    held = release
            again[pitch] = us
            slid = us + grip
            now[pitch] = held, slid if slid < held else held
        found.append(now)
    found.reverse()
    return tuple(found)
