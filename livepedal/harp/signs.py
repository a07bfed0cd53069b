"""Signs at a note that say how a harp plays it, as scores have them; a MIDI file has none."""

from __future__ import annotations

from enum import IntFlag, auto


class Sign(IntFlag):
    """Signs at a note that say how it is played, as many as there are."""

    TREMOLO = auto()  # a bisbigliando; between two chords, the notes of both have it
    TRILL = auto()  # the written note and the upper one have it
    ROLLED = auto()
    GLISSANDO = auto()  # a line begins here
    GLISSANDO_END = auto()
    HARMONIC = auto()
    DAMPED = auto()  # étouffé: the string is damped when the note ends
    RINGS = auto()  # laissez vibrer: it sounds on
    UPPER = auto()  # it stands on the upper one of two staves
    LOWER = auto()


NO_SIGN = Sign(0)
