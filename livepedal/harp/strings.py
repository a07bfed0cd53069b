"""The strings, a letter and an octave each, and spellings: which string, in which position, gives a pitch.

Octaves are counted so that middle C is C4 (MIDI note 60), and the octave of a string is that of its letter,
whatever its pedal does: the string C4 set to flat sounds B3, and B3 set to sharp sounds middle C. A hand
counts in strings, not in semitones, so every string also has a number that goes up by one from string to
string.

Nine of the twelve pitch classes can be had on two strings, D, G and A natural on one only, so a pitch has at
most two spellings on a harp. This is what lets a player avoid a pedal change, strike one pitch on two strings
in turn, or tune a glissando that leaves notes out.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import total_ordering

from livepedal.errors import LivepedalError
from livepedal.harp.pedals import Pedal, Position


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


@dataclass(frozen=True, slots=True)
class Spelling:
    """A string in a position.  `fixed`: it has no pedal, and the position is how it is tuned by hand."""

    string: HarpString
    position: Position
    fixed: bool = False

    @property
    def pedal(self) -> Pedal:
        """The pedal of the string's letter (which does nothing to it if the spelling is `fixed`)."""
        return self.string.pedal

    @property
    def pitch(self) -> int:
        """The MIDI number that sounds."""
        return self.string.natural + self.position

    @property
    def name(self) -> str:
        """Letter, accidental (always, ♮ too) and the octave of the string, such as F♯4 or B♯3 (middle C)."""
        return f"{self.string.pedal.letter}{self.position.sign}{self.string.octave}"

    def named(self, middle_c: str = "C4") -> str:
        """The `name` where middle C is called `middle_c`.

        Raises:
            LivepedalError: as `octave_shift`.
        """
        return f"{self.string.pedal.letter}{self.position.sign}{self.string.octave + octave_shift(middle_c)}"


def octave_shift(middle_c: str) -> int:
    """What to add to octave numbers where middle C is called `middle_c`: 0 for "C4", -1 for "C3".

    Raises:
        LivepedalError: unless the text is C and an octave from 2 to 5.
    """
    match = re.fullmatch(r"[Cc]([2-5])", middle_c.strip())
    if match is None:
        raise LivepedalError(
            f"{middle_c!r} is not a name of middle C; write C4, C3 or C5, as your sequencer does."
        )
    return int(match[1]) - 4


_FLAT_NAMES = ("C♮", "D♭", "D♮", "E♭", "E♮", "F♮", "G♭", "G♮", "A♭", "A♮", "B♭", "B♮")
_SHARP_NAMES = ("C♮", "C♯", "D♮", "D♯", "E♮", "F♮", "F♯", "G♮", "G♯", "A♮", "A♯", "B♮")


def pitch_name(midi: int, position_hint: Position | None = None, middle_c: str = "C4") -> str:
    """The name of a pitch whose string is not known, such as E♭4 for MIDI number 63.

    Args:
        midi: MIDI number (60 = middle C).
        position_hint: SHARP names the black keys as sharps; anything else as flats, which sound fuller on a harp and
            are preferred (Berlioz p. 86).
        middle_c: what middle C is called.

    Raises:
        LivepedalError: as `octave_shift` does.
    """
    octave, pitch_class = divmod(midi, 12)
    names = _SHARP_NAMES if position_hint is Position.SHARP else _FLAT_NAMES
    return f"{names[pitch_class]}{octave - 1 + octave_shift(middle_c)}"
