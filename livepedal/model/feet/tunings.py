"""Strings without a pedal: tuned by hand for the piece, and only a long break lets anybody tune them otherwise.

C1 and D1 have no pedal, on many harps nor has the top G (Volpé Bligh, item 3; harp/figures.toml). A piece with D♭1
and no D♮1 has the lowest D string tuned to D♭ beforehand (siba, scordatura; common practice), so such a string stands
as the first note that needs it has it. It stays so until a break in which nothing is played for long enough
([window] retune) to take the tuning key.

A string is tuned down and not up, since that strains it (common practice, no source): harp/instruments.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from copy import copy
from dataclasses import dataclass

from livepedal.harp import HarpString, Instrument, Position, Spelling

MIDDLE = 4  # the octave of middle C


@dataclass(frozen=True, slots=True)
class Tuned:
    """A string without a pedal that is tuned otherwise than the harp's figures say, or than it was before.

    Attributes:
        us: the attack (µs) before which there is a break to do it in; None: before the piece.
    """

    spelling: Spelling
    us: int | None = None

    @property
    def what(self) -> str:
        """What to do: "tune the lowest D string to D♭"."""
        string, position = self.spelling.string, self.spelling.position
        return f"tune the {called(string)} to {string.pedal.letter}{position.sign}"


def called(string: HarpString) -> str:
    """The name of a string without a pedal, at one end of the harp: "lowest D string"."""
    return f"{'lowest' if string.octave < MIDDLE else 'highest'} {string.pedal.letter} string"


class Tunings:
    """How the strings without pedals of one harp are tuned, attack by attack."""

    def __init__(self, instrument: Instrument) -> None:
        # A note that such a string gives is played there, on the lowest one, though a string with a pedal has it too
        # (chords.py).
        self._gives = {
            spelling.pitch: spelling
            for pitch in range(128)
            for spelling in reversed(instrument.spellings(pitch))
            if spelling.fixed
        }
        self._usual = {one.string: one.position for one in instrument.fixed}
        self.changed: tuple[Tuned, ...] = ()
        # How each string is tuned, and when it was last needed so (µs); which of them may be retuned now.
        self._stands: dict[HarpString, tuple[Position, int]] = {}
        self._free: frozenset[HarpString] = frozenset()

    def fork(self) -> Tunings:
        """A copy that goes its own way."""
        twin = copy(self)
        twin._stands = dict(self._stands)
        return twin

    def rest(self) -> None:
        """There was a break long enough to retune."""
        self._free = frozenset(self._stands)

    def judge(self, pitches: Iterable[int], moment: int) -> list[int]:
        """Those of an attack's pitches whose string without a pedal is tuned to another pitch.

        Args:
            pitches: all notes of the attack up to now, in the order in which they came.
            moment: of the attack (µs).
        """
        wrong = []
        for pitch in pitches:
            spelling = self._gives.get(pitch)
            if spelling is None:
                continue
            string, position = spelling.string, spelling.position
            known = self._stands.get(string)
            if known is not None and known[0] is not position and string not in self._free:
                wrong.append(pitch)
                continue
            if position is not (self._usual[string] if known is None else known[0]):
                self.changed = (*self.changed, Tuned(spelling, None if known is None else moment))
            self._stands[string] = position, moment
            self._free -= {string}
        return wrong

    def stands(self, pitch: int) -> tuple[Spelling, Position, int] | None:
        """The string without a pedal that would give a pitch, how it is tuned, and when (µs) it was last needed so."""
        spelling = self._gives.get(pitch)
        known = None if spelling is None else self._stands.get(spelling.string)
        return None if spelling is None or known is None else (spelling, *known)

    def above(self, pitch: int) -> Spelling | None:
        """The string without a pedal that would give a pitch if it were tuned up."""
        for string in self._usual:
            if pitch == string.natural + Position.SHARP:
                return Spelling(string, Position.SHARP, fixed=True)
        return None
