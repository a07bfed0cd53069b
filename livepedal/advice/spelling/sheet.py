"""The spelling sheet: what an engraver needs to write the part as the harp plays it.

Bar by bar every note with its string and position, as the plan (model/plan/planner.py) has it; the setting at the
start and at each rehearsal mark; the pedal changes by beat. Where that departs from ordinary spelling
(ordinary.py) is drawn together over bars: F♭ for E, say, or a note that would be written with a double sharp
and is on another string.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from typing import Any

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import attacks_of, judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.values import bar_dict, place_dict, seconds, setting_dict
from livepedal.advice.spelling.given import AskedSpelling, Cost, Given
from livepedal.advice.spelling.keys import KeyWriter, Proposal, cost_of, planner_for
from livepedal.harp import Setting, Spelling
from livepedal.model.plan.planner import Plan
from livepedal.model.plan.prepared import Music
from livepedal.model.plan.timing import PedalChange
from livepedal.music.attacks import Gathered
from livepedal.music.ordinary import alteration, letter, name, octave, strings
from livepedal.music.song import KeySignature, Part
from livepedal.music.timemap import Place

AROUND = 30  # attacks before and after a place that are planned with it, to see why it is spelled so
FAR_BEFORE = 10_000_000  # µs before, when the pedals were set


@dataclass(frozen=True, slots=True)
class SheetNote:
    """One note: as the harp plays it (None where the plan leaves it out), and as it is ordinarily written
    (line of fifths).
    """

    pitch: int
    spelling: Spelling | None
    written: int

    @property
    def departs(self) -> bool:
        """Whether the harp plays it under another name than the ordinary one."""
        spelling = self.spelling
        return spelling is not None and (spelling.string.octave, int(spelling.position), spelling.pedal) != (
            octave(self.written, self.pitch),
            alteration(self.written),
            letter(self.written),
        )


@dataclass(frozen=True, slots=True)
class SheetAttack:
    """Notes struck together, upwards.

    Attributes:
        us: their moment.
    """

    us: int
    place: Place
    notes: tuple[SheetNote, ...]


@dataclass(frozen=True, slots=True)
class SheetChange:
    """A pedal change and where it is made."""

    place: Place
    change: PedalChange


@dataclass(frozen=True, slots=True)
class SheetBar:
    """One bar of the part that has anything in it."""

    number: int
    attacks: tuple[SheetAttack, ...]
    changes: tuple[SheetChange, ...]


@dataclass(frozen=True, slots=True)
class Standing:
    """How the pedals stand at a rehearsal mark."""

    mark: str
    bar: int
    setting: Setting


class Drawback(Enum):
    """Why a note has another name than the ordinary one: what that name would bring."""

    UNPLAYABLE = "an attack that cannot be played"
    AUDIBLE = "an audible change"
    CROSSED = "crossed strings"
    TIGHT = "a tight change"
    ASKED = "a spelling that was not asked for"
    AROUND = "a name that does not fit the notes around it"


@dataclass(frozen=True, slots=True)
class Departure:
    """Notes that the harp plays under another name in some bars: (ordinary name, harp's name, how many).

    Attributes:
        doubles: those of the ordinary names that have a double sharp or flat, which no pedal makes.
        reason: what the others save; None where there are no others.
    """

    first_bar: int
    last_bar: int
    names: tuple[tuple[str, str, int], ...]
    doubles: tuple[str, ...]
    reason: Drawback | None = None


@dataclass(frozen=True, slots=True)
class Sheet:
    """The spelling sheet of one part.

    Attributes:
        proposal: the writing that saves most, if any.
        plain: the cost of ordinary spelling.
    """

    report: PartReport
    bars: tuple[SheetBar, ...]
    standings: tuple[Standing, ...]
    departures: tuple[Departure, ...]
    cost: Cost
    plain: Cost | None
    proposal: Proposal | None
    remarks: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The sheet as the documented JSON (format livepedal-spelling)."""
        return {
            "name": self.report.name,
            "verdict": self.report.verdict.word,
            "setting": setting_dict(self.report.plan.setting),
            **self.under_a_part(),
            "cost": _cost(self.cost),
            "remarks": list(self.remarks),
        }

    def under_a_part(self) -> dict[str, Any]:
        """What the JSON of `check` has of it: all that the part does not say itself."""
        return {
            "marks": [
                {"mark": standing.mark, **bar_dict(standing.bar), "setting": setting_dict(standing.setting)}
                for standing in self.standings
            ],
            "bars": [_bar(bar) for bar in self.bars],
            "departures": [
                {
                    "from_bar": d.first_bar,
                    "to_bar": d.last_bar,
                    "names": [{"ordinary": a, "harp": b, "notes": n} for a, b, n in d.names],
                    "reason": None if d.reason is None else d.reason.name.lower(),
                }
                for d in self.departures
            ],
            "ordinary_cost": None if self.plain is None else _cost(self.plain),
            "proposal": None if self.proposal is None else _proposal(self.proposal),
        }


def make_sheet(
    part: Part,
    keys: Sequence[KeySignature],
    basis: Basis,
    *,
    spelling: AskedSpelling | None = None,
    file: str = "the file",
    step: Callable[[int], None] = lambda count: None,
) -> Sheet:
    """The spelling sheet of a part, judged as `check` does it.

    Args:
        spelling: what is asked for, if anything.
        keys: of the file, which messages call `file`.
        step: called with the number of events just judged.

    Raises:
        LivepedalError: where what is asked for does not fit the music (given.py).
    """
    given = None
    if spelling is not None:
        attacks = attacks_of(part.events, basis.figures)
        given = spelling.laid(part, attacks, keys, basis.figures.attack_window, file)
        basis = replace(basis, asked=given.asked)
    return sheet_of(judge_part(part, basis, step=step, keys=keys), part, basis, given=given)


def sheet_of(report: PartReport, part: Part, basis: Basis, *, given: Given | None = None) -> Sheet:
    """The spelling sheet of a part that was judged and planned.

    Args:
        given: the spelling that was asked for, as laid out on its notes; without one, another written key is looked
            for.
    """
    attacks, written = report.music, report.written
    window = basis.figures.attack_window
    bar_of = [part.time_map.place(attack.us + window).bar for attack in attacks]
    listed = _attacks(attacks, report.plan, written, part)
    writer = KeyWriter(part, attacks, written, bar_of, basis)
    plain, proposal = writer.propose() if given is None else (None, None)
    return Sheet(
        report,
        _bars(listed, bar_of, report.plan, part),
        _standings(part, report.plan),
        _departures(listed, bar_of, report, basis, given),
        cost_of(report.plan),
        plain,
        proposal,
        () if given is None else given.remarks(report.plan),
    )


def _attacks(
    attacks: Sequence[Gathered], plan: Plan, written: Sequence[int], part: Part
) -> list[SheetAttack]:
    fifths = iter(written)
    return [
        SheetAttack(
            attack.us,
            part.time_map.place(attack.us),
            tuple(
                SheetNote(pitch, spelling, next(fifths))
                for (pitch, _), spelling in zip(attack.notes, spellings, strict=True)
            ),
        )
        for attack, spellings in zip(attacks, plan.spellings, strict=True)
    ]


def _bars(
    listed: Sequence[SheetAttack], bar_of: Sequence[int], plan: Plan, part: Part
) -> tuple[SheetBar, ...]:
    attacks: dict[int, list[SheetAttack]] = {}
    for attack, bar in zip(listed, bar_of, strict=True):
        attacks.setdefault(bar, []).append(attack)
    changes: dict[int, list[SheetChange]] = {}
    for change in plan.changes:
        place = part.time_map.place(change.us)
        changes.setdefault(place.bar, []).append(SheetChange(place, change))
    return tuple(
        SheetBar(bar, tuple(attacks.get(bar, ())), tuple(changes.get(bar, ())))
        for bar in sorted({*attacks, *changes})
    )


def _standings(part: Part, plan: Plan) -> tuple[Standing, ...]:
    """The setting at each rehearsal mark: with all changes made that start before it."""
    found = []
    for mark in part.time_map.marks:
        us = part.time_map.us(mark.tick)
        setting = plan.setting_at(us)
        found.append(Standing(mark.text, part.time_map.place(us).bar, setting))
    return tuple(found)


def _departures(
    listed: Sequence[SheetAttack],
    bar_of: Sequence[int],
    report: PartReport,
    basis: Basis,
    given: Given | None,
) -> tuple[Departure, ...]:
    """Bars in a row whose departures do not contradict one another, drawn together."""
    by_bar: dict[int, Counter[tuple[int, str]]] = {}
    for attack, bar in zip(listed, bar_of, strict=True):
        counter = by_bar.setdefault(bar, Counter())
        for note in attack.notes:
            if note.departs and note.spelling is not None:
                counter[note.written, note.spelling.pedal.letter + note.spelling.position.sign] += 1
    found: list[tuple[int, int, Counter[tuple[int, str]]]] = []
    for bar, counter in by_bar.items():
        if not counter:
            continue
        joined = dict(found[-1][2].keys()) if found else {}
        last = found[-1][1] if found else bar
        between = [other for other in by_bar if last < other < bar and not by_bar[other]]
        if found and not between and all(joined.get(fifth, harp) == harp for fifth, harp in counter):
            found[-1] = found[-1][0], bar, found[-1][2] + counter
        else:
            found.append((bar, bar, counter))
    return tuple(
        Departure(
            first,
            last,
            tuple((name(fifth), harp, count) for (fifth, harp), count in sorted(counter.items())),
            tuple(sorted({name(fifth) for fifth, _ in counter if abs(alteration(fifth)) > 1})),
            None
            if all(abs(alteration(fifth)) > 1 for fifth, _ in counter)
            else Drawback.ASKED
            if given is not None
            else _reason(bisect_left(bar_of, first), bisect_right(bar_of, last), listed, report, basis),
        )
        for first, last, counter in found
    )


def _reason(
    start: int,
    end: int,
    listed: Sequence[SheetAttack],
    report: PartReport,
    basis: Basis,
) -> Drawback:
    """What the ordinary names would bring in the attacks from `start` to before `end`: the same planned with them, with
    some of the music around.
    """
    low, high = max(0, start - AROUND), min(len(listed), end + AROUND)
    before = sum(len(attack.notes) for attack in listed[:low])
    count = sum(len(attack.notes) for attack in listed[low:high])
    attacks = report.music[low:high]
    setting = report.plan.setting_at(attacks[0].us)
    planner, ringing = planner_for(basis), basis.figures.ringing
    own = {
        attack.us: tuple(
            (note.pitch, strings(note.written)) for note in attack.notes if abs(alteration(note.written)) < 2
        )
        for attack in listed[start:end]
    }
    plans = [
        planner.plan(
            attacks,
            setting,
            attacks[0].us - FAR_BEFORE,
            music=Music(attacks, planner.chords, ringing, asked, report.written[before : before + count]),
        )
        for asked in (None, own)
    ]
    for reason, (free, bound) in zip(
        Drawback, zip(*[plan.minded for plan in plans], strict=True), strict=False
    ):
        if bound != free:
            return reason
    return Drawback.AROUND


# -- JSON ------------------------------------------------------------------------------------------


def _cost(cost: Cost) -> dict[str, int]:
    return {"unplayable": cost.unplayable, "audible": cost.audible, "changes": cost.changes}


def _bar(bar: SheetBar) -> dict[str, Any]:
    return {
        **bar_dict(bar.number),
        "attacks": [
            {
                "seconds": seconds(attack.us),
                **place_dict(attack.place),
                "notes": [
                    {
                        "note": note.pitch,
                        "string": None if note.spelling is None else note.spelling.string.name,
                        "position": None if note.spelling is None else note.spelling.position.word,
                        "ordinary": f"{name(note.written)}{octave(note.written, note.pitch)}",
                    }
                    for note in attack.notes
                ],
            }
            for attack in bar.attacks
        ],
        "changes": [
            {
                "seconds": seconds(item.change.us),
                "beat": [item.place.beat.numerator, item.place.beat.denominator],
                "pedal": item.change.pedal.letter,
                "from": item.change.start.word,
                "to": item.change.goal.word,
                "foot": item.change.foot.value,
                "audible": item.change.audible,
            }
            for item in bar.changes
        ],
    }


def _proposal(proposal: Proposal) -> dict[str, Any]:
    return {
        "keys": [
            {
                "from_bar": rewriting.first_bar,
                "to_bar": rewriting.last_bar,
                "ordinary": rewriting.text[0],
                "key": rewriting.text[1],
            }
            for rewriting in proposal.rewritings
        ],
        "before": _cost(proposal.before),
        "after": _cost(proposal.after),
    }
