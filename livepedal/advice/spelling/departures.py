"""Where the harp plays notes under other names than the ordinary ones (ordinary.py), and why.

Bars in a row are drawn together: F♭ for E, say. The reason is what the ordinary names would bring there: the music
around is planned once more with these notes bound to them, and the two plans are held against each other, in the order
of what harpists mind most (prices.py). It is true as far as the plan of these bars is: of 194 reasons in real and
random chromatic music 192 were the same when the whole part was planned so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import chain
from typing import Any

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import planner_for
from livepedal.advice.judging.report import PartReport
from livepedal.harp import Spelling
from livepedal.harp.fifths import alteration, letter, name, octave, strings
from livepedal.model.plan.planner import Plan, Planner
from livepedal.model.plan.prepared import Music
from livepedal.model.plan.prices import respelt
from livepedal.model.plan.stands import CROSSINGS

AROUND = 24  # attacks before and after a place that are planned with it
FAR_BEFORE = 10_000_000  # µs before, when the pedals were set


class Drawback(Enum):
    """Why notes have other names than the ordinary ones: the first five in the order of what harpists mind most."""

    UNPLAYABLE = "with the ordinary names an attack cannot be played"
    AUDIBLE = "with the ordinary names a pedal change is audible"
    CROSSED = "with the ordinary names strings cross"
    TIGHT = "with the ordinary names a pedal change is tight"
    AROUND = "the ordinary names do not fit the notes around"
    ASKED = "another spelling was asked for"
    NOTHING = "nothing was found against the ordinary names"


@dataclass(frozen=True, slots=True)
class Departure:
    """Notes that the harp plays under another name in some bars: (ordinary name, harp's name, how many).

    Attributes:
        doubles: those of the ordinary names that have a double sharp or flat, which no pedal makes.
        reason: what the others save; None where the ordinary ones are all doubles.
    """

    first_bar: int
    last_bar: int
    names: tuple[tuple[str, str, int], ...]
    doubles: tuple[str, ...]
    reason: Drawback | None = None

    def to_dict(self) -> dict[str, Any]:
        """As it stands in the JSON."""
        return {
            "from_bar": self.first_bar,
            "to_bar": self.last_bar,
            "names": [{"ordinary": a, "harp": b, "notes": n} for a, b, n in self.names],
            "reason": None if self.reason is None else self.reason.name.lower(),
        }


@dataclass(slots=True)
class _Stretch:
    """Bars in a row, the numbers of their attacks that have such notes, and these: (written, harp's name)."""

    first: int
    last: int
    attacks: list[int]
    names: Counter[tuple[int, str]]


def departures(report: PartReport, basis: Basis) -> tuple[Departure, ...]:
    """Bars in a row whose departures do not contradict one another, drawn together.

    Args:
        report: of a part that was planned.
        basis: what it is judged on.
    """
    written = list(_written(report))
    found = _stretches(report, written, basis.figures.window.attack)
    planner = planner_for(basis)
    return tuple(
        Departure(
            stretch.first,
            stretch.last,
            tuple((name(fifth), harp, count) for (fifth, harp), count in sorted(stretch.names.items())),
            tuple(sorted({name(fifth) for fifth, _ in stretch.names if abs(alteration(fifth)) > 1})),
            _reason(report, basis, written, planner, stretch),
        )
        for stretch in found
    )


def _written(report: PartReport) -> Iterator[list[tuple[int, Spelling | None, int]]]:
    """For each attack its notes: pitch, as the harp plays it, and as it is written (line of fifths)."""
    fifths = iter(report.written)
    for attack, spellings in zip(report.music, report.plan.spellings, strict=True):
        yield [
            (pitch, spelling, next(fifths))
            for (pitch, _), spelling in zip(attack.notes, spellings, strict=True)
        ]


def _stretches(
    report: PartReport, written: Sequence[Sequence[tuple[int, Spelling | None, int]]], window: int
) -> list[_Stretch]:
    found: list[_Stretch] = []
    last_bar, since = None, 0  # the bar of the attack before, and how many bars with music there were
    for number, (attack, notes) in enumerate(zip(report.music, written, strict=True)):
        bar = report.time_map.place(attack.us + window).bar
        since += bar != last_bar
        last_bar = bar
        away = Counter(
            (fifth, spelling.pedal.letter + spelling.position.sign)
            for pitch, spelling, fifth in notes
            if spelling is not None
            and (spelling.string.octave, int(spelling.position), spelling.pedal)
            != (octave(fifth, pitch), alteration(fifth), letter(fifth))
        )
        if not away:
            continue
        joined = dict(found[-1].names.keys()) if found else {}
        if found and since <= 1 and all(joined.get(fifth, harp) == harp for fifth, harp in away):
            found[-1].last = bar
            found[-1].attacks.append(number)
            found[-1].names += away
        else:
            found.append(_Stretch(bar, bar, [number], away))
        since = 0
    return found


def _reason(
    report: PartReport,
    basis: Basis,
    written: Sequence[Sequence[tuple[int, Spelling | None, int]]],
    planner: Planner,
    stretch: _Stretch,
) -> Drawback | None:
    """What the ordinary names of these notes would bring; None where there are none that a pedal makes."""
    if all(abs(alteration(fifth)) > 1 for fifth, _ in stretch.names):
        return None
    if basis.asked is not None:
        return Drawback.ASKED
    low, high = max(0, stretch.attacks[0] - AROUND), stretch.attacks[-1] + AROUND + 1
    attacks, plan = report.music[low:high], report.plan
    asked = {
        report.music[number].us: tuple(
            (pitch, strings(fifth)) for pitch, _, fifth in written[number] if abs(alteration(fifth)) < 2
        )
        for number in stretch.attacks
    }
    fifths = [[fifth for _, _, fifth in notes] for notes in written[low:high]]
    bound = planner.plan(
        attacks,
        plan.setting_at(attacks[0].us) if low else basis.setting,
        attacks[0].us - FAR_BEFORE if low else report.begin,
        asked=asked,
        music=Music(attacks, planner.chords, basis.figures.ringing, asked, list(chain(*fifths))),
    )
    mine, others = _minded(plan, slice(low, high), fifths), _minded(bound, slice(None), fifths)
    for reason, own, other in zip(Drawback, mine, others, strict=False):
        if other != own:
            return reason if other > own else Drawback.NOTHING
    return Drawback.AROUND


def _minded(plan: Plan, some: slice, written: Sequence[Sequence[int]]) -> tuple[int, int, int, int, int]:
    """What harpists mind most (`Plan.minded`) of some attacks, and the names: `written`, of each of their notes."""
    moments, spelled = plan.attacks[some], plan.spellings[some]
    changes = [change for change in plan.changes if moments[0] <= change.attack_us <= moments[-1]]
    crossed = names = 0
    for us, spellings, fifths in zip(moments, spelled, written, strict=True):
        setting = plan.setting_at(us)
        plucked = {(one.pedal, one.position) for one in spellings if one is not None}
        crossed += any(
            plucked & set(pair) and all(setting[pedal] == position for pedal, position in pair)
            for pair in CROSSINGS
        )
        away = [
            (one.pedal, one.position) not in strings(fifth)
            for one, fifth in zip(spellings, fifths, strict=True)
            if one is not None and not one.fixed
        ]
        names += respelt(sum(away), len(away))
    return (
        sum(moments[0] <= us <= moments[-1] for us in plan.given_up),
        sum(change.audible for change in changes),
        crossed,
        sum(change.tight for change in changes if change.possible),
        names,
    )
