"""Advice on a passage that is over: how fast it could be, how it is best spelled, what mends it; and whether it is
too much at once, which only the pedal changes tell (model/load.py), and so no running verdict.

That takes from tenths of a second to seconds of computing, so while music goes on it is done in a process beside
(advisor.py). The tempo is told with the pedal changes, since these say whether it is too much at once.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from livepedal.advice.judging.asides import asides_of, setting_for_glissandi
from livepedal.advice.judging.burden import burden_finding, burdens_of
from livepedal.advice.judging.part import attacks_of, beats_of, onsets_of, plan_for_all
from livepedal.advice.remedies.remedy import Remedy, RemedyKind
from livepedal.advice.remedies.search import ClosedPassage
from livepedal.advice.remedies.telling import Teller, percent_of
from livepedal.harp import Figures, Instrument, Setting
from livepedal.live.take import Take
from livepedal.model.feet.chords import Chords, Narrowing
from livepedal.model.feet.tunings import Tuned
from livepedal.model.findings import Finding, Layer, Outcome, Passage
from livepedal.model.monitor import Monitor
from livepedal.model.plan.prepared import Music
from livepedal.model.plan.timing import PedalChange
from livepedal.model.why_hands import clause
from livepedal.music.attacks import Gathered
from livepedal.music.events import Event, NoteOff, NoteOn, SetPedals
from livepedal.music.timemap import TimeMap
from livepedal.sources.raw import NOTE_OFF, NOTE_ON, TICK, unpacked
from livepedal.views import words

MOST_ATTACKS = 1_500  # of a passage; a longer one is left to `check`, as it would hold up the next ones
MOST_CONTEXT = 120  # messages before the passage that are gone back to; feet become quiet in the rest anyway
MOST_TOLD = 6  # pedal changes that a line names
TOO_LONG = "too long for advice while playing; livepedal check --remedies tells of the file"
NO_REMEDY = "no remedy was found; livepedal check --remedies of the file says what would be needed"
NO_ONE_REMEDY = (
    "no one remedy was found for all of it; livepedal check --remedies of the file looks at each place"
)
NO_TEMPO = "too many pedal changes even at half the tempo: revoice it"
MOST_TRIED = 400  # attacks of a passage for which a tempo is looked for that is not too much at once
NOT_TRIED = "too many pedal changes; livepedal check --remedies of the file looks for a tempo"


@dataclass(frozen=True, slots=True)
class Question:
    """A passage that is over. messages: those of the take (`Take.kept`) from some moment before it to its
    end, or `events` instead of them; setting: where the pedals stood before all that, if known; bars: whether
    the time map's bars mean anything; printed: how a score spells its attacks, by their moment (µs).
    """

    take: int
    number: int
    passage: Passage
    messages: array[int]
    time_map: TimeMap
    bars: bool
    figures: Figures
    instrument: Instrument
    player: str
    only: tuple[Layer, ...]
    setting: Setting | None
    middle_c: str
    events: tuple[Event, ...] = ()
    printed: Mapping[int, Narrowing] | None = None


@dataclass(frozen=True, slots=True)
class Planned:
    """What the pedal changes tell of a passage. setting: how the pedals are to stand before it; passage: with
    its verdict, too much at once included; too_much: the finding, where the player has that; cannot: attacks that
    the player cannot play; tuned: strings without pedals that are tuned otherwise than usual.
    """

    setting: Setting
    passage: Passage
    too_much: Finding | None = None
    cannot: int = 0
    tuned: tuple[Tuned, ...] = ()

    @property
    def set_before(self) -> str:
        """How the harp is to be set before it, in words."""
        return words.set_before(self.setting, self.tuned)


@dataclass(frozen=True, slots=True)
class Advice:
    """What is new about one passage, and all remedies up to now, in the order in which they were found.

    take, passage_number: counted from 1; head: which passage, in words; mend: what would make it playable, or why
    nobody looked for that; spelled: how it is best spelled, once that is worked out, as planned says too; verdict:
    for who has told the passage already, where too much at once has made it worse; last: whether there is no more
    to come.
    """

    take: int
    passage_number: int
    head: str = ""
    mend: str = ""
    spelled: str = ""
    verdict: str = ""
    remedies: tuple[Remedy, ...] = ()
    planned: Planned | None = None
    last: bool = False

    @property
    def lines(self) -> tuple[str, ...]:
        """What is new but for the verdict, a line each, each with its head."""
        return tuple(f"{self.head}: {text}" for text in (self.mend, self.spelled) if text)


def question_of(take: Take, passage: Passage, number: int, player: str) -> Question:
    """The question about a passage of a take that is over; `number`: which of the take's, from 1."""
    setup, kept = take.setup, take.kept
    first = bisect_left(kept, take.grid.tick(passage.start) << TICK)
    last = bisect_left(kept, take.grid.tick(passage.end) + 1 << TICK)
    context = max(0, first - MOST_CONTEXT)
    return Question(
        take.number,
        number,
        passage,
        kept[context:last],
        take.time_map,
        take.musical,
        setup.figures,
        setup.instrument,
        player,
        setup.only,
        setup.start if context == 0 else None,
        setup.middle_c,
    )


def advise(question: Question) -> Iterator[Advice]:
    """Advice on a passage, each step as soon as it is done: the fastest tempo, the best spelling, and whether it is
    too much at once; then the other remedies, or the tempo at which it is not.
    """
    passage = question.passage
    events = tuple(_events(question))
    attacks = attacks_of(events, question.figures)
    context = tuple(one for one in attacks if one.us < passage.start)
    attacks = attacks[len(context) :]
    time_map = question.time_map if question.bars else None
    teller = Teller(question.instrument, time_map, question.middle_c, tuple(one.us for one in attacks))
    head = f"passage {question.number}, {teller.reach(passage)}"
    said = Advice(question.take, question.number, head)
    if not attacks:
        yield replace(said, last=True)
        return
    if len(attacks) > MOST_ATTACKS:
        yield replace(said, mend=TOO_LONG, last=True)
        return
    place = ClosedPassage(
        attacks,
        question.figures,
        question.instrument,
        question.player,
        context,
        question.only,
        question.setting,
        time_map,
    )
    remedies = place.remedies()
    first = next(remedies, None)
    tempo = first if first is not None and first.kind is RemedyKind.TEMPO else None
    planned, spelled = _planned(question, events, (*context, *attacks), attacks[0].us, teller)
    said = replace(said, planned=planned)
    if planned.too_much is not None:
        yield replace(said, spelled=spelled, verdict=f"{head}: {_verdict_of(planned)}")
        # The other remedies are for feet, strings and hands, each by itself.
        mend, slower = _bearable(place, planned, tempo, teller)
        yield replace(said, mend=mend, remedies=slower, last=True)
        return
    mend = "" if tempo is None else f"playable at {_tempo(tempo, teller)}"
    found = [] if first is None else [first]
    yield replace(said, mend=mend, spelled=spelled, remedies=tuple(found))
    found += remedies
    others = found if tempo is None else found[1:]
    mend = ""
    if others:
        best = min(others, key=lambda remedy: remedy.cost)
        mend = f"{'playable: ' if tempo is None else 'or '}{teller.what(best)}"
    elif not found and planned.cannot:
        mend = NO_ONE_REMEDY if planned.cannot > 1 else NO_REMEDY
    yield replace(said, mend=mend, remedies=tuple(found), last=True)


def _bearable(
    place: ClosedPassage, planned: Planned, tempo: Remedy | None, teller: Teller
) -> tuple[str, tuple[Remedy, ...]]:
    """What mends a passage that is too much at once, in words, and that remedy if there is one. tempo: for feet,
    strings and hands, each by itself.
    """
    if planned.cannot and tempo is None:
        return NO_REMEDY, ()
    if len(place.attacks) > MOST_TRIED:
        return NOT_TRIED, ()
    ratio = Fraction(1) if tempo is None or tempo.ratio is None else tempo.ratio
    found = place.bearable(ratio)
    if found is None:
        return NO_TEMPO, ()
    # At the tempo that it was looked for from, the slower one at which nothing is heard is known.
    found = tempo if tempo is not None and found.ratio == ratio else found
    return f"playable at {_tempo(found, teller)}", (found,)


def _events(question: Question) -> Iterator[Event]:
    """As a saved file would have them."""
    yield from question.events
    us = question.time_map.us
    for tick, status, pitch, velocity in map(unpacked, question.messages):
        if status & 0xF0 == NOTE_ON:
            yield NoteOn(us(tick), pitch, velocity, status & 15)
        elif status & 0xF0 == NOTE_OFF:
            yield NoteOff(us(tick), pitch, status & 15)


def _tempo(remedy: Remedy, teller: Teller) -> str:
    """The tempo of a remedy for the whole passage."""
    assert remedy.ratio is not None
    percent = f"{percent_of(remedy.ratio)} of the tempo"
    bpm, written = teller.bpm(remedy), teller.steady(remedy.start, remedy.end)
    if bpm is None or written is None:
        return percent + teller.heard(remedy, None)
    return f"♩ = {bpm} instead of {round(written)} ({percent}){teller.heard(remedy, written)}"


def _verdict_of(planned: Planned) -> str:
    """What its pedal changes come to: "virtuoso: too much at once: ..."."""
    assert planned.too_much is not None
    return f"{planned.passage.verdict.word}: {clause(planned.too_much)}"


def _planned(
    question: Question, events: Sequence[Event], attacks: tuple[Gathered, ...], start: int, teller: Teller
) -> tuple[Planned, str]:
    """The setting before the passage, which starts at `start` (µs), and its pedal changes, with the spelling that
    takes fewest; from them whether it is too much at once, as `check` judges it (advice/judging/part.py).
    """
    figures, instrument, player = question.figures, question.instrument, question.player
    monitor = Monitor(figures, instrument, player, question.only, asked=question.printed)
    if question.setting is not None:
        monitor.feed(SetPedals(0, question.setting))
    for event in events:
        monitor.feed(event)
    monitor.finish()
    beats = beats_of(question.time_map) if question.bars else None
    music = Music(attacks, Chords(instrument), figures.ringing, question.printed)
    plans = plan_for_all(
        attacks, figures, instrument, player, question.setting, monitor.record.troubles, beats, music=music
    )
    who = next(number for number, one in enumerate(monitor.players) if one.name == player)
    passage, too_much = question.passage, None
    if not question.only or Layer.LOAD in question.only:
        (burden,) = burdens_of((passage,), plans, monitor.players, figures)
        passage = burden.heavier
        # Findings of the monitor count from 1 upwards; no other one of the passage has this number.
        too_much = burden_finding(burden, who, player, attacks, -question.number)
    plan = plans[who]
    asides = asides_of(
        (), monitor.figures_played, onsets_of(events, figures), plan, monitor.players[who], figures
    )
    setting = setting_for_glissandi(plan.setting, asides)
    changes: list[PedalChange] = []
    for change in plan.changes:
        if change.attack_us <= start:
            setting = setting.replace(change.pedal, change.goal)
        else:
            changes.append(change)
    # Where the search was bounded there may be a way with fewer changes.
    how = "well" if plan.bounded and plan.changes else "best"
    cannot = sum(one.us >= start and one.outcomes[who] is Outcome.CANNOT for one in monitor.record.graded)
    planned = Planned(setting, passage, too_much, cannot, monitor.tuned)
    spelled = "as printed" if question.printed is not None else f"{how} spelled"
    return planned, f"{spelled} from {planned.set_before}, {_changes(changes, teller)}"


def _changes(changes: Sequence[PedalChange], teller: Teller) -> str:
    if not changes:
        return "with no pedal change"
    shown = changes[:MOST_TOLD]
    told = [f"{words.change_name(one)}{_sign(words.change_kind(one))} ({teller.at(one.us)})" for one in shown]
    more = f" and {len(changes) - MOST_TOLD} more" if len(changes) > MOST_TOLD else ""
    kinds = dict.fromkeys(words.change_kind(one) for one in shown)
    signs = "".join(f"; {_sign(kind)} {words.CHANGE_KINDS[kind]}" for kind in kinds if _sign(kind))
    return f"with {words.counted(len(changes), 'pedal change')}: {', '.join(told)}{more}{signs}"


def _sign(kind: str) -> str:
    """Behind a change: of what could not be done, or is heard; a line has no room for what is only tight."""
    return words.FLAGS[kind] if kind in ("impossible", "audible") else ""
