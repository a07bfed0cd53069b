"""What to do about it: for every place that the chosen player cannot play, what would make it playable, cheapest first.

Each remedy has been verified by running the model on the changed music, in its place: from the readings as they stood
before the change, and on until the next trouble that the music has anyway (or its end). So a remedy is about its own
place alone; other places keep theirs. Remedies are for what cannot be played; an audible pedal change does not fail a
passage.

Where one harp has no remedy for all the troubles of a place, it is parted where they lie far apart, and again, where
that mends most of them or some of another kind: what is hard in one may be easy in the others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.stretch import WRITTEN, Stretch
from livepedal.advice.remedies.in_place import BUDGET, InPlace, slowed
from livepedal.advice.remedies.places import SHORT_PASSAGE, HardPlace, bars_around, passage_at, places_of
from livepedal.advice.remedies.remedy import Hard, PartAdvice, PassageAdvice, PlaceAdvice, Remedy, RemedyKind
from livepedal.advice.remedies.tempo import HALF, SLOWEST, PlayerTempo, bearable_speed, tempos_of
from livepedal.advice.remedies.trial import Excerpt, Run, Survey, Trial
from livepedal.model.findings import Kind, Outcome, Passage

MOST_PARTED = 40  # troubles of a place that is parted; where there are more, it is other music
BUDGET_EACH = 20  # and for all places, so many times the attacks of the part


def part_advice(
    report: PartReport,
    basis: Basis,
    *,
    asked: PartReport | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> PartAdvice:
    """Remedies for a whole part.

    Args:
        report: on the part, with its spelling left free.
        basis: what it was judged on.
        asked: the report on it in the spelling that was asked for, if any was.
        progress: called with (places done, places in all).
    """
    part = _Part(report, basis)
    if asked is not None:
        part.leave_free(asked)
    if part.advised or part.survey.findings or part.heavy:
        part.try_places(progress or (lambda done, total: None))
        part.try_slower()
    return PartAdvice(basis.player, basis.instrument, part.tempos, part.passages(), asked is not None)


class _Part:
    """A whole part, as far as it is advised on.

    Attributes:
        heavy: the passages with too much at once for the player.
        advised: what is advised, by passage.
        tempos: how fast each player manages the whole.
    """

    def __init__(self, report: PartReport, basis: Basis) -> None:
        self.trial = trial = Trial(report.music, basis, report.begin, report.written)
        self.time_map = report.time_map
        self.survey = Survey.of(report)
        loads = zip(report.passages, report.loads, strict=False)  # there may be none
        self.heavy = [passage for passage, load in loads if load.too_much]
        starts = (trial.at(passage.start) for passage in report.passages)
        self._run = Run(trial, trial.everybody(basis.setting), starts)
        self.advised: dict[Passage, list[PlaceAdvice]] = {}
        self.tempos: tuple[PlayerTempo, ...] = ()
        self._speeds: dict[Passage, list[int]] = {}  # that each place of it would be playable at
        self._tempos: dict[Passage, tuple[PlayerTempo, ...]] = {}  # of several
        self._guesses: dict[int, int] = {}  # speeds that each player is likely to manage
        self._latest: int | None = None  # the fastest speed of the place before
        self._budget = BUDGET + BUDGET_EACH * len(trial.attacks)  # attacks that may still be judged

    def leave_free(self, asked: PartReport) -> None:
        """Places where only the spelling that was asked for is in the way."""
        trial, findings, passages = self.trial, self.survey.findings, self.survey.passages
        failing = (one for one in asked.findings if not one.audible)
        freed = sorted(
            {
                trial.at(one.us)
                for one in failing
                if one.kind is not Kind.TOO_MUCH or passage_at(passages, one.us) not in self.heavy
            }
            - set(findings)
        )
        for place in places_of(trial, freed, passages, self.time_map):
            moments = tuple(trial.attacks[n].us for n in place.troubles)
            others = sum(passage_at(passages, trial.attacks[n].us) == place.passage for n in findings)
            free = Remedy(RemedyKind.SPELLING, place.start, place.end, Fraction(1), others=others)
            self._tell(place.passage, PlaceAdvice(place.start, place.end, moments, (free,)))

    def _tell(self, passage: Passage, advice: PlaceAdvice) -> None:
        self.advised.setdefault(passage, []).append(advice)

    # -- places --------------------------------------------------------------------------------------------------

    def try_places(self, progress: Callable[[int, int], None]) -> None:
        """Look for the remedies of all places, one after the other."""
        places = places_of(self.trial, list(self.survey.findings), self.survey.passages, self.time_map)
        for number, place in enumerate(places):
            progress(number, len(places) + 1)
            self._run.forget(place.forks.start)
            for advice, speed in self._in_place(place):
                self._tell(place.passage, advice)
                self._speeds.setdefault(place.passage, []).append(speed)
        progress(len(places) + 1, len(places) + 1)  # the whole is quickly done

    def _in_place(self, place: HardPlace) -> list[tuple[PlaceAdvice, int]]:
        """What to do about a place, or about the pieces of it, and the speed that each allows."""
        budget = min(self._budget, BUDGET)
        # Music comes again, and so do its troubles.
        search = InPlace(self.trial, self.survey, place, self._run, budget, self._latest)
        before = self.trial.judged
        whole = [(search.advice(), search.fastest_speed or 0)]
        self._latest = search.fastest_speed or self._latest
        self._budget = max(0, self._budget - (self.trial.judged - before))
        if whole[0][0].one_harp or not 1 < len(place.troubles) <= MOST_PARTED:
            return whole
        halves = place.halves(self.trial)
        if not self._may_differ(halves):
            return whole
        pieces = [told for half in halves for told in self._in_place(half)]
        return pieces if self._worth(halves, [advice for advice, _ in pieces]) else whole

    def _may_differ(self, halves: Sequence[HardPlace]) -> bool:
        """Whether there is any ground on which the halves could be worth telling by themselves."""
        kinds = set().union(*map(self._kinds, halves))
        return len(kinds) > 1 or self.trial.basis.setting is not None or halves[0].end <= halves[1].start

    def _kinds(self, place: HardPlace) -> set[Kind]:
        return {finding.kind for n in place.troubles for finding in self.survey.findings[n]}

    def _worth(self, halves: Sequence[HardPlace], pieces: Sequence[PlaceAdvice]) -> bool:
        """Whether the pieces are worth telling by themselves.

        That is where something of another kind is mended, or most of it in bars of its own; but not one trouble of
        many that are alike.
        """
        mended = [advice for advice in pieces if advice.one_harp]
        if not mended:
            return False
        start = any(one.kind is RemedyKind.SETTING for advice in mended for one in advice.remedies)
        apart = halves[0].end <= halves[1].start
        troubles = sum(len(half.troubles) for half in halves)
        most = 2 * sum(len(advice.troubles) for advice in mended) >= troubles
        return start or self._kinds(halves[0]).isdisjoint(self._kinds(halves[1])) or (apart and most)

    # -- tempos --------------------------------------------------------------------------------------------------

    def try_slower(self) -> None:
        """How fast the whole can be, and where there is too much at once."""
        trial = self.trial
        # What the slowest place allows its passage nearly always allows, and what the slowest passage does the whole.
        least: dict[int, int] = {}
        for passage in dict.fromkeys((*self._speeds, *self.heavy)):
            if passage in self._speeds:
                self._guesses[trial.number] = min(self._speeds[passage])
            if len(self.survey.passages) > 1:
                self._tempos[passage] = self._how_fast(passage)
            least = {number: min(speed, least.get(number, speed)) for number, speed in self._guesses.items()}
        self._guesses = least
        self.tempos = self._how_fast()
        for passage in self.heavy:
            self._tell(passage, self._slower(passage))

    def _how_fast(self, passage: Passage | None = None) -> tuple[PlayerTempo, ...]:
        """How fast each player manages a passage, or all of it."""
        before = self._run.before(0 if passage is None else self.trial.at(passage.start))
        found = []
        for number, tempo in enumerate(tempos_of(self.trial, self.survey, before, passage, self._guesses)):
            speed = tempo.speed
            for one in self.survey.passages if passage is None else [passage]:
                if speed is not None and speed >= HALF and one.loads and one.loads[number].too_much:
                    speed = bearable_speed(self.trial, number, one, HALF, speed)
            found.append(replace(tempo, speed=speed))
        return tuple(found)

    def _slower(self, passage: Passage) -> PlaceAdvice:
        """What to do where there is too much at once: the bars of it slower, else the passage that they are in."""
        trial, spans = self.trial, [Stretch(passage.start, passage.end)]
        load = passage.loads[trial.number]
        if passage.end - passage.start > SHORT_PASSAGE:
            start = max(passage.start, bars_around(load.start, self.time_map)[0])
            spans.insert(0, Stretch(start, min(passage.end, bars_around(load.end, self.time_map)[1])))
        speed = None
        for span in spans:
            speed = bearable_speed(trial, trial.number, passage, SLOWEST, slower=span)
            if speed is not None and speed >= HALF:
                attacks = range(trial.at(passage.start), trial.at(passage.end + 1))
                before = self._run.before(attacks.start)
                music = Excerpt(before, attacks, layers=self.survey.slower(trial.number, attacks))
                remedy = slowed_as_judged(trial, music, replace(span, speed=speed))
                return PlaceAdvice(remedy.start, remedy.end, (load.start,), (remedy,), too_much=True)
        return PlaceAdvice(passage.start, passage.end, (load.start,), (), Hard(speed), too_much=True)

    # -- all of it -----------------------------------------------------------------------------------------------

    def passages(self) -> tuple[PassageAdvice, ...]:
        """All that is told, in order."""
        return tuple(
            PassageAdvice(
                passage.start,
                passage.end,
                self._tempos_of(passage),
                tuple(sorted(self.advised[passage], key=lambda advice: advice.start)),
            )
            for passage in sorted(self.advised, key=lambda passage: passage.start)
        )

    def _tempos_of(self, passage: Passage) -> tuple[PlayerTempo, ...]:
        """How fast each player manages a passage, where any has trouble with it."""
        return self.tempos if len(self.survey.passages) == 1 else self._tempos.get(passage, ())


def slowed_as_judged(trial: Trial, music: Excerpt, slower: Stretch) -> Remedy:
    """The remedy that some music is slower, with what still cannot be played in it, or only audibly."""
    assert slower.end is not None
    faults = trial.faults(music, slower, trial.at(slower.end))
    mine = [faults[number] for number in faults if number >= trial.at(slower.start)]
    audible, others = mine.count(Outcome.AUDIBLE), mine.count(Outcome.CANNOT)
    return slowed(slower.start, slower.end, slower.speed, audible, others=others)


class ClosedPassage:
    """One passage that is over, to be advised on by itself; for a live session's worker."""

    def __init__(self, report: PartReport, basis: Basis, first: int = 0, *, bars: bool = False) -> None:
        """The passage and its surroundings.

        Args:
            report: on the passage, and what came before it, from which judging starts (a rest lies between, in which
                quiet feet forget what was before). Its spelling was left free.
            basis: what it was judged on.
            first: the number of the passage's first attack.
            bars: whether anybody counts bars.
        """
        self._trial = trial = Trial(report.music, basis, report.begin, report.written)
        self._survey = Survey.of(report)
        start, until = trial.attacks[first].us, len(trial.attacks)
        passage = passage_at(report.passages, start)
        troubles = tuple(number for number in self._survey.findings if number >= first)
        time_map = report.time_map if bars else None
        self._place = HardPlace(troubles, first, start, passage.end, passage, until, time_map, first)
        monitor = trial.everybody(basis.setting).alone(trial.number, audible=True)
        self._run = Run(trial, monitor)

    def remedies(self) -> Iterator[Remedy]:
        """Each as soon as it is found, for feet, strings and hands; nothing where the passage can be played.

        Another setting, where one was chosen for the passage, then the tempo, a glissando, notes, a second harp.
        """
        place = self._place
        if not place.troubles:
            return
        search = InPlace(self._trial, self._survey, place, self._run, BUDGET)
        if not place.first:
            yield from search.starts()
        yield from search.tempo(HALF)
        for step in (search.glissando, search.notes, search.second):
            yield from step()

    def bearable(self, most: Fraction) -> Remedy | None:
        """The fastest tempo, at most `most` of the written one, at which this is not too much at once.

        None: not within half the tempo.
        """
        trial, place = self._trial, self._place
        speed = bearable_speed(trial, trial.number, place.passage, HALF, int(most * WRITTEN))
        if speed is None:
            return None
        first = place.first
        attacks = range(first, place.until)
        layers = self._survey.slower(trial.number, attacks)
        music = Excerpt(self._run.before(first), attacks, layers=layers)
        return slowed_as_judged(trial, music, Stretch(place.start, place.end, speed))
