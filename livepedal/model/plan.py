"""The plan: the pedalling that a player would choose for a whole part, and how each note is spelled.

The verdict search (tracker.py) only asks whether there is any schedule. This one looks for the best, over
whole music that is known beforehand: fewest attacks that cannot be played, then fewest audible changes, then
fewest *tight* ones (that the relaxed player could not make in time), then fewest changes, then fewest
notches, then the spelling that reads best. best_path.py has the search.

When the best path is known, each change gets its moment: the order of starts that is known to be possible is
kept, and within what it leaves open a change goes on a beat before its attack, and spread out, as players do
(Zuzanna, 7 steps making pedals secure: on the downbeats).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from livepedal.harp import Foot, Instrument, Pedal, Player, Position, Ringing, Setting, Spelling
from livepedal.model.best_path import Search, State, at_ease
from livepedal.model.chords import RIGHT_FIRST_PEDAL, Chords, Narrowing, pitches_of
from livepedal.model.orders import Job, orderable, possible
from livepedal.model.prepared import Music
from livepedal.model.prices import AUDIBLE, CHANGE, IMPOSSIBLE
from livepedal.model.readings import LONG_AGO
from livepedal.model.stands import FREE, Move, held_for, plucked
from livepedal.music.attacks import Gathered

# Where the quick path may not be the best, music of up to SHORT attacks is searched again, with as many states as it
# takes and up to so much EFFORT (steps looked at).
SHORT = 30
MOST_STATES = 20_000
EFFORT = 200_000


@dataclass(frozen=True, slots=True)
class PedalChange:
    """One pedal going to another position. `us`: when the foot starts (µs); `attack_us`: the attack that
    needs it.

    `possible` is False where the foot has no time for it, as where the attack cannot be played: then `us` is
    only where it would have to be, or where the string was struck last if that is later.
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

    attacks: their moments (µs). `spellings[n]` belongs to the n-th of them, one Spelling for each of its pitches in
    ascending order (None where the plan leaves the note out: no string gives it, or no setting holds it with the
    others). unplayable: attacks; audible, tight: changes; bounded: how often the search dropped states or gave up.
    """

    setting: Setting
    changes: tuple[PedalChange, ...]
    attacks: tuple[int, ...]
    spellings: tuple[tuple[Spelling | None, ...], ...]
    unplayable: int
    audible: int
    tight: int
    bounded: int

    @property
    def feet(self) -> tuple[int, int]:
        """How many of the changes are the left foot's, and how many the right's."""
        left = sum(change.foot is Foot.LEFT for change in self.changes)
        return left, len(self.changes) - left


BeatIn: TypeAlias = Callable[[int, int], int | None]


@dataclass(frozen=True, slots=True)
class _Due:
    """A move to be placed for the attack at `attack` (µs): its own window and the widest one that the player
    has at all.

    `held`: since when its letter is free when held counts (µs); `struck`: when a string of it was last struck, or
    the letter set.
    """

    move: Move
    attack: int
    window: Job
    widest: Job
    held: int
    struck: int = LONG_AGO

    @property
    def widened(self) -> _Due:
        return replace(self, window=self.widest)


class Planner:
    """Finds the plan of one player for parts.

    relaxed: the slowest player, whose figures say what is tight.
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
        self.easy_lead, self.easy_cycle = at_ease(player, relaxed)

    def plan(
        self,
        attacks: Sequence[Gathered],
        start: Setting | None = None,
        start_us: int = 0,
        beat_in: BeatIn | None = None,
        asked: Mapping[int, Narrowing] | None = None,
        thorough: bool = True,
        music: Music | None = None,
    ) -> Plan:
        """The best plan; a good one where not `thorough`.

        attacks: in order of time. start: how the pedals are set, at `start_us` (µs); None: as the music likes.

        asked: how attacks are to be spelled, by their moment (µs), where that is not left to the plan.

        beat_in: the most convenient moment within a span (first, last, µs; None where it holds none), as the
        beats have it.

        music: the attacks made ready for the search, where that was done before (for another player).
        """
        if music is None:
            music = Music(attacks, self.chords, self.ringing, asked)
        search = Search(music, self.player, self.relaxed)
        first = search.first(start, start_us)
        best = search.quick(first)
        if AUDIBLE <= best.least < IMPOSSIBLE:
            moves = self._due(best, music, search, start, start_us)
            if not all(set(_of_foot(moves, foot)) == set(_whole(_of_foot(moves, foot))[0]) for foot in Foot):
                # It resorted to slides that leave too little room: once more, minding what they need.
                search.slides = True
                best = search.quick(first)
        if best.least // CHANGE <= first.least // CHANGE:
            search.bounded = 0  # nothing can be cheaper, whatever the timing
        elif thorough and len(attacks) <= SHORT:
            search.bounded = 0
            search.slides = best.least > AUDIBLE
            best = search.whole(first, MOST_STATES, best.least, EFFORT) or best
        return self._write(best, music, search, start, start_us, beat_in)

    # -- writing it down -----------------------------------------------------------------------------------------------

    def _due(
        self,
        best: State,
        music: Music,
        search: Search,
        start: Setting | None,
        start_us: int,
    ) -> list[_Due]:
        """The moves of a path, to be placed.

        A foot that was quiet had forgotten since when a letter is free: here the windows of its moves get
        that back.
        """
        positions = start.positions if start else (None,) * 7
        letters = [FREE if position is None else (start_us, start_us, ()) for position in positions]
        last = [start_us if start else LONG_AGO] * 7
        moves: list[_Due] = []
        for number, step in enumerate(_steps_of(best)):
            us = music.moments[number]
            for group, way, its_moves in zip(
                music.groups,
                (step.left_way, step.right_way),
                (step.left_moves, step.right_moves),
                strict=True,
            ):
                struck = [(group.first + index, pitches) for index, pitches in group.struck(way)]
                for move in its_moves:
                    times = letters[move.pedal]
                    held = held_for(times, dict(struck)[move.pedal], us, search.rule)
                    latest, _, distance = move.window
                    widest = us - self.lead[abs(move.goal - move.start)], times[1], self.player.cycle
                    window = latest, times[1] if move.audible else held, distance
                    moves.append(_Due(move, us, window, widest, held, last[move.pedal]))
                for pedal, pitches in struck:
                    letters[pedal] = plucked(letters[pedal], pitches, search.frees[number], us, search.rule)
                    last[pedal] = us
        return moves

    def _timed(
        self, moves: Sequence[_Due], moments: list[int], beat_in: BeatIn | None
    ) -> tuple[PedalChange, ...]:
        """The moves with their moments: the possible order of each foot kept, on a beat where that leaves
        room.
        """
        changes: list[PedalChange] = []
        for foot in Foot:
            mine = _of_foot(moves, foot)
            possible, _ = _whole(mine)
            # What there is no time for is put where it would have to be, but not before its string is done with.
            changes += [
                self._change(due, min(max(due.window[0], due.struck), due.attack), None, False)
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
        best: State,
        music: Music,
        search: Search,
        start: Setting | None,
        start_us: int,
        beat_in: BeatIn | None,
    ) -> Plan:
        positions: list[Position | None] = list(start.positions if start else (None,) * 7)
        spellings = []
        # What is spelled the same way is spelled once: by the ways of an attack and those that were taken.
        known: dict[tuple[int, int, int], tuple[Spelling | None, ...]] = {}
        for attack, choices, out, step in zip(
            music.attacks, music.choices, music.left_out, _steps_of(best), strict=True
        ):
            left, right = step.left_way, step.right_way
            key = id(choices), id(left), id(right)
            spelled = known.get(key)
            if spelled is None or out:
                where: dict[int, tuple[int, int]] = {}
                for way, first in ((left, 0), (right, RIGHT_FIRST_PEDAL)):
                    for index, position, keys in way:
                        pedal = first + index
                        if positions[pedal] is None:
                            positions[pedal] = Position(position)
                        for pitch in pitches_of(keys):
                            where[pitch] = pedal, position
                spelled = tuple(
                    [None if pitch in out else self._spelling(pitch, where) for pitch, _ in attack.notes]
                )
                if not out:
                    known[key] = spelled
            spellings.append(spelled)
        moves = self._due(best, music, search, start, start_us)
        changes = self._timed(moves, music.moments, beat_in)
        return Plan(
            Setting(tuple(positions)),
            changes,
            tuple(music.moments),
            tuple(spellings),
            unplayable=best.price // IMPOSSIBLE,
            audible=sum(change.audible for change in changes),
            tight=sum(change.tight for change in changes if change.possible),
            bounded=search.bounded,
        )

    def _spelling(self, pitch: int, where: dict[int, tuple[int, int]]) -> Spelling | None:
        for spelling in self.instrument.spellings(pitch):
            if spelling.fixed or where.get(pitch) == (spelling.string.pedal, spelling.position):
                return spelling
        return None


def _steps_of(best: State) -> list[State]:
    """The states of a path after each attack."""
    steps: list[State] = []
    while best.before is not None:
        steps.append(best)
        best = best.before
    steps.reverse()
    return steps


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
        windows = [one.window for one in stretch]
        found = orderable([(late, max(early, last + gap), gap) for late, early, gap in windows])
        if found is not None:
            # Of those that start at one moment, where a cycle takes no time, the one that needs the time before it.
            order = sorted(range(len(stretch)), key=lambda i: (found[i], -stretch[i].window[2]))
            return [*kept[:begin], *(stretch[i] for i in order)], [
                *starts[:begin],
                *(found[i] for i in order),
            ]
        if not possible(windows):
            return None  # there is no room for these alone, so a longer stretch has none either
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
