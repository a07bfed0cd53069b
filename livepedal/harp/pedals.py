"""The seven pedals, their three notches, and the two feet.

Each pedal acts on one letter, on the strings of all octaves at once (Berlioz, Grand traité d'instrumentation,
p. 83 of the facsimile at fr.wikisource.org). From the player's left they stand D C B | E F G A; the left foot
has the first three and the right foot the other four (Volpé Bligh, Writing for the Pedal Harp, item 7; W3C
MusicXML, element harp-pedals). Up is flat (the string open), the middle notch natural, down sharp; one notch
is one semitone (Berlioz p. 86).
"""

from __future__ import annotations

from enum import IntEnum, StrEnum

from livepedal.errors import LivepedalError


class Position(IntEnum):
    """The notch a pedal stands in; its value is the number of semitones that it adds to the natural."""

    FLAT = -1
    NATURAL = 0
    SHARP = 1

    @property
    def sign(self) -> str:
        """The accidental as it is printed: ♭, ♮ or ♯."""
        return "♭♮♯"[self + 1]

    @property
    def word(self) -> str:
        """The position in a word, as JSON and TOML have it: flat, natural or sharp."""
        return self.name.lower()

    @classmethod
    def parse(cls, text: str) -> Position:
        """The position of a sign (♭ ♮ ♯), its plain substitute (b n #) or a word (flat natural sharp).

        Raises:
            LivepedalError: for anything else.
        """
        try:
            return _POSITIONS[text.strip().lower()]
        except KeyError:
            raise LivepedalError(
                f"{text.strip()!r} is not a pedal position; write flat, natural or sharp."
            ) from None


_POSITIONS = {
    written: position
    for position, plain in ((Position.FLAT, "b"), (Position.NATURAL, "n"), (Position.SHARP, "#"))
    for written in (position.sign, position.word, plain)
}


class Foot(StrEnum):
    """The foot that a pedal belongs to."""

    LEFT = "left"
    RIGHT = "right"

    @property
    def pedals(self) -> tuple[Pedal, ...]:
        """This foot's pedals, from the player's left: D C B, or E F G A."""
        return tuple(pedal for pedal in Pedal if pedal.foot is self)


class Pedal(IntEnum):
    """One of the seven pedals, numbered from the player's left; its letter is its name."""

    D = 0
    C = 1
    B = 2
    E = 3
    F = 4
    G = 5
    A = 6

    @property
    def letter(self) -> str:
        """The letter of the strings that this pedal acts on, "A" to "G"."""
        return self.name

    def at(self, position: Position) -> str:
        """The pedal in a position, as a harpist writes it: "G♯"."""
        return f"{self.letter}{position.sign}"

    @property
    def foot(self) -> Foot:
        """The foot that moves this pedal: left for D C B, right for E F G A (Volpé Bligh, item 7)."""
        return Foot.LEFT if self <= Pedal.B else Foot.RIGHT

    @property
    def natural(self) -> int:
        """The pitch class, 0 (C) to 11 (B), that its strings sound in the middle notch."""
        return _NATURALS[self]

    @property
    def step(self) -> int:
        """The letter counted upwards from C within an octave: C=0, D=1, ... B=6."""
        return _STEPS[self]

    @classmethod
    def of_letter(cls, letter: str) -> Pedal:
        """The pedal of a letter A to G, in either case.

        Raises:
            LivepedalError: for any other text.
        """
        try:
            return cls[letter.upper()]
        except KeyError:
            raise LivepedalError(
                f"There is no pedal {letter!r}; the seven pedals are D C B E F G A."
            ) from None


_NATURALS = (2, 0, 11, 4, 5, 7, 9)
_STEPS = (1, 0, 6, 2, 3, 4, 5)
