"""A note fewer, or a note an octave away: the smallest such changes that make a place playable.

Where an attack cannot be played, single notes are tried first, then pairs: its own notes, and those of the attacks just
before it, which take strings and feet away from it. Inner notes and doublings come before the lowest voice, near ones
before far ones; in a cluster those between two neighbours come first, and of these the chromatic ones. The highest
sounding line and the only note of an attack are never offered, since the music would not be the same any more; passing
notes of a single chromatic line are. (Common practice, no source; Berlioz, Grand traité, p. 85, drops altered notes
from a melody, which a statement may name, but no remedy.) A note an octave away changes nothing for the feet, since a
pedal moves its letter in every octave; it is tried where strings or hands are what is missing.

Several troubles in a row are taken one after another, each with the changes already made before it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from itertools import combinations, islice

from livepedal.advice.remedies.places import LOOKBACK, HardPlace
from livepedal.advice.remedies.trial import Changes, Excerpt, Forks, Trial, last_fork
from livepedal.advice.remedies.voices import Note
from livepedal.model.findings import Finding, Layer

PAIRED = 14  # so many notes are tried in pairs
AFTER = 6  # attacks after the first of several troubles that a change has to get over
MOST_WAYS = 3  # ways offered for one trouble
MOST_FIXED = 12  # troubles of one place that are solved note by note; where there are more, it is other music

Found = dict[Note, int | None]  # changes


class NoteSearch:
    """Looks for notes to leave out or to put elsewhere in one place of the music."""

    def __init__(
        self,
        trial: Trial,
        place: HardPlace,
        forks: Forks,
        budget: int,
        *,
        octaves: bool,
        melody: bool,
        missing: Collection[Note] = (),
    ) -> None:
        """The arguments of the search.

        Args:
            trial: the music.
            place: the place.
            forks: before each attack of `place.forks`.
            budget: attacks that it may judge.
            octaves: notes go an octave away instead of being left out.
            melody: only with the protected notes (for a statement, not for a remedy).
            missing: notes that no string gives, so that nothing is lost by moving even the melody.
        """
        self.trial = trial
        self.place = place
        self._forks = forks
        self._limit = trial.judged + budget
        self._octaves = octaves
        self._melody = melody
        self._missing = missing

    def ways(self) -> Iterator[Found]:
        """Sets of changes after which nothing up to the end of the place is unplayable, the smallest first."""
        if len(self.place.troubles) == 1:
            yield from self._single(self.place.troubles[0])
            return
        changes: Found = {}
        forks = dict(self._forks)
        trouble: int | None = self.place.troubles[0]
        for _ in range(MOST_FIXED):
            if trouble is None:
                yield changes
                return
            found = self._best(trouble, changes, forks)
            if found is None:
                return
            changes |= found
            begin = last_fork(forks, min(found)[0])
            forks = {n: fork for n, fork in forks.items() if n <= begin}
            music = Excerpt(forks[begin], range(begin, self.place.until))
            trouble = self.trial.first_trouble(music, changes, forks=forks)

    def _single(self, trouble: int) -> Iterator[Found]:
        for size in (1, 2):
            number = 0
            ways = self._tried(trouble, {}, self._forks, size, self.place.until)
            for found in islice(ways, MOST_WAYS):
                yield found
                number += 1
            if number:
                return

    def _best(self, trouble: int, changes: Changes, forks: Forks) -> Found | None:
        # A trouble that is got over makes room for the next one; best where that is got over with it.
        near = trouble + (AFTER if not changes else 1)
        soon = min((other for other in self.place.troubles if other > trouble), default=near)
        for until in dict.fromkeys((near, min(near, soon))):
            for size in (1, 2):
                for found in self._tried(trouble, changes, forks, size, until):
                    return found
        return None

    def _tried(self, trouble: int, changes: Changes, forks: Forks, size: int, until: int) -> Iterator[Found]:
        """Changes of so many notes that get the player over a trouble, and on to the attack `until`."""
        candidates = list(self._candidates(trouble, changes))
        if size == 2:
            candidates = candidates[:PAIRED]
        until = min(until, self.place.until, len(self.trial.attacks))
        for chosen in combinations(candidates, size):
            if self.trial.judged > self._limit:
                return
            found = dict(chosen)
            if len(found) < size or self._empties(found, changes):
                continue
            if self._melody and size == 1 and not self.trial.voices.protected(chosen[0][0]):
                continue
            begin = last_fork(forks, min(found)[0])
            if self.trial.plays(Excerpt(forks[begin], range(begin, until)), {**changes, **found}):
                yield found

    def _empties(self, found: Changes, changes: Changes) -> bool:
        """Whether an attack of several notes would have none left."""
        gone = {note for note, to in {**changes, **found}.items() if to is None}
        attacks = self.trial.attacks
        return any(
            len(attacks[number].notes) > 1
            and all((number, pitch) in gone for pitch, _ in attacks[number].notes)
            for number, _ in found
        )

    def _candidates(self, trouble: int, changes: Changes) -> Iterator[tuple[Note, int | None]]:
        """Single changes that may get the player over a trouble, the least loss first."""
        voices, first = self.trial.voices, max(min(self._forks), self.place.since)
        free = self._melody or self._octaves
        notes = [
            (number, pitch)
            for number in range(max(first, trouble - LOOKBACK), trouble + 1)
            for pitch, _ in self.trial.attacks[number].notes
            if (number, pitch) not in changes and (free or not voices.protected((number, pitch)))
        ]
        for note in sorted(notes, key=lambda note: voices.order(note, trouble)):
            goals = self._moved(note) if self._octaves else (None,)
            yield from ((note, to) for to in goals)

    def _moved(self, note: Note) -> Iterator[int]:
        """Where an octave away a note could go: on a string, on no other note, and never over the melody."""
        number, pitch = note
        spellings = self.trial.basis.instrument.spellings
        there = {other for other, _ in self.trial.attacks[number].notes}
        missing = note in self._missing or not spellings(pitch)
        if not missing and self.trial.voices.protected(note):
            return
        for to in (pitch + 12, pitch - 12):
            free = 0 <= to <= 127 and to not in there and spellings(to)
            if free and (missing or to < self.trial.voices.tops[number]):
                yield to


def octaves_help(findings: Mapping[int, tuple[Finding, ...]], attacks: range) -> bool:
    """Whether anything but the feet is in trouble within these attacks: strings, or hands."""
    return any(finding.layer is not Layer.PEDALS for n in attacks for finding in findings.get(n, ()))
