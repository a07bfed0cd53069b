"""Thinning out two harp parts until one player can play them both.

Of the second part goes, in this order and only as much as need be: octave doublings; inner notes. The outer voices of
every attack stay, but for those that double the first part in octaves. Where an attack cannot be played after it has
lost all it can, the attacks just before it are thinned out as well, since a pedal may have been busy for them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TypeVar

from livepedal.advice.two_harps.chair import FINGERS, Chair
from livepedal.advice.two_harps.score import Sounded
from livepedal.model.findings import Outcome
from livepedal.music.attacks import Gathered

_Any = TypeVar("_Any")
BACK = 6  # attacks before one that cannot be played that are thinned out for its sake
BACK_US = 2_000_000  # and no further back than this (µs): the longest cycle, and time for two changes


@dataclass(frozen=True, slots=True)
class Note:
    """A note, and whether it is the second part's."""

    sounded: Sounded
    second: bool


@dataclass(frozen=True, slots=True)
class StruckNotes:
    """Notes struck together, upwards, each pitch once."""

    us: int
    notes: tuple[Note, ...]

    def without(self, dropped: Iterable[Note]) -> Gathered:
        """The attack without these notes."""
        out = set(dropped)
        return Gathered(self.us, tuple((n.sounded.pitch, n.sounded.end) for n in self.notes if n not in out))

    def octaves(self) -> tuple[Note, ...]:
        """Octave doublings in the second part: inner notes first, then outer voices that double the first part."""
        leading = {n.sounded.pitch % 12 for n in self.notes if not n.second}
        seen: set[int] = set()
        inner: list[Note] = []
        for note in self.notes[1:-1]:
            pitch_class = note.sounded.pitch % 12
            others = [n for n in self.notes if n is not note and n.sounded.pitch % 12 == pitch_class]
            if note.second and (pitch_class in leading or (others and pitch_class not in seen)):
                seen.add(pitch_class)
                inner.append(note)
        outer = [n for n in (self.notes[0], self.notes[-1]) if n.second and n.sounded.pitch % 12 in leading]
        return (*inner, *dict.fromkeys(outer))

    def inner(self) -> tuple[Note, ...]:
        """Notes of the second part that are neither the highest nor the lowest."""
        return tuple(n for n in self.notes[1:-1] if n.second)

    def crowded(self, dropped: Iterable[Note]) -> bool:
        """Whether it still has more notes than fingers without these, and dropping all that may go would mend that."""
        if len(self.notes) <= FINGERS or len(self.without(dropped).notes) <= FINGERS:
            return False
        return len(self.without((*self.octaves(), *self.inner())).notes) <= FINGERS


def struck_together(notes: Sequence[Sounded]) -> tuple[list[StruckNotes], list[Sounded]]:
    """The attacks, and the notes of the second part that the first strikes too."""
    attacks: list[StruckNotes] = []
    twice: list[Sounded] = []
    for _, group in groupby(notes, key=lambda n: n.attack):
        struck = list(group)
        by_pitch: dict[int, Note] = {}
        for note in sorted(struck, key=lambda n: n.source % 2):
            known = by_pitch.get(note.pitch)
            if known is None:
                by_pitch[note.pitch] = Note(note, bool(note.source % 2))
                continue
            if note.source % 2 and not known.second:
                twice.append(note)
            # Whoever holds it longer decides how long it sounds.
            by_pitch[note.pitch] = replace(
                known, sounded=replace(known.sounded, end=max(known.sounded.end, note.end))
            )
        attacks.append(StruckNotes(struck[0].us, tuple(by_pitch[pitch] for pitch in sorted(by_pitch))))
    return attacks, twice


def thinned(
    attacks: Sequence[StruckNotes], chair: Chair, step: Callable[[int, int], None]
) -> tuple[dict[int, tuple[Note, ...]], list[int], list[int]]:
    """Thin out attacks until the chair, which plays them, can play them all.

    Returns:
        The notes to drop, by attack; the attacks that cannot be played all the same; and those that could be played
        whole, but have more notes than fingers.
    """
    gone: dict[int, tuple[Note, ...]] = {}
    impossible: list[int] = []
    full: list[int] = []
    before: deque[tuple[int, Chair]] = deque(maxlen=BACK + 1)
    for number, attack in enumerate(attacks):
        if number % 50 == 0:
            step(number, len(attacks))
        before.append((number, chair.fork()))
        playable = chair.play(attack.without(())) is not Outcome.CANNOT
        if playable and not attack.crowded(()):
            continue
        found = _cheapest(attack, before[-1][1])
        start = len(before) - 1
        drops: dict[int, tuple[Note, ...]] = {} if found is None else {number: found}
        if found is None:
            start, drops = _further_back(attacks, before, gone)
        if not drops:
            if not playable:
                impossible.append(number)
            continue
        if playable:
            full.append(number)
        gone.update(drops)
        chair = before[start][1].fork()
        for place in range(start, len(before)):
            where = before[place][0]
            before[place] = where, chair.fork()
            chair.play(attacks[where].without(gone.get(where, ())))
    return gone, impossible, full


def _plays(chair: Chair, attack: StruckNotes, dropped: Iterable[Note]) -> bool:
    """Whether the chair, which plays it, can play an attack without these notes, and has fingers for it."""
    left = tuple(dropped)
    return chair.play(attack.without(left)) is not Outcome.CANNOT and not attack.crowded(left)


def _cheapest(attack: StruckNotes, chair: Chair) -> tuple[Note, ...] | None:
    """The fewest notes to drop so that the attack can be played: octave doublings, then inner notes; None: no way."""
    octaves = attack.octaves()
    inner = tuple(n for n in attack.inner() if n not in octaves)
    for ladder in (octaves, (*octaves, *inner)):
        for step in ladder:
            if _plays(chair.fork(), attack, (step,)):
                return (step,)
        if ladder and _plays(chair.fork(), attack, ladder):
            return _fewest(ladder, lambda dropped: _plays(chair.fork(), attack, dropped))
    return None


def _fewest(dropped: Sequence[_Any], enough: Callable[[Sequence[_Any]], bool]) -> tuple[_Any, ...]:
    """Of notes whose loss is enough, those that cannot come back: the last, inner notes, are the first to be kept."""
    left = list(dropped)
    for note in reversed(dropped):
        fewer = [other for other in left if other is not note]
        if enough(fewer):
            left = fewer
    return tuple(left)


def _further_back(
    attacks: Sequence[StruckNotes], before: deque[tuple[int, Chair]], gone: dict[int, tuple[Note, ...]]
) -> tuple[int, dict[int, tuple[Note, ...]]]:
    """Where to start again (a place in `before`), and what to drop from there on; nothing if that does not help."""
    number = before[-1][0]
    for start in range(len(before) - 2, -1, -1):
        begin, chair = before[start]
        if attacks[number].us - attacks[begin].us > BACK_US:
            break
        candidates = [
            (where, note)
            for where in range(begin, number + 1)
            for note in dict.fromkeys((*attacks[where].octaves(), *attacks[where].inner()))
            if note not in gone.get(where, ())
        ]

        def through(out: Sequence[tuple[int, Note]], begin: int = begin, chair: Chair = chair) -> bool:
            trial = chair.fork()
            return all(
                _plays(
                    trial,
                    attacks[where],
                    (*gone.get(where, ()), *(note for at, note in out if at == where)),
                )
                for where in range(begin, number + 1)
            )

        if not candidates or not through(candidates):
            continue
        drops: dict[int, tuple[Note, ...]] = {}
        for where, note in _fewest(candidates, through):
            drops[where] = (*drops.get(where, gone.get(where, ())), note)
        return start, drops
    return len(before) - 1, {}
