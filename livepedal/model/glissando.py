"""Glissandi: one finger drawn over the strings as they are set, at any speed.

A fast run one way over neighbouring strings is a glissando if its notes are the strings in order under *one*
setting. Every string sounds, so the letters that a chord does not need are set to notes that it has: two
neighbours at one pitch sound twice, where a keyboard may have played that pitch once (Berlioz, Grand traité,
p. 90: C♮ E♭ G♭ A♮ from D♯ C♮ B♯ E♭ F♯ G♭ A♮, the only setting; common practice). Seven strings an octave
cannot be twelve notes, so a chromatic run never is one. There is no smallest speed: the figures only say from
which speed and length on a run is looked at as one.

`Runs` hears attack by attack. Each note ends at most one run upwards and one downwards: the longest that it
continues. A run remembers every way to lie on strings: where it stands, and the positions of the letters it
went over; a note that no way leads to begins anew. Both hands can be on the way at once, as two runs are kept
apart by where they are.

`advise` answers the other question: which setting gives exactly these notes, and, where none does, which
notes are too many.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise, product

from livepedal.harp import GlissandoFigures, HarpString, Instrument, Pedal, Position, Setting
from livepedal.model.hands import Links
from livepedal.model.readings import UNSET

# The string a run stands on (number), and the position of each pedal, UNSET where it did not come by.
Way = tuple[int, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Run:
    """Notes one way. pitches: in the order played; start, us: its first and last note (µs); up; ways: how it
    can lie on strings.
    """

    pitches: tuple[int, ...]
    start: int
    us: int
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

    def __init__(self, instrument: Instrument, figures: GlissandoFigures) -> None:
        self.step = figures.step
        self.notes = figures.notes
        self._sounds = _sounds(instrument)
        self._strings = tuple(
            tuple(
                (s.string.number, UNSET if s.fixed else int(s.position)) for s in instrument.spellings(pitch)
            )
            for pitch in range(128)
        )
        self.before: tuple[Run, ...] = ()
        self.after: tuple[Run, ...] = ()
        self._single_before: tuple[tuple[int, int], ...] = ()  # (pitch, moment) of notes that may begin one
        self._single: tuple[tuple[int, int], ...] = ()

    def fork(self) -> Runs:
        """A copy that goes its own way."""
        copy = object.__new__(Runs)
        copy.__dict__.update(self.__dict__)
        return copy

    def open(self, moment: int) -> None:
        """A new attack begins at `moment` (µs)."""
        then = moment - self.step
        self.before = tuple(run for run in self.after if run.us >= then)
        self._single_before = tuple(note for note in self._single if note[1] >= then)

    def hear(self, pitches: Sequence[int], moment: int) -> Links:
        """Hear the attack so far (may be asked again when a note is added); the notes that go on with a
        glissando, and from where.
        """
        found: dict[Run, Run] = {}  # what goes on, and from which
        links: list[tuple[int, int]] = []
        for pitch in pitches if self._single_before else ():
            for up in (True, False):
                best: Run | None = None
                past: Run | None = None
                for run in self.before:
                    if run.up is up and (best is None or len(run.pitches) >= len(best.pitches)):
                        longer = self._on(run, pitch, moment)
                        if longer is not None:
                            best, past = longer, run
                if best is None or past is None:
                    for single, then in self._single_before:
                        best = self._begin(single, then, pitch, moment, up) or best
                if best is not None:
                    found[best] = past or best
                    if len(best.pitches) >= self.notes:
                        links.append((pitch, best.pitches[-2]))
        gone = set(found.values())
        self.after = (*(run for run in self.before if run not in gone), *found)
        self._single = (*self._single_before, *((pitch, moment) for pitch in pitches))
        return tuple(links)

    @property
    def glissandi(self) -> tuple[Run, ...]:
        """The runs that are long enough to be glissandi, with the open attack."""
        return tuple(run for run in self.after if len(run.pitches) >= self.notes)

    def _begin(self, past: int, then: int, pitch: int, moment: int, up: bool) -> Run | None:
        if (pitch < past) if up else (pitch > past):
            return None
        ways: set[Way] = set()
        for string, position in self._strings[past]:
            positions = [UNSET] * 7
            if position != UNSET:
                positions[_pedal(string)] = position
            ways.add((string, tuple(positions)))
        return self._on(Run((past,), then, then, up, frozenset(ways)), pitch, moment)

    def _on(self, run: Run, pitch: int, moment: int) -> Run | None:
        last = run.pitches[-1]
        if (pitch < last) if run.up else (pitch > last):
            return None
        low, high = min(pitch, last), max(pitch, last)
        if any(low < other < high and then > run.us for other, then in self._single_before):
            return None  # it would leap over a note that was played on the way
        towards = 1 if run.up else -1
        ways: set[Way] = set()
        for string, positions in run.ways:
            ways |= self._next(string + towards, pitch, positions)
            # A neighbour that doubles the last note sounded as well, without having been played.
            for doubling, set_so in self._next(string + towards, last, positions):
                ways |= self._next(doubling + towards, pitch, set_so)
        if not ways:
            return None
        return Run((*run.pitches, pitch), run.start, moment, run.up, frozenset(ways))

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


@dataclass(frozen=True, slots=True)
class Advice:
    """How to set the pedals for a glissando over these pitch classes.

    setting: the one to take; count: how many give the same notes; left_out: the pitch classes that have to
    go, () where the setting gives exactly what was asked for.
    """

    setting: Setting
    count: int
    left_out: tuple[int, ...]


def advise(pitches: Iterable[int], now: Setting | None = None, keep: Iterable[int] = ()) -> Advice:
    """The setting whose strings sound these notes (MIDI numbers) and no others, or as many of them as any
    can; keep: those of them that it is to sound in any case.

    Among several: strings in the order of their pitches, then fewest moves from `now`, then flats, which
    sound fuller (Berlioz, p. 86). No setting sounds fewer than four pitch classes (counted over all 2187); where
    fewer are asked for, its others are the fewest that there can be.
    """
    asked = frozenset(pitch % 12 for pitch in pitches)

    kept = frozenset(pitch % 12 for pitch in keep)

    def worth(setting: Setting) -> tuple[int, int, int, int, int, int]:
        sounding = setting.pitch_classes
        return (
            len(kept - sounding),
            len(sounding - asked),
            len(asked - sounding),
            _crossings(setting),
            sum(abs(goal - start) for _, start, goal in now.moves_to(setting)) if now else 0,
            sum(int(position) for position in setting.positions if position is not None),
        )

    best = min(_settings(), key=worth)
    count = sum(setting.pitch_classes == best.pitch_classes for setting in _settings())
    return Advice(best, count, tuple(sorted(asked - best.pitch_classes)))


@cache
def _settings() -> tuple[Setting, ...]:
    return tuple(Setting(positions) for positions in product(Position, repeat=7))


def _crossings(setting: Setting) -> int:
    """Neighbouring strings of which the lower sounds higher, as E♯ and F♭."""
    sounding = []
    for number in range(HarpString(Pedal.C, 4).number, HarpString(Pedal.C, 5).number + 1):
        string = HarpString.numbered(number)
        position = setting.positions[string.pedal]
        sounding.append(string.natural + (position or 0))
    return sum(low > high for low, high in pairwise(sounding))


def _sounds(instrument: Instrument) -> dict[tuple[int, int], int]:
    """(string, pitch) -> the position that makes it sound so, UNSET where it has no pedal and does anyway."""
    return {
        (s.string.number, pitch): UNSET if s.fixed else int(s.position)
        for pitch in range(128)
        for s in instrument.spellings(pitch)
    }


def _pedal(string: int) -> int:
    return int(HarpString.numbered(string).pedal)
