"""The strings: a letter and an octave each.

Octaves are counted so that middle C is C4 (MIDI note 60), and the octave of a string is that of its letter,
whatever its pedal does: the string C4 set to flat sounds B3, and B3 set to sharp sounds middle C. A hand
counts in strings, not in semitones, so every string also has a number that goes up by one from string to
string.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import total_ordering

from livepedal.errors import LivepedalError
from livepedal.harp.pedals import Pedal


@total_ordering
@dataclass(frozen=True, slots=True)
class HarpString:
    """One string: the pedal of its letter, and its octave (C4 is middle C).  Low strings sort first."""

    pedal: Pedal
    octave: int

    @property
    def natural(self) -> int:
        """The MIDI number that it sounds in the middle notch: C1 = 24, C4 = 60, G7 = 103."""
        return 12 * (self.octave + 1) + self.pedal.natural

    @property
    def number(self) -> int:
        """Its place among all strings, counted upwards: neighbours differ by 1, octaves by 7."""
        return 7 * self.octave + self.pedal.step

    @property
    def name(self) -> str:
        """Letter and octave, such as C4, without accidental: what the string is, not what it sounds."""
        return f"{self.pedal.letter}{self.octave}"

    @classmethod
    def numbered(cls, number: int) -> HarpString:
        """The string with this `number`: the inverse of that property."""
        octave, step = divmod(number, 7)
        return cls(_BY_STEP[step], octave)

    @classmethod
    def parse(cls, text: str) -> HarpString:
        """The string of a name such as "C4" (octaves 0 to 8).

        Raises:
            LivepedalError: for anything else.
        """
        match = re.fullmatch(r"([A-Ga-g])([0-8])", text.strip())
        if match is None:
            raise LivepedalError(
                f"{text.strip()!r} is not the name of a string; write a letter A to G and an octave 0 to 8,"
                " such as C1 or G7 (middle C is C4)."
            )
        return cls(Pedal.of_letter(match[1]), int(match[2]))

    def __lt__(self, other: object) -> bool:
        if not isinstance(other, HarpString):
            return NotImplemented
        return self.number < other.number


_BY_STEP = tuple(sorted(Pedal, key=lambda pedal: pedal.step))
