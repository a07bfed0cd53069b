"""The timeline of a part: where everything stands, in CSS pixels, for the template to draw.

A part is drawn bar by bar, each bar a drawing of its own that stands beside the next as long as there is room, as
words do in a paragraph, so that the same page fits a telephone, a wide screen and a sheet of paper. In each bar,
from above: its number, rehearsal mark and the numbers of findings; the strings, the highest on top; seven pedal
lanes by foot; the tightest gap. Here are the records; pieces.py divides the music into drawings, layout.py fills them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from livepedal.advice.judging.groups import Group
from livepedal.harp import Foot, HarpString, Pedal, octave_shift
from livepedal.model.findings import Finding, Verdict
from livepedal.model.plan.timing import PedalChange
from livepedal.views import words
from livepedal.views.signs import FULL

# Every length in CSS pixels.
HEAD = 18  # bar number and mark
FLAG = 17  # a row of findings' numbers
FLAG_WIDTH = 27
FLAG_ROWS = 2
INSET = 9  # from a bar line to its first moment
BAR = 138  # so that two stand beside the gutter on a screen of 360
ABOVE_LANES = 10
LANE = 13
FEET_GAP = 8  # below the lanes of a foot
GAP_ROW = 18  # of the tightest gap
MANY_STRINGS = 36  # from which on they stand closer together
PAPER = 702, 1032  # A4 without its margins
GUTTER, BELOW = 58, 14  # before and below a row
MOST_ON_PAPER = 30  # bars; more cannot be read on a sheet
SMALLEST = 0.6  # as much smaller as bars may be on paper


@dataclass(frozen=True, slots=True)
class Frame:
    """What all drawings of a part have in common.

    Attributes:
        lowest, highest: strings that are drawn (their numbers).
        flag_rows: rows of findings' numbers above them.
    """

    lowest: int
    highest: int
    flag_rows: int

    @property
    def pitch(self) -> float:
        """From string to string."""
        return 5.5 if self.highest - self.lowest < MANY_STRINGS else 5.0

    @property
    def top(self) -> float:
        """Above the highest string."""
        return HEAD + self.flag_rows * FLAG

    @property
    def bottom(self) -> float:
        """Below the lowest string."""
        return self.top + (self.highest - self.lowest + 1) * self.pitch

    @property
    def gaps(self) -> float:
        """The middle of the row of the tightest gaps."""
        return self.lane(Pedal.A) + LANE / 2 + FEET_GAP + GAP_ROW / 2

    @property
    def height(self) -> float:
        """Of the whole."""
        return self.gaps + GAP_ROW / 2

    @property
    def printed(self) -> float:
        """What it is made smaller by on paper, so that rows fill the page."""
        width, height = PAPER
        for rows in range(8, 1, -1):
            smaller = (height / rows - 2) / (self.height + BELOW)
            if smaller >= SMALLEST and rows * int((width / smaller - GUTTER) / BAR) <= MOST_ON_PAPER:
                return round(smaller, 3)
        return SMALLEST

    def lane(self, pedal: Pedal) -> float:
        """The middle of a pedal's lane."""
        return self.bottom + ABOVE_LANES + (pedal + 0.5) * LANE + (pedal.foot is Foot.RIGHT) * FEET_GAP

    def y(self, number: int) -> float:
        """The line of a string; one off the drawing is drawn at its edge."""
        return self.top + (self.highest - min(max(number, self.lowest), self.highest) + 0.5) * self.pitch

    def strings(self, letter: str, middle_c: str = "C4") -> list[tuple[str, float]]:
        """The strings of a letter that are drawn, each by name, with its line; "" has all but C and F."""
        drawn = map(HarpString.numbered, range(self.lowest, self.highest + 1))
        return [
            (f"{string.pedal.letter}{string.octave + octave_shift(middle_c)}", self.y(string.number))
            for string in drawn
            if letter == (string.pedal.letter if string.pedal.letter in "CF" else "")
        ]


@dataclass(frozen=True, slots=True)
class Flag:
    """A finding in the timeline.

    Attributes:
        group: which it belongs to in the list.
        label: the left edge and the row of its number; None where there is no room.
        text: what it says in full.
        ring: the y of the note that broke it; None: none is drawn.
        name: of that note, "" without room.
    """

    group: Group
    finding: Finding
    x: float
    label: tuple[float, int] | None
    text: str
    ring: float | None
    name: str


@dataclass(frozen=True, slots=True)
class ChangeMark:
    """A pedal change in the timeline.

    Attributes:
        roomy: whether there is room for the new accidental.
        text: what it says in full.
    """

    x: float
    y: float
    change: PedalChange
    roomy: bool
    text: str


@dataclass(slots=True)
class Drawing:
    """One bar, a piece of one, or several bars of rest: a stretch of time that is drawn at one scale.

    Attributes:
        bar: its number.
        begins: whether it is the beginning of its bar.
        rest: how many bars of rest it is; 0: it is none.
        start, end: µs.
        attacks: of each "x|beat|notes|verdict", which page.js shows.
        tails, heads, pedals, beats: paths; heads by verdict.
        signs: how the pedals stand at its beginning.
        gap: the tightest gap: what is shown, its kind as of a change, and what it says in full.
    """

    bar: int
    begins: bool
    rest: int
    start: int
    end: int
    width: float
    mark: str = ""
    metre: str = ""
    attacks: list[str] = field(default_factory=list)
    tails: list[str] = field(default_factory=list)
    heads: dict[Verdict, list[str]] = field(default_factory=dict)
    beats: list[str] = field(default_factory=list)
    pedals: list[str] = field(default_factory=list)
    signs: str = ""
    changes: list[ChangeMark] = field(default_factory=list)
    flags: list[Flag] = field(default_factory=list)
    gap: tuple[str, str, str] | None = None

    def x(self, us: int) -> float:
        """Where a moment (µs) stands, from the left edge."""
        room = self.width - INSET
        return round(INSET + room * (us - self.start) / max(self.end - self.start, 1), 1)

    @property
    def label(self) -> str:
        """The drawing in words, for whoever does not see it."""
        if self.rest:
            return f"{words.bar_span(self.bar, self.bar + self.rest - 1)}, rest"
        text = f"bar {self.bar}" if self.begins else f"bar {self.bar}, continued"
        text += f": {words.counted(len(self.attacks), 'attack')}"
        if self.heads:
            text += f", {max(self.heads).word}"
        if self.changes:
            names = ", ".join(words.change_name(mark.change) for mark in self.changes)
            text += f"; {words.changes(len(self.changes))}: {names}"
        return text


def sign_of(finding: Finding) -> str:
    """The shape of a finding's verdict, or that it is audible."""
    return words.FLAGS["audible"] if finding.audible else FULL.shapes[finding.verdict]


def short(value: float) -> str:
    """A number as short as it can be, to a tenth."""
    return f"{value:.1f}".removesuffix(".0")
