"""What stands in each drawing of a timeline: notes, pedals, findings, the tightest gap."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.tightness import Gap, tightest_gaps
from livepedal.harp import Instrument, Pedal, Spelling
from livepedal.model.findings import Verdict
from livepedal.model.plan.timing import PedalChange
from livepedal.music.attacks import Gathered
from livepedal.music.wording import place_text
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.page.pieces import drawings_of, end_of, number_at
from livepedal.views.page.timeline import FLAG_ROWS, FLAG_WIDTH, ChangeMark, Flag, Frame, short
from livepedal.views.widths import cut

FEWEST_STRINGS = 15
NOTCH = 3.5  # a pedal's line above or below the middle of its lane
LETTER = 8  # about the width of one, in bold
NAME_ROOM = 26  # the name of a finding's note is left out where the next finding is nearer
WORD_ROOM = 16  # a change's sign is left out where the next of its lane is nearer
MOST_BEATS = 16  # of a bar with lines at its beats
# For each pitch class the letter (from C) on whose string it is drawn where no string of the harp gives it: of two
# letters that could have it either would do.
LETTERS = (0, 0, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)


class Timeline:
    """The timeline of a part, laid out; without drawings where there is no note.

    Attributes:
        frame: what all drawings have in common.
    """

    def __init__(self, part: PartReport, basis: Basis, middle_c: str) -> None:
        self._part = part
        self._basis = basis
        self._middle_c = middle_c
        self._verdicts = {graded.us: graded.verdict for graded in part.graded}  # of those that are not easy
        self._lines: dict[tuple[int, int], float] = {}  # the y of each note, by moment and pitch
        self.drawings = list(drawings_of(part, basis.figures.ringing))
        self.frame = Frame(*_compass(part, basis.instrument), FLAG_ROWS if part.groups else 0)
        if self.drawings:
            for attack, spellings in part.spelled:
                self._attack(attack, spellings)
            self._flags()
            self._pedals()
            self._heads()
            for bar, gap in tightest_gaps(part, basis.chosen, basis.figures.ringing).items():
                self._gap(bar, gap)

    def _attack(self, attack: Gathered, spellings: Sequence[Spelling | None]) -> None:
        number = number_at(self.drawings, attack.us)
        drawing = self.drawings[number]
        x = drawing.x(attack.us)
        verdict = self._verdicts.get(attack.us, Verdict.EASY)
        names = []
        for (pitch, release), spelling in zip(attack.notes, spellings, strict=True):
            y = self.frame.y(string_number(pitch, spelling, self._basis.instrument))
            self._lines[attack.us, pitch] = y
            drawing.heads.setdefault(verdict, []).append(_head(verdict, x, y))
            end = end_of(attack, pitch, release, self._basis.figures.ringing)
            begin = x
            for over in self.drawings[number:]:
                # What is let go within the room before the next bar's first moment ends at the bar line.
                if end <= over.start and over is not drawing:
                    break
                last = over.width if end >= over.end else over.x(end)
                over.tails.append(f"M{short(begin)} {short(y)}H{short(last)}")
                begin = 0.0
            could = self._basis.instrument.spellings(pitch) if spelling is None else (spelling,)
            names.append(words.note_name(pitch, could, self._middle_c))
        beat = words.beat(self._part.place(attack.us).beat)
        drawing.attacks.append(f"{short(x)}|{beat}|{' '.join(names)}|{int(verdict)}")

    def _flags(self) -> None:
        """The findings in order of time."""
        found = [(finding, group) for group in self._part.groups for finding in group.findings]
        found.sort(key=lambda pair: (pair[0].us, pair[1].number))
        ends: dict[int, list[float]] = {}  # of the numbers in each row, by drawing
        for number, (finding, group) in enumerate(found):
            at = number_at(self.drawings, finding.us)
            drawing = self.drawings[at]
            x = drawing.x(finding.us)
            rows = ends.setdefault(at, [0.0] * FLAG_ROWS)
            left = round(min(max(x - FLAG_WIDTH / 2, 1), max(drawing.width - FLAG_WIDTH, 1)), 1)
            row = next((row for row, end in enumerate(rows) if end <= left), None)
            if row is not None:
                rows[row] = left + FLAG_WIDTH + 1
            where = words.when(self._part.place(finding.us), finding.us)
            text = f"Finding {group.number}, {where}: {words.in_full(finding, self._middle_c)}"
            text = ". ".join(filter(None, (text, "; ".join(words.reasons(finding)))))
            ring = self._lines.get((finding.us, finding.note))
            following = found[number + 1][0].us if number + 1 < len(found) else drawing.end
            roomy = drawing.x(min(following, drawing.end)) - x >= NAME_ROOM
            spellings = [reason.spelling for reason in finding.reasons]
            name = words.note_name(finding.note, spellings, self._middle_c).split("/")[0]
            drawing.flags.append(
                Flag(
                    group,
                    finding,
                    x,
                    None if row is None else (left, row),
                    clean(text, 600),
                    ring,
                    name if ring is not None and roomy else "",
                )
            )

    def _pedals(self) -> None:
        """The lines of the seven pedals, and their changes."""
        changes: dict[int, list[PedalChange]] = {}
        for change in self._part.plan.changes:
            changes.setdefault(number_at(self.drawings, change.us), []).append(change)
        standing = list(self._part.plan.setting.positions)
        for number, drawing in enumerate(self.drawings):
            drawing.signs = "".join("·" if position is None else position.sign for position in standing)
            for pedal in Pedal:
                mine = [change for change in changes.get(number, ()) if change.pedal is pedal]
                at = mine[0].start if standing[pedal] is None and mine else standing[pedal]
                if at is None:
                    continue
                middle = self.frame.lane(pedal)
                drawing.pedals.append(f"M0 {short(middle + NOTCH * at)}")
                stops = [drawing.x(max(change.us, drawing.start)) for change in mine]
                for change, (x, following) in zip(mine, pairwise((*stops, drawing.width)), strict=True):
                    at = change.goal
                    y = middle + NOTCH * at
                    drawing.pedals.append(f"H{short(x)}V{short(y)}")
                    roomy = following - x >= WORD_ROOM
                    drawing.changes.append(ChangeMark(x, y, change, roomy, self._change_text(change)))
                standing[pedal] = at
                drawing.pedals.append(f"H{short(drawing.width)}")
            drawing.changes.sort(key=lambda mark: (mark.x, mark.y))

    def _change_text(self, change: PedalChange) -> str:
        pedal = change.pedal
        text = f"{pedal.at(change.start)}→{pedal.at(change.goal)}, {change.foot.value} foot, "
        text += words.beside(change, self._part.told_at(change)) + words.when(self._part.place_of(change), change.us)
        text += f"; for {place_text(self._part.place(change.attack_us))}"
        meaning = words.CHANGE_KINDS.get(words.change_kind(change), "")
        return f"{text}. {meaning[0].upper()}{meaning[1:]}" if meaning else text

    def _heads(self) -> None:
        """The line above the strings: rehearsal mark and metre; and the lines at beats."""
        time_map, drawings = self._part.time_map, self.drawings
        marks = {}  # the last one of each drawing
        for mark in time_map.marks:
            us = time_map.us(mark.tick)
            if drawings[0].start <= us < drawings[-1].end:
                marks[number_at(drawings, us)] = clean(mark.text, words.LONGEST_MARK)
        before = None
        for number, drawing in enumerate(drawings):
            room = max(int(drawing.width / LETTER) - 4, 1)  # beside the bar's number
            text = marks.get(number, "")
            drawing.mark = cut(text, room, "…")
            metre = time_map.metre(drawing.start)
            if metre != before and drawing.width > LETTER * (8 + len(drawing.mark)):
                drawing.metre = f"{metre[0]}/{metre[1]}"
            before = metre
            if drawing.rest or metre[0] > MOST_BEATS:
                continue
            for beat in range(2, metre[0] + 1):
                us = time_map.us_of_bar(drawing.bar, beat)
                if drawing.start < us < drawing.end:
                    top, bottom = short(self.frame.top), short(self.frame.bottom)
                    drawing.beats.append(f"M{short(drawing.x(us))} {top}V{bottom}")

    def _gap(self, bar: int, gap: Gap) -> None:
        drawing = next((one for one in self.drawings if one.bar == bar and one.begins and not one.rest), None)
        if drawing is None:
            return
        change = gap.change
        name = words.change_name(change)
        what = f"from when the {change.pedal.letter} strings are free to {name}"
        if gap.before is not None:
            what = f"from {words.change_name(gap.before)} to {name}, both {change.foot.value} foot"
        seconds = gap.available / 1_000_000
        shown = "none" if seconds <= 0 else f"{seconds:.2f} s" if seconds < 10 else f"{seconds:.0f} s"
        exact = shown if seconds <= 0 else words.span(gap.available)
        needs = f"the {self._basis.player} player needs {words.span(gap.needed)}"
        text = f"bar {bar}: shortest gap {exact}, {what}; {needs}"
        drawing.gap = shown, words.change_kind(change), text


def string_number(pitch: int, spelling: Spelling | None, instrument: Instrument) -> int:
    """The string of a note; where the plan leaves it out, the first that could give it, or would, were it there."""
    if spelling is None:
        spelling = next(iter(instrument.spellings(pitch)), None)
    octave, pitch_class = divmod(pitch, 12)
    return 7 * (octave - 1) + LETTERS[pitch_class] if spelling is None else spelling.string.number


def _compass(part: PartReport, instrument: Instrument) -> tuple[int, int]:
    """The lowest and the highest string that are drawn."""
    used = [
        string_number(pitch, spelling, instrument)
        for attack, spellings in part.spelled
        for (pitch, _), spelling in zip(attack.notes, spellings, strict=True)
    ]
    lowest, highest = instrument.lowest.number, instrument.highest.number
    if not used:
        return lowest, highest
    low, high = max(min(used) - 1, lowest), min(max(used) + 1, highest)
    while high - low + 1 < min(FEWEST_STRINGS, highest - lowest + 1):
        low, high = max(low - 1, lowest), min(high + 1, highest)
    return low, high


def _head(verdict: Verdict, x: float, y: float) -> str:
    """A note's sign, as part of a path: a round or square dot is drawn by the stroke of a line without length."""
    match verdict:
        case Verdict.EASY | Verdict.UNPLAYABLE:
            return f"M{short(x)} {short(y)}h0"
        case Verdict.PLAYABLE:
            return f"M{short(x)} {short(y - 4)}l4 4-4 4-4-4z"
        case Verdict.VIRTUOSO:
            return f"M{short(x)} {short(y - 4.5)}l4.5 8h-9z"
