"""A note fewer, or a note an octave away: the smallest such changes that make a place playable.

Where an attack cannot be played, single notes are tried first, then pairs: its own notes and those of the
attacks just before it, which take strings and feet away from it. Inner notes and doublings come before the
lowest voice, near ones before far ones; in a cluster those between two neighbours come first, and of these the
chromatic ones. The highest sounding line and the only note of an attack are never offered, since the music would not
be the same any more, but for the passing notes of a single chromatic line. (Common practice, no source; Berlioz, Grand
traité, p. 85, drops altered notes from a melody, which a statement may name, but no remedy.) A note an octave away
changes nothing for the feet, since a pedal moves its letter in every octave; it is tried where strings or hands are
what is missing.

Several troubles in a row are taken one after another, each with the changes already made before it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

from livepedal.advice.remedies.places import LOOKBACK, Spot
from livepedal.advice.remedies.trial import Trial
from livepedal.model.findings import Finding, Layer
from livepedal.model.monitor import Monitor
from livepedal.music.attacks import Gathered

PAIRED = 14  # so many notes are tried in pairs
AFTER = 6  # attacks after a trouble that a change has to get over at first; those that do are judged further
AROUND = 8  # attacks on each side of a note that tell the key there (judgement)
MOST_WAYS = 3  # ways offered for one trouble
MOST_FIXED = 12  # troubles of one place that are solved note by note; where there are more, it is other music
_MAJOR = (0, 2, 4, 5, 7, 9, 11)  # semitones over the tonic

Note = tuple[int, int]  # (number of the attack, pitch)
NoteChanges = Mapping[Note, int | None]


@dataclass(frozen=True, slots=True)
class Voices:
    """Which notes are the melody, which are struck alone, and which is the lowest of its attack."""

    attacks: tuple[Gathered, ...]
    tops: tuple[int, ...]  # the highest pitch that sounds when the attack is struck

    @classmethod
    def of(cls, attacks: tuple[Gathered, ...], overlap: int) -> Voices:
        """The voices of some attacks.

        Args:
            overlap: µs that a key may be down after a later attack and still count as let go (keyboard legato).
        """
        tops: list[int] = []
        sounding: list[tuple[int, int | None]] = []
        for attack in attacks:
            sounding = [note for note in sounding if note[1] is None or note[1] > attack.us + overlap]
            sounding += attack.notes
            tops.append(max(pitch for pitch, _ in sounding))
        return cls(attacks, tuple(tops))

    def melody(self, note: Note) -> bool:
        """Whether nothing higher sounds when the note is struck."""
        return note[1] >= self.tops[note[0]]

    def alone(self, note: Note) -> bool:
        return len(self.attacks[note[0]].notes) == 1

    def passing(self, note: Note) -> bool:
        """Whether a single line goes through it by semitones."""
        number, pitch = note
        around = self.attacks[max(0, number - 1) : number + 2]
        single = len(around) == 3 and all(len(attack.notes) == 1 for attack in around)
        return single and {attack.notes[0][0] - pitch for attack in around} == {-1, 0, 1}

    def between(self, note: Note) -> bool:
        """Whether its attack has the semitones on both sides of it too."""
        pitches = {pitch for pitch, _ in self.attacks[note[0]].notes}
        return pitches >= {note[1] - 1, note[1] + 1}

    def chromatic(self, note: Note) -> bool:
        """Whether the major scale that has most of the notes around it has it not."""
        around = self.attacks[max(0, note[0] - AROUND) : note[0] + AROUND + 1]
        there = Counter(pitch % 12 for attack in around for pitch, _ in attack.notes)
        scales = [{(tonic + step) % 12 for step in _MAJOR} for tonic in range(12)]
        return note[1] % 12 not in max(scales, key=lambda scale: sum(there[one] for one in scale))

    def outer(self, note: Note) -> bool:
        """Whether it is the lowest of its attack and not doubled in it."""
        pitches = [pitch for pitch, _ in self.attacks[note[0]].notes]
        doubled = sum(pitch % 12 == note[1] % 12 for pitch in pitches) > 1
        return note[1] == min(pitches) and not doubled


class NoteSearch:
    """Looks for notes to leave out or to put elsewhere in one place of the music."""

    def __init__(self, trial: Trial, voices: Voices, spot: Spot, octaves: bool, melody: bool) -> None:
        """octaves: notes are put an octave away instead of left out; melody: the protected notes, and only with them,
        may go too (for a statement, not for a remedy).
        """
        self.trial = trial
        self.voices = voices
        self.first = max(min(spot.forks), spot.place.since)
        self.troubles = spot.place.troubles
        self.until = spot.until
        self.limit = trial.fed + spot.budget
        self._base = spot.forks
        self._octaves = octaves
        self._melody = melody

    def ways(self) -> Iterator[dict[Note, int | None]]:
        """Sets of changes after which nothing up to `until` is unplayable, the smallest first."""
        trouble = self.troubles[0]
        if len(self.troubles) == 1:
            yield from self._single(trouble)
            return
        changes: dict[Note, int | None] = {}
        forks = self._base
        at: int | None = trouble
        for _ in range(MOST_FIXED):
            if at is None:
                yield changes
                return
            found = self._best(at, changes, forks)
            if found is None:
                return
            changes = {**changes, **found}
            begin = max(n for n in forks if n <= min(number for number, _ in found))
            forks = {n: fork for n, fork in forks.items() if n <= begin}
            at = self.trial.first_trouble(forks[begin], begin, self.until, changes, forks=forks)

    def _single(self, trouble: int) -> Iterator[dict[Note, int | None]]:
        number = 0
        for size in (1, 2):
            for found in self._tried(trouble, {}, self._base, size, trouble + AFTER):
                begin = max(n for n in self._base if n <= min(attack for attack, _ in found))
                if self.trial.first_trouble(self._base[begin], begin, self.until, found) is None:
                    yield found
                    number += 1
                    if number == MOST_WAYS:
                        return
            if number:
                return

    def _best(
        self, trouble: int, changes: NoteChanges, forks: Mapping[int, Monitor]
    ) -> dict[Note, int | None] | None:
        # A trouble that is got over makes room for the next one; best where that is got over with it.
        near = trouble + (AFTER if not changes else 1)
        soon = min((other for other in self.troubles if other > trouble), default=near)
        for until in dict.fromkeys((near, min(near, soon))):
            for size in (1, 2):
                for found in self._tried(trouble, changes, forks, size, until):
                    return found
        return None

    def _tried(
        self, trouble: int, changes: NoteChanges, forks: Mapping[int, Monitor], size: int, until: int
    ) -> Iterator[dict[Note, int | None]]:
        candidates = list(self._candidates(trouble, changes))
        if size == 2:
            candidates = candidates[:PAIRED]
        # What is further on the caller judges.
        until = min(until, self.until, len(self.trial.attacks))
        for chosen in combinations(candidates, size):
            if self.trial.fed > self.limit:
                return
            found = dict(chosen)
            if len(found) < size or self._empties(found, changes):
                continue
            if self._melody and size == 1 and not self._protected(chosen[0][0]):
                continue
            begin = max(n for n in forks if n <= min(number for number, _ in found))
            if self.trial.first_trouble(forks[begin], begin, until, {**changes, **found}) is None:
                yield found

    def _empties(self, found: NoteChanges, changes: NoteChanges) -> bool:
        """Whether an attack of several notes would have none left."""
        gone = {note for note, to in {**changes, **found}.items() if to is None}
        return any(
            len(self.trial.attacks[number].notes) > 1
            and all((number, pitch) in gone for pitch, _ in self.trial.attacks[number].notes)
            for number, _ in found
        )

    def _protected(self, note: Note) -> bool:
        voices = self.voices
        return (voices.melody(note) or voices.alone(note)) and not voices.passing(note)

    def _candidates(self, trouble: int, changes: NoteChanges) -> Iterator[tuple[Note, int | None]]:
        free = self._melody or self._octaves
        notes = [
            (number, pitch)
            for number in range(max(self.first, trouble - LOOKBACK), trouble + 1)
            for pitch, _ in self.trial.attacks[number].notes
            if (number, pitch) not in changes and (free or not self._protected((number, pitch)))
        ]
        voices = self.voices
        notes.sort(
            key=lambda note: (
                not voices.between(note),
                voices.between(note) and not voices.chromatic(note),
                voices.outer(note),
                trouble - note[0],
                note[1],
            )
        )
        for note in notes:
            if not self._octaves:
                yield note, None
                continue
            for to in self._moved(note):
                yield note, to

    def _moved(self, note: Note) -> Iterator[int]:
        """Where an octave away a note could go: on a string, on no other note, and never over the melody."""
        number, pitch = note
        spellings = self.trial.instrument.spellings
        there = {other for other, _ in self.trial.attacks[number].notes}
        missing = not spellings(pitch)
        if not missing and self._protected(note):
            return  # where no string gives a note, nothing is lost by moving even the melody
        for to in (pitch + 12, pitch - 12):
            free = 0 <= to <= 127 and to not in there and spellings(to)
            if free and (missing or to < self.voices.tops[number]):
                yield to


def octaves_help(findings: Mapping[int, tuple[Finding, ...]], attacks: range) -> bool:
    """Whether something else than the feet is in trouble within these attacks: strings, or hands."""
    return any(finding.layer is not Layer.PEDALS for n in attacks for finding in findings.get(n, ()))
