"""What stands in each bar of a timeline: notes, pedals, findings, the tightest gap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.groups import Group
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.tightness import Gap, tightest_gaps
from livepedal.harp import Pedal, Position, Spelling
from livepedal.model.findings import Finding, Verdict
from livepedal.model.plan.timing import PedalChange
from livepedal.music.attacks import Gathered
from livepedal.music.wording import place_text
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.page.frame import flag_rows, frame_of, numbers_of
from livepedal.views.page.pieces import Piece, Shelves, end_of, piece_at, pieces_of
from livepedal.views.page.timeline import (
    FLAG,
    HEAD,
    Cell,
    ChangeMark,
    Drawing,
    Flag,
    Score,
    TimelineFrame,
    short,
)
from livepedal.views.signs import FULL

NOTCH = 3.5  # a pedal's line above or below the middle of its lane
LETTER = 8  # about the width of one, in bold
NAME_ROOM = 26  # the name of a finding's note is left out where the next finding is nearer
WORD_ROOM = 16  # a change's sign is left out where the next of its lane is nearer


def score_of(part: PartReport, basis: Basis, middle_c: str, groups: Sequence[Group]) -> Score:
    """Lay a part out. groups: its findings as they are listed."""
    pieces = list(pieces_of(part, basis.figures.ringing))
    frame = frame_of(part, basis.instrument, middle_c, flag_rows(part, pieces))
    if not pieces:
        return Score(frame, ())
    return _Layout(part, frame, pieces, basis, middle_c, groups).score()


@dataclass(slots=True)
class Content:
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
    frame: TimelineFrame
    pieces: Sequence[Piece]
    basis: Basis
    middle_c: str
    groups: Sequence[Group]
    contents: list[Content] = field(init=False)
    lanes: dict[Pedal, float] = field(init=False)
    verdicts: dict[int, Verdict] = field(init=False)
    strings: dict[int, dict[int, float]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.contents = [Content() for _ in self.pieces]
        self.lanes = {lane.pedal: lane.y for lane in self.frame.lanes}
        self.verdicts = {graded.us: graded.verdict for graded in self.part.graded}

    def score(self) -> Score:
        for attack, row in self.part.spelled:
            self._attack(attack, row)
        for change in self.part.plan.changes:
            self.contents[piece_at(self.pieces, change.us)].changes.append(change)
        found = [(finding, group) for group in self.groups for finding in group.findings]
        for finding, group in sorted(found, key=lambda one: (one[0].us, one[1].number)):
            self.contents[piece_at(self.pieces, finding.us)].findings.append((finding, group))
        gaps = tightest_gaps(self.part, self.basis.chosen, self.basis.figures.ringing)
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
                    heads=tuple((v, "".join(content.heads[v])) for v in Verdict if v in content.heads),
                    signs=signs,
                    pedals=pedals,
                    changes=changes,
                    flags=self._flags(piece, content.findings),
                    gap=self._gap(piece, gaps.get(piece.bar)),
                    attacks=";".join(content.attacks),
                )
            )
            before = metre
        return Score(self.frame, tuple(drawings))

    def _attack(self, attack: Gathered, row: Sequence[Spelling | None]) -> None:
        number = piece_at(self.pieces, attack.us)
        piece, content = self.pieces[number], self.contents[number]
        x = piece.x(attack.us)
        verdict = self.verdicts.get(attack.us, Verdict.EASY)
        names = []
        for (pitch, release), spelling, string in zip(
            attack.notes, row, numbers_of(attack, row, self.basis.instrument), strict=True
        ):
            y = self.frame.y(string)
            self.strings.setdefault(attack.us, {})[pitch] = y
            content.heads.setdefault(verdict, []).append(_head(verdict, x, y))
            end = end_of(attack, pitch, release, self.basis.figures.ringing)
            at, begin = number, x
            while at < len(self.pieces):
                over = self.pieces[at]
                # What is let go within the room before the next bar's first moment ends at the bar line.
                if end <= over.start and at > number:
                    break
                last = over.width if end >= over.end else over.x(end)
                self.contents[at].tails.append(f"M{short(begin)} {short(y)}H{short(last)}")
                at, begin = at + 1, 0.0
            could = self.basis.instrument.spellings(pitch) if spelling is None else (spelling,)
            names.append(words.note_name(pitch, could, self.middle_c))
        beat = words.beat(self.part.place(attack.us).beat)
        content.attacks.append(f"{short(x)}|{beat}|{' '.join(names)}|{int(verdict)}")

    def _pedals(
        self, piece: Piece, changes: Sequence[PedalChange], standing: list[Position | None]
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
            path.append(f"M0 {short(y + NOTCH * at)}")
            for number, change in enumerate(mine):
                x = piece.x(max(change.us, piece.start))
                following = piece.x(mine[number + 1].us) if number + 1 < len(mine) else piece.width
                path.append(f"H{short(x)}V{short(y + NOTCH * change.goal)}")
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
            path.append(f"H{short(piece.width)}")
        return "".join(path), tuple(sorted(marks, key=lambda mark: (mark.x, mark.y)))

    def _told(self, change: PedalChange) -> str:
        letter = change.pedal.letter
        text = f"{letter}{change.start.sign}→{letter}{change.goal.sign}, {change.foot.value} foot, "
        text += words.when(self.part.place(change.us), change.us)
        text += f"; for {place_text(self.part.place(change.attack_us))}"
        meaning = words.CHANGE_KINDS.get(words.change_kind(change), "")
        return f"{text}. {meaning[0].upper()}{meaning[1:]}" if meaning else text

    def _flags(self, piece: Piece, findings: Sequence[tuple[Finding, Group]]) -> tuple[Flag, ...]:
        flags = []
        shelves = Shelves(piece.width)
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

    def _gap(self, piece: Piece, gap: Gap | None) -> Cell | None:
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
        text += f"; the {self.basis.player} player needs {words.span(gap.needed)}"
        return Cell(shown, words.change_kind(change), text)

    def _beats(self, piece: Piece) -> str:
        if piece.rest:
            return ""
        count = self.part.time_map.metre(piece.start)[0]
        if count > 16:
            return ""
        found = []
        for beat in range(2, count + 1):
            us = self.part.time_map.us_of_bar(piece.bar, Fraction(beat))
            if piece.start < us < piece.end:
                found.append(f"M{short(piece.x(us))} {short(self.frame.strings)}V{short(self.frame.bottom)}")
        return "".join(found)

    def _marks(self) -> dict[int, str]:
        """The last rehearsal mark of each piece that has any, by the number of the piece."""
        found: dict[int, str] = {}
        for mark in self.part.time_map.marks:
            us = self.part.time_map.us(mark.tick)
            if self.pieces[0].start <= us < self.pieces[-1].end:
                found[piece_at(self.pieces, us)] = clean(mark.text, words.LONGEST_MARK)
        return found


def _label(piece: Piece, content: Content) -> str:
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
            return f"M{short(x)} {short(y)}h0"
        case Verdict.PLAYABLE:
            return f"M{short(x)} {short(y - 4)}l4 4-4 4-4-4z"
        case Verdict.VIRTUOSO:
            return f"M{short(x)} {short(y - 4.5)}l4.5 8h-9z"


def _fitting(text: str, width: float) -> str:
    """A rehearsal mark, cut to the room there is beside the bar's number."""
    room = max(int(width / LETTER) - 4, 1)
    return text if len(text) <= room else text[: max(room - 1, 1)] + "…"
