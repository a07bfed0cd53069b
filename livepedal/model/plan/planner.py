"""The plan: the pedalling that a player would choose for a whole part, and how each note is spelled.

The verdict search (tracker.py) only asks whether there is any schedule. This one looks for the best, over
whole music that is known beforehand, as harpists would: prices.py says what they mind most, search.py has the
search, and timing.py says when each change is made.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from livepedal.harp import Foot, Instrument, Player, Position, Ringing, Setting, Spelling
from livepedal.model.feet.chords import RIGHT_FIRST_PEDAL, Chords, Narrowing, pitches_of
from livepedal.model.feet.free import LONG_AGO
from livepedal.model.feet.whole import cannot as find_cannot
from livepedal.model.plan.attack import State
from livepedal.model.plan.footwork import at_ease
from livepedal.model.plan.orders import PLAIN
from livepedal.model.plan.prepared import Music
from livepedal.model.plan.prices import AUDIBLE, CHANGE, CROSSED, IMPOSSIBLE, PART, Over, over
from livepedal.model.plan.search import Search
from livepedal.model.plan.stands import FREE, Move, after_pluck
from livepedal.model.plan.timing import Due, Moments, PedalChange, Timing
from livepedal.music.attacks import Gathered
from livepedal.music.beats import Beats
from livepedal.music.timemap import TimeMap

# Where the quick path may not be the best, music of up to SHORT attacks is searched again, with as many states as it
# takes and up to so much EFFORT (steps looked at).
SHORT = 30
MOST_STATES = 20_000
EFFORT = 40_000


@dataclass(frozen=True, slots=True)
class Plan:
    """The setting to start with, the changes, and how every note is spelled.

    Attributes:
        changes: in the order of their starts.
        attacks: their moments (µs).
        spellings: for each attack one Spelling for each of its pitches in ascending order (None where the plan leaves
            the note out: no string gives it, or no setting holds it with the others).
        given_up: the attacks that are not played as they should (µs).
        audible: how many changes are audible.
        tight: how many changes are tight.
        crossed: how many attacks are on crossed strings.
        bounded: how often the search dropped states or gave up.
        over: how far from the best it may be.
    """

    setting: Setting
    changes: tuple[PedalChange, ...]
    attacks: Sequence[int]
    spellings: tuple[tuple[Spelling | None, ...], ...]
    given_up: tuple[int, ...]
    audible: int
    tight: int
    bounded: int
    crossed: int = 0
    over: Over | None = None

    @property
    def unplayable(self) -> int:
        """How many attacks are given up."""
        return len(self.given_up)

    @property
    def minded(self) -> tuple[int, int, int, int]:
        """How many there are of what harpists mind most, in this order.

        Attacks that cannot be played, audible changes, attacks on crossed strings, tight changes.
        """
        return self.unplayable, self.audible, self.crossed, self.tight

    def setting_at(self, us: int) -> Setting:
        """The setting at a moment (µs), with all changes made that start before it."""
        positions = list(self.setting.positions)
        for change in self.changes:
            if change.us >= us:
                break
            positions[change.pedal] = change.goal
        return Setting(tuple(positions))

    def told_at(self, change: PedalChange, time_map: TimeMap) -> int:
        """The moment (µs) at which a part would have a change.

        On its own beat; else, where it is heard, at its note, if it comes just before that; else at the note that it
        comes at or just after, if no beat lies between.
        """
        place, number = time_map.place(change.us), bisect_right(self.attacks, change.us)
        if number and place.beat.denominator > 1:
            if change.audible and change.attack_us == self.attacks[number]:
                return change.attack_us
            note = time_map.place(self.attacks[number - 1])
            if (note.bar, note.beat) >= (place.bar, place.beat // 1):
                return self.attacks[number - 1]
        return change.us

    @property
    def feet(self) -> tuple[int, int]:
        """How many of the changes are the left foot's, and how many the right's."""
        left = sum(change.foot is Foot.LEFT for change in self.changes)
        return left, len(self.changes) - left


class Planner:
    """Finds the plan of one player for a part.

    Attributes:
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
        beats: Beats | None = None,
        asked: Mapping[int, Narrowing] | None = None,
        thorough: bool = True,
        music: Music | None = None,
        cannot: Collection[int] | None = None,
    ) -> Plan:
        """The best plan, or a good one if not `thorough`.

        Args:
            attacks: in order of time.
            start: how the pedals are set, at `start_us` (µs); None: as the music likes.
            asked: how attacks are to be spelled, by their moment (µs), where that is not left to the plan.
            start_us: when they are set so (µs).
            beats: those that changes go on, where they are known.
            thorough: whether to look hard at hard places.
            music: the attacks made ready for the search, where that was done before (for another player).
            cannot: the moments (µs) of the attacks that the feet cannot play, where that is known: they are given up.
        """
        if music is None:
            music = Music(attacks, self.chords, self.ringing, asked)
        if cannot is None:
            cannot = find_cannot(attacks, self.player, self.ringing, self.chords, asked, start, start_us)
        plan = self._plan(music, start, start_us, beats, thorough, cannot)
        if thorough and plan.bounded and music.departs(plan.spellings):
            # A name is paid for note by note, so no price says that all names together may as well be a diminished
            # second away (G♯ minor read as A♭ minor): that is tried as a whole. One of the recordings needs it.
            other = self._plan(music.renamed(), start, start_us, beats, False, cannot)
            if (other.minded, len(other.changes)) < (plan.minded, len(plan.changes)):
                return replace(other, bounded=max(1, other.bounded), over=None)
        return plan

    def _plan(
        self,
        music: Music,
        start: Setting | None,
        start_us: int,
        beats: Beats | None,
        thorough: bool,
        cannot: Collection[int],
    ) -> Plan:
        search = Search(music, self.player, self.relaxed, cannot)
        first = search.first(start, start_us)
        best = self._best(search, first, thorough)
        more = best.least // IMPOSSIBLE > first.least // IMPOSSIBLE
        if more:
            search.bounded = max(1, search.bounded)  # it gives up what the verdict has a way for
        # After an attack that is given up changes may turn out tighter than the search knows.
        known = search.bounded and (more or first.least < IMPOSSIBLE)
        far = over(best.least, first.least) if known else None
        return replace(self._write(best, music, search, start, start_us, beats), over=far)

    def _best(self, search: Search, first: State, thorough: bool) -> State:
        """The end of the best path that is found."""
        music = search.music
        best = search.quick(first, thorough)
        if best.least // CHANGE <= first.least // CHANGE:
            search.bounded = 0  # nothing can be cheaper, whatever the timing
        elif thorough and len(music.moments) <= SHORT:
            search.bounded = 0
            search.work.slides = best.least % IMPOSSIBLE > AUDIBLE
            best = search.whole(first, MOST_STATES, best.least, EFFORT) or best
        return best

    # -- writing it down -----------------------------------------------------------------------------------------------

    def _due(
        self,
        best: State,
        music: Music,
        search: Search,
        start: Setting | None,
        start_us: int,
    ) -> list[Due]:
        """The moves of a path, to be placed.

        A foot that was quiet had forgotten since when a letter is free: here the windows of its moves get
        that back.
        """
        stands = [None if one is None else int(one) for one in (start.positions if start else (None,) * 7)]
        letters = [FREE if position is None else (start_us, start_us, ()) for position in stands]
        last = [start_us if start else LONG_AGO] * 7
        moves: list[Due] = []
        rule = search.work.rule
        # The last attack that was given up, and the letters before it: those that may stand anywhere since then.
        given_up, before, ago = 0, letters, last
        for number, step in enumerate(search.path(best)):
            us, before_us = music.moments[number], music.moments[number - 1] if number else LONG_AGO
            if step.given_up:
                given_up, before, ago = us, list(letters), list(last)
            ways = ((music.groups[0], step.left_way), (music.groups[1], step.right_way))
            struck = {group.first + index: keys for group, way in ways for index, _, keys in way}
            for move in (*step.left_moves, *step.right_moves):
                pedal = move.pedal
                since, slid, sounding = letters[pedal]
                held = rule.free_for(since, sounding, struck[pedal], us)
                if move.across:
                    held, slid = max(held, before_us), max(slid, before_us)
                moves.append(self._one(move, us, held, slid, last[pedal]))
                stands[move.pedal] = move.goal
            for group, way in ways:
                for index, position, _ in way:
                    pedal = group.first + index
                    was = stands[pedal]
                    if was not in (None, position):
                        at = given_up - self.lead[abs(position - was)]
                        move = Move(pedal, was, position, (at, at, 0), False, True, False)
                        since, slid, sounding = before[pedal]
                        held = rule.free_for(since, sounding, 0, given_up)
                        moves.append(self._one(move, given_up, held, slid, ago[pedal]))
                    stands[pedal] = position
            for pedal, keys in struck.items():
                letters[pedal] = after_pluck(letters[pedal], keys, search.work.frees[number], us)
                last[pedal] = us
        return moves

    def _one(self, move: Move, us: int, held: int, slid: int, struck: int) -> Due:
        """A move that is due for the attack at `us`.

        Args:
            move: the move.
            us: when the attack is (all times in µs).
            held: when its letter is free when held counts.
            slid: when its letter is free when held does not count.
            struck: when the letter was struck last.
        """
        widest = us - self.lead[abs(move.goal - move.start)], slid, self.player.cycle, *move.window[PLAIN:]
        window = move.window[0], slid if move.audible else held, *move.window[2:]
        return Due(move, us, window, widest, held, struck)

    def _write(
        self,
        best: State,
        music: Music,
        search: Search,
        start: Setting | None,
        start_us: int,
        beats: Beats | None,
    ) -> Plan:
        positions: list[Position | None] = list(start.positions if start else (None,) * 7)
        spellings = []
        path = search.path(best)
        for attack, out, step in zip(music.attacks, music.out, path, strict=True):
            where: dict[int, tuple[int, int]] = {}
            for way, first in ((step.left_way, 0), (step.right_way, RIGHT_FIRST_PEDAL)):
                for index, position, keys in way:
                    pedal = first + index
                    if positions[pedal] is None:
                        positions[pedal] = Position(position)
                    for pitch in pitches_of(keys):
                        where[pitch] = pedal, position
            spellings.append(
                tuple([None if pitch in out else self._spelling(pitch, where) for pitch, _ in attack.notes])
            )
        moves = self._due(best, music, search, start, start_us)
        timing = Timing(Moments(music.attacks, beats), self.easy_lead, self.easy_cycle)
        changes = timing.changes(moves)
        return Plan(
            Setting(tuple(positions)),
            changes,
            music.moments,
            tuple(spellings),
            given_up=tuple(us for us, step in zip(music.moments, path, strict=True) if step.given_up),
            audible=sum(change.audible for change in changes),
            tight=sum(change.tight for change in changes if change.possible),
            bounded=search.bounded,
            crossed=best.price // CROSSED % PART,
        )

    def _spelling(self, pitch: int, where: dict[int, tuple[int, int]]) -> Spelling | None:
        for spelling in self.instrument.spellings(pitch):
            if spelling.fixed or where.get(pitch) == (spelling.string.pedal, spelling.position):
                return spelling
        return None
