"""The same string again: how soon a string can be plucked once more, and the way out over a second string.

A finger must be on its string before it plucks, and that stops what sounds; so one string is slow to repeat,
while one pitch on *two* strings goes even at the speed of a trill (common practice; Berlioz, Grand traité, p.
88: eight B♭ on one string are ungainly, on B♭ and A♯ in turn easy; Goss, harp stomping notes). No rate in
numbers was found. Two figures of a player:
- `restrike`: from one pluck of a string to its next. Two hands or two fingers take turns, so that a single
  repeat goes fast;
- `repeat`: when it goes on, three plucks running take at least twice that. A trill repeats each of its
  strings at half its own speed. Two strings of one pitch each have their own count, hence twice the rate of
  one; no figure is needed for that. D, G and A natural lie on one string only and have no way out. What
  counts is the string, not the note: F𝄪 and G are one string, and so are C♮ and C♯ on the C string.

A string belongs to one letter, a letter to one foot. So this is a rule of the feet's readings: `StringRules`
are a foot's rules whose readings also remember the latest plucks of its strings (at most two a string, and
none older than two repeats). Everything else is as in readings.py; readings that differ in plucks only are
equal again as soon as those no longer matter. Two positions at once, which two strings of one pitch need, are
two letters' business and come out right by themselves.

Only strings that somebody *watches* are remembered, and a string need only be watched from the pluck on that
another one may follow too soon, which `Clashes` tells without knowing any reading (performer.py). Most music
watches none.

Exact: an attack turns a reading into one for each way of putting its notes on strings, as there, less the
ways that pluck a string too soon. One reading makes another superfluous where it does so without plucks and
each of its plucks is no later than one of the other's on that string.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from livepedal.harp import HarpString, Instrument, Pedal, Player, Ringing, Spelling
from livepedal.model.chords import RIGHT_FIRST_PEDAL, Sharing, Way, pitches_of
from livepedal.model.free import FreeRule
from livepedal.model.readings import FRESH, LONG_AGO, FootRules, Letter, Reading, Readings
from livepedal.model.schedule import Changes
from livepedal.model.tracker import Pair, Tracker

# (string by its number, last pluck, the one before or LONG_AGO), by string; only those that can still matter
Plucks = tuple[tuple[int, int, int], ...]
# A foot's reading with its plucks at the end
Marked = tuple[tuple[Letter, ...], Changes, Plucks]
MarkedReadings = tuple[Marked, ...]
_Turn = Callable[[Readings], Readings]


class Repeats:
    """One player's figures for plucking a string again."""

    __slots__ = ("memory", "restrike", "thrice")

    def __init__(self, player: Player) -> None:
        self.restrike = player.restrike
        self.thrice = 2 * player.repeat
        self.memory = max(self.restrike, self.thrice)

    def pluck(self, plucks: Plucks, strings: Sequence[int], moment: int) -> Plucks | None:
        """The plucks after these strings were plucked at `moment` (µs); None where that is too soon for one
        of them.
        """
        now = {string: (last, before) for string, last, before in plucks}
        for string in strings:
            last, before = now.get(string, (LONG_AGO, LONG_AGO))
            if moment - last < self.restrike or moment - before < self.thrice:
                return None
            now[string] = moment, last
        return tuple(sorted((string, last, before) for string, (last, before) in now.items()))

    def forget(self, plucks: Plucks, moment: int) -> Plucks:
        """The plucks that still matter to an attack at `moment` or later."""
        for _, last, before in plucks:
            if moment - last >= self.memory or LONG_AGO < before <= moment - self.thrice:
                break
        else:
            return plucks
        return tuple(
            (string, last, before if moment - before < self.thrice else LONG_AGO)
            for string, last, before in plucks
            if moment - last < self.memory
        )

    @staticmethod
    def at_least_as_good(good: Plucks, other: Plucks) -> bool:
        """Whether any string that can be plucked after `other` can be plucked after `good`."""
        if not good:
            return True
        theirs = {string: (last, before) for string, last, before in other}
        for string, last, before in good:
            bound = theirs.get(string)
            if bound is None or last > bound[0] or before > bound[1]:
                return False
        return True


def string_of(pedal: int, position: int, pitch: int) -> int:
    """The number of the string of this pedal that gives the MIDI number `pitch` in this position."""
    octave = (pitch - position - Pedal(pedal).natural) // 12 - 1
    return 7 * octave + Pedal(pedal).step


# For each pedal, position (-1, 0, 1) and MIDI number its string, so that nobody has to count while music
# plays.
_STRINGS = tuple(
    tuple(tuple(string_of(pedal, position, pitch) for pitch in range(128)) for position in (0, 1, -1))
    for pedal in range(7)
)


def strings_of(way: Way, first_pedal: int) -> tuple[int, ...]:
    """The strings that a way of one foot plucks."""
    found: list[int] = []
    for index, position, keys in way:
        table = _STRINGS[first_pedal + index][position]
        found += [table[pitch] for pitch in pitches_of(keys)]
    return tuple(found)


class StringRules(FootRules):
    """A foot's rules for readings that remember plucks.

    `watched`: the strings that matter. `strict` False: their plucks are remembered but forbid nothing, to see
    whether it is they that stand in the way.
    """

    __slots__ = ("repeats", "strict", "watched")

    def __init__(self, player: Player, free: FreeRule, struck: list[int]) -> None:
        super().__init__(player, free, struck)
        self.repeats = Repeats(player)
        self.strict = True
        self.watched: frozenset[int] = frozenset()

    # The readings of this class have a third part. The base class looks at the first two only where it is
    # handed them below, so to a type checker the overrides are of another type, which is why they are marked.

    def attack(  # type: ignore[override]
        self,
        readings: Iterable[Marked],
        ways: tuple[Way, ...],
        moment: int,
        first_pedal: int,
        besides: Changes = (),
        handed_over: int | None = None,
    ) -> MarkedReadings:
        """As in FootRules, less the ways that pluck a string too soon."""
        groups: dict[Plucks, list[Reading]] = {}
        for letters, owed, plucks in readings:
            groups.setdefault(plucks, []).append((letters, owed))
        found: dict[Marked, None] = {}
        base = super().attack
        for plucks, group in groups.items():
            alike: dict[Plucks, list[Way]] = {}
            for way in ways:
                after = self._pluck(plucks, way, moment, first_pedal)
                if after is not None:
                    alike.setdefault(after, []).append(way)
            for after, some in alike.items():
                for letters, owed in base(group, tuple(some), moment, first_pedal, besides, handed_over):
                    found[letters, owed, after] = None
        return tuple(found)

    def _pluck(self, plucks: Plucks, way: Way, moment: int, first_pedal: int) -> Plucks | None:
        strings = [string for string in strings_of(way, first_pedal) if string in self.watched]
        if not strings:
            return plucks
        after = self.repeats.pluck(plucks, strings, moment)
        if after is None and not self.strict:
            others = tuple(entry for entry in plucks if entry[0] not in strings)
            after = tuple(sorted((*others, *((string, moment, LONG_AGO) for string in strings))))
        return after

    def relaxed(  # type: ignore[override]
        self, readings: Iterable[Marked], moment: int
    ) -> MarkedReadings:
        """As in FootRules; nothing plucked."""
        found = super().relaxed([(letters, owed) for letters, owed, _ in readings], moment)
        return tuple((letters, owed, ()) for letters, owed in found)

    def force(  # type: ignore[override]
        self, readings: Iterable[Marked], ways: tuple[Way, ...], moment: int
    ) -> MarkedReadings:
        """As in FootRules; nothing plucked, so that what was too soon is reported once."""
        found = super().force([(letters, owed) for letters, owed, _ in readings], ways, moment)
        return tuple((letters, owed, ()) for letters, owed in found)

    def release(  # type: ignore[override]
        self, readings: MarkedReadings, released: dict[int, int]
    ) -> MarkedReadings:
        """As in FootRules."""
        return self._each(readings, lambda group: FootRules.release(self, group, released))

    def settle(  # type: ignore[override]
        self, readings: MarkedReadings, moment: int, first_pedal: int, prune: bool
    ) -> MarkedReadings:
        """As in FootRules; plucks that no longer matter are forgotten, and the readings are pruned when that
        leaves many.
        """
        forget = self.repeats.forget
        fresh = tuple({(letters, owed, forget(plucks, moment)): None for letters, owed, plucks in readings})
        settled = self._each(fresh, lambda group: FootRules.settle(self, group, moment, first_pedal, False))
        if prune and len(settled) > 1:
            settled = self.prune(settled, moment, first_pedal)  # type: ignore[arg-type, assignment]
        return readings if settled == readings else settled

    @staticmethod
    def allows(good: Marked, other: Marked) -> bool:  # type: ignore[override]
        """A reading covers another one if it has no pluck that the other does not have as late."""
        return Repeats.at_least_as_good(good[2], other[2])

    @staticmethod
    def _each(readings: MarkedReadings, turn: _Turn) -> MarkedReadings:
        groups: dict[Plucks, list[Reading]] = {}
        for letters, owed, plucks in readings:
            groups.setdefault(plucks, []).append((letters, owed))
        return tuple(
            (letters, owed, plucks)
            for plucks, group in groups.items()
            for letters, owed in turn(tuple(group))
        )


class StringTracker(Tracker):
    """A tracker of the feet that also minds the strings: no way to play plucks one too soon."""

    __slots__ = ()

    def __init__(self, player: Player, sliding: bool, ringing: Ringing) -> None:
        super().__init__(player, sliding, ringing)
        self.rules: StringRules = StringRules(player, self.free, self.struck)
        self.start(None)

    def start(self, letters: tuple[Letter, ...] | None) -> None:
        """Nothing owed, nothing plucked; letters unset, or as given (seven, in the order of the pedals)."""
        super().start(letters)
        letters = letters or (FRESH,) * 7
        left, right = (letters[:RIGHT_FIRST_PEDAL], (), ()), (letters[RIGHT_FIRST_PEDAL:], (), ())
        self.before = (((left,), (right,)),)  # type: ignore[assignment]
        self.after = self.before

    def fork(self) -> StringTracker:
        """A copy that goes its own way."""
        copy = object.__new__(StringTracker)
        for name in Tracker.__slots__:
            setattr(copy, name, getattr(self, name))
        copy.struck = list(self.struck)
        copy.rules = object.__new__(StringRules)
        for name in (*FootRules.__slots__, *StringRules.__slots__):
            setattr(copy.rules, name, getattr(self.rules, name))
        copy.rules.struck = copy.struck
        return copy

    def possible(self, ways: tuple[Sharing, ...], moment: int, *, strict: bool) -> bool:
        """Whether the attack could be played from `before`, strings minded or not; changes nothing."""
        self.rules.strict = strict
        try:
            return bool(self.attempt(self.before, ways, moment))
        finally:
            self.rules.strict = True

    @staticmethod
    def marked(pairs: tuple[Pair, ...]) -> tuple[Pair, ...]:
        """Pairs of a tracker that does not mind the strings, as ones of a tracker that does, with nothing
        plucked.
        """
        return tuple(
            (tuple((*reading, ()) for reading in left), tuple((*reading, ()) for reading in right))  # type: ignore[misc]
            for left, right in pairs
        )


@dataclass(frozen=True, slots=True)
class StringFault:
    """A string that would have to be plucked again too soon.

    pitch: the note; string: its string; needed, available: µs, since the last pluck or, with `often`, since
    the last but one; others: the other strings that give the note.
    """

    pitch: int
    string: HarpString
    needed: int
    available: int
    often: bool
    others: tuple[Spelling, ...]


# A note that a string may have given: when (µs), and its pitch.
Pluck = tuple[int, int]
# For strings (by number), upwards, the notes that each may have given, latest first
Recent = tuple[tuple[int, tuple[Pluck, ...]], ...]


class Clashes:
    """Where a string may be plucked too soon, whatever strings are chosen: what there is to watch.

    It knows the notes of the last attacks and the strings that each of them can be played on, and one thing
    of the feet: two pitches on one string have a pedal change between them, and that takes its time. So notes
    next to each other in pitch, which have a string in common, are as good as never a clash.
    """

    def __init__(self, player: Player, instrument: Instrument) -> None:
        self.repeats = Repeats(player)
        self._lead = player.leads
        self._cycle = player.cycle
        self._spellings = tuple(instrument.spellings(pitch) for pitch in range(128))
        self._strings = tuple(
            tuple(spelling.string.number for spelling in spellings) for spellings in self._spellings
        )
        self._recent: dict[int, tuple[Pluck, ...]] = {}  # by string, latest first

    def clear(self) -> None:
        """Nothing was played."""
        self._recent = {}

    def fork(self) -> Clashes:
        """A copy that goes its own way."""
        copy = object.__new__(Clashes)
        copy.__dict__.update(self.__dict__)
        copy._recent = dict(self._recent)
        return copy

    def recent(self, then: int) -> Recent:
        """What is known of the time after `then` (µs)."""
        plucks = (
            (string, tuple(pluck for pluck in known if pluck[0] > then))
            for string, known in self._recent.items()
        )
        return tuple(sorted((string, known) for string, known in plucks if known))

    def know(self, recent: Recent) -> None:
        """Know what another one did."""
        self._recent = dict(recent)

    def add(self, pitches: Iterable[int], moment: int) -> None:
        """An attack is over."""
        then = moment - self.repeats.memory
        for pitch in pitches:
            for string in self._strings[pitch]:
                known = self._recent.get(string, ())
                self._recent[string] = ((moment, pitch), *(past for past in known if past[0] > then))

    def _follows(self, pluck: Pluck, past: Pluck) -> bool:
        """Whether one string can have given both: the feet have the time in between."""
        return pluck[0] - past[0] >= self._lead[abs(pluck[1] - past[1])] if pluck[0] > past[0] else False

    def _too_soon(self, string: int, pluck: Pluck) -> Iterator[tuple[Pluck, bool]]:
        """The plucks of the past that this one may come too soon after on a string; True: as the third."""
        known = self._recent.get(string)
        if known is None:
            return
        moment, pitch = pluck
        repeats, follows = self.repeats, self._follows
        for number, past in enumerate(known):
            if moment - past[0] >= repeats.memory:
                break
            if not follows(pluck, past):
                continue
            if moment - past[0] < repeats.restrike:
                yield past, False
            for before in known[number + 1 :]:
                if moment - before[0] < repeats.thrice and follows(past, before):
                    twice = pitch != past[1] and past[1] != before[1]
                    if not twice or moment - before[0] >= self._cycle:
                        yield before, True

    def possible(self, pitches: Iterable[int], moment: int) -> tuple[int, frozenset[int]] | None:
        """The strings that this attack may pluck too soon, and the first pluck that matters to that (µs);
        None: none.
        """
        since = moment
        strings: set[int] = set()
        for pitch in pitches:
            for string in self._strings[pitch]:
                for _ in self._too_soon(string, (moment, pitch)):
                    strings.add(string)
                    # Not that pluck only: which of them were made on this string is what is not known.
                    known = self._recent[string]
                    since = min(since, *(past for past, _ in known if moment - past < self.repeats.memory))
                    break
        return (since, frozenset(strings)) if strings else None

    def fault(self, pitches: Iterable[int], moment: int) -> StringFault | None:
        """The note of an attack whose string is plucked again soonest, for its player's figures."""
        worst: StringFault | None = None
        for pitch in pitches:
            strings = self._strings[pitch]
            for string in strings:
                for (past, _), often in self._too_soon(string, (moment, pitch)):
                    needed = self.repeats.thrice if often else self.repeats.restrike
                    short = needed - (moment - past)
                    others = tuple(s for s in self._spellings[pitch] if s.string.number != string)
                    # A note that has no other string goes first: there is no way round it.
                    rank = (not others, short)
                    if worst is None or rank > (not worst.others, worst.needed - worst.available):
                        worst = StringFault(
                            pitch, HarpString.numbered(string), needed, moment - past, often, others
                        )
        return worst
