"""The timeline of a part: where everything stands, in CSS pixels, for the template to draw.

A part is drawn bar by bar, each bar a drawing of its own that stands beside the next as long as there is room, as
words do in a paragraph, so that the same page fits a telephone, a wide screen and a sheet of paper. In each bar,
from above: its number, rehearsal mark and the numbers of findings; the strings, the highest on top; seven pedal
lanes by foot; the tightest gap. Here are the values; what all bars have in common is worked out in frame.py, how wide
they are in pieces.py, what stands in them in layout.py.
"""

from __future__ import annotations

from dataclasses import dataclass

from livepedal.harp import Pedal
from livepedal.model.findings import Finding, Verdict

# Every length in CSS pixels.
HEAD = 18  # bar number and mark
FLAG = 17  # a row of findings' numbers
FLAG_WIDTH = 27
INSET = 9  # from a bar line to its first moment
BAR = 138  # so that two stand beside the gutter on a screen of 360
PAPER = 702, 1032  # A4 without its margins
GUTTER, BELOW = 58, 14  # before and below a row
MOST_ON_PAPER = 30  # bars; more cannot be read on a sheet
SMALLEST = 0.6  # as much smaller as bars may be on paper


@dataclass(frozen=True, slots=True)
class PedalLane:
    """One pedal's lane. y: its middle."""

    pedal: Pedal
    y: float


@dataclass(frozen=True, slots=True)
class TimelineFrame:
    """What all drawings of a part have in common.

    lowest, highest: strings that are drawn (their numbers); pitch: from string to string; strings, bottom: above the
    highest and below the lowest; lanes, gaps: the rows under them; height: of the whole; names: (letter, names, x
    and y of each character) of the strings that have one; lines: (C, F or none, path) of all; feet: (first and last
    y, name); signs_x, signs_y: places of the seven signs before a row.
    """

    lowest: int
    highest: int
    pitch: float
    strings: float
    bottom: float
    lanes: tuple[PedalLane, ...]
    gaps: float
    height: float
    names: tuple[tuple[str, str, str, str], ...]
    lines: tuple[tuple[str, str], ...]
    feet: tuple[tuple[float, float, str], ...]
    signs_x: str
    signs_y: str

    @property
    def printed(self) -> float:
        """What it is made smaller by on paper, so that rows fill the page."""
        width, height = PAPER
        for rows in range(8, 1, -1):
            smaller = (height / rows - 2) / (self.height + BELOW)
            if smaller >= SMALLEST and rows * int((width / smaller - GUTTER) / BAR) <= MOST_ON_PAPER:
                return round(smaller, 3)
        return SMALLEST

    def y(self, number: int) -> float:
        """The line of a string; one off the drawing is drawn at its edge."""
        return self.strings + (self.highest - min(max(number, self.lowest), self.highest) + 0.5) * self.pitch


@dataclass(frozen=True, slots=True)
class Flag:
    """A finding in the timeline. number: of its group in the list; first: whether it is the first of that; x: of its
    attack; label: (x, y) of its number, None where there is no room; shape: its sign; ring: the y of the note that
    broke it (None: none is drawn); name: of that note, empty without room.
    """

    number: int
    first: bool
    finding: Finding
    x: float
    label: tuple[float, float] | None
    ring: float | None
    name: str
    shape: str
    text: str


@dataclass(frozen=True, slots=True)
class ChangeMark:
    """A pedal change. kind: plain, tight, audible or impossible; sign: the new accidental, empty without room."""

    x: float
    y: float
    kind: str
    sign: str
    text: str


@dataclass(frozen=True, slots=True)
class Cell:
    """The tightest gap of a bar. kind: as of a change; text: what it says in full."""

    shown: str
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """One bar, a piece of one, or several bars of rest. heads: the notes of each verdict, as one path."""

    bar: int
    begins: bool
    rest: int
    width: float
    label: str
    mark: str
    metre: str
    beats: str
    tails: str
    heads: tuple[tuple[Verdict, str], ...]
    signs: str
    pedals: str
    changes: tuple[ChangeMark, ...]
    flags: tuple[Flag, ...]
    gap: Cell | None
    attacks: str


@dataclass(frozen=True, slots=True)
class Score:
    """The whole timeline of a part; without drawings where there is no note."""

    frame: TimelineFrame
    drawings: tuple[Drawing, ...]


def short(value: float) -> str:
    """A number as short as it can be, to a tenth."""
    return f"{value:.1f}".removesuffix(".0")
