"""The spelling sheet: what an engraver needs to write the part as the harp plays it.

Bar by bar every note with its string and position, as the plan (model/plan/planner.py) has it; the setting at the
start and at each rehearsal mark; the pedal changes by beat; and where that departs from ordinary spelling
(departures.py).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import attacks_of, judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.values import bar_dict, place_dict, seconds, setting_dict
from livepedal.advice.spelling.departures import Departure, departures
from livepedal.advice.spelling.given import AskedSpelling, Cost, Given
from livepedal.advice.spelling.keys import KeyWriter, Proposal
from livepedal.harp import Setting, Spelling
from livepedal.harp.fifths import name, octave
from livepedal.model.plan.planner import Plan
from livepedal.model.plan.timing import PedalChange
from livepedal.music.attacks import Gathered
from livepedal.music.ordinary import heeded
from livepedal.music.song import KeySignature, Part
from livepedal.music.timemap import Place


@dataclass(frozen=True, slots=True)
class SheetNote:
    """One note: as the harp plays it, and as it is ordinarily written.

    Attributes:
        spelling: None where the plan leaves it out.
        written: its place on the line of fifths.
    """

    pitch: int
    spelling: Spelling | None
    written: int


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


@dataclass(frozen=True, slots=True)
class Sheet:
    """The spelling sheet of one part.

    Attributes:
        keys: the bars with the key signatures that ordinary names go by, and these.
        proposal: the writing that saves most, if any.
        plain: the cost of ordinary spelling.
    """

    report: PartReport
    keys: tuple[tuple[int, KeySignature], ...]
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
            "keys": [{**bar_dict(bar), "key": key.name} for bar, key in self.keys],
            "marks": [
                {"mark": standing.mark, **bar_dict(standing.bar), "setting": setting_dict(standing.setting)}
                for standing in self.standings
            ],
            "bars": [_bar(bar) for bar in self.bars],
            "departures": [departure.to_dict() for departure in self.departures],
            "ordinary_cost": None if self.plain is None else _cost(self.plain),
            "proposal": None if self.proposal is None else _proposal(self.proposal),
        }


def make_sheet(
    part: Part,
    basis: Basis,
    *,
    spelling: AskedSpelling | None = None,
    file: str = "the file",
    step: Callable[[int], None] = lambda count: None,
) -> Sheet:
    """The spelling sheet of a part, judged as `check` does it.

    Args:
        part: the part.
        basis: what it is judged on.
        spelling: what is asked for, if anything.
        file: what messages call the file.
        step: called with the number of events just judged.

    Raises:
        LivepedalError: where what is asked for does not fit the music (given.py).
    """
    given = None
    if spelling is not None:
        attacks = attacks_of(part.events, basis.figures)
        given = spelling.laid(part, attacks, basis.figures.window.attack, file)
        basis = replace(basis, asked=given.asked)
    return sheet_of(judge_part(part, basis, step=step), part, basis, given=given)


def sheet_of(report: PartReport, part: Part, basis: Basis, *, given: Given | None = None) -> Sheet:
    """The spelling sheet of a part that was judged and planned.

    Args:
        report: of the part.
        part: the part.
        basis: what it is judged on.
        given: the spelling that was asked for, as laid out on its notes; without one, another written key is looked
            for.
    """
    attacks, written = report.music, report.written
    window = basis.figures.window.attack
    bar_of = [part.time_map.place(attack.us + window).bar for attack in attacks]
    listed = _attacks(attacks, report.plan, written, part)
    writer = KeyWriter(part, attacks, written, bar_of, basis)
    plain, proposal = writer.propose() if given is None else (None, None)
    return Sheet(
        report,
        tuple((part.time_map.place(key.us).bar, key) for key in heeded(part.keys)),
        _bars(listed, bar_of, report.plan, part),
        _standings(part, report.plan),
        departures(report, basis if given is None else replace(basis, asked=given.asked)),
        Cost.of_plan(report.plan),
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
