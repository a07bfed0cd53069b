"""What to do about it: for every place that the chosen player cannot play, what would make it playable,
cheapest first.

Each remedy has been verified by running the model on the changed music, in its place: from the readings as
they stood before the change, and on until the next trouble that the music has anyway (or its end). So a
remedy speaks of its own place alone; other places keep theirs. Silent troubles are what is remedied; an
audible pedal change does not fail a passage.

Where one harp has no remedy for all the troubles of a place, it is
parted where they lie far apart, and again, where that mends most of them or some of another kind: what is hard in
one may be easy in the others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.stretch import AS_WRITTEN, WRITTEN, Stretch
from livepedal.advice.remedies.in_place import BUDGET, InPlace, slowed
from livepedal.advice.remedies.omit import Voices
from livepedal.advice.remedies.places import (
    SHORT_PASSAGE,
    HardPlace,
    Spot,
    bars_around,
    passage_at,
    places_of,
)
from livepedal.advice.remedies.remedy import Hard, PartAdvice, PassageAdvice, PlaceAdvice, Remedy, RemedyKind
from livepedal.advice.remedies.tempo import HALF, PlayerTempo, part_tempos, tempos_in_place
from livepedal.advice.remedies.trial import Trial
from livepedal.model.findings import Finding, Passage
from livepedal.model.load import Load
from livepedal.model.monitor import Monitor
from livepedal.music.attacks import Gathered
from livepedal.music.timemap import TimeMap

if TYPE_CHECKING:
    from livepedal.advice.remedies.heavy import Heavy, Loads

MOST_PARTED = (
    40  # troubles of a place that is looked at piece by piece; where there are more, it is other music
)
BUDGET_EACH = 12  # and for all places, so many times the attacks of the part


def advise(
    attacks: Sequence[Gathered],
    basis: Basis,
    *,
    begin_us: int = 0,
    time_map: TimeMap | None = None,
    asked: Iterable[int] | None = None,
    failing: Iterable[int] = (),
    loads: Sequence[Load] = (),
    too_much: Sequence[bool] = (),
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> PartAdvice:
    """Remedies for a whole part.

    Args:
        attacks: gathered, as they are judged, from `begin_us` (µs) on.
        asked: moments (µs) of attacks that cannot be played as their spelling was asked for, None where none was;
            everything here leaves the spelling free.
        failing: moments of all that cannot be played, none of which goes without a word.
        loads: what is too much at once for the player.
        too_much: whether something is too much for each of the three.
        progress: called with (places done, places in all).
    """
    part = _Part(Trial(attacks, basis, begin_us), time_map)
    failing = tuple(failing)
    part.leave_free(asked or ())
    if part.told or part.survey.findings or loads or failing:
        part.try_places(progress)
        part.try_slower(loads, too_much)
        part.say_all(failing)
    return PartAdvice(
        basis.player, basis.instrument, part.tempos, part.passages(), part.trial.fed, asked is not None
    )


class _Part:
    """A whole part, as far as it is advised on.

    Attributes:
        told: what is advised, by passage.
        speeds: at which its places would be playable, by passage.
        tempos: how fast each player manages the whole.
    """

    def __init__(self, trial: Trial, time_map: TimeMap | None) -> None:
        self.trial = trial
        self.time_map = time_map
        self.survey = trial.survey()
        self.told: dict[Passage, list[PlaceAdvice]] = {}
        self.speeds: dict[Passage, list[int]] = {}
        self.tempos: tuple[PlayerTempo, ...] = ()
        self._heavy: Heavy | None = None
        self._loads: dict[Passage, Loads] = {}  # at the written tempo, where some player has too much

    def leave_free(self, asked: Iterable[int]) -> None:
        """Places where only the spelling that was asked for is in the way. asked: as in `advise`."""
        trial, findings, passages = self.trial, self.survey.findings, self.survey.passages
        freed = sorted({trial.at(us) for us in asked} - set(findings))
        for place in places_of(trial, freed, passages, self.time_map):
            moments = tuple(trial.attacks[n].us for n in place.troubles)
            others = sum(passage_at(passages, trial.attacks[n].us) == place.passage for n in findings)
            free = Remedy(RemedyKind.SPELLING, place.start, place.end, Fraction(1), others=others)
            self._tell(place.passage, PlaceAdvice(place.start, place.end, moments, (free,)))

    def _tell(self, passage: Passage, advice: PlaceAdvice) -> None:
        self.told.setdefault(passage, []).append(advice)

    def try_places(self, progress: Callable[[int, int], None]) -> None:
        """The remedies of all places, one after the other."""
        trial, survey = self.trial, self.survey
        places = places_of(trial, sorted(survey.findings), survey.passages, self.time_map)
        many = _Many(trial, survey.findings, survey.starts)
        walked = trial.walk([place.forks for place in places])
        for number, (place, forks) in enumerate(zip(places, walked, strict=True)):
            progress(number, len(places) + 1)
            until = places[number + 1].troubles[0] if number + 1 < len(places) else len(trial.attacks)
            for advice, speed in many.advice(place, forks, until):
                self._tell(place.passage, advice)
                self.speeds.setdefault(place.passage, []).append(speed)
        progress(len(places) + 1, len(places) + 1)  # the whole is quickly done

    def try_slower(self, loads: Sequence[Load], too_much: Sequence[bool]) -> None:
        """How fast the whole can be, and where there is too much at once. loads, too_much: as in `advise`."""
        # What the slowest place allows is nearly always what the whole allows.
        slowest = min((speed for some in self.speeds.values() for speed in some), default=None)
        self.tempos = part_tempos(self.trial, slowest, self.survey.plays)
        # Judging it all once more is dear; whoever cannot play it at any tempo needs no such word.
        pairs = zip(too_much, self.tempos, strict=False)
        if not loads and not any(much and tempo.sensible for much, tempo in pairs):
            return
        from livepedal.advice.remedies.heavy import Heavy  # little music has too much at once

        heavy = self._heavy = Heavy(self.trial, self.time_map)
        every = zip(self.survey.passages, heavy.loads(AS_WRITTEN), strict=True)
        self._loads = {passage: each for passage, each in every if any(one.too_much for one in each)}
        self.tempos = heavy.tempos(self.tempos, self._loads, whole=True)
        for load in loads:
            passage = passage_at(self.survey.passages, load.start)
            before = self.survey.starts[passage.start]
            self._tell(passage, _slower(heavy, load, passage, before, self.time_map))

    def say_all(self, failing: Iterable[int]) -> None:
        """Nothing that cannot be played goes without a word. failing: as in `advise`."""
        for us in failing:
            if not any(place.start <= us <= place.end for some in self.told.values() for place in some):
                self._tell(passage_at(self.survey.passages, us), PlaceAdvice(us, us + 1, (us,), ()))

    def passages(self) -> tuple[PassageAdvice, ...]:
        """All that is told, in order."""
        return tuple(
            PassageAdvice(
                passage.start,
                passage.end,
                self.tempos if len(self.survey.passages) == 1 else self._tempos_of(passage),
                tuple(sorted(self.told[passage], key=lambda advice: advice.start)),
            )
            for passage in sorted(self.told, key=lambda one: one.start)
        )

    def _tempos_of(self, passage: Passage) -> tuple[PlayerTempo, ...]:
        """How fast each player manages one of several passages."""
        trial, start, end = self.trial, passage.start, passage.end
        tempos: tuple[PlayerTempo, ...] = ()
        if passage in self.speeds:
            before, first, until = self.survey.starts[start], trial.at(start), trial.at(end + 1)
            tempos = tempos_in_place(trial, before, first, until, start, end, guess=min(self.speeds[passage]))
        elif passage in self._loads:
            tempos = tuple(PlayerTempo(one.name, WRITTEN) for one in trial.players)
        if self._heavy is not None and passage in self._loads:
            tempos = self._heavy.tempos(tempos, {passage: self._loads[passage]}, whole=False)
        return tempos


@dataclass(frozen=True, slots=True)
class ClosedPassage:
    """One passage that is over, to be advised on in its place; for a live session's worker.

    Attributes:
        attacks: of the passage, gathered, at least one.
        context: those of the passage before it, from which the judging starts (a rest lies between, in which quiet
            feet forget what was before).
        basis: its setting is that before the context, at `set_at` (µs).
        time_map: where hand-overs may lie at bar lines, as in `advise`, None where nobody counts bars.
    """

    attacks: Sequence[Gathered]
    basis: Basis
    context: Sequence[Gathered] = ()
    set_at: int = 0
    time_map: TimeMap | None = None

    def remedies(self) -> Iterator[Remedy]:
        """Each as soon as it is found, for feet, strings and hands: another setting, where one was chosen for the
        passage, then the tempo, a glissando, notes, a second harp. Nothing where the passage can be played.
        """
        trial, first = self._trial(), len(self.context)
        survey = trial.survey()
        findings = {n: found for n, found in survey.findings.items() if n >= first}
        if not findings:
            return
        attacks = self.attacks
        ends = [end for attack in attacks for _, end in attack.notes if end is not None]
        end = max((attacks[-1].us, *ends))
        verdict = next(iter(findings.values()))[0].verdict
        passage = Passage(attacks[0].us, attacks[-1].us, end, verdict, False, len(attacks))
        place = HardPlace(tuple(findings), first, passage.start, end, passage, self.time_map)
        forks = next(trial.walk([range(first, place.troubles[0] + 1)]))
        voices = Voices.of(trial.attacks, trial.player.overlap)
        before = survey.starts.get(passage.start, forks[first])
        search = InPlace(trial, voices, findings, Spot(place, forks, len(trial.attacks), BUDGET), before)
        if not self.context:
            yield from search.starts()
        yield from search.tempo()
        yield from search.glissando()
        yield from search.notes()
        yield from search.second()

    def bearable(self, most: Fraction) -> Remedy | None:
        """The fastest tempo, at most `most` of the written one, at which it is not too much at once, the plan and the
        hands judged again at each tempo; None: not within half the tempo.
        """
        from livepedal.advice.remedies.heavy import Heavy  # little music has too much at once

        trial, first = self._trial(), len(self.context)
        survey = trial.survey()
        passage = next(one for one in survey.passages if one.start == self.attacks[0].us)
        speed = Heavy(trial, self.time_map).slower(trial.number, passage, int(most * WRITTEN))
        if speed is None:
            return None
        stretch = Stretch(passage.start, passage.end, speed)
        heard, _ = trial.heard(survey.starts[passage.start], first, first, len(trial.attacks), stretch)
        return slowed(passage.start, passage.end, speed, heard)

    def _trial(self) -> Trial:
        return Trial((*self.context, *self.attacks), self.basis, self.set_at)


class _Many:
    """The remedies of place after place, which may feed only so many attacks in all."""

    def __init__(
        self,
        trial: Trial,
        findings: dict[int, tuple[Finding, ...]],
        starts: dict[int, Monitor],
    ) -> None:
        self.trial = trial
        self.voices = Voices.of(trial.attacks, trial.player.overlap)
        self.findings = findings
        self.starts = starts
        self.left = BUDGET + BUDGET_EACH * len(trial.attacks)

    def advice(
        self, place: HardPlace, forks: dict[int, Monitor], until: int
    ) -> list[tuple[PlaceAdvice, int]]:
        """What to do about a place, or about the pieces of it, and the speed that each allows.

        forks: monitors just before each attack of its forks; until: the attack where the next trouble is.
        """
        before = self.trial.fed
        start = self.starts[place.passage.start]
        spot = Spot(place, forks, until, min(self.left, BUDGET))
        search = InPlace(self.trial, self.voices, self.findings, spot, start)
        whole = [(search.advice(), search.speed or 0)]
        self.left = max(0, self.left - (self.trial.fed - before))
        if whole[0][0].one_harp or len(place.troubles) == 1:
            return whole
        pieces: list[tuple[PlaceAdvice, int]] = []
        halves = place.halves(self.trial)
        if len(place.troubles) > MOST_PARTED or not self._may_differ(halves):
            return whole
        walked = self.trial.walk([half.forks for half in halves], forks[min(forks)], min(forks))
        for half, begun, end in zip(halves, walked, (halves[1].troubles[0], until), strict=True):
            pieces += self.advice(half, begun, end)
        return pieces if self._worth(place, halves, [advice for advice, _ in pieces]) else whole

    def _may_differ(self, halves: Sequence[HardPlace]) -> bool:
        """Whether there is any ground on which the halves could be worth telling by themselves."""
        kinds = {finding.kind for half in halves for n in half.troubles for finding in self.findings[n]}
        return len(kinds) > 1 or self.trial.setting is not None or halves[0].end <= halves[1].start

    def _worth(self, place: HardPlace, halves: Sequence[HardPlace], pieces: Sequence[PlaceAdvice]) -> bool:
        """Whether the pieces are worth telling by themselves: where something of another kind is mended, or most of it
        in bars of its own; but not one trouble of many that are alike.
        """
        mended = [advice for advice in pieces if advice.one_harp]
        if not mended:
            return False
        kinds = [{finding.kind for n in half.troubles for finding in self.findings[n]} for half in halves]
        start = any(one.kind is RemedyKind.SETTING for advice in mended for one in advice.remedies)
        apart = halves[0].end <= halves[1].start
        most = 2 * sum(len(advice.troubles) for advice in mended) >= len(place.troubles)
        return start or kinds[0].isdisjoint(kinds[1]) or (apart and most)


def _slower(
    heavy: Heavy, load: Load, passage: Passage, before: Monitor, time_map: TimeMap | None
) -> PlaceAdvice:
    """What to do where there is too much at once: the bars of it slower, else the passage that they are in. before:
    the monitor just before that.
    """
    start, end = passage.start, passage.end
    speed = None
    if end - start > SHORT_PASSAGE:
        start = max(start, bars_around(load.start, time_map)[0])
        end = min(end, bars_around(load.end, time_map)[1])
        speed = heavy.speed(start, end, passage)
    if speed is None or speed < HALF:
        start, end = passage.start, passage.end
        speed = heavy.speed(start, end, passage)
    if speed is None or speed < HALF:
        return PlaceAdvice(start, end, (load.start,), (), Hard(speed), too_much=True)
    trial, stretch = heavy.trial, Stretch(start, end, speed)
    first, until = trial.at(start), trial.at(end)
    heard, others = trial.heard(before, trial.at(passage.start), first, until, stretch)
    remedy = slowed(start, end, speed, heard, others=others)
    return PlaceAdvice(start, end, (load.start,), (remedy,), too_much=True)
