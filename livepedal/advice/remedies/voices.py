"""Which notes of the music a remedy may touch: melody, inner notes, the lowest voice (common practice, no source)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from livepedal.music.attacks import Gathered

AROUND = 8  # attacks on each side of a note that tell the key there (judgement)
_MAJOR = (0, 2, 4, 5, 7, 9, 11)  # semitones over the tonic

Note = tuple[int, int]  # (number of the attack, pitch)


@dataclass(frozen=True, slots=True)
class Voices:
    """Which notes are the melody, which are struck alone, and which is the lowest of its attack."""

    attacks: tuple[Gathered, ...]
    tops: tuple[int, ...]  # the highest pitch that sounds when the attack is struck

    @classmethod
    def of(cls, attacks: Sequence[Gathered], overlap: int) -> Voices:
        """The voices of some attacks.

        Args:
            attacks: in order.
            overlap: µs that a key may be down after a later attack and still count as let go (keyboard legato).
        """
        tops: list[int] = []
        sounding: list[tuple[int, int | None]] = []
        for attack in attacks:
            sounding = [note for note in sounding if note[1] is None or note[1] > attack.us + overlap]
            sounding += attack.notes
            tops.append(max(pitch for pitch, _ in sounding))
        return cls(tuple(attacks), tuple(tops))

    def melody(self, note: Note) -> bool:
        """Whether nothing higher sounds when the note is struck."""
        return note[1] >= self.tops[note[0]]

    def protected(self, note: Note) -> bool:
        """Whether the music would not be the same without it: melody, or struck alone, but no passing note."""
        alone = len(self.attacks[note[0]].notes) == 1
        return (alone or self.melody(note)) and not self.passing(note)

    def order(self, note: Note, trouble: int) -> tuple[bool, bool, bool, int, int]:
        """Which note to give up first for the trouble of an attack: the least."""
        between = self.between(note)
        return (
            not between,
            between and not self.chromatic(note),
            self.outer(note),
            trouble - note[0],
            note[1],
        )

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
        """Whether it is not in the major scale that has most of the notes around it."""
        around = self.attacks[max(0, note[0] - AROUND) : note[0] + AROUND + 1]
        there = Counter(pitch % 12 for attack in around for pitch, _ in attack.notes)
        scales = [{(tonic + step) % 12 for step in _MAJOR} for tonic in range(12)]
        return note[1] % 12 not in max(scales, key=lambda scale: sum(there[one] for one in scale))

    def outer(self, note: Note) -> bool:
        """Whether it is the lowest of its attack and not doubled in it."""
        pitches = [pitch for pitch, _ in self.attacks[note[0]].notes]
        doubled = sum(pitch % 12 == note[1] % 12 for pitch in pitches) > 1
        return note[1] == min(pitches) and not doubled
