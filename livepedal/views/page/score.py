"""The timeline of a part: where everything stands, in CSS pixels, for the template to draw.

A part is drawn bar by bar, each bar a drawing of its own that stands beside the next as long as there is room, as
words do in a paragraph, so that the same page fits a telephone, a wide screen and a sheet of paper. In each bar,
from above: its number, rehearsal mark and the numbers of findings; the strings, the highest on top; seven pedal
lanes by foot; the tightest gap. A bar is as wide as its attacks need, whatever the tempo, within limits: 5 to 8 fit a
screen of 1280, two a telephone, and 30 at the most a sheet of A4. One with very many attacks goes on in a second
drawing, and bars in which nothing happens are folded into one rest.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from livepedal.advice.judging.groups import Group
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.tightness import Gap, tightest_gaps
from livepedal.harp import (
    Foot,
    HarpString,
    Instrument,
    Pedal,
    Player,
    Position,
    Ringing,
    Spelling,
    octave_shift,
)
from livepedal.model.findings import Finding, Verdict
from livepedal.model.plan.timing import PedalChange
from livepedal.music.attacks import Gathered
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.signs import FULL

# Every length in CSS pixels.
INSET = 9  # from a bar line to its first moment
BAR = 138  # so that two stand beside the gutter on a screen of 360
WIDEST = 232  # a drawing, so that five stand on a screen of 1280
REST = 60  # wide enough to hide the names beside the bar after it
STEP = 8  # what a short gap between attacks should be wide
CLOSEST = 3  # and is at the least: a bar that cannot have it in one drawing has several
HEAD = 18  # bar number and mark
FLAG = 17  # a row of findings' numbers
FLAG_WIDTH = 27
LANE = 13
NOTCH = 3.5  # a pedal's line above or below the middle of its lane
FEET_GAP = 8
ROW = 18  # of the tightest gap
FEWEST_STRINGS = 15
LONGEST_TAIL = 60_000_000  # µs; no string is heard so long
LETTER = 8  # about the width of one, in bold
NAME_ROOM = 26  # the name of a finding's note is left out where the next finding is nearer
PAPER = 702, 1032  # A4 without its margins
GUTTER, BELOW = 58, 14  # before and below a row
MOST_ON_PAPER = 30  # bars; more cannot be read on a sheet
SMALLEST = 0.6  # as much smaller as bars may be on paper
WORD_ROOM = 16  # a change's sign is left out where the next of its lane is nearer

# For each pitch class the letter (from C) on whose string it is drawn where no string of the harp gives it: of two
# letters that could have it either would do.
_LETTERS = (0, 0, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)


@dataclass(frozen=True, slots=True)
class Lane:
    """One pedal's lane. y: its middle."""

    pedal: Pedal
    y: float


@dataclass(frozen=True, slots=True)
class Sheet:
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
    lanes: tuple[Lane, ...]
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
class Heads:
    """The notes of one verdict in one drawing, as one path."""

    verdict: Verdict
    path: str


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
    """One bar, a piece of one, or several bars of rest."""

    bar: int
    begins: bool
    rest: int
    width: float
    label: str
    mark: str
    metre: str
    beats: str
    tails: str
    heads: tuple[Heads, ...]
    signs: str
    pedals: str
    changes: tuple[ChangeMark, ...]
    flags: tuple[Flag, ...]
    gap: Cell | None
    attacks: str


@dataclass(frozen=True, slots=True)
class Score:
    """The whole timeline of a part; without drawings where there is no note."""

    sheet: Sheet
    drawings: tuple[Drawing, ...]


@dataclass(slots=True)
class _Shelves:
    """The two rows in which the numbers of findings stand above a drawing of some width."""

    width: float
    ends: list[float] = field(default_factory=lambda: [0.0, 0.0])

    def put(self, x: float) -> tuple[float, int] | None:
        """The left edge and the row of a number over x; None where there is no room."""
        left = round(min(max(x - FLAG_WIDTH / 2, 1), max(self.width - FLAG_WIDTH, 1)), 1)
        for row, end in enumerate(self.ends):
            if end <= left:
                self.ends[row] = left + FLAG_WIDTH + 1
                return left, row
        return None


@dataclass(slots=True)
class _Piece:
    """A stretch of time that is drawn at one scale: from `start` to `end` (µs)."""

    bar: int
    begins: bool
    rest: int
    start: int
    end: int
    width: float

    def x(self, us: int) -> float:
        room = self.width - INSET
        return round(INSET + room * (us - self.start) / max(self.end - self.start, 1), 1)


def score_of(
    part: PartReport,
    player: Player,
    instrument: Instrument,
    ringing: Ringing,
    middle_c: str,
    groups: Sequence[Group],
) -> Score:
    """Lay a part out. groups: its findings as they are listed."""
    pieces = list(_pieces(part, ringing))
    sheet = _sheet(part, instrument, middle_c, _flag_rows(part, pieces))
    if not pieces:
        return Score(sheet, ())
    return _Layout(part, sheet, pieces, player, instrument, ringing, middle_c, groups).score()


# -- what is common to all


def _strings(part: PartReport, instrument: Instrument) -> tuple[int, int]:
    used = [n for attack, row in part.spelled for n in _numbers(attack, row, instrument)]
    lowest, highest = instrument.lowest.number, instrument.highest.number
    if not used:
        return lowest, highest
    low, high = max(min(used) - 1, lowest), min(max(used) + 1, highest)
    while high - low + 1 < min(FEWEST_STRINGS, highest - lowest + 1):
        low, high = max(low - 1, lowest), min(high + 1, highest)
    return low, high


def _numbers(attack: Gathered, row: Sequence[Spelling | None], instrument: Instrument) -> list[int]:
    """The string of each note; where the plan leaves one out, the first that could give it, or would, were it there."""
    found = []
    for (pitch, _), spelling in zip(attack.notes, row, strict=True):
        if spelling is not None:
            found.append(spelling.string.number)
            continue
        could = instrument.spellings(pitch)
        octave, pitch_class = divmod(pitch, 12)
        found.append(could[0].string.number if could else 7 * (octave - 1) + _LETTERS[pitch_class])
    return found


def _sheet(part: PartReport, instrument: Instrument, middle_c: str, flag_rows: int) -> Sheet:
    low, high = _strings(part, instrument)
    count = high - low + 1
    pitch = 5.5 if count <= 36 else 5.0
    top = HEAD + flag_rows * FLAG
    bottom = top + count * pitch
    y = bottom + 10
    lanes: list[Lane] = []
    feet: list[tuple[float, float, str]] = []
    for foot in Foot:
        first = y
        for pedal in foot.pedals:
            lanes.append(Lane(pedal, y + LANE / 2))
            y += LANE
        feet.append((first, y, foot.value))
        y += FEET_GAP
    shift = octave_shift(middle_c)
    lines = {"": "", "C": "", "F": ""}
    named: dict[str, list[tuple[str, float]]] = {"C": [], "F": []}
    for number in range(low, high + 1):
        string = HarpString.numbered(number)
        letter = string.pedal.letter
        at = top + (high - number + 0.5) * pitch
        lines[letter if letter in lines else ""] += f"M0 {_n(at)}H300"
        if letter in named:
            named[letter].append((f"{letter}{string.octave + shift}", at + 3.5))
    return Sheet(
        lowest=low,
        highest=high,
        pitch=pitch,
        strings=top,
        bottom=bottom,
        lanes=tuple(lanes),
        gaps=y + ROW / 2,
        height=y + ROW,
        # Each character has a place of its own, so that all names of a letter are one element.
        names=tuple(
            (
                letter,
                "".join(name for name, _ in some),
                " ".join("-22 -15" for _ in some),
                " ".join(f"{_n(at)} {_n(at)}" for _, at in some),
            )
            for letter, some in named.items()
            if some
        ),
        lines=tuple(lines.items()),
        feet=tuple(feet),
        signs_x=" ".join("-20" for _ in lanes),
        signs_y=" ".join(_n(lane.y + 4) for lane in lanes),
    )


def _flag_rows(part: PartReport, pieces: Sequence[_Piece]) -> int:
    """How many rows the numbers of findings take where they stand closest."""
    if not pieces:
        return 0
    shelves = [_Shelves(piece.width) for piece in pieces]
    rows = 0
    for us in sorted(finding.us for finding in part.findings):
        number = _piece_at(pieces, us)
        put = shelves[number].put(pieces[number].x(us))
        if put is not None:
            rows = max(rows, put[1] + 1)
    return rows


# -- time


def _end(attack: Gathered, pitch: int, release: int | None, ringing: Ringing) -> int:
    """When a note is over for the eye: its key is up, or it has died away."""
    heard = attack.us + min(ringing.ring(pitch), LONGEST_TAIL)
    return heard if release is None else min(release, heard)


def _pieces(part: PartReport, ringing: Ringing) -> Iterator[_Piece]:
    if not part.music:
        return
    time_map = part.time_map
    busy: set[int] = set()
    struck: dict[int, list[int]] = {}
    for attack in part.music:
        end = max(_end(attack, pitch, release, ringing) for pitch, release in attack.notes)
        first = part.place(attack.us).bar
        struck.setdefault(first, []).append(attack.us)
        # What is let go on the bar line does not reach into the bar.
        busy.update(range(first, max(first, part.place(max(end - 1, attack.us)).bar) + 1))
    busy.update(part.place(change.us).bar for change in part.plan.changes)
    marks = {time_map.place_of_tick(mark.tick).bar for mark in time_map.marks}
    bars = sorted(busy)
    first = min(bars[0], time_map.first_bar)
    for before, bar in zip((first - 1, *bars[:-1]), bars, strict=True):
        silent = before + 1
        while silent < bar:
            # A rest ends where a rehearsal mark stands, as in a printed part.
            until = min((mark for mark in marks if silent < mark < bar), default=bar)
            yield _rest(part, silent, until)
            silent = until
        yield from _bar(part, bar, struck.get(bar, ()))


def _piece_at(pieces: Sequence[_Piece], us: int) -> int:
    """The number of the piece that a moment lies in."""
    return max(bisect_right(pieces, us, key=lambda piece: piece.start) - 1, 0)


def _rest(part: PartReport, bar: int, until: int) -> _Piece:
    return _Piece(bar, True, until - bar, part.time_map.us_of_bar(bar), part.time_map.us_of_bar(until), REST)


def _bar(part: PartReport, bar: int, struck: Sequence[int]) -> Iterator[_Piece]:
    """A bar, in pieces that are not too wide, cut at beats where it can be. struck: the moments of its attacks."""
    start, end = part.time_map.us_of_bar(bar), part.time_map.us_of_bar(bar + 1)
    gaps = sorted(later - sooner for sooner, later in pairwise(struck))
    # Most gaps between attacks are to be seen; time runs at one scale within a bar.
    short = max(gaps[len(gaps) // 5], 1) if gaps else end - start
    wanted, least = ((end - start) * step / short + INSET for step in (STEP, CLOSEST))
    if least <= WIDEST:
        yield _Piece(bar, True, 0, start, end, round(min(max(wanted, BAR), WIDEST)))
        return
    scale = (least - INSET) / (end - start)
    beats = [part.time_map.us_of_bar(bar, beat) for beat in range(2, part.time_map.metre(start)[0] + 1)]
    at = start
    while at < end:
        most = at + int((WIDEST - INSET) / scale)
        fits = [beat for beat in beats if at < beat <= most]
        until = end if end <= most else fits[-1] if fits else most
        yield _Piece(bar, at == start, 0, at, until, round(max((until - at) * scale + INSET, REST)))
        at = until


# -- everything in its place


@dataclass(slots=True)
class _Content:
    """What falls into one piece. heads: paths by verdict; tails: paths; attacks: as in Drawing."""

    heads: dict[Verdict, list[str]] = field(default_factory=dict)
    tails: list[str] = field(default_factory=list)
    attacks: list[str] = field(default_factory=list)
    changes: list[PedalChange] = field(default_factory=list)
    findings: list[tuple[Finding, Group]] = field(default_factory=list)


@dataclass(slots=True)
class _Layout:
    """Puts the parts of a score into its pieces.

    contents: of each piece; lanes: the y of each pedal's; verdicts: by attack (µs), of those that are not easy;
    strings: the y of each note, by attack (µs) and pitch.
    """

    part: PartReport
    sheet: Sheet
    pieces: Sequence[_Piece]
    player: Player
    instrument: Instrument
    ringing: Ringing
    middle_c: str
    groups: Sequence[Group]
    contents: list[_Content] = field(init=False)
    lanes: dict[Pedal, float] = field(init=False)
    verdicts: dict[int, Verdict] = field(init=False)
    strings: dict[int, dict[int, float]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.contents = [_Content() for _ in self.pieces]
        self.lanes = {lane.pedal: lane.y for lane in self.sheet.lanes}
        self.verdicts = {graded.us: graded.verdict for graded in self.part.graded}

    def score(self) -> Score:
        for attack, row in self.part.spelled:
            self._attack(attack, row)
        for change in self.part.plan.changes:
            self.contents[_piece_at(self.pieces, change.us)].changes.append(change)
        found = [(finding, group) for group in self.groups for finding in group.findings]
        for finding, group in sorted(found, key=lambda one: (one[0].us, one[1].number)):
            self.contents[_piece_at(self.pieces, finding.us)].findings.append((finding, group))
        gaps = tightest_gaps(self.part, self.player, self.ringing)
        marks = self._marks()
        standing = list(self.part.plan.setting.positions)
        drawings = []
        before = None
        for number, (piece, content) in enumerate(zip(self.pieces, self.contents, strict=True)):
            signs = "".join("·" if position is None else position.sign for position in standing)
            pedals, changes = self._pedals(piece, content.changes, standing)
            mark = _fitting(marks.get(number, ""), piece.width)
            metre = self.part.time_map.metre(piece.start)
            shown = metre != before and piece.width > LETTER * (8 + len(mark))
            drawings.append(
                Drawing(
                    bar=piece.bar,
                    begins=piece.begins,
                    rest=piece.rest,
                    width=piece.width,
                    label=_label(piece, content),
                    mark=mark,
                    metre=f"{metre[0]}/{metre[1]}" if shown else "",
                    beats=self._beats(piece),
                    tails="".join(content.tails),
                    heads=tuple(Heads(v, "".join(content.heads[v])) for v in Verdict if v in content.heads),
                    signs=signs,
                    pedals=pedals,
                    changes=changes,
                    flags=self._flags(piece, content.findings),
                    gap=self._gap(piece, gaps.get(piece.bar)),
                    attacks=";".join(content.attacks),
                )
            )
            before = metre
        return Score(self.sheet, tuple(drawings))

    def _attack(self, attack: Gathered, row: Sequence[Spelling | None]) -> None:
        number = _piece_at(self.pieces, attack.us)
        piece, content = self.pieces[number], self.contents[number]
        x = piece.x(attack.us)
        verdict = self.verdicts.get(attack.us, Verdict.EASY)
        names = []
        for (pitch, release), spelling, string in zip(
            attack.notes, row, _numbers(attack, row, self.instrument), strict=True
        ):
            y = self.sheet.y(string)
            self.strings.setdefault(attack.us, {})[pitch] = y
            content.heads.setdefault(verdict, []).append(_head(verdict, x, y))
            end = _end(attack, pitch, release, self.ringing)
            at, begin = number, x
            while at < len(self.pieces):
                over = self.pieces[at]
                # What is let go within the room before the next bar's first moment ends at the bar line.
                if end <= over.start and at > number:
                    break
                last = over.width if end >= over.end else over.x(end)
                self.contents[at].tails.append(f"M{_n(begin)} {_n(y)}H{_n(last)}")
                at, begin = at + 1, 0.0
            could = self.instrument.spellings(pitch) if spelling is None else (spelling,)
            names.append(words.note_name(pitch, could, self.middle_c))
        beat = words.beat(self.part.place(attack.us).beat)
        content.attacks.append(f"{_n(x)}|{beat}|{' '.join(names)}|{int(verdict)}")

    def _pedals(
        self, piece: _Piece, changes: Sequence[PedalChange], standing: list[Position | None]
    ) -> tuple[str, tuple[ChangeMark, ...]]:
        """The lines of the seven pedals through a piece; `standing` is brought up to its end."""
        path = []
        marks: list[ChangeMark] = []
        for pedal in Pedal:
            y = self.lanes[pedal]
            at = standing[pedal]
            mine = [change for change in changes if change.pedal is pedal]
            if at is None and mine:
                at = mine[0].start
            if at is None:
                continue
            path.append(f"M0 {_n(y + NOTCH * at)}")
            for number, change in enumerate(mine):
                x = piece.x(max(change.us, piece.start))
                following = piece.x(mine[number + 1].us) if number + 1 < len(mine) else piece.width
                path.append(f"H{_n(x)}V{_n(y + NOTCH * change.goal)}")
                room = following - x >= WORD_ROOM
                marks.append(
                    ChangeMark(
                        x,
                        y + NOTCH * change.goal,
                        words.change_kind(change),
                        change.goal.sign if room else "",
                        self._told(change),
                    )
                )
                at = change.goal
            standing[pedal] = at
            path.append(f"H{_n(piece.width)}")
        return "".join(path), tuple(sorted(marks, key=lambda mark: (mark.x, mark.y)))

    def _told(self, change: PedalChange) -> str:
        letter = change.pedal.letter
        text = f"{letter}{change.start.sign}→{letter}{change.goal.sign}, {change.foot.value} foot, "
        text += words.when(self.part.place(change.us), change.us)
        need = self.part.place(change.attack_us)
        text += f"; for bar {need.bar}, beat {words.beat(need.beat)}"
        meaning = words.CHANGE_KINDS.get(words.change_kind(change), "")
        return f"{text}. {meaning[0].upper()}{meaning[1:]}" if meaning else text

    def _flags(self, piece: _Piece, findings: Sequence[tuple[Finding, Group]]) -> tuple[Flag, ...]:
        flags = []
        shelves = _Shelves(piece.width)
        for number, (finding, group) in enumerate(findings):
            x = piece.x(finding.us)
            put = shelves.put(x)
            label = None if put is None else (put[0], HEAD + put[1] * FLAG)
            place = self.part.place(finding.us)
            text = f"Finding {group.number}, {words.when(place, finding.us)}: "
            text += words.in_full(finding, self.middle_c)
            told = words.reasons(finding)
            if told:
                text += ". " + "; ".join(told)
            ring = self.strings.get(finding.us, {}).get(finding.note)
            following = piece.x(findings[number + 1][0].us) if number + 1 < len(findings) else piece.width
            roomy = ring is not None and following - x >= NAME_ROOM
            spellings = [reason.spelling for reason in finding.reasons]
            name = words.note_name(finding.note, spellings, self.middle_c).split("/")[0] if roomy else ""
            flags.append(
                Flag(
                    group.number,
                    finding is group.findings[0],
                    finding,
                    x,
                    label,
                    ring,
                    name,
                    shape_of(finding),
                    clean(text, 600),
                )
            )
        return tuple(flags)

    def _gap(self, piece: _Piece, gap: Gap | None) -> Cell | None:
        if gap is None or piece.rest or not piece.begins:
            return None
        change = gap.change
        if gap.before is not None:
            what = f"from {words.change_name(gap.before)} to {words.change_name(change)}, both {change.foot.value} foot"
        else:
            what = f"from when the {change.pedal.letter} strings are free to {words.change_name(change)}"
        if gap.available <= 0:
            shown = said = "none"
        else:
            seconds = gap.available / 1_000_000
            shown = f"{seconds:.2f} s" if seconds < 10 else f"{seconds:.0f} s"
            said = words.span(gap.available)
        text = f"bar {piece.bar}: tightest gap {said}, {what}"
        text += f"; the {self.player.name} player needs {words.span(gap.needed)}"
        return Cell(shown, words.change_kind(change), text)

    def _beats(self, piece: _Piece) -> str:
        if piece.rest:
            return ""
        count = self.part.time_map.metre(piece.start)[0]
        if count > 16:
            return ""
        found = []
        for beat in range(2, count + 1):
            us = self.part.time_map.us_of_bar(piece.bar, Fraction(beat))
            if piece.start < us < piece.end:
                found.append(f"M{_n(piece.x(us))} {_n(self.sheet.strings)}V{_n(self.sheet.bottom)}")
        return "".join(found)

    def _marks(self) -> dict[int, str]:
        """The last rehearsal mark of each piece that has any, by the number of the piece."""
        found: dict[int, str] = {}
        for mark in self.part.time_map.marks:
            us = self.part.time_map.us(mark.tick)
            if self.pieces[0].start <= us < self.pieces[-1].end:
                found[_piece_at(self.pieces, us)] = clean(mark.text, words.LONGEST_MARK)
        return found


def _label(piece: _Piece, content: _Content) -> str:
    """A drawing in words, for whoever does not see it."""
    if piece.rest == 1:
        return f"bar {piece.bar}, rest"
    if piece.rest:
        return f"bars {piece.bar} to {piece.bar + piece.rest - 1}, rest"
    text = f"bar {piece.bar}" if piece.begins else f"bar {piece.bar}, continued"
    text += f": {words.counted(len(content.attacks), 'attack')}"
    if content.heads:
        text += f", {max(content.heads).word}"
    if content.changes:
        text += f"; {words.counted(len(content.changes), 'pedal change')}: "
        text += ", ".join(words.change_name(change) for change in content.changes)
    return text


def shape_of(finding: Finding) -> str:
    """The sign of a finding: its verdict's, or that it is audible."""
    return "~" if finding.audible else FULL.shapes[finding.verdict]


def _head(verdict: Verdict, x: float, y: float) -> str:
    """A note's sign, as part of a path: a round or square dot is drawn by the stroke of a line without length."""
    match verdict:
        case Verdict.EASY | Verdict.UNPLAYABLE:
            return f"M{_n(x)} {_n(y)}h0"
        case Verdict.PLAYABLE:
            return f"M{_n(x)} {_n(y - 4)}l4 4-4 4-4-4z"
        case Verdict.VIRTUOSO:
            return f"M{_n(x)} {_n(y - 4.5)}l4.5 8h-9z"


def _fitting(text: str, width: float) -> str:
    """A rehearsal mark, cut to the room there is beside the bar's number."""
    room = max(int(width / LETTER) - 4, 1)
    return text if len(text) <= room else text[: max(room - 1, 1)] + "…"


def _n(value: float) -> str:
    """A number as short as it can be, to a tenth."""
    return f"{value:.1f}".removesuffix(".0")
