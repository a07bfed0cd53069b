"""Judge one part: through the rolling model, event by event as if it were played, with its plans beside it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from operator import attrgetter

from livepedal.advice.judging.asides import (
    Aside,
    as_the_pedals_stand,
    asides_of,
    gets_remark,
    setting_for_glissandi,
)
from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.report import Count, PartReport
from livepedal.harp import Figures, Player, Setting
from livepedal.model.feet.chords import Chords
from livepedal.model.findings import Finding, Layer, Outcome, Passage, Verdict, grade, keep
from livepedal.model.monitor import BareMonitor
from livepedal.model.plan.planner import Plan, Planner
from livepedal.model.plan.prepared import Music
from livepedal.model.why import explain
from livepedal.music.attacks import Attack, Attacks, Gathered, gather_held
from livepedal.music.beats import Beats
from livepedal.music.events import Event, NoteOn, SetPedals
from livepedal.music.ordinary import written
from livepedal.music.song import Part
from livepedal.music.timemap import TimeMap
from livepedal.music.wording import are, counted

NO_PLAN = Plan(Setting((None,) * 7), (), (), (), (), 0, 0, 0)  # where none is wanted
REPORT_EVERY = 200  # events between two calls of `step`


def judge_part(
    part: Part,
    basis: Basis,
    *,
    step: Callable[[int], None] = lambda count: None,
    chords: Chords | None = None,
    pedalling: bool = True,
    bars: bool = True,
    alone: bool = False,
) -> PartReport:
    """Feed a part to a new monitor, plan its pedalling, and put both together.

    Args:
        part: the part.
        basis: what it is judged on.
        step: called with the number of events just judged.
        chords: those of the instrument, as far as they were worked out before.
        pedalling: whether a plan is wanted, where the pedals are judged.
        bars: False where the bars and beats of its time map mean nothing.
        alone: whether only the chosen player's plan is wanted.
    """
    chords = chords or Chords(basis.instrument)
    monitor, findings = monitor_of(part, basis, chords, step)
    attacks = attacks_of(part.events, basis.figures)
    spelled = written(attacks, part.keys)
    plans = None
    if pedalling and Layer.PEDALS in basis.judged:
        music = Music(attacks, chords, basis.figures.ringing, basis.asked, spelled)
        beats, troubles = Beats(part.time_map) if bars else None, monitor.record.troubles
        plans = plan_for_all(music, basis, troubles, beats, part.begin_us, alone)
    return _report(part, basis, monitor, findings, attacks, spelled, plans)


def _report(
    part: Part,
    basis: Basis,
    monitor: BareMonitor,
    findings: Sequence[Finding],
    attacks: Attacks,
    spelled: Sequence[int],
    plans: Sequence[Plan] | None,
) -> PartReport:
    """Put the verdicts and the plans of a part together."""
    counts = _counts(monitor, plans, basis.judged)
    number = basis.number
    plan = NO_PLAN if plans is None else plans[number]
    asides = _asides(part, basis, monitor, attacks, plan)
    plan = replace(plan, setting=setting_for_glissandi(plan.setting, asides))
    not_the_best = _not_the_best(plan, monitor, basis)
    more = _more_than_least(plan, monitor.passages, basis, part.time_map)
    return PartReport(
        name=part.name,
        tracks=part.tracks,
        notes=part.notes,
        attacks=monitor.attacks,
        begin=part.begin_us,
        end=part.end_us,
        verdict=verdict_of(counts),
        audible=any(passage.audible for passage in monitor.passages),
        player=basis.player,
        outcome=counts[number].outcome,
        counts=counts,
        bounded=monitor.bounded,
        plan=plan,
        passages=monitor.passages,
        findings=tuple(_placed(finding, part.time_map) for finding in findings),
        time_map=part.time_map,
        remarks=(*part.remarks, *_remarks(monitor), *filter(None, [not_the_best, more])),
        not_the_best=not_the_best,
        asides=as_the_pedals_stand(asides, plan) if plans is not None else asides,
        played=tuple(
            figuration for figuration in monitor.figurations if gets_remark(figuration, basis.figures)
        ),
        loads=tuple(passage.loads[number] for passage in monitor.passages if passage.loads),
        tuned=monitor.tunings.changed,
        music=attacks,
        written=tuple(spelled),
        graded=tuple(monitor.record.graded),
    )


def _asides(
    part: Part, basis: Basis, monitor: BareMonitor, attacks: Sequence[Gathered], plan: Plan
) -> tuple[Aside, ...]:
    """What is worth knowing of a part."""
    events = part.events if Layer.HANDS in basis.judged else ()
    damped = frozenset((attack.us, pitch) for attack in attacks if attack.signs for pitch in attack.damped)
    return asides_of(monitor, lambda: onsets_of(events, basis.figures), plan, basis, damped)


def monitor_of(
    part: Part,
    basis: Basis,
    chords: Chords | None = None,
    step: Callable[[int], None] = lambda count: None,
) -> tuple[BareMonitor, list[Finding]]:
    """A monitor that heard all of a part, and its findings."""
    monitor = BareMonitor(
        basis.figures,
        basis.instrument,
        basis.player,
        basis.judged,
        asked=basis.asked,
        chords=chords,
        explain=explain,
    )
    findings: dict[int, Finding] = {}
    if basis.setting is not None:
        monitor.feed(SetPedals(part.begin_us, basis.setting))
    for begin in range(0, len(part.events), REPORT_EVERY):
        batch = part.events[begin : begin + REPORT_EVERY]
        for event in batch:
            keep(findings, monitor.feed(event))
        step(len(batch))
    keep(findings, monitor.finish())
    return monitor, list(findings.values())


def _remarks(monitor: BareMonitor) -> Iterator[str]:
    """What is to be said of how it was judged."""
    if monitor.below:
        yield (
            f"{are(monitor.below, 'note')} left out, below the range of any harp (probably keyswitches of a sample"
            " library)."
        )
    if monitor.bounded:
        whose = ", ".join(
            f"{counted(number, 'attack')} for the {player.name} player"
            for number, player in zip(monitor.undecided, monitor.players, strict=True)
            if number
        )
        yield (
            f"Not decided: {whose}. There are too many ways to play {'it' if monitor.bounded == 1 else 'them'} to try"
            " them all. That is not counted as a fault."
        )


def _not_the_best(plan: Plan, monitor: BareMonitor, basis: Basis) -> str:
    """A remark where the plan gives up more attacks than the verdict, else ""."""
    number = basis.number
    known = sum(outcomes[number] is Outcome.CANNOT for _, outcomes in monitor.record.troubles)
    more = plan.unplayable - known if Layer.PEDALS in basis.judged else 0
    if more <= 0:
        return ""
    return (
        f"The pedalling shown here leaves out {counted(more, 'attack')} that can be played; a better one exists."
        " The verdict is exact."
    )


def _more_than_least(plan: Plan, passages: Sequence[Passage], basis: Basis, time_map: TimeMap) -> str:
    """A remark where the plan has more changes at once than its player keeps up, and the notes ask for fewer."""
    moved, span = [change.us for change in plan.changes], basis.figures.load.span
    for passage in passages if basis.asked is None else ():
        mine = moved[bisect_left(moved, passage.start) : bisect_right(moved, passage.end)]
        within = [bisect_right(mine, us + span) - number for number, us in enumerate(mine)]
        changes = max(within, default=0)
        if passage.loads and (load := passage.loads[basis.number]).changes <= load.most < changes:
            bar = time_map.place(mine[within.index(changes)]).bar
            return (
                f"From bar {bar} on the pedalling shown has {changes} changes within {span / 1_000_000:g} s; the"
                f" {basis.player} player can keep up {load.most}. Spelled otherwise, {load.changes} may be enough."
            )
    return ""


def _placed(finding: Finding, time_map: TimeMap) -> Finding:
    place = time_map.told(finding.us)
    return replace(finding, bar=place.bar, beat=place.beat)


def verdict_of(counts: Sequence[Count]) -> Verdict:
    """The verdict of a part, from what the three players met in it (the relaxed first).

    The table of counts, the exit code and the findings come from the same numbers, so that none of them can say
    otherwise.
    """
    relaxed, working, virtuoso = (count.outcome for count in counts)
    return grade((relaxed, working, virtuoso))[0]


def _counts(monitor: BareMonitor, plans: Sequence[Plan] | None, layers: Sequence[Layer]) -> tuple[Count, ...]:
    """What each player met."""
    by_layer = {layer: monitor.counts(layer) for layer in layers}
    return tuple(
        Count(
            whole.player,
            whole.unplayable,
            whole.audible,
            None if plans is None else len(plans[number].changes),
            {layer: by_layer[layer][number] for layer in layers},
            monitor.undecided[number],
        )
        for number, whole in enumerate(monitor.counts())
    )


def attacks_of(events: Iterable[Event], figures: Figures) -> Attacks:
    """The attacks of events as the monitor judges them; notes below any harp's range belong to none."""
    return gather_held(_in_range(events, figures), figures.window.attack, figures.glissando)


def onsets_of(events: Iterable[Event], figures: Figures) -> Iterator[Attack]:
    """The notes as they were struck, none gathered but those of one moment."""
    struck = (event for event in _in_range(events, figures) if isinstance(event, NoteOn))
    for us, together in groupby(struck, key=attrgetter("us")):
        yield Attack(us, tuple(sorted({event.pitch for event in together})))


def _in_range(events: Iterable[Event], figures: Figures) -> Iterator[Event]:
    lowest = figures.lowest_note
    return (event for event in events if not (isinstance(event, NoteOn) and event.pitch < lowest))


def planner_for(basis: Basis, player: Player | None = None) -> Planner:
    """Whoever plans the pedalling of a player, by default the chosen one."""
    return Planner(player or basis.chosen, basis.players[0], basis.instrument, basis.figures.ringing)


def plan_for_all(
    music: Music,
    basis: Basis,
    troubles: Sequence[tuple[int, tuple[Outcome, ...]]],
    beats: Beats | None,
    start_us: int,
    alone: bool,
) -> tuple[Plan, Plan, Plan]:
    """The plan of each of the three players, the relaxed first.

    Where one player can play everything without a slide, that plan does for the quicker ones too.

    Args:
        music: its attacks, made ready for the search.
        basis: what it is judged on.
        troubles: attacks (by moment, µs) that not all players can play without a slide, as the monitor found them.
        beats: of the music, for changes on beats; None where nobody knows them.
        start_us: when the pedals stand as in the setting (µs).
        alone: whether only the chosen player's plan is wanted; the others may have none then.
    """
    at_ease = [all(outcomes[number] is Outcome.PLAYS for _, outcomes in troubles) for number in range(3)]
    plans: list[Plan] = []
    for number, player in enumerate(basis.players):
        if plans and at_ease[number - 1]:
            plans.append(plans[-1])
            continue
        # Whether it is the chosen player's plan, or will do for them.
        chosen = number <= basis.number and all(at_ease[number : basis.number])
        if alone and not chosen:
            plans.append(NO_PLAN)
            continue
        cannot = {us for us, outcomes in troubles if outcomes[number] is Outcome.CANNOT}
        planner, start = planner_for(basis, player), basis.setting
        plans.append(
            planner.plan(music.attacks, start, start_us, beats, music=music, cannot=cannot)
        )
    return plans[0], plans[1], plans[2]
