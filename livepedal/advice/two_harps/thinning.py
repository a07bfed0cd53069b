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

from livepedal.advice.two_harps.chair import Chair
from livepedal.advice.two_harps.score import Sounded
from livepedal.model.findings import Outcome
from livepedal.music.attacks import Gathered

_Drop = tuple[int, "Note"]  # the number of an attack, and a note of it
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

    def crowded(self, dropped: Iterable[Note], fingers: int) -> bool:
        """Whether it still has more notes than fingers without these, and dropping all that may go would mend that."""
        if len(self.notes) <= fingers or len(self.without(dropped).notes) <= fingers:
            return False
        return len(self.without((*self.octaves(), *self.inner())).notes) <= fingers


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
) -> tuple[dict[int, tuple[Note, ...]], list[int]]:
    """Thin out attacks until the chair, which plays them, can play them all, as far as that helps.

    Returns:
        The notes to drop, by attack; and the attacks that could be played whole, but have more notes than fingers.
    """
    gone: dict[int, tuple[Note, ...]] = {}
    full: list[int] = []
    before: deque[tuple[int, Chair]] = deque(maxlen=BACK + 1)
    for number, attack in enumerate(attacks):
        if number % 50 == 0:
            step(number, len(attacks))
        before.append((number, chair.fork()))
        playable = chair.play(attack.without(())) is not Outcome.CANNOT
        if playable and not attack.crowded((), chair.fingers):
            continue
        start, drops = _fewest_drops(attacks, before, gone)
        if not drops:
            continue
        if playable:
            full.append(number)
        for where, note in drops:
            gone[where] = (*gone.get(where, ()), note)
        chair = before[start][1].fork()
        for place in range(start, len(before)):
            where = before[place][0]
            before[place] = where, chair.fork()
            chair.play(attacks[where].without(gone.get(where, ())))
    return gone, full


def _fewest_drops(
    attacks: Sequence[StruckNotes], before: deque[tuple[int, Chair]], gone: dict[int, tuple[Note, ...]]
) -> tuple[int, list[_Drop]]:
    """What to drop so that the last attack can be played: of it alone, else of those before it too, as few as will do.

    Returns:
        A place in `before` to start again from, and what to drop from there on; nothing if that does not help.
    """
    number = before[-1][0]
    for start in reversed(range(len(before))):
        begin, chair = before[start]
        if attacks[number].us - attacks[begin].us > BACK_US:
            break
        around = range(begin, number + 1)
        octaves, inner = (
            [(where, note) for where in around for note in notes(attacks[where])]
            for notes in (StruckNotes.octaves, StruckNotes.inner)
        )
        drops = [
            (where, note)
            for where, note in dict.fromkeys((*octaves, *inner))
            if note not in gone.get(where, ())
        ]

        def enough(drops: Sequence[_Drop], chair: Chair = chair, around: range = around) -> bool:
            trial = chair.fork()
            for where in around:
                out = (*gone.get(where, ()), *(note for at, note in drops if at == where))
                attack = attacks[where]
                if trial.play(attack.without(out)) is Outcome.CANNOT or attack.crowded(out, trial.fingers):
                    return False
            return True

        if drops and enough(drops):
            for drop in reversed(drops):  # the last, inner notes, are the first to be kept
                fewer = [other for other in drops if other is not drop]
                if enough(fewer):
                    drops = fewer
            return start, drops
    return len(before) - 1, []
