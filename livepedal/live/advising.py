"""Advice on a closed passage: how fast it could be, its best spelling, what mends it.

All of it takes tenths of a second to seconds of computing, so while music goes on it is done in a process beside
(advisor.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import chain

from livepedal.advice.judging.asides import setting_for_glissandi
from livepedal.advice.judging.part import attacks_of, judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.remedies.remedy import Remedy, RemedyKind
from livepedal.advice.remedies.search import ClosedPassage
from livepedal.advice.remedies.telling import ONLY_THE_SPELLING, Teller
from livepedal.harp import Pedal, Setting
from livepedal.live.question import Question
from livepedal.model.findings import Finding, Kind, Outcome
from livepedal.model.plan.planner import Plan
from livepedal.model.plan.timing import PedalChange
from livepedal.music.song import Part
from livepedal.views import words
from livepedal.views.report.asides import aside_texts

MOST_ATTACKS = 1_500  # of a passage; a longer one is left to `check`, as it would hold up the next ones
MOST_TOLD = 6  # pedal changes that a line names
TOO_LONG = "too long for advice while playing; try livepedal check --remedies on the file"
NO_REMEDY = "no remedy was found; livepedal check --remedies on the file says what it would take"
NO_ONE_REMEDY = (
    "no single remedy covers all of it; livepedal check --remedies on the file looks at each place"
)
NO_TEMPO = "too many pedal changes even at half the tempo: revoice it"


@dataclass(frozen=True, slots=True)
class Planned:
    """What the pedal changes of a passage tell.

    Attributes:
        set_before: how the harp is to be set before it, in words.
        cannot: the number of attacks that the player cannot play.
        findings: the player's.
        worth: what is worth knowing and no fault, a text each.
    """

    set_before: str
    cannot: int = 0
    findings: tuple[Finding, ...] = ()
    worth: tuple[str, ...] = ()

    @property
    def too_much(self) -> bool:
        """Whether the player has too much at once."""
        return any(finding.kind is Kind.TOO_MUCH for finding in self.findings)


@dataclass(frozen=True, slots=True)
class Advice:
    """What is new about one passage, and all remedies up to now, in the order in which they were found.

    Attributes:
        take, passage_number: counted from 1.
        player: for whom.
        head: which passage and for whom, in words.
        mend: what would make it playable, or why nobody looked for that.
        spelled: how it is best spelled, once that is worked out, as planned says too.
        last: whether there is no more to come.
    """

    take: int
    passage_number: int
    player: str = ""
    head: str = ""
    mend: str = ""
    spelled: str = ""
    remedies: tuple[Remedy, ...] = ()
    planned: Planned | None = None
    last: bool = False

    @property
    def lines(self) -> tuple[str, ...]:
        """What is new, a line each, each with its head."""
        worth = self.planned.worth if self.planned is not None and self.spelled else ()
        texts = (self.mend, self.spelled, *(f"worth knowing: {text}" for text in worth))
        return tuple(f"{self.head}: {text}" for text in texts if text)


def advise(question: Question) -> Iterator[Advice]:
    """Advice on a passage, each step as soon as it is done.

    First the fastest tempo and the best spelling; then the other remedies, or the tempo at which it is not too much at
    once.
    """
    passage, basis = question.passage, question.basis
    attacks = attacks_of(question.events, basis.figures)[:]
    first = sum(one.us < passage.start for one in attacks)
    attacks = attacks[first:]
    time_map = question.time_map if question.bars else None
    teller = Teller(basis.instrument, time_map, question.middle_c, tuple(one.us for one in attacks))
    head = f"passage {question.number}, {teller.reach(passage)}, {basis.player} player"
    said = Advice(question.take, question.number, basis.player, head)
    if not attacks:
        yield replace(said, last=True)
        return
    if len(attacks) > MOST_ATTACKS:
        yield replace(said, mend=TOO_LONG, last=True)
        return
    part = Part(
        "",
        (),
        question.events,
        passage.end,
        0,
        question.time_map,
        begin_us=question.set_at,
        keys=question.keys,
    )
    report = judge_part(part, basis, bars=question.bars, alone=True)
    basis = replace(basis, asked=None)
    free = report if question.basis.asked is None else judge_part(part, basis, bars=question.bars, alone=True)
    place = ClosedPassage(free, basis, first, bars=question.bars)
    planned, spelled = _planned(question, report, attacks[0].us, teller)
    yield from _steps(place, replace(said, planned=planned), spelled, teller)


def _steps(place: ClosedPassage, said: Advice, spelled: str, teller: Teller) -> Iterator[Advice]:
    planned = said.planned
    assert planned is not None
    remedies = place.remedies()
    found: list[Remedy] = []
    for remedy in remedies:
        found.append(remedy)
        if remedy.kind is not RemedyKind.SETTING:
            break
    soon = [one for one in found if one.kind in (RemedyKind.SETTING, RemedyKind.TEMPO)]
    if planned.too_much:
        yield replace(said, spelled=spelled)
        # The other remedies are for feet, strings and hands, each by itself.
        more = chain((one for one in found if one not in soon), remedies)
        mend, slower = _bearable(place, planned, soon, more, teller)
        yield replace(said, mend=mend, remedies=slower, last=True)
        return
    ways = [_tempo(one, teller) if one.kind is RemedyKind.TEMPO else _set(one, teller) for one in soon]
    mend = f"playable {', or '.join(ways)}" if ways else ""
    yield replace(said, mend=mend, spelled=spelled, remedies=tuple(found))
    found += remedies
    others = [one for one in found if one not in soon]
    mend = ""
    if others:
        best = min(others, key=lambda remedy: remedy.cost)
        mend = f"{'or ' if soon else 'playable: '}{teller.what(best)}"
    elif not found and planned.cannot:
        mend = NO_ONE_REMEDY if planned.cannot > 1 else NO_REMEDY
    yield replace(said, mend=mend, remedies=tuple(found), last=True)


def _set(remedy: Remedy, teller: Teller) -> str:
    return f"if you {teller.what(remedy)}"


def _bearable(
    place: ClosedPassage,
    planned: Planned,
    soon: Sequence[Remedy],
    others: Iterable[Remedy],
    teller: Teller,
) -> tuple[str, tuple[Remedy, ...]]:
    """What mends a passage that is too much at once, in words, and that remedy if there is one.

    `soon` holds the tempo for feet, strings and hands, each by itself; `others` is what else would mend these.
    """
    tempo = next((one for one in soon if one.kind is RemedyKind.TEMPO), None)
    if planned.cannot and tempo is None:
        best = min(others, key=lambda remedy: remedy.cost, default=None)
        if best is None:
            return NO_REMEDY, ()
        return f"{teller.what(best)}; that still leaves too many pedal changes", (best,)
    ratio = Fraction(1) if tempo is None or tempo.ratio is None else tempo.ratio
    found = place.bearable(ratio)
    if found is None:
        return NO_TEMPO, ()
    if found.ratio == 1:
        return f"{ONLY_THE_SPELLING}; let livepedal choose it", ()
    # At the tempo that it was looked for from, the slower one at which nothing is heard is known.
    found = tempo if tempo is not None and found.ratio == ratio else found
    return f"playable {_tempo(found, teller)}", (found,)


def _tempo(remedy: Remedy, teller: Teller) -> str:
    """The tempo of a remedy for the whole passage: "at ♩ = 84 instead of 112 (75% of the tempo)"."""
    return teller.pace(remedy) + teller.audible(remedy)


def _from(plan: Plan, start: int) -> tuple[Setting, tuple[PedalChange, ...]]:
    """How the pedals that the passage from `start` on (µs) uses stand at its first note, and its changes after it."""
    used = {
        spelling.string.pedal
        for us, spellings in zip(plan.attacks, plan.spellings, strict=True)
        for spelling in spellings
        if us >= start and spelling is not None and not spelling.fixed
    }
    later = tuple(change for change in plan.changes if change.us > start and change.attack_us > start)
    setting = plan.setting
    for change in plan.changes:
        if change not in later:
            setting = setting.replace(change.pedal, change.goal)
    stand = (at if pedal in used else None for pedal, at in zip(Pedal, setting.positions, strict=True))
    return Setting(tuple(stand)), later


def _planned(question: Question, report: PartReport, start: int, teller: Teller) -> tuple[Planned, str]:
    """What the pedal changes of the passage tell, as `check` judges it, and in words how it is best spelled.

    A setting that the player has chosen stays as it is; else what changes for the first attack is part of the setting.

    Args:
        question: the passage.
        report: on it and what came before it.
        start: its first attack (µs).
        teller: puts it in words.
    """
    basis = question.basis
    plan = report.plan
    setting, changes = plan.setting, plan.changes
    if question.entry is None:
        setting, changes = _from(plan, start)
    asides = [one for one in report.asides if one.us >= start]
    planned = Planned(
        words.set_before(setting_for_glissandi(setting, asides), report.tuned),
        sum(one.us >= start and one.outcomes[basis.number] is Outcome.CANNOT for one in report.graded),
        tuple(one for one in report.findings if start <= one.us <= question.passage.end),
        tuple(aside_texts(asides, teller.place_of)),
    )
    # `check` has one setting for the whole part.
    alone = "as printed" if basis.asked is not None else "for this passage alone"
    if planned.cannot:  # a remedy beside it may name another tempo
        alone = f"at this tempo, {alone}"
    return planned, f"{alone}, set {planned.set_before}, then {_changes(changes, plan, teller)}"


def _changes(changes: Sequence[PedalChange], plan: Plan, teller: Teller) -> str:
    if not changes:
        return "no pedal changes"
    shown = changes[:MOST_TOLD]
    at = [one.us if teller.time_map is None else plan.told_at(one, teller.time_map) for one in shown]
    named = [
        f"{words.change_name(change)}{_sign(words.change_kind(change))} ({words.beside(change, us)}{teller.at(us)})"
        for change, us in zip(shown, at, strict=True)
    ]
    more = f" and {len(changes) - MOST_TOLD} more" if len(changes) > MOST_TOLD else ""
    kinds = dict.fromkeys(words.change_kind(one) for one in shown)
    signs = "".join(f"; {_sign(kind)} {words.CHANGE_KINDS[kind]}" for kind in kinds if _sign(kind))
    return f"{words.counted(len(changes), 'pedal change')}: {', '.join(named)}{more}{signs}"


def _sign(kind: str) -> str:
    """Behind a change: of what could not be done, or is heard; a line has no room for what is only tight."""
    return words.FLAGS[kind] if kind in ("impossible", "audible") else ""
