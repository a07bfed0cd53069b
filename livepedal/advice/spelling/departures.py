"""Where the harp plays notes under other names than the ordinary ones (ordinary.py), and why.

Bars in a row are drawn together: F♭ for E, say. The reason is what the ordinary names would bring there: the music
around is planned once more with these notes bound to them, and the two plans are held against each other near each
place, in the order of what harpists mind most (prices.py).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import planner_for
from livepedal.advice.judging.report import PartReport
from livepedal.harp import Spelling
from livepedal.harp.fifths import alteration, letter, name, octave, strings
from livepedal.model.plan.planner import Plan
from livepedal.model.plan.prepared import Music
from livepedal.model.plan.stands import CROSSINGS

AROUND = 12  # attacks before and after a place in which the ordinary names may tell; so many more are planned
FAR_BEFORE = 10_000_000  # µs before, when the pedals were set


class Drawback(Enum):
    """Why notes have other names than the ordinary ones."""

    UNPLAYABLE = "with the ordinary names an attack cannot be played"
    AUDIBLE = "with the ordinary names a pedal change is audible"
    CROSSED = "with the ordinary names strings cross"
    TIGHT = "with the ordinary names a pedal change is tight"
    ASKED = "another spelling was asked for"
    AROUND = "the ordinary names do not fit the notes around"


@dataclass(frozen=True, slots=True)
class Departure:
    """Notes that the harp plays under another name in some bars: (ordinary name, harp's name, how many).

    Attributes:
        doubles: those of the ordinary names that have a double sharp or flat, which no pedal makes.
        reason: what the others save; None where there are no others, or nobody knows it.
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
    single = [one for one in found if any(abs(alteration(fifth)) < 2 for fifth, _ in one.names)]
    reasons = {} if basis.asked is not None else _reasons(report, basis, written, single)
    return tuple(
        Departure(
            stretch.first,
            stretch.last,
            tuple((name(fifth), harp, count) for (fifth, harp), count in sorted(stretch.names.items())),
            tuple(sorted({name(fifth) for fifth, _ in stretch.names if abs(alteration(fifth)) > 1})),
            reasons.get(stretch.attacks[0], Drawback.ASKED) if stretch in single else None,
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


def _reasons(
    report: PartReport,
    basis: Basis,
    written: Sequence[Sequence[tuple[int, Spelling | None, int]]],
    found: Sequence[_Stretch],
) -> dict[int, Drawback | None]:
    """Why, for each of them by its first attack."""
    together: list[list[_Stretch]] = []  # what is planned at once
    for stretch in found:
        if together and stretch.attacks[0] <= together[-1][-1].attacks[-1] + 4 * AROUND:
            together[-1].append(stretch)
        else:
            together.append([stretch])
    planner = planner_for(basis)
    reasons: dict[int, Drawback | None] = {}
    for some in together:
        low, high = max(0, some[0].attacks[0] - 2 * AROUND), some[-1].attacks[-1] + 2 * AROUND + 1
        attacks = report.music[low:high]
        asked = {
            report.music[number].us: tuple(
                (pitch, strings(fifth)) for pitch, _, fifth in written[number] if abs(alteration(fifth)) < 2
            )
            for stretch in some
            for number in stretch.attacks
        }
        fifths = [fifth for notes in written[low:high] for _, _, fifth in notes]
        bound = planner.plan(
            attacks,
            report.plan.setting_at(attacks[0].us) if low else basis.setting,
            attacks[0].us - FAR_BEFORE if low else report.begin,
            asked=asked,
            thorough=False,
            music=Music(attacks, planner.chords, basis.figures.ringing, asked, fifths),
        )
        for stretch in some:
            reasons[stretch.attacks[0]] = _reason(report.plan, bound, stretch.attacks)
    return reasons


def _reason(plan: Plan, bound: Plan, attacks: Sequence[int]) -> Drawback | None:
    """What the plan with the ordinary names has more of, near some attacks; None where it turns out to be better."""
    begin = plan.attacks[max(0, attacks[0] - AROUND)]
    end = plan.attacks[min(len(plan.attacks) - 1, attacks[-1] + AROUND)]
    mine, others = _minded(plan, begin, end), _minded(bound, begin, end)
    for reason, own, other in zip(Drawback, mine, others, strict=False):
        if other > own:
            return reason
    return Drawback.AROUND if mine == others else None


def _minded(plan: Plan, begin: int, end: int) -> tuple[int, int, int, int]:
    """What harpists mind most (`Plan.minded`), of the attacks between two moments (µs)."""
    changes = [change for change in plan.changes if begin <= change.attack_us <= end]
    crossed = 0
    for us, spellings in zip(plan.attacks, plan.spellings, strict=True):
        if begin <= us <= end:
            setting = plan.setting_at(us)
            plucked = {(one.pedal, one.position) for one in spellings if one is not None}
            crossed += any(
                plucked & set(pair) and all(setting[pedal] == position for pedal, position in pair)
                for pair in CROSSINGS
            )
    return (
        sum(begin <= us <= end for us in plan.given_up),
        sum(change.audible for change in changes),
        crossed,
        sum(change.tight for change in changes if change.possible),
    )
