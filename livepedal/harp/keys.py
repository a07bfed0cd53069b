"""Keys: what a key signature asks of the seven letters.

One number, the *fifths*, says it all: sharps counted up, flats counted down, as the key signature event of a MIDI file
does (Standard MIDI Files 1.0, meta event 59; fifths.py). The pedals can follow from -7 (C♭ major, all up) to 7 (C♯
major, all down), and neighbouring keys are one notch of one pedal apart.

Fifths beyond that are keys one can write, with double flats or double sharps, but not set: no pedal has a
notch for them (Berlioz, Grand traité, p. 86: such a note is played on another string).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from livepedal.errors import LivepedalError
from livepedal.harp import fifths
from livepedal.harp.fifths import LETTERS
from livepedal.harp.pedals import Pedal

_MINOR = 3  # fifths from the tonic of a major key to that of its relative minor
_MODES = {"": False, "major": False, "maj": False, "dur": False, "minor": True, "min": True, "m": True}


@dataclass(frozen=True, slots=True)
class Key:
    """A key: its fifths (sharps counted up, flats down; any integer), and whether it is a minor one."""

    fifths: int
    minor: bool = False

    @property
    def name(self) -> str:
        """Such as "E♭ major", "C minor" or "F♯ minor"; the ♮ of a tonic is left out, as is usual in keys."""
        tonic = fifths.name(self.fifths + (_MINOR if self.minor else 0)).replace("♮", "")
        return f"{tonic} {'minor' if self.minor else 'major'}"

    @property
    def settable(self) -> bool:
        """Whether the seven pedals can stand so."""
        return -7 <= self.fifths <= 7

    @property
    def enharmonic(self) -> Key:
        """The key of the same sound with the fewest accidentals: itself, or 12 fifths away (E for F♭ major)."""
        fifths = (self.fifths + 6) % 12 - 6
        return self if abs(self.fifths) <= abs(fifths) else Key(fifths, self.minor)

    def alteration(self, pedal: Pedal) -> int:
        """The semitones that the signature adds to a letter: -1 flat, 1 sharp, -2 double flat, and so on."""
        return (self.fifths - LETTERS.index(pedal) + 6) // 7

    @property
    def first_letter(self) -> Pedal:
        """The first letter of the signature, which a second round of accidentals alters first too: F or B."""
        return LETTERS[0 if self.fifths >= 0 else -1]

    @classmethod
    def parse(cls, text: str) -> Key:
        """The key of a name such as "E♭ major", "Eb", "F# minor", "f sharp minor", "Cm".

        Without a mode it is major; minor is the natural minor, that is, its key signature.

        Raises:
            LivepedalError: where the text is no name of a key.
        """
        plain = re.sub(r"[\s_-]+", " ", text.strip())
        match = re.fullmatch(
            r"(?P<letter>[A-G]) ?(?P<sign>𝄫|𝄪|x|[♭b]{1,2}|[♯#]{1,2}|[♮n]|(?:double )?(?:flat|sharp)|natural|)"
            r" ?(?P<mode>major|maj|dur|minor|min|m|)\.?",
            plain,
            # Letters and modes in any case, but a capital M has meant major where a small m meant minor.
            flags=re.IGNORECASE,
        )
        altered = None if match is None else fifths.altered(match["sign"])
        if match is None or altered is None or match["mode"] == "M":
            raise LivepedalError(
                f"{text.strip()!r} is not the name of a key; write it as E♭ major, Eb or F# minor."
            )
        minor = _MODES[match["mode"].lower()]
        tonic = fifths.fifth_of(Pedal.of_letter(match["letter"]), altered)
        return cls(tonic - (_MINOR if minor else 0), minor)
