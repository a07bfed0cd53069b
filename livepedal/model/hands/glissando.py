"""Glissandi: one finger drawn over the strings as they are set, at any speed.

A run over neighbouring strings is a glissando if its notes are the strings in order under *one* setting. Every string
sounds, so the letters that a chord does not need are set to notes that it has: two neighbours at one pitch sound twice,
where a keyboard may have played that pitch once (Berlioz, Grand traité, p. 90: C♮ E♭ G♭ A♮ from D♯ C♮ B♯ E♭ F♯ G♭ A♮,
the only setting; common practice). Seven strings an octave cannot be twelve notes, so a chromatic run never is one. A
glissando may turn round, and another hand may take it over.

`Runs` hears attack by attack. Each note goes on with at most one run upwards and one downwards: the longest that it
continues. A run remembers every way to lie on strings: where it stands, and the positions of the letters it went
over; a note that no way leads to begins anew. Any number of runs can be on the way at once, as they are kept apart by
where they are; two that are glissandi at once must agree on a setting. Nothing here asks how fast it goes, so the
same notes are a glissando at every tempo: what comes between two notes of a run is counted in attacks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from operator import attrgetter

from livepedal.harp import HarpString, Instrument, Position, Setting
from livepedal.model.feet.letters import UNSET
from livepedal.model.hands.strokes import FIFTH
from livepedal.music.attacks import WIDEST_STEP

BETWEEN = 2  # attacks from one note of a run to its next, at the most
SELDOM = 3  # in its way only at one note in so many: not at each, as in broken thirds
AT_ONCE = 2  # notes of a run in one attack: fingers are uneven, and a quicker run passes more in a moment
LONGEST = 64  # notes remembered of a run that turns round again and again

# How far it is from a run to its next note. The same pitch again is the neighbour that doubles it only where nothing
# else leads there.
_NEAREST = (*range(1, WIDEST_STEP + 1), 0)
_notes = attrgetter("notes")

# The string a run stands on (number), and the position of each pedal, UNSET where it did not come by.
Way = tuple[int, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Run:
    """Notes over neighbouring strings.

    Attributes:
        pitches: the last ones, in the order played.
        notes: how many in all.
        start: its first note (µs); `us` is its last one, `first` its first pitch.
        number: of the attack of its last note; it has `here` notes in that.
        crossed: how many notes came in its way in between.
        up: whether it goes upwards.
        ways: how it can lie on strings.
    """

    first: int
    pitches: tuple[int, ...]
    notes: int
    start: int
    us: int
    number: int
    here: int
    crossed: int
    up: bool
    ways: frozenset[Way]

    @property
    def settings(self) -> tuple[Setting, ...]:
        """The settings under which it is a glissando, letters left open where it did not come by."""
        found = sorted({positions for _, positions in self.ways})
        return tuple(
            Setting(tuple(None if p == UNSET else Position(p) for p in positions)) for positions in found
        )


class Runs:
    """The runs on their way. `before`: those before the open attack; `after`: with it."""

    def __init__(self, instrument: Instrument, notes: int, rest: int) -> None:
        """notes: how many make a glissando; rest: after so long (µs) another one begins."""
        self.notes = notes
        self._rest = rest
        self._sounds = _sounds(instrument)
        self._strings = tuple(
            tuple(
                (s.string.number, UNSET if s.fixed else int(s.position)) for s in instrument.spellings(pitch)
            )
            for pitch in range(128)
        )
        self.before: tuple[Run, ...] = ()
        self.after: tuple[Run, ...] = ()
        self.number = 0
        self._single_before: tuple[tuple[int, int, int], ...] = ()  # (pitch, µs, attack) that may begin one
        self._single: tuple[tuple[int, int, int], ...] = ()
        self._begun: tuple[Run, ...] = ()

    def open(self, us: int) -> None:
        """A new attack begins (µs)."""
        refused = self._agreeing()[1]
        self.number += 1
        then, since = self.number - BETWEEN, us - self._rest
        self.before = tuple(
            [run for run in self.after if run.number >= then and run.us >= since and run not in refused]
        )
        self._single_before = tuple([note for note in self._single if note[2] >= then and note[1] >= since])
        self._begun = tuple([self._begin(*note) for note in self._single_before])

    def hear(self, pitches: Sequence[int], us: int) -> None:
        """Hear the attack so far (upwards, at `us` µs); may be asked again when a note is added."""
        going = list(self.before)
        ends: dict[int, list[Run]] = {}  # by their last pitch those that may go on
        for run in (*going, *self._begun):
            ends.setdefault(run.pitches[-1], []).append(run)
        for up in (True, False):
            for pitch in pitches if up else reversed(pitches):
                found = self._longest(ends, pitch, us, up)
                if found is None:
                    continue
                run, longer = found
                if run.up is up and run.notes > 1:  # else it may still go on the other way
                    going.remove(run)
                    ends[run.pitches[-1]].remove(run)
                going.append(longer)
                ends.setdefault(pitch, []).append(longer)
        self.after = tuple(going)
        self._single = (*self._single_before, *[(pitch, us, self.number) for pitch in pitches])

    def _longest(
        self, ends: Mapping[int, Sequence[Run]], pitch: int, us: int, up: bool
    ) -> tuple[Run, Run] | None:
        """The run that a note goes on with, and that run with the note: the nearest one first, then the longest."""
        for away in _NEAREST:
            runs = ends.get(pitch - away if up else pitch + away, ())
            for run in sorted(runs, key=_notes, reverse=True) if len(runs) > 1 else runs:
                if away == 0 and run.number == self.number:
                    continue  # it ends with this very note
                longer = self._on(run, pitch, us, up)
                if longer is not None:
                    return run, longer
        return None

    def glissandi(self) -> tuple[Run, ...]:
        """The glissandi that have a note in the open attack, all of them possible on one setting."""
        return tuple([run for run in self._agreeing()[0] if run.number == self.number])

    def _agreeing(self) -> tuple[list[Run], list[Run]]:
        """Runs that are glissandi now, possible at once on one setting, and those that would need another one."""
        found: list[Run] = []
        refused: list[Run] = []
        long = [
            run
            for run in self.after
            if run.number > self.number - BETWEEN and run.notes >= self.notes and run.crossed * SELDOM <= run.notes
        ]
        for run in sorted(long, key=lambda run: (-run.notes, run.start)):
            (found if all(_together(run, other) for other in found) else refused).append(run)
        return found, refused

    def _begin(self, pitch: int, us: int, number: int) -> Run:
        """A note that may begin a run, of either way."""
        ways: set[Way] = set()
        for string, position in self._strings[pitch]:
            positions = [UNSET] * 7
            if position != UNSET:
                positions[_pedal(string)] = position
            ways.add((string, tuple(positions)))
        return Run(pitch, (pitch,), 1, us, us, number, 1, 0, True, frozenset(ways))

    def _on(self, run: Run, pitch: int, us: int, up: bool) -> Run | None:
        if run.up is not up and 1 < run.notes < self.notes:
            return None  # only a glissando turns round
        here = run.here + 1 if run.number == self.number else 1
        if here > AT_ONCE:
            return None
        last = run.pitches[-1]
        low, high = min(pitch, last), max(pitch, last)
        crossed = run.crossed
        for other, _, number in self._single_before:
            if low < other < high and number > run.number:
                return None  # it would leap over a note that was played on the way
            if other == pitch != last and number >= run.number:
                if run.notes < self.notes:
                    return None  # that string was struck already: the same again, and no run
                crossed += 1
            elif number > run.number and abs(other - pitch) < FIFTH:
                crossed += 1  # the other hand is close by
        towards = 1 if up else -1
        ways: set[Way] = set()
        for string, positions in run.ways:
            ways |= self._next(string + towards, pitch, positions)
            # A neighbour that doubles the last note sounded as well, without having been played.
            for doubling, set_so in self._next(string + towards, last, positions):
                ways |= self._next(doubling + towards, pitch, set_so)
        if not ways:
            return None
        pitches, notes, at = (*run.pitches[-LONGEST:], pitch), run.notes + 1, self.number
        return Run(run.first, pitches, notes, run.start, us, at, here, crossed, up, frozenset(ways))

    def _next(self, string: int, pitch: int, positions: tuple[int, ...]) -> set[Way]:
        """The string if it sounds the pitch, or can be set to it, with the positions then."""
        position = self._sounds.get((string, pitch))
        if position is None:
            return set()
        if position == UNSET:
            return {(string, positions)}
        pedal = _pedal(string)
        if positions[pedal] not in (UNSET, position):
            return set()
        return {(string, (*positions[:pedal], position, *positions[pedal + 1 :]))}


def _together(run: Run, other: Run) -> bool:
    """Whether one setting does for both."""
    return any(
        all(a == b or UNSET in (a, b) for a, b in zip(mine, theirs, strict=True))
        for _, mine in run.ways
        for _, theirs in other.ways
    )


def _sounds(instrument: Instrument) -> dict[tuple[int, int], int]:
    """(string, pitch) -> the position that makes it sound so, UNSET where it has no pedal and does anyway."""
    return {
        (s.string.number, pitch): UNSET if s.fixed else int(s.position)
        for pitch in range(128)
        for s in instrument.spellings(pitch)
    }


def _pedal(string: int) -> int:
    return int(HarpString.numbered(string).pedal)
