"""Written notes on the *line of fifths*: F is -1, C 0, G 1, ... B 5, F♯ 6; B♭ -2, F♭ -8, B𝄫 -9, F𝄪 13.

One number has the letter and the accidental of a note. Sharps come in a key signature in the order F C G D A E B, flats
in the reverse order, so the seven notes of a key lie side by side on the line.
"""

from __future__ import annotations

from livepedal.harp.pedals import Pedal, Position

LETTERS = (Pedal.F, Pedal.C, Pedal.G, Pedal.D, Pedal.A, Pedal.E, Pedal.B)
"""By fifths; the order in which sharps come."""

_ACCIDENTALS = {-2: "𝄫", -1: "♭", 0: "♮", 1: "♯", 2: "𝄪"}
_WRITTEN = {
    -2: ("𝄫", "bb", "double flat"),
    -1: ("b", "flat"),
    0: ("", "♮", "n", "natural"),
    1: ("#", "sharp"),
    2: ("𝄪", "##", "x", "double sharp"),
}
_ALTERED = {sign: altered for altered, signs in _WRITTEN.items() for sign in signs}


def letter(fifth: int) -> Pedal:
    """The letter of a written note."""
    return LETTERS[(fifth + 1) % 7]


def alteration(fifth: int) -> int:
    """Its accidental: -1 flat, 1 sharp, -2 double flat, and so on."""
    return (fifth + 1) // 7


def fifth_of(pedal: int, alteration: int) -> int:
    """The written note of a letter and an accidental."""
    return LETTERS.index(Pedal(pedal)) - 1 + 7 * alteration


def class_of(fifth: int) -> int:
    """The pitch class that it sounds, 0 (C) to 11 (B)."""
    return 7 * fifth % 12


def name(fifth: int) -> str:
    """Letter and accidental, such as F♯, G♮ or B𝄫."""
    return f"{letter(fifth).letter}{accidental(alteration(fifth))}"


def accidental(alteration: int) -> str:
    """The sign of an accidental, ♮ too."""
    return _ACCIDENTALS.get(alteration) or ("♭" if alteration < 0 else "♯") * abs(alteration)


def altered(sign: str) -> int | None:
    """The accidental that a sign, its plain substitute (b n # x bb) or a word means; None where it means none."""
    return _ALTERED.get(sign.lower().replace("♭", "b").replace("♯", "#"))


def octave(fifth: int, pitch: int) -> int:
    """The octave that a MIDI number is written in, middle C being C4: B♯3 sounds it too."""
    return (pitch - alteration(fifth)) // 12 - 1


def strings(fifth: int) -> tuple[tuple[int, int], ...]:
    """The pedals and positions that can play it, as plain numbers (they are looked up often).

    That is the one that is written, or for a double accidental those that sound the same.
    A double sharp or flat has no notch (Berlioz, Grand traité d'instrumentation, p. 86).
    """
    if -1 <= alteration(fifth) <= 1:
        return ((int(letter(fifth)), alteration(fifth)),)
    sounds = class_of(fifth)
    return tuple(
        (int(pedal), int(position))
        for pedal in Pedal
        for position in Position
        if (pedal.natural + position) % 12 == sounds
    )
