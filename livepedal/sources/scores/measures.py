"""One measure of a score as values: notes, words, what concerns all parts, and how far reading has got.

Source: MusicXML 4.0 (W3C Community Group Final Report, 2021); element names are its own. Time is counted by durations,
`backup` and `forward` (element `duration`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from livepedal.harp.signs import NO_SIGN, Sign
from livepedal.sources.scores.written import Words

TICKS = 20_160  # a quarter: 2^6 x 9 x 5 x 7, so triplets to septuplets and 256ths are exact, and a MIDI file can say it
WHOLE = 4 * TICKS


class Anchor(NamedTuple):
    """A place where something may be put into a measure of a part: before the element that begins at this byte.

    Attributes:
        at: ticks from the start of the measure.
        divisions: of a quarter, there.
        note: the MIDI number, where the element is a note; else -1.
    """

    at: int
    byte: int
    divisions: int
    note: int = -1


class ScoreNote(NamedTuple):
    """A note as it stands in a measure; times in ticks from the start of the measure.

    Attributes:
        at: where it begins.
        length: as written.
        fifth: its place on the line of fifths; None for a part that transposes.
        string: step and octave.
        tied: 1 to the note before, 2 to the next, 3 both.
        grace: its number among the grace notes of its main note, from 1; 0: it is none.
        of: how many grace notes there are.
    """

    at: int
    length: int
    pitch: int
    fifth: int | None
    string: str
    voice: str
    tied: int
    signs: Sign = NO_SIGN
    grace: int = 0
    of: int = 0


@dataclass(slots=True)
class Measure:
    """One measure of one part."""

    notes: list[ScoreNote] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)
    damped: list[int] = field(default_factory=list)  # where a damp sign stands
    # Where places are wanted: those of the first voice in order of time, the last one at the end; and of all notes.
    anchors: list[Anchor] = field(default_factory=list)
    note_places: list[Anchor] = field(default_factory=list)


@dataclass(slots=True)
class Column:
    """What all parts together say about one measure.

    Attributes:
        length: of all that stands in it.
        notes: of its notes, without what rests or is left free after them.
        tempos: at a tick of it, quarters a minute, or two note values where the one becomes the other.
        times: how often the music up to here is played, where it is repeated.
    """

    number: str = ""
    implicit: bool = False
    length: int = 0
    notes: int = 0
    tempos: list[tuple[int, Fraction | tuple[Fraction, Fraction]]] = field(default_factory=list)
    rehearsals: dict[str, int] = field(default_factory=dict)
    metre: tuple[int, int] | None = None
    forward: bool = False
    times: int = 0
    endings: frozenset[int] = frozenset()
    da_capo: bool = False
    dal_segno: bool = False
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False


@dataclass(slots=True)
class ScorePart:
    """A part, and the state of reading it; `graces`: by voice, those that wait for their main note."""

    name: str = ""
    instrument: str = ""
    program: int | None = None
    measures: list[Measure] = field(default_factory=list)
    keys: dict[int, tuple[int, bool]] = field(default_factory=dict)  # by measure
    divisions: int = 1
    fifths: int = 0
    staves: int = 1
    transpose: int = 0
    ending: frozenset[int] = frozenset()
    graces: dict[str, list[ScoreNote]] = field(default_factory=dict)
    doubled: int = 0


@dataclass(slots=True)
class Counts:
    """What is counted in a whole score, for its remarks."""

    notes: int = 0
    fermatas: int = 0
    microtones: int = 0
    outside: int = 0


@dataclass(slots=True)
class Cursor:
    """How far reading has got in a measure of a part.

    Attributes:
        at: quarters from its start.
        farthest: the most that was.
        last: tick where the last note began that is not a further note of a chord.
        ended: whether an ending is over at the end of this measure.
    """

    part: ScorePart
    mine: Measure
    all: Column
    counts: Counts
    at: Fraction = Fraction(0)
    farthest: Fraction = Fraction(0)
    last: int = 0
    ended: bool = False

    def go(self, quarters: Fraction) -> None:
        """Go on, or back to the start of the measure at the most."""
        self.at = max(Fraction(0), self.at + quarters)
        self.farthest = max(self.farthest, self.at)

    @property
    def tick(self) -> int:
        """Where it stands."""
        return ticks(self.at)


def ticks(quarters: Fraction) -> int:
    """The nearest tick."""
    exact = quarters * TICKS
    return (2 * exact.numerator + exact.denominator) // (2 * exact.denominator)


def whole(text: str | None) -> int | None:
    """The whole number that an element or an attribute holds; None where it holds none."""
    try:
        return int((text or "")[:12])
    except ValueError:
        return None
