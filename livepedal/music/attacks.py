"""Attacks: notes that are meant together.

Fingers and cables spread a chord out, so notes whose onsets lie within a window of the first are one attack.
The window counts from the first note and does not slide: a run does not become one long attack. The same rule
holds live, where `Gathering` is asked note by note. (A cable alone spreads eight notes over 8 ms: 31,250
baud, ten bits a byte, three bytes a note; MIDI 1.0.)

A glissando passes twenty to sixty strings a second (from memory), so its notes lie closer together than those of
many a chord. Once a line one way, by steps such as lie between neighbouring strings, has as many notes as make a
glissando ([glissando] in the figures), which are more than a hand places, no attack holds two notes running of it.
Several such lines may go at once, in octaves or thirds: their notes of one moment, or nearly, stay together. What is
struck in the very moment in which an attack began is part of it all the same.
"""

from __future__ import annotations

from array import array
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import overload

from livepedal.harp import GlissandoFigures, HarpString, Pedal, Position, Spelling
from livepedal.harp.signs import NO_SIGN, Sign
from livepedal.music.events import Event, NoteOff, NoteOn

# The most semitones from a string to the next, in any setting: no two neighbours lie farther apart than C♭ and D♯.
WIDEST_STEP = (
    Spelling(HarpString(Pedal.D, 4), Position.SHARP).pitch
    - Spelling(HarpString(Pedal.C, 4), Position.FLAT).pitch
)


MOST_NOTES = 24  # looked back to
_NO_END = -1 << 63  # of a note that is never let go


@dataclass(frozen=True, slots=True)
class Attack:
    """Notes struck together, whatever becomes of them.

    Attributes:
        us: onset of the first.
        pitches: MIDI numbers, upwards, each once.
    """

    us: int
    pitches: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Gathered:
    """An attack with the end of each note: (pitch, release_us), upwards, each pitch once.

    Attributes:
        us: onset of the first note (µs).
        notes: release_us is when the key comes up (the last one, if several sources hold it) or the string is struck
            again; None: never.
        signs: the signs of a score by pitch, for the notes that have any.
    """

    us: int
    notes: tuple[tuple[int, int | None], ...]
    signs: tuple[tuple[int, Sign], ...] = ()

    @property
    def pitches(self) -> tuple[int, ...]:
        """Its notes without their ends."""
        return tuple(pitch for pitch, _ in self.notes)

    @property
    def damped(self) -> frozenset[int]:
        """The notes whose strings are damped when they end (étouffé)."""
        return frozenset(pitch for pitch, sign in self.signs if sign & Sign.DAMPED)

    def of(self, notes: tuple[tuple[int, int | None], ...]) -> Gathered:
        """The same attack with these of its notes alone."""
        pitches = {pitch for pitch, _ in notes}
        return Gathered(self.us, notes, tuple(sign for sign in self.signs if sign[0] in pitches))


class Gathering:
    """Tells note by note which ones begin an attack.

    Attributes:
        window: microseconds from the first onset, inclusive.
        glissando: what makes a line one.
    """

    __slots__ = ("_first", "_notes", "glissando", "window")

    def __init__(self, window: int, glissando: GlissandoFigures) -> None:
        self.window = window
        self.glissando = glissando
        self._first: int | None = None
        # The last notes, earliest first: pitch, onset, and how many notes a line upwards and one downwards have then.
        self._notes: tuple[tuple[int, int, int, int], ...] = ()

    def fork(self) -> Gathering:
        """A copy that goes its own way."""
        copy = Gathering(self.window, self.glissando)
        copy._first, copy._notes = self._first, self._notes
        return copy

    def opens(self, us: int, pitch: int) -> bool:
        """Whether a note of this pitch at `us` (µs, never going back) begins an attack."""
        shortest, longest = self.glissando.least_step, self.glissando.step
        up = down = 1
        before_up = before_down = us
        for last, then, notes_up, notes_down in self._notes:
            if shortest <= us - then <= longest:
                way = pitch - last
                if 0 < way <= WIDEST_STEP and notes_up >= up:
                    up, before_up = notes_up + 1, then
                elif 0 < -way <= WIDEST_STEP and notes_down >= down:
                    down, before_down = notes_down + 1, then
        self._notes = (
            *[note for note in self._notes[-MOST_NOTES:] if us - note[1] <= longest],
            (pitch, us, up, down),
        )
        line, before = max((up, before_up), (down, before_down))
        first = self._first
        within = first is not None and us - first <= self.window
        # An attack holds no two notes running of one line.
        if first is not None and within and (us == first or line < self.glissando.notes or before < first):
            return False
        self._first = us
        return True

    def over(self) -> None:
        """The open attack is over, whatever comes next."""
        self._first = None


class Attacks(Sequence[Gathered]):
    """Attacks in order of time, kept as numbers and made into objects only when looked at, as an `EventList` is.

    Equal to any tuple of the same attacks.
    """

    __slots__ = ("_begins", "_ends", "_pitches", "_signs", "moments")

    def __init__(self, attacks: Iterable[Gathered]) -> None:
        self.moments = array("q")
        self._begins = array("Q", [0])
        self._pitches, self._ends = bytearray(), array("q")
        self._signs: dict[int, tuple[tuple[int, Sign], ...]] = {}
        for number, attack in enumerate(attacks):
            self.moments.append(attack.us)
            for pitch, end in attack.notes:
                self._pitches.append(pitch)
                self._ends.append(_NO_END if end is None else end)
            self._begins.append(len(self._pitches))
            if attack.signs:
                self._signs[number] = attack.signs

    def __len__(self) -> int:
        return len(self.moments)

    @overload
    def __getitem__(self, index: int) -> Gathered: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[Gathered, ...]: ...
    def __getitem__(self, index: int | slice) -> Gathered | tuple[Gathered, ...]:
        there = range(len(self))[index]
        if isinstance(there, range):
            return tuple(self[number] for number in there)
        here = slice(self._begins[there], self._begins[there + 1])
        ends = [None if end == _NO_END else end for end in self._ends[here]]
        notes = tuple(zip(self._pitches[here], ends, strict=True))
        return Gathered(self.moments[there], notes, self._signs.get(there, ()))

    def __eq__(self, other: object) -> bool:
        return tuple(self) == tuple(other) if isinstance(other, Attacks | tuple) else NotImplemented

    def __repr__(self) -> str:
        return f"Attacks({list(self)!r})"


def gather_held(events: Iterable[Event], window: int, glissando: GlissandoFigures) -> Attacks:
    """The attacks with the release of each note; window and glissando as for a Gathering."""
    return Attacks(_held(events, window, glissando))


def _held(events: Iterable[Event], window: int, glissando: GlissandoFigures) -> Iterator[Gathered]:
    """The same one by one, each once all its notes are over."""
    attacks: deque[tuple[int, dict[int, list[int | None]], dict[int, Sign]]] = deque()
    gathering = Gathering(window, glissando)
    held: dict[tuple[int, int], tuple[list[int | None], int]] = {}  # (source, pitch) -> where its end goes

    def release(key: tuple[int, int], us: int) -> None:
        ends, place = held.pop(key)
        ends[place] = us

    for event in events:
        if isinstance(event, NoteOn):
            key = (event.source, event.pitch)
            if key in held:
                release(key, event.us)
            if gathering.opens(event.us, event.pitch):
                while attacks and not any(None in ends for ends in attacks[0][1].values()):
                    yield _gathered(*attacks.popleft())
                attacks.append((event.us, {}, {}))
            _, notes, signs = attacks[-1]
            if event.signs:
                signs[event.pitch] = signs.get(event.pitch, NO_SIGN) | event.signs
            ends = notes.setdefault(event.pitch, [])
            # The other sources that hold it hold the new note too.
            others = [other for other in held if other[1] == event.pitch and held[other][0] is not ends]
            for other in others:
                release(other, event.us)
            for held_key in (key, *others):
                held[held_key] = ends, len(ends)
                ends.append(None)
        elif isinstance(event, NoteOff) and (event.source, event.pitch) in held:
            release((event.source, event.pitch), event.us)
    for attack in attacks:
        yield _gathered(*attack)


def _gathered(us: int, notes: dict[int, list[int | None]], signs: dict[int, Sign]) -> Gathered:
    return Gathered(
        us, tuple((pitch, _last(ends)) for pitch, ends in sorted(notes.items())), tuple(signs.items())
    )


def events_of(attacks: Iterable[Gathered]) -> tuple[Event, ...]:
    """Events that play gathered attacks, all notes of one at its moment: releases first, as in a `Part`."""
    timed: list[tuple[int, int, Event]] = []
    for order, attack in enumerate(attacks):
        signs = dict(attack.signs)
        for pitch, end in attack.notes:
            struck = NoteOn(attack.us, pitch, source=order, signs=signs.get(pitch, NO_SIGN))
            timed.append((attack.us, 1, struck))
            if end is not None:
                # A note that ends in its own moment is released after its strike.
                timed.append((end, 0 if end > attack.us else 2, NoteOff(end, pitch, source=order)))
    timed.sort(key=lambda entry: entry[:2])
    return tuple(event for _, _, event in timed)


def _last(ends: list[int | None]) -> int | None:
    known = [end for end in ends if end is not None]
    return max(known) if len(known) == len(ends) else None
