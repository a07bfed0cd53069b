"""The plan: the pedalling that a player would choose for a whole part, and how each note is spelled.

The verdict search (tracker.py) only asks whether there is any schedule. This one looks for the best, over
whole music that is known beforehand: fewest attacks that cannot be played, then fewest audible changes, then
fewest *tight* ones (that the relaxed player could not make in time), then fewest changes, then fewest
notches, then the spelling that reads best.

It is a best-path search over the attacks. A state holds what the verdict search's readings hold, for both
feet, but remembers every pedal's position, for each move has a price. A pedal change may be made in four
ways, quiet or audible, at ease or tight; each has its own window of starts and its own distance from the
change before it, and its own price. As there, a quiet foot forgets what it owes (here its letters stay where
they are, free to be changed at ease at any time), and a state goes when another one can turn itself into it,
quietly and at ease, without paying more. Both rules keep the best path. Beyond `MOST_STATES` the dearest
states are dropped; how often is counted in `bounded`.

When the best path is known, each change gets its moment: the order of starts that is known to be possible is
kept, and within what it leaves open a change goes on a beat before its attack, and spread out, as players do
(Zuzanna, 7 steps making pedals secure: on the downbeats; harp-facts section 3).
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from operator import itemgetter
from typing import NamedTuple, TypeAlias

from livepedal.harp import Foot, Instrument, Pedal, Player, Position, Ringing, Setting, Spelling
from livepedal.model.chords import Chords, Narrowing, Sharing, Way, reads
from livepedal.model.readings import LONG_AGO, UNSET
from livepedal.model.schedule import earliest_starts
from livepedal.music.attacks import Gathered

# The quick search keeps so many states, and where it is stuck it goes back so many attacks and keeps more
# (BACK).
KEPT = 3
BACK = ((12, 24), (40, 80))
# Where the quick path may not be the best, the whole is searched again: music of up to SHORT attacks with as
# many states as it takes, longer music of up to LONG with about EFFORT states in all.
SHORT = 24
MOST_STATES = 20_000
LONG = 300
EFFORT = 4_000
COMPARED = 40  # a state is held against so many of the best ones

# What a search may resort to at one attack, in this order.
EASE, QUICK, HEARD, BROKEN = range(4)

# One number holds the price of a path, its parts in this order from the highest.
PART = 1 << 24
READS = 1
NOTCH = READS * PART
CHANGE = NOTCH * PART
TIGHT = CHANGE * PART
AUDIBLE = TIGHT * PART
IMPOSSIBLE = AUDIBLE * PART


@dataclass(frozen=True, slots=True)
class PedalChange:
    """One pedal going to another position. `us`: when the foot starts (µs); `attack_us`: the attack that
    needs it.

    `possible` is False where the foot has no time for it, as where the attack cannot be played: then `us` is
    only where it would have to be.
    """

    us: int
    attack_us: int
    pedal: Pedal
    start: Position
    goal: Position
    foot: Foot
    audible: bool
    tight: bool
    possible: bool = True


@dataclass(frozen=True, slots=True)
class Plan:
    """The setting to start with, the changes in the order of their starts, and for each attack how its
    pitches are spelled.

    `spellings[n]` belongs to the n-th attack, one Spelling for each of its pitches in ascending order (None
    where the plan leaves the note out: no string gives it, or no setting holds it with the others).
    """

    setting: Setting
    changes: tuple[PedalChange, ...]
    attacks: tuple[int, ...]
    spellings: tuple[tuple[Spelling | None, ...], ...]
    unplayable: int
    audible: int
    tight: int
    bounded: int


# (latest start, earliest start, distance from the change before, tag of the pedal or 0, number of the attack,
# index of letter)
Job = tuple[int, int, int, int, int, int]
# (position or UNSET, free when held counts, free when it does not)
PlanLetter = tuple[int, int, int]
FootState = tuple[tuple[PlanLetter, ...], tuple[Job, ...]]
BeatIn: TypeAlias = Callable[[int, int], int | None]
# The states of both feet that a path leads to, each pair once. Equal states of a foot are one object, so that
# they can be told apart by their ids: hashing them again and again is what took longest.
States: TypeAlias = "list[tuple[FootState, FootState, _Path]]"
NEVER = 1 << 1024  # a price that nobody pays


class _Move(NamedTuple):
    """A change that a step makes: the pedal, from, to, and its window."""

    pedal: int
    start: int
    goal: int
    window: tuple[int, int, int]
    audible: bool
    tight: bool
    possible: bool


@dataclass(frozen=True, slots=True)
class _Due:
    """A move to be placed for the attack at `attack` (µs): its own window and the widest one that the player
    has at all.

    `held`: since when its letter is free when held counts.
    """

    move: _Move
    attack: int
    window: tuple[int, int, int]
    widest: tuple[int, int, int]
    held: int

    @property
    def widened(self) -> _Due:
        return replace(self, window=self.widest)


class _Step(NamedTuple):
    """What one foot does for one attack: its new state, the price, the way its notes are played and its
    moves.
    """

    state: FootState
    price: int
    way: Way
    moves: tuple[_Move, ...]


# A way, how badly it reads, and (index of letter, position, pitches) for each letter that it needs.
_Struck: TypeAlias = tuple[Way, int, tuple[tuple[int, int, tuple[int, ...]], ...]]


@dataclass(slots=True)
class _Path:
    """The end of a path through the attacks: its price, the path before, and the last steps of both groups of
    pedals.
    """

    price: int
    before: _Path | None
    left: _Step | None
    right: _Step | None


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
        if any(at + jobs[number][2] <= start for other, at in following if other != number):
            continue  # another one fits in before it and delays nothing
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


class Planner:
    """Finds the plan of one player for one part.

    relaxed: the slowest player, whose figures say what is tight; chords: of the instrument; states: how many
    states are kept.
    """

    def __init__(
        self,
        player: Player,
        relaxed: Player,
        instrument: Instrument,
        ringing: Ringing,
    ) -> None:
        self.player = player
        self.relaxed = relaxed
        self.instrument = instrument
        self.ringing = ringing
        self.chords = Chords(instrument)
        self.lead = player.leads
        # At ease: within this player's own figures and within the relaxed one's.
        self.easy_lead = tuple(map(max, player.leads, relaxed.leads))
        self.easy_cycle = max(player.cycle, relaxed.cycle)
        self.margin = max(self.easy_cycle, *self.easy_lead)
        self.bounded = 0
        self.slides = True  # whether the search at hand may resort to audible changes
        self._placed: dict[tuple[Job, ...], bool] = {}
        self._read: dict[tuple[int, int], tuple[tuple[Way, ...], list[_Struck]]] = {}

    # -- the search ----------------------------------------------------------------------------------------------------

    def plan(
        self,
        attacks: Sequence[Gathered],
        start: Setting | None = None,
        start_us: int = 0,
        expected: Mapping[int, int] | None = None,
        beat_in: BeatIn | None = None,
        asked: Mapping[int, Narrowing] | None = None,
        thorough: bool = True,
    ) -> Plan:
        """The best plan; a good one where not `thorough`.

        asked: how attacks are to be spelled, by their moment (µs), where that is not left to the plan.

        beat_in: the most convenient moment within a span (first, last, µs; None where it holds none), as the
        beats have it.

        expected: for attacks by their moment (µs) where the verdict search says so, what has to be resorted
        to (QUICK, HEARD or BROKEN); where more than that seems needed, the search goes back and looks
        further. None: nothing is known.
        """
        music = [self._ways(attack, asked.get(attack.us, ()) if asked else ()) for attack in attacks]
        frees = free_times(attacks, self.player, self.ringing)
        ahead = _Ahead([ways for ways, _ in music])
        letters = tuple(
            _standing(position, start_us) for position in (start.positions if start else (None,) * 7)
        )
        first = ((letters[:3], ()), (letters[3:], ()))
        search = _Search(self, attacks, music, frees, ahead)
        self.slides = False
        best = search.quick(first, expected)
        if AUDIBLE <= best.price < IMPOSSIBLE and len(attacks) <= LONG:
            moves = self._due(best, attacks, frees, start, start_us)
            if not all(set(_of_foot(moves, foot)) == set(_whole(_of_foot(moves, foot))[0]) for foot in Foot):
                # It resorted to slides that leave too little room: once more, minding what they need.
                self.slides = True
                best = search.quick(first, expected)
        least = ahead.price(0, *first)
        if best.price // NOTCH <= least // NOTCH:
            # Nothing can be cheaper, whatever the timing: no bound mattered.
            self.bounded = 0
        elif thorough and len(attacks) <= LONG:
            self.bounded = 0
            most = MOST_STATES if len(attacks) <= SHORT else max(4 * KEPT, EFFORT // len(attacks))
            self.slides = best.price > AUDIBLE
            best = search.whole(first, most, best.price) or best
        return self._write(best, attacks, frees, [out for _, out in music], start, start_us, beat_in)

    def _ways(self, attack: Gathered, asked: Narrowing = ()) -> tuple[tuple[Sharing, ...], tuple[int, ...]]:
        """The ways of an attack, and its pitches that are left out of them."""
        chords = self.chords.narrowed(asked)
        pitches = tuple(pitch for pitch, _ in attack.notes if chords.options[pitch] is not None)
        out = [pitch for pitch, _ in attack.notes if chords.options[pitch] is None]
        ways, left_out = chords.most_of(pitches)
        return ways, (*out, *left_out)

    def advance(
        self,
        states: States,
        ways: tuple[Sharing, ...],
        number: int,
        moment: int,
        free: dict[int, tuple[int, int]],
        broken: bool,
        level: int,
    ) -> States:
        """The states after an attack from the states before it, resorting to no more than `level`."""
        settled: dict[int, FootState] = {}
        one_of: dict[FootState, FootState] = {}
        steps: dict[tuple[int, int, int], list[_Step]] = {}
        found: dict[tuple[int, int], tuple[int, _Path, _Step, _Step]] = {}
        extra = IMPOSSIBLE if broken else 0

        def feet(state: FootState, options: tuple[Way, ...], first: int) -> list[_Step]:
            key = id(state), id(options), first
            known = steps.get(key)
            if known is None:
                known = steps[key] = self._steps(state, options, number, moment, free, first, level, one_of)
            return known

        for left, right, _ in states:
            for foot in (left, right):
                if id(foot) not in settled:
                    cut = self._cut(foot, moment)
                    settled[id(foot)] = one_of.setdefault(cut, cut)
        for left, right, path in states:
            left, right = settled[id(left)], settled[id(right)]
            base = path.price + extra
            for sharing in ways:
                lefts = feet(left, sharing.left, 0)
                if not lefts:
                    continue
                rights = feet(right, sharing.right, 3)
                for one in lefts:
                    so_far = base + one.price
                    mine = id(one.state)
                    for other in rights:
                        key = mine, id(other.state)
                        price = so_far + other.price
                        known = found.get(key)
                        if known is None or price < known[0]:
                            found[key] = price, path, one, other
        if not found and level >= BROKEN:
            for left, right, path in states:
                left, right = settled[id(left)], settled[id(right)]
                for sharing in ways:
                    lefts = feet(left, sharing.left, 0)
                    rights = feet(right, sharing.right, 3)
                    if not lefts and not rights and found:
                        continue  # where failing with one foot is enough, failing with both is not looked at
                    for one in lefts or self._forced(left, sharing.left, number, moment, free, 0, one_of):
                        for other in rights or self._forced(
                            right, sharing.right, number, moment, free, 3, one_of
                        ):
                            key = id(one.state), id(other.state)
                            price = path.price + one.price + other.price + IMPOSSIBLE
                            known = found.get(key)
                            if known is None or price < known[0]:
                                found[key] = price, path, one, other
        return [
            (one.state, other.state, _Path(price, path, one, other))
            for price, path, one, other in found.values()
        ]

    def _struck_by(self, options: tuple[Way, ...], first: int) -> list[_Struck]:
        """What these ways strike, worked out once."""
        key = id(options), first
        known = self._read.get(key)
        if known is None:
            found = [
                (
                    way,
                    sum([reads(first + index, position, keys) for index, position, keys in way]),
                    tuple(
                        (index, position, tuple(n for n in range(keys.bit_length()) if keys >> n & 1))
                        for index, position, keys in way
                    ),
                )
                for way in options
            ]
            known = self._read[key] = (
                options,
                found,
            )  # with the ways themselves, so that their id stays theirs
        return known[1]

    def _steps(
        self,
        state: FootState,
        options: tuple[Way, ...],
        number: int,
        moment: int,
        free: dict[int, tuple[int, int]],
        first: int,
        level: int,
        one_of: dict[FootState, FootState],
    ) -> list[_Step]:
        """Every way for one foot to play its notes of the attack, with every kind of change it may resort to.

        one_of: the one object for all equal states.
        """
        letters, owed = state
        found: list[_Step] = []
        for way, price, strikes in self._struck_by(options, first):
            if not way:
                found.append(_Step(state, price, way, ()))
                continue
            now = list(letters)
            needed: list[tuple[int, int, int]] = []
            for index, position, pitches in strikes:
                stands, held, slid = letters[index]
                if stands != position and stands != UNSET:
                    needed.append((index, stands, position))
                # A key held from before an audible change goes on to want its string: changing back slides it
                # again.
                for pitch in pitches:
                    one, two = free[pitch]
                    if one > held:
                        held = one
                    if two > slid:
                        slid = two
                now[index] = position, held, slid
            after = tuple(now)
            if not needed:
                new = after, owed
                found.append(_Step(one_of.setdefault(new, new), price, way, ()))
                continue
            for moves in self._kinds(letters, needed, moment, first, level):
                jobs = tuple(
                    sorted(
                        [*owed, *[(*move.window, move.pedal, number, move.pedal - first) for move in moves]]
                    )
                )
                if not self._possible(jobs):
                    continue
                cost = price
                for move in moves:
                    cost += CHANGE + NOTCH * abs(move.goal - move.start)
                    cost += AUDIBLE * move.audible + TIGHT * move.tight
                new = after, jobs
                found.append(_Step(one_of.setdefault(new, new), cost, way, moves))
        return found

    @staticmethod
    def _struck(letter: PlanLetter, position: int, keys: int, free: dict[int, tuple[int, int]]) -> PlanLetter:
        # A key held from before an audible change goes on to want its string: changing back slides it again.
        _, held, slid = letter
        while keys:
            bit = keys & -keys
            keys ^= bit
            one, two = free[bit.bit_length() - 1]
            if one > held:
                held = one
            if two > slid:
                slid = two
        return position, held, slid

    def _kinds(
        self,
        letters: tuple[PlanLetter, ...],
        needed: list[tuple[int, int, int]],
        moment: int,
        first: int,
        level: int,
    ) -> list[tuple[_Move, ...]]:
        """Every combination of kinds of change for the letters that must move."""
        combinations: list[tuple[_Move, ...]] = [()]
        for index, start, goal in needed:
            _, held, slid = letters[index]
            notches = abs(goal - start)
            moves = []
            for audible, early in ((False, held), (True, slid)):
                if audible and (slid >= held or level < HEARD):
                    continue
                for tight, lead, cycle in (
                    (False, self.easy_lead[notches], self.easy_cycle),
                    (True, self.lead[notches], self.player.cycle),
                ):
                    if tight and (
                        level < QUICK or (lead, cycle) == (self.easy_lead[notches], self.easy_cycle)
                    ):
                        continue
                    latest = moment - lead
                    if early <= latest:
                        moves.append(
                            _Move(first + index, start, goal, (latest, early, cycle), audible, tight, True)
                        )
            if not moves:
                return []
            combinations = [(*known, move) for known in combinations for move in moves]
        return combinations

    def _forced(
        self,
        state: FootState,
        options: tuple[Way, ...],
        number: int,
        moment: int,
        free: dict[int, tuple[int, int]],
        first: int,
        one_of: dict[FootState, FootState],
    ) -> list[_Step]:
        """For an attack that this foot cannot play: its letters as it needs them, nothing owed."""
        letters, _ = state
        found = []
        for way in options:
            now = list(letters)
            price = 0
            moves = []
            for index, position, keys in way:
                price += reads(first + index, position, keys)
                stands = letters[index][0]
                if stands not in (position, UNSET):
                    notches = abs(position - stands)
                    price += CHANGE + NOTCH * notches
                    at = moment - self.lead[notches]
                    moves.append(_Move(first + index, stands, position, (at, at, 0), False, True, False))
                now[index] = self._struck(letters[index], position, keys, free)
            new: FootState = tuple(now), ()
            found.append(_Step(one_of.setdefault(new, new), price, way, tuple(moves)))
        return found

    def _possible(self, jobs: tuple[Job, ...]) -> bool:
        if len(jobs) == 1:
            return jobs[0][1] <= jobs[0][0]
        known = self._placed.get(jobs)
        if known is None:
            if len(self._placed) > 50_000:
                self._placed.clear()
            known = self._placed[jobs] = self._starts(jobs) is not None
        return known

    def _starts(self, jobs: Sequence[Job]) -> tuple[int, ...] | None:
        return orderable([job[:3] for job in jobs])

    def _cut(self, state: FootState, moment: int) -> FootState:
        """A quiet foot forgets what it owes, and its letters are free at any time (readings.py has the
        argument).

        The argument needs that no change of a letter that is not forgotten starts before the limit. So where
        changes may be audible, that must not be either before the string of such a letter may be slid.
        """
        letters, owed = state
        limits = {moment}
        some = bool(owed)
        for _, free, slid in letters:
            if LONG_AGO < free < moment:
                some = True
                limits.add(free)
            elif self.slides and LONG_AGO < slid < moment:
                limits.add(slid)
        if not some:
            return state
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
            for index, (_, free, slid) in enumerate(letters):
                if self.slides and slid < limit <= free:
                    fits = False
                    break
                if LONG_AGO < free < limit:
                    if free > ready:
                        fits = False
                        break
                    must.append((ready, free, self.easy_cycle, index, -1, index))
            if fits and must and self._possible(tuple(sorted(must))):
                return (
                    tuple(
                        (position, LONG_AGO, LONG_AGO) if free < limit else (position, free, slid)
                        for position, free, slid in letters
                    ),
                    tuple(job for job in owed if job[1] >= limit),
                )
        return state

    @staticmethod
    def turning(good: FootState, other: FootState) -> int:
        """What it costs at the most to do with `good` whatever `other` can, quietly and at ease; NEVER where
        that is not possible.
        """
        if good is other:
            return 0
        spent = 0
        for my, their in zip(good[0], other[0], strict=True):
            if my[0] == their[0]:
                if my[1] > their[1] or my[2] > their[2]:
                    if my[0] == UNSET:
                        continue
                    return NEVER
            elif my[0] != UNSET:
                if my[1] != LONG_AGO:
                    return NEVER
                # Its next use may be anywhere, two notches off at the most.
                spent += CHANGE + NOTCH * (2 if their[0] == UNSET else abs(my[0] - their[0]))
        my_jobs, their_jobs = good[1], other[1]
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

    # -- writing it down -----------------------------------------------------------------------------------------------

    def _due(
        self,
        best: _Path,
        attacks: Sequence[Gathered],
        frees: Sequence[dict[int, tuple[int, int]]],
        start: Setting | None,
        start_us: int,
    ) -> list[_Due]:
        """The moves of a path, to be placed.

        A foot that was quiet had forgotten since when a letter is free: here the windows of its moves get
        that back.
        """
        letters = [_standing(position, start_us) for position in (start.positions if start else (None,) * 7)]
        moves: list[_Due] = []
        for attack, free, pair in zip(attacks, frees, _steps_of(best), strict=True):
            for step, first in zip(pair, (0, 3), strict=True):
                for move in step.moves:
                    _, held, slid = letters[move.pedal]
                    latest, _, distance = move.window
                    widest = attack.us - self.lead[abs(move.goal - move.start)], slid, self.player.cycle
                    window = latest, slid if move.audible else held, distance
                    moves.append(_Due(move, attack.us, window, widest, held))
                for index, position, keys in step.way:
                    letters[first + index] = self._struck(letters[first + index], position, keys, free)
        return moves

    def _timed(
        self, moves: Sequence[_Due], attacks: Sequence[Gathered], beat_in: BeatIn | None
    ) -> tuple[PedalChange, ...]:
        """The moves with their moments: the possible order of each foot kept, on a beat where that leaves
        room.
        """
        moments = [attack.us for attack in attacks]
        changes: list[PedalChange] = []
        for foot in Foot:
            mine = _of_foot(moves, foot)
            possible, _ = _whole(mine)
            changes += [
                self._change(due, due.widest[0], None, False)
                for due in mine
                if due not in possible and due.widened not in possible
            ]
            # The latest start of each that leaves those after it their own.
            bound = [due.window[0] for due in possible]
            for place in range(len(possible) - 2, -1, -1):
                bound[place] = min(bound[place], bound[place + 1] - possible[place + 1].window[2])
            last: int | None = None
            for place, due in enumerate(possible):
                _, earliest, distance = due.window
                low = earliest if last is None else max(earliest, last + distance)
                at = _comfortable(low, bound[place], moments, beat_in)
                changes.append(self._change(due, at, last, True))
                last = at
        return tuple(sorted(changes, key=lambda change: (change.us, change.pedal)))

    def _change(self, due: _Due, us: int, last: int | None, possible: bool) -> PedalChange:
        """The change as it comes out, started at `us`; `last`: the start of the foot's change before, if any
        (µs).
        """
        move = due.move
        pedal = Pedal(move.pedal)
        in_time = us <= due.attack - self.easy_lead[abs(move.goal - move.start)]
        at_ease = in_time and (last is None or us - last >= self.easy_cycle)
        return PedalChange(
            us,
            due.attack,
            pedal,
            Position(move.start),
            Position(move.goal),
            pedal.foot,
            possible and us < due.held,
            possible and not at_ease,
            possible,
        )

    def _write(
        self,
        best: _Path,
        attacks: Sequence[Gathered],
        frees: Sequence[dict[int, tuple[int, int]]],
        left_out: list[tuple[int, ...]],
        start: Setting | None,
        start_us: int,
        beat_in: BeatIn | None,
    ) -> Plan:
        positions: list[Position | None] = list(start.positions if start else (None,) * 7)
        spellings = []
        for attack, out, pair in zip(attacks, left_out, _steps_of(best), strict=True):
            where: dict[int, tuple[int, int]] = {}
            for step, first in zip(pair, (0, 3), strict=True):
                for index, position, keys in step.way:
                    pedal = first + index
                    if positions[pedal] is None:
                        positions[pedal] = Position(position)
                    while keys:
                        bit = keys & -keys
                        keys ^= bit
                        where[bit.bit_length() - 1] = pedal, position
            spellings.append(
                tuple(None if pitch in out else self._spelling(pitch, where) for pitch, _ in attack.notes)
            )
        changes = self._timed(self._due(best, attacks, frees, start, start_us), attacks, beat_in)
        whole = best.price // IMPOSSIBLE
        return Plan(
            Setting(tuple(positions)),
            changes,
            tuple(attack.us for attack in attacks),
            tuple(spellings),
            unplayable=whole,
            audible=sum(change.audible for change in changes),
            tight=sum(change.tight for change in changes if change.possible),
            bounded=self.bounded,
        )

    def _spelling(self, pitch: int, where: dict[int, tuple[int, int]]) -> Spelling | None:
        for spelling in self.instrument.spellings(pitch):
            if spelling.fixed or where.get(pitch) == (spelling.string.pedal, spelling.position):
                return spelling
        return None


class _Search:
    """One search for the best path through the attacks of one part."""

    def __init__(
        self,
        planner: Planner,
        attacks: Sequence[Gathered],
        music: Sequence[tuple[tuple[Sharing, ...], tuple[int, ...]]],
        frees: Sequence[dict[int, tuple[int, int]]],
        ahead: _Ahead,
    ) -> None:
        self.planner = planner
        self.attacks = attacks
        self.music = music
        self.frees = frees
        self.ahead = ahead

    def _step(self, states: States, number: int, level: int, most: int, limit: int | None = None) -> States:
        """The states after one attack, at most `most` of them, those that can end below `limit`."""
        ways, out = self.music[number]
        states = self.planner.advance(
            states, ways, number, self.attacks[number].us, self.frees[number], bool(out), level
        )
        if len(states) <= 1 and limit is None:
            return states
        order = self._by_price(states, number + 1)
        if limit is not None:
            order = [item for item in order if item[0] < limit]
        if len(order) <= most:
            return [item[1] for item in order]
        kept: States = []
        turning = Planner.turning
        left_cost: dict[tuple[int, int], int] = {}
        right_cost: dict[tuple[int, int], int] = {}
        for _, state in order:
            left, right, path = state
            mine, others, price = id(left), id(right), path.price
            for good_left, good_right, better in kept[:COMPARED]:
                spare = price - better.price
                if spare < 0:
                    continue
                pair = id(good_left), mine
                cost = left_cost.get(pair)
                if cost is None:
                    cost = left_cost[pair] = turning(good_left, left)
                if cost > spare:
                    continue
                pair = id(good_right), others
                more = right_cost.get(pair)
                if more is None:
                    more = right_cost[pair] = turning(good_right, right)
                if cost + more <= spare:
                    break
            else:
                if len(kept) == most:
                    self.planner.bounded += 1
                    break
                kept.append(state)
        return kept

    def _by_price(self, states: States, number: int) -> list[tuple[int, tuple[FootState, FootState, _Path]]]:
        """The states with the least price of a whole path through them, the lowest first. number: of the next
        attack.
        """
        lefts: dict[int, int] = {}
        rights: dict[int, int] = {}
        found = []
        for state in states:
            left, right, path = state
            one = lefts.get(id(left))
            if one is None:
                one = lefts[id(left)] = self.ahead.foot(number, 0, left)
            other = rights.get(id(right))
            if other is None:
                other = rights[id(right)] = self.ahead.foot(number, 3, right)
            found.append((path.price + one + other, state))
        found.sort(key=itemgetter(0))
        return found

    def whole(self, first: tuple[FootState, FootState], most: int, limit: int) -> _Path | None:
        """The cheapest path of all below `limit`, unless some states had to be dropped (`bounded`); None
        where there is none.
        """
        states: States = [(*first, _Path(0, None, None, None))]
        for number in range(len(self.attacks)):
            states = self._step(states, number, self._worst(limit), most, limit)
            if not states:
                return None
        return min([path for _, _, path in states], key=lambda path: path.price)

    @staticmethod
    def _worst(limit: int) -> int:
        """What a path below this price may resort to at all."""
        return (
            BROKEN if limit > IMPOSSIBLE else HEARD if limit > AUDIBLE else QUICK if limit > TIGHT else EASE
        )

    def quick(self, first: tuple[FootState, FootState], expected: Mapping[int, int] | None) -> _Path:
        """A cheap path, found with few states: at ease where that is possible, more only where it is not."""
        states: States = [(*first, _Path(0, None, None, None))]
        before: deque[States] = deque(maxlen=BACK[-1][0])
        for number, attack in enumerate(self.attacks):
            before.append(states)
            states = self._step(states, number, EASE, KEPT)
            if states:
                continue
            expect = EASE if expected is None else expected.get(attack.us, EASE)
            for level in range(QUICK, BROKEN + 1):
                if level > expect:
                    states = self._again(before, number, level - 1)
                    if states:
                        break
                states = self._step(before[-1], number, level, KEPT)
                if states:
                    break
        return min([path for _, _, path in states], key=lambda path: path.price)

    def _again(self, before: deque[States], number: int, level: int) -> States:
        """The states after an attack without resorting to more than `level` there, from a while back and with
        more states.
        """
        for back, most in BACK:
            back = min(back, len(before))
            states = before[-back]
            found = [states]
            for again in range(number - back + 1, number + 1):
                usual = min(HEARD, level) if again < number else level
                states = self._step(states, again, max(usual, QUICK), most)
                if not states:
                    break
                found.append(states)
            if states:
                for place, known in enumerate(found[:-1]):
                    before[len(before) - back + place] = known
                return [state for _, state in self._by_price(states, number + 1)[: 4 * KEPT]]
            if back == len(before):
                break
        return []


class _Ahead:
    """The least price of what is still to come from given positions, were there time for everything.

    Worked out backwards for each group of pedals apart (27 and 81 settings), the shared notes (chords.py)
    left to whichever group fares better: so it is never too high, and for slow music it is nearly always
    right.
    """

    def __init__(self, music: Sequence[tuple[Sharing, ...]]) -> None:
        self._tables: dict[tuple[int, Way], list[tuple[int, int]]] = {}
        self._left = self._backwards(music, 3, 0)
        self._right = self._backwards(music, 4, 3)
        self._known: dict[tuple[int, int, tuple[int, ...]], int] = {}

    def _backwards(self, music: Sequence[tuple[Sharing, ...]], count: int, first: int) -> list[list[int]]:
        now = [0] * 3**count
        found = [now]
        for ways in reversed(music):
            options = dict.fromkeys(
                way for sharing in ways for way in (sharing.right if first else sharing.left)
            )
            if options and () not in options:
                rows = [
                    [now[target] + price for target, price in self._table(way, count, first)]
                    for way in options
                ]
                now = rows[0] if len(rows) == 1 else list(map(min, *rows))
            found.append(now)
        found.reverse()
        return found

    def _table(self, way: Way, count: int, first: int) -> list[tuple[int, int]]:
        """For each setting of the group: the setting after the way, and the price of getting there."""
        known = self._tables.get((first, way))
        if known is not None:
            return known
        table = []
        reading = sum(reads(first + index, position, keys) for index, position, keys in way)
        for setting in range(3**count):
            target, price = setting, reading
            for index, position, _ in way:
                stands = setting // 3**index % 3 - 1
                if stands != position:
                    target += (position - stands) * 3**index
                    price += CHANGE + NOTCH * abs(position - stands)
            table.append((target, price))
        self._tables[first, way] = table
        return table

    def price(self, number: int, left: FootState, right: FootState) -> int:
        """The least price of the attacks from the given one on."""
        return self.foot(number, 0, left) + self.foot(number, 3, right)

    def foot(self, number: int, first: int, state: FootState) -> int:
        """The part of one foot in that, by its first pedal."""
        positions = tuple([letter[0] for letter in state[0]])
        key = number, first, positions
        known = self._known.get(key)
        if known is None:
            row = (self._right if first else self._left)[number]
            settings = [0]
            for index, position in enumerate(positions):
                choices = (-1, 0, 1) if position == UNSET else (position,)
                settings = [setting + (choice + 1) * 3**index for setting in settings for choice in choices]
            known = self._known[key] = min([row[setting] for setting in settings])
        return known


def free_times(
    attacks: Sequence[Gathered], player: Player, ringing: Ringing
) -> tuple[dict[int, tuple[int, int]], ...]:
    """For each attack, pitch to (free when held counts, free when it does not), in µs; monitor.py has the
    rule.
    """
    moments = [attack.us for attack in attacks]
    again: dict[int, int] = {}
    found: list[dict[int, tuple[int, int]]] = []
    for attack in reversed(attacks):
        now = {}
        for pitch, release in attack.notes:
            dies = attack.us + ringing.ring(pitch)
            struck_again = again.get(pitch)
            if struck_again is not None and (release is None or release > struck_again):
                release = struck_again
            if release is None:
                release = dies
            else:
                latest = moments[bisect_right(moments, release) - 1]
                if latest > attack.us and release - latest <= player.overlap:
                    release = latest
            again[pitch] = attack.us
            held = min(release, dies)
            now[pitch] = held, min(held, attack.us + player.grip)
        found.append(now)
    return tuple(reversed(found))


def _steps_of(best: _Path) -> list[tuple[_Step, _Step]]:
    """The steps of both groups of pedals along a path, attack by attack."""
    steps: list[tuple[_Step, _Step]] = []
    path: _Path | None = best
    while path is not None and path.left is not None and path.right is not None:
        steps.append((path.left, path.right))
        path = path.before
    steps.reverse()
    return steps


def _standing(position: Position | None, since: int) -> PlanLetter:
    """A letter before the music: set at a moment (µs), or in whatever position is wanted first."""
    return (UNSET, LONG_AGO, LONG_AGO) if position is None else (int(position), since, since)


def _of_foot(moves: Sequence[_Due], foot: Foot) -> list[_Due]:
    return [due for due in moves if Pedal(due.move.pedal).foot is foot]


def _whole(moves: Sequence[_Due]) -> tuple[list[_Due], list[int]]:
    """Those of the moves of one foot that it has time for, in the order of their starts, and these; found
    stretch by stretch.

    It has time for all of them as they are, unless an attack that cannot be played stands among them or the
    search was bounded: then some are widened, and some may be left out.
    """
    kept: list[_Due] = []
    starts: list[int] = []
    for due in sorted((due for due in moves if due.move.possible), key=lambda due: due.window[:2]):
        latest, earliest, distance = due.window
        start = max([earliest, *(at + distance for at in starts[-1:])])
        if start <= latest:
            kept.append(due)
            starts.append(start)
            continue
        # The order of deadlines fails here: look at longer and longer stretches before this move for another
        # order.
        for widen in (False, True):
            found = _again(kept, starts, due, widen)
            if found is not None:
                kept, starts = found
                break
    return kept, starts


def _again(
    kept: Sequence[_Due], starts: Sequence[int], due: _Due, widen: bool
) -> tuple[list[_Due], list[int]] | None:
    """The moves kept so far and one more, from some place on in another order and perhaps widened, and their
    starts.
    """
    for begin in range(len(kept), -1, -1):
        stretch = [*kept[begin:], due]
        if widen:
            stretch = [one.widened for one in stretch]
        last = starts[begin - 1] if begin else LONG_AGO
        found = orderable(
            [(late, max(early, last + gap), gap) for late, early, gap in (one.window for one in stretch)]
        )
        if found is not None:
            order = sorted(range(len(stretch)), key=lambda i: found[i])
            return [*kept[:begin], *(stretch[i] for i in order)], [
                *starts[:begin],
                *(found[i] for i in order),
            ]
    return None


def _comfortable(low: int, high: int, moments: list[int], beat_in: BeatIn | None) -> int:
    """A beat within [low, high], else the last struck moment there, else the middle of what there is."""
    if low >= high:
        return low
    beat = beat_in(low, high) if beat_in is not None else None
    if beat is not None:
        return beat
    place = bisect_right(moments, high) - 1
    if place >= 0 and moments[place] >= low:
        return moments[place]
    return low + (high - low) // 2
