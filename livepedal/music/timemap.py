"""Where a moment lies: ticks to microseconds and back, bar and beat, tempo, rehearsal mark; all of it exact.

A file counts time in ticks. Its tempo changes cut it into stretches in which a tick lasts equally long, so
the time of a tick is a sum of whole numbers of ticks times whole numbers of microseconds a quarter, over the
ticks a quarter: kept as an integer numerator over one denominator for the whole file, and rounded (half up)
only when asked for. Bars and beats are exact fractions in the same way; nothing accumulates, so nothing
drifts.

With SMPTE division a tick is a fixed part of a second and Set Tempo does not change that; bars are then
counted in quarters of the tempo at the start, all through. Source: "Standard MIDI Files 1.0" (RP-001): 120
quarters a minute and 4/4 until something else is said. Common practice, no source: a new metre starts a new
bar where it stands, and the metre that is in force anyway, written once more, does not.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from operator import attrgetter, itemgetter
from typing import NamedTuple, TypeVar

from livepedal.sources.raw import Division
from livepedal.sources.scores.written import PrintedBar

DEFAULT_TEMPO = 500_000  # microseconds a quarter: 120 quarters a minute
DEFAULT_METRE = (4, 4)
EARLY = Fraction(1, 16)  # of a beat; nearer to the next one than to its last part that has a sign (wording.py)


class Bar(int):
    """A bar of a score: as a number its place in the order of playing, as text what is printed.

    Where it is repeated, the text says which time it is played: "12 (2nd time)".

    Attributes:
        printed: the number in print, 0 where there is none.
    """

    name: str
    printed: int

    def __new__(cls, number: int, name: str, printed: int) -> Bar:
        """The bar with this place, text and number in print."""
        bar = super().__new__(cls, number)
        bar.name, bar.printed = name, printed
        return bar

    def __reduce__(self) -> tuple[type[Bar], tuple[int, str, int]]:
        return Bar, (int(self), self.name, self.printed)

    def __str__(self) -> str:
        return self.name

    def __format__(self, spec: str) -> str:
        return format(self.name, spec)


def printed_number(bar: int) -> int:
    """The number of a bar in print, which is its number but for scores with repeats."""
    return bar.printed if isinstance(bar, Bar) else bar


@dataclass(frozen=True, slots=True)
class Place:
    """A moment as musicians name it.

    Attributes:
        bar: counted from the time map's first bar (1 by default); a `Bar` if a score prints another number.
        beat: in units of the metre's denominator, 1 on the bar line, exact.
        mark: the rehearsal mark in force, the last one at or before the moment; None before the first.
        bars_after: from the bar of the mark to this one as numbered in print; below 0 where the music has gone back.
    """

    bar: int
    beat: Fraction
    mark: str | None = None
    bars_after: int = 0


class Tempo(NamedTuple):
    """From this tick on a quarter note lasts `per_quarter` microseconds (at least 1)."""

    tick: int
    per_quarter: int


class Metre(NamedTuple):
    """From this tick on a bar has `numerator` beats, each a `denominator`th of a whole note."""

    tick: int
    numerator: int
    denominator: int


class Mark(NamedTuple):
    """A rehearsal mark stands at this tick."""

    tick: int
    text: str


class Stretch(NamedTuple):
    """A stretch of constant tempo. elapsed: numerator of the microseconds before it; rate: of a tick."""

    tick: int
    elapsed: int
    rate: int
    per_quarter: int


class _Bars(NamedTuple):
    """Bars of one metre, or one printed bar.

    Attributes:
        quarters: start of the first, in crotchets.
        bar: its index, from 0.
        beats: of a bar.
        beat: crotchets of a beat.
        late: crotchets of the first that are missing (an upbeat).
    """

    quarters: Fraction
    bar: int
    beats: Fraction
    beat: Fraction
    late: Fraction = Fraction(0)


class TimeMap:
    """The time of a file or session.

    Immutable; picklable; equal when made of the same parts.

    tempos, metres and marks may come in any order; of several at one tick the last given counts.

    Attributes:
        printed: the bars as a score has them, in order; without them bars are counted by the metres.
        metre_known: whether the metres or the printed bars were given.

    Raises:
        ValueError: for a tempo below 1 or a metre without beats: the caller has checked what came from outside.
    """

    def __init__(
        self,
        division: Division,
        tempos: Iterable[Tempo] = (),
        metres: Iterable[Metre] = (),
        marks: Iterable[Mark] = (),
        first_bar: int = 1,
        printed: Sequence[PrintedBar] = (),
    ) -> None:
        self.division = division
        self.printed = tuple(printed)
        if printed and printed[0].number.isdecimal():
            first_bar += int(printed[0].number) - 1
        self.first_bar = first_bar
        self._names = _bar_names(self.printed, first_bar)
        self._tempos = _settled(tempos, Tempo(0, DEFAULT_TEMPO))
        metres = tuple(metres)
        self.metre_known = bool(metres or printed)
        self.metres = _settled(metres, Metre(0, *DEFAULT_METRE))
        self.marks = tuple({mark.tick: mark for mark in sorted(marks, key=itemgetter(0))}.values())
        if any(tempo.per_quarter < 1 for tempo in self._tempos):
            raise ValueError("a quarter note lasts at least 1 microsecond")
        if any(metre.numerator < 1 or metre.denominator < 1 for metre in self.metres):
            raise ValueError("a metre has at least one beat")
        self._denominator, self._pace = _units(division, self._tempos[0])
        self._stretches = _stretches(division, self._tempos)
        self._bars = self._lay_bars()

    @classmethod
    def steady(cls, ticks_per_quarter: int = 960, per_quarter: int = DEFAULT_TEMPO) -> TimeMap:
        """One tempo from start to end, 4/4: what a live session counts in before anyone says more."""
        return cls(Division(per_quarter=ticks_per_quarter), [Tempo(0, per_quarter)])

    def __eq__(self, other: object) -> bool:
        return isinstance(other, TimeMap) and _PARTS(self) == _PARTS(other)

    def __repr__(self) -> str:
        counts = f"{len(self.tempos)} tempos, {len(self.metres)} metres, {len(self.marks)} marks"
        return f"<TimeMap {self.division}: {counts}>"

    @property
    def tempos(self) -> tuple[Tempo, ...]:
        """The tempos in order of time; the first is at tick 0."""
        return self._tempos

    # Ticks and microseconds

    def stretch(self, tick: int | Fraction) -> Stretch:
        """The stretch that a tick is in."""
        return at(self._stretches, tick)

    def stretch_at(self, elapsed: int) -> Stretch:
        """The stretch that a moment is in, given as the numerator of its microseconds."""
        return at(self._stretches, elapsed, 1)

    def us(self, tick: int | Fraction) -> int:
        """Microseconds from the start to a tick, or between two, rounded half up."""
        stretch = self.stretch(tick)
        elapsed = stretch.elapsed + (tick - stretch.tick) * stretch.rate
        return (2 * elapsed + self._denominator) // (2 * self._denominator)

    def us_of(self, ticks: Sequence[int]) -> list[int]:
        """`us` of many ticks, which must not descend; quicker than one by one, for whole tracks."""
        result: list[int] = []
        double = 2 * self._denominator
        first = max(bisect_right(self._stretches, ticks[0], key=itemgetter(0)) - 1, 0) if ticks else 0
        for index in range(first, len(self._stretches)):
            done = len(result)
            if done == len(ticks):
                break
            stretch, *following = self._stretches[index : index + 2]
            end = bisect_left(ticks, following[0].tick, done) if following else len(ticks)
            rate = 2 * stretch.rate
            base = 2 * (stretch.elapsed - stretch.tick * stretch.rate) + self._denominator
            result += [(base + tick * rate) // double for tick in ticks[done:end]]
        return result

    def tick(self, us: int) -> int:
        """The tick nearest to a moment; `tick(us(t)) == t` where a tick lasts longer than a microsecond."""
        target = us * self._denominator
        stretch = self.stretch_at(target)
        return stretch.tick + (2 * (target - stretch.elapsed) + stretch.rate) // (2 * stretch.rate)

    # Bars, beats, tempo, marks

    def place(self, us: int) -> Place:
        """Bar, beat and rehearsal mark of a moment, taken to the nearest tick."""
        return self.place_of_tick(self.tick(us))

    def told(self, us: int) -> Place:
        """The same for people: what is played a little before a beat stands on it, in its bar."""
        tick = self.tick(us)
        place = self.place_of_tick(tick)
        early = -place.beat % 1
        if not 0 < early < EARLY:
            return place
        return self.place_of_tick(tick + ceil(early * at(self._bars, tick * self._pace).beat / self._pace))

    def place_of_tick(self, tick: int) -> Place:
        """Bar, beat and rehearsal mark of a tick."""
        bar, beat = self._bar_and_beat(tick)
        found = bisect_right(self.marks, tick, key=itemgetter(0)) - 1
        if found < 0:
            return Place(bar, beat)
        mark = self.marks[found]
        after = printed_number(bar) - printed_number(self._bar_and_beat(mark.tick)[0])
        return Place(bar, beat, mark.text, after)

    def _bar_and_beat(self, tick: int) -> tuple[int, Fraction]:
        quarters = tick * self._pace
        bars = at(self._bars, quarters)
        whole, rest = divmod(quarters - bars.quarters, bars.beat * bars.beats)
        bar = self.first_bar + bars.bar + whole
        return self._names.get(bar, bar), 1 + (rest + (0 if whole else bars.late)) / bars.beat

    def bar_printed(self, number: int) -> int:
        """The bar that has this number in print, the first time it is played.

        Where bars are only counted, it is the number itself.
        """
        return next((bar for bar in self._names.values() if bar.printed == number), number)

    def us_of_bar(self, bar: int, beat: Fraction | int = 1) -> int:
        """Microseconds to a beat of a bar, the inverse of `place`; bars before the first lie below 0."""
        index = bar - self.first_bar
        bars = at(self._bars, index, 1)
        within = bars.beat * (Fraction(beat) - 1) - (bars.late if index == bars.bar else 0)
        quarters = (
            bars.quarters
            + bars.beat * bars.beats * (index - bars.bar)
            + (max(Fraction(0), within) if bars.late else within)
        )
        return self.us(quarters / self._pace)

    def beats_per_minute(self, us: int) -> Fraction:
        """Quarter notes a minute at a moment, whatever the metre."""
        return Fraction(60_000_000, self.stretch_at(us * self._denominator).per_quarter)

    def metre(self, us: int) -> tuple[int, int]:
        """Numerator and denominator of the time signature in force at a moment."""
        _, numerator, denominator = at(self.metres, self.tick(us))
        return numerator, denominator

    def _lay_bars(self) -> list[_Bars]:
        if self.printed:
            return list(self._lay_printed())
        laid: list[_Bars] = []
        for tick, numerator, denominator in self.metres:
            quarters = tick * self._pace
            bar = 0
            if laid:
                before = laid[-1]
                length = before.beat * before.beats
                # A bar that the new metre cuts short counts as a bar.
                bar = int(before.bar - (before.quarters - quarters) // length)
            laid.append(_Bars(quarters, bar, Fraction(numerator), Fraction(4, denominator)))
        return laid

    def _lay_printed(self) -> Iterator[_Bars]:
        """Each printed bar by itself, as long as it is; behind the last they go on in its metre."""
        ends = [bar.tick for bar in self.printed[1:]]
        for index, (bar, end) in enumerate(zip(self.printed, [*ends, None], strict=True)):
            metre = at(self.metres, bar.tick)
            beat = Fraction(4, metre.denominator)
            beats = Fraction(metre.numerator) if end is None else (end - bar.tick) * self._pace / beat
            yield _Bars(
                bar.tick * self._pace, index, max(beats, Fraction(1, 64)), beat, bar.late * self._pace
            )


_Row = TypeVar("_Row", Stretch, Metre, _Bars)


def at(rows: Sequence[_Row], value: int | Fraction, place: int = 0) -> _Row:
    """The last row whose value at this place is not beyond the given one; the first where all are."""
    return rows[max(bisect_right(rows, value, key=itemgetter(place)) - 1, 0)]


_PARTS = attrgetter("division", "tempos", "metres", "marks", "first_bar", "printed", "metre_known")


def _bar_names(printed: Sequence[PrintedBar], first: int) -> dict[int, Bar]:
    """The bars whose number in print is not the one that counting gives."""
    again = {bar.number for bar in printed if bar.times > 1}
    names = {}
    for index, bar in enumerate(printed, first):
        if bar.number != str(index) or bar.number in again:
            name = bar.number or "without number"
            time = {1: "1st", 2: "2nd", 3: "3rd"}.get(bar.times, f"{bar.times}th")
            if bar.number in again:
                name += f" ({time} time)"
            names[index] = Bar(index, name, int(bar.number) if bar.number.isdecimal() else 0)
    return names


_Change = TypeVar("_Change", Tempo, Metre)


def _settled(changes: Iterable[_Change], default: _Change) -> tuple[_Change, ...]:
    """In order of time, the last of each tick, without those that change nothing; starts at tick 0."""
    settled = [default]
    for change in {change.tick: change for change in sorted(changes, key=itemgetter(0))}.values():
        if change.tick == 0:
            settled[0] = change
        elif change[1:] != settled[-1][1:]:
            settled.append(change)
    return tuple(settled)


def _units(division: Division, first: Tempo) -> tuple[int, Fraction]:
    """The denominator of all times in microseconds, and how many quarter notes a tick is."""
    if division.per_quarter is not None:
        return division.per_quarter, Fraction(1, division.per_quarter)
    if division.per_second is None:
        raise ValueError("a division is in ticks a quarter or in ticks a second")
    return division.per_second.numerator, 1_000_000 / division.per_second / first.per_quarter


def _stretches(division: Division, tempos: Sequence[Tempo]) -> list[Stretch]:
    if division.per_second is not None:
        return [Stretch(0, 0, 1_000_000 * division.per_second.denominator, tempos[0].per_quarter)]
    laid: list[Stretch] = []
    tick = elapsed = rate = 0
    for tempo in tempos:
        elapsed += (tempo.tick - tick) * rate
        tick, rate = tempo
        laid.append(Stretch(tick, elapsed, rate, rate))
    return laid
