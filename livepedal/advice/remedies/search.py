"""What to do about it: for every place that the chosen player cannot play, what would make it playable,
cheapest first.

Each remedy has been verified by running the model on the changed music, in its place: from the readings as
they stood before the change, and on until the next trouble that the music has anyway (or its end). So a
remedy speaks of its own place alone; other places keep theirs. Silent troubles are what is remedied; an
audible pedal change does not fail a passage.

A *place* is a short passage, or in a longer one the bars around troubles that lie close together; to slow
down five minutes for one note is no advice. Where one harp has no remedy for all the troubles of a place, it is
parted where they lie far apart, and again, where that mends most of them or some of another kind: what is hard in
one may be easy in the others.

What a remedy costs the music is common practice, no source: a setting nothing, a few per cent of the tempo less
than a note, a note an octave away less than a note left out, an inner note less than the lowest, and a second
player most of all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.stretch import AS_WRITTEN, WRITTEN, Stretch
from livepedal.advice.remedies.omit import LOOKBACK, MOST_FIXED, NoteChanges, NoteSearch, Voices, octaves_help
from livepedal.advice.remedies.remedy import (
    ChangedNote,
    Hard,
    PartAdvice,
    PassageAdvice,
    PlaceAdvice,
    Remedy,
    RemedyKind,
)
from livepedal.advice.remedies.second import SecondSearch
from livepedal.advice.remedies.starting import rest_for, setting_for
from livepedal.advice.remedies.tempo import (
    FINE,
    HALF,
    STEP,
    PlayerTempo,
    fastest,
    part_tempos,
    tempos_in_place,
    with_margin,
)
from livepedal.advice.remedies.trial import Trial
from livepedal.model.findings import Finding, Passage
from livepedal.model.hands.glissando import advise as nearest_setting
from livepedal.model.load import Load
from livepedal.model.monitor import Monitor
from livepedal.music.attacks import Gathered
from livepedal.music.timemap import TimeMap

if TYPE_CHECKING:
    from livepedal.advice.remedies.heavy import Heavy, Loads

SHORT_PASSAGE = 20_000_000  # µs; a passage up to this long is one place
# Live, nobody knows bars before a tempo is told: then a place reaches from so long before its trouble to so
# long after it.
BEFORE, AFTER = 3_000_000, 1_000_000
LAST_RESORT = Fraction(1_000)  # the cost of a second player
NEAR = 24  # attacks after a place that a tempo has to get over before it is judged all the way
EASILY_HEARD = 400  # attacks; where more would be fed each time, no quiet tempo is looked for
MOST_PARTED = (
    40  # troubles of a place that is looked at piece by piece; where there are more, it is other music
)
BUDGET = 4_000  # attacks that the search for notes may feed for one place
BUDGET_SECOND = 1_500  # the same for a second harp
BUDGET_EACH = 12  # and for all places, so many times the attacks of the part


@dataclass(frozen=True, slots=True)
class _Place:
    """troubles: numbers of attacks; first: the attack that its bars begin with; start, end: of them (µs); since: the
    attack before which troubles are another place's, in the same bars.
    """

    troubles: tuple[int, ...]
    first: int
    start: int
    end: int
    passage: Passage
    time_map: TimeMap | None = None
    since: int = 0

    @property
    def lines(self) -> tuple[int, ...]:
        """Its bar lines, its start and its end (µs)."""
        found = {self.start, self.end}
        if self.time_map is not None:
            first, last = self.time_map.place(self.start).bar, self.time_map.place(self.end).bar
            lines = {self.time_map.us_of_bar(bar) for bar in range(first, last + 1)}
            found |= {line for line in lines if self.start < line < self.end}
        return tuple(sorted(found))

    @property
    def forks(self) -> range:
        back = max(self.since, self.troubles[0] - LOOKBACK)
        return range(max(0, min(self.first, back)), self.troubles[0] + 1)

    def halves(self, trial: Trial) -> list[_Place]:
        """Its troubles before and after the longest time between two of them, best one between two that lie in
        different bars, with the bars around each.
        """
        moments = [trial.attacks[number].us for number in self.troubles]
        cuts = sorted(range(1, len(moments)), key=lambda n: moments[n - 1] - moments[n])
        parted = (self._parted(trial, cut) for cut in cuts)
        return next(
            (found for found in parted if found[0].end <= found[1].start), self._parted(trial, cuts[0])
        )

    def _parted(self, trial: Trial, cut: int) -> list[_Place]:
        found = []
        since = self.since
        for troubles in (self.troubles[:cut], self.troubles[cut:]):
            start = _bars_around(trial.attacks[troubles[0]].us, self.time_map)[0]
            first = max(self.first, min(trial.at(start), troubles[0]))
            last = trial.attacks[troubles[-1]].us
            end = max(last + 1, min(self.end, _bars_around(last, self.time_map)[1]))
            start = trial.attacks[first].us
            found.append(replace(self, troubles=troubles, first=first, start=start, end=end, since=since))
            since = troubles[-1] + 1
        return found


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

    attacks: gathered, as they are judged, from `begin_us` (µs) on. asked: moments (µs) of attacks that cannot be played
    as their spelling was asked for, None where none was; everything here leaves the spelling free. failing: moments of
    all that cannot be played, none of which goes without a word; loads: what is too much at once for the
    player; too_much: whether something is too much for each of the three. progress: called with (places done,
    places in all).
    """
    trial, player, instrument = Trial(attacks, basis, begin_us), basis.player, basis.instrument
    survey = trial.survey()
    findings, passages = survey.findings, survey.passages
    freed = sorted({trial.at(us) for us in asked or ()} - set(findings))
    failing = tuple(failing)
    if not (findings or freed or loads or failing):
        return PartAdvice(player, instrument, (), (), trial.fed, asked is not None)
    told: dict[Passage, list[PlaceAdvice]] = {}
    for place in _places(trial, freed, passages, time_map):
        moments = tuple(trial.attacks[n].us for n in place.troubles)
        others = sum(_passage_at(passages, trial.attacks[n].us) == place.passage for n in findings)
        free = Remedy(RemedyKind.SPELLING, place.start, place.end, Fraction(1), others=others)
        told.setdefault(place.passage, []).append(PlaceAdvice(place.start, place.end, moments, (free,)))
    places = _places(trial, sorted(findings), passages, time_map)
    total = len(places) + 1  # and the whole at last
    progress(0, total)
    many = _Many(trial, findings, survey.starts)
    speeds: dict[Passage, list[int]] = {}
    for number, (place, forks) in enumerate(zip(places, trial.walk([p.forks for p in places]), strict=True)):
        until = places[number + 1].troubles[0] if number + 1 < len(places) else len(trial.attacks)
        for advice, speed in many.advice(place, forks, until):
            told.setdefault(place.passage, []).append(advice)
            speeds.setdefault(place.passage, []).append(speed)
        progress(number + 1, total)
    # What the slowest place allows is nearly always what the whole allows.
    slowest = min((speed for some in speeds.values() for speed in some), default=None)
    whole = part_tempos(trial, slowest, survey.plays)
    # Judging it all once more is dear; whoever cannot play it at any tempo needs no such word.
    asked_for = bool(loads) or any(
        much and tempo.sensible for much, tempo in zip(too_much, whole, strict=False)
    )
    heavy, written = _heavy(trial, passages, time_map) if asked_for else (None, {})
    if heavy is not None:
        whole = heavy.tempos(whole, written, whole=True)
        for load in loads:
            passage = _passage_at(passages, load.start)
            before = survey.starts[passage.start]
            told.setdefault(passage, []).append(_slower(heavy, load, passage, before, time_map))
    for us in failing:
        if not any(place.start <= us <= place.end for advices in told.values() for place in advices):
            told.setdefault(_passage_at(passages, us), []).append(PlaceAdvice(us, us + 1, (us,), ()))
    found = []
    for passage in sorted(told, key=lambda one: one.start):
        tempos = whole
        if len(passages) > 1:
            tempos = ()
            if passage in speeds:
                first, last = trial.at(passage.start), trial.at(passage.end + 1)
                tempos = tempos_in_place(
                    trial,
                    survey.starts[passage.start],
                    first,
                    last,
                    passage.start,
                    passage.end,
                    guess=min(speeds[passage]),
                )
            elif passage in written:
                tempos = tuple(PlayerTempo(one.name, WRITTEN) for one in trial.players)
            if heavy is not None and passage in written:
                tempos = heavy.tempos(tempos, {passage: written[passage]}, whole=False)
        advices = sorted(told[passage], key=lambda advice: advice.start)
        found.append(PassageAdvice(passage.start, passage.end, tempos, tuple(advices)))
    progress(total, total)
    return PartAdvice(player, instrument, whole, tuple(found), trial.fed, asked is not None)


@dataclass(frozen=True, slots=True)
class ClosedPassage:
    """One passage that is over, to be advised on in its place; for a live session's worker.

    attacks: of the passage, gathered, at least one; context: those of the passage before it, from which the
    judging starts (a rest lies between, in which quiet feet forget what was before); basis: its setting is that before
    the context, at `set_at` (µs); time_map: where hand-overs may lie at bar lines, as in `advise`, None where nobody
    counts bars.
    """

    attacks: Sequence[Gathered]
    basis: Basis
    context: Sequence[Gathered] = ()
    set_at: int = 0
    time_map: TimeMap | None = None

    def remedies(self) -> Iterator[Remedy]:
        """Each as soon as it is found, for feet, strings and hands: another setting, where one was chosen for the
        passage, then the tempo, then notes. Nothing where the passage can be played.
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
        place = _Place(tuple(findings), first, passage.start, end, passage, self.time_map)
        forks = next(trial.walk([range(first, place.troubles[0] + 1)]))
        voices = Voices.of(trial.attacks, trial.player.overlap)
        before = survey.starts.get(passage.start, forks[first])
        one = _One(trial, voices, findings, place, forks, len(trial.attacks), before, BUDGET)
        if not self.context:
            yield from one.starts()
        yield from one.tempo()
        yield from one.notes()
        yield from one.second()

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
        return _slowed(passage.start, passage.end, speed, heard)

    def _trial(self) -> Trial:
        return Trial((*self.context, *self.attacks), self.basis, self.set_at)


def _slowed(
    start: int, end: int, speed: int, audible: int, quiet: Fraction | None = None, others: int = 0
) -> Remedy:
    """The remedy that the music from `start` to `end` (µs) is played at this speed (thousandths)."""
    cost = Fraction(WRITTEN - speed, 25)
    ratio = Fraction(speed, WRITTEN)
    return Remedy(
        RemedyKind.TEMPO, start, end, cost, ratio=ratio, audible=audible, quiet=quiet, others=others
    )


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

    def advice(self, place: _Place, forks: dict[int, Monitor], until: int) -> list[tuple[PlaceAdvice, int]]:
        """What to do about a place, or about the pieces of it, and the speed that each allows.

        forks: monitors just before each attack of its forks; until: the attack where the next trouble is.
        """
        before = self.trial.fed
        start = self.starts[place.passage.start]
        budget = min(self.left, BUDGET)
        one = _One(self.trial, self.voices, self.findings, place, forks, until, start, budget)
        whole = [(one.advice(), one.speed or 0)]
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

    def _may_differ(self, halves: Sequence[_Place]) -> bool:
        """Whether there is any ground on which the halves could be worth telling by themselves."""
        kinds = {finding.kind for half in halves for n in half.troubles for finding in self.findings[n]}
        return len(kinds) > 1 or self.trial.setting is not None or halves[0].end <= halves[1].start

    def _worth(self, place: _Place, halves: Sequence[_Place], pieces: Sequence[PlaceAdvice]) -> bool:
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


class _One:
    """The remedies of one place."""

    def __init__(
        self,
        trial: Trial,
        voices: Voices,
        findings: dict[int, tuple[Finding, ...]],
        place: _Place,
        forks: dict[int, Monitor],
        until: int,
        passage_start: Monitor,
        budget: int,
    ) -> None:
        self.trial = trial
        self.voices = voices
        self.findings = findings
        self.place = place
        self.forks = forks
        self.until = until
        self.passage_start = passage_start
        self.budget = budget
        self.speed: int | None = None  # that is only just managed, and
        self.told: int | None = None  # with room for an uneven hand

    def advice(self) -> PlaceAdvice:
        """All of them, cheapest first."""
        place = self.place
        moments = tuple(self.trial.attacks[n].us for n in place.troubles)
        remedies = [
            *self.starts(),
            *self.glissando(),
            *self.rest(),
            *self.tempo(),
            *self.notes(),
            *self.second(),
        ]
        remedies.sort(key=lambda remedy: remedy.cost)
        hard = None
        if all(remedy.kind is not RemedyKind.TEMPO for remedy in remedies):
            melody: tuple[ChangedNote, ...] = ()
            if all(remedy.kind is RemedyKind.SECOND_HARP for remedy in remedies):
                melody = next(self._notes(octaves=False, melody=True), ())
            hard = Hard(self.told, melody)
        return PlaceAdvice(place.start, place.end, moments, tuple(remedies), hard)

    def starts(self) -> Iterator[Remedy]:
        """Another setting where one was asked for."""
        trial, asked = self.trial, self.trial.setting
        if asked is not None:
            setting = setting_for(trial, 0, self.until, asked)
            if setting is not None:
                yield Remedy(RemedyKind.SETTING, 0, 0, Fraction(0), setting=setting, asked=asked)

    def glissando(self) -> Iterator[Remedy]:
        """A quick single line one way as a glissando that begins and ends on the same notes: without those that the
        nearest setting does not have (common practice, no source).
        """
        line = self._line()
        pitches = [self.trial.attacks[number].notes[0][0] for number in line]
        if len(line) <= self.trial.figures.glissando.notes:
            return
        advice = nearest_setting(pitches, keep=(pitches[0], pitches[-1]))
        gone = {
            (number, pitch): None
            for number, pitch in zip(line, pitches, strict=True)
            if pitch % 12 in advice.left_out
        }
        if not gone or 2 * len(gone) >= len(line):
            return
        first = self.place.first
        if (
            self.trial.first_trouble(self.forks[first], first, self.until, gone, since=self.place.since)
            is None
        ):
            start, end = self.trial.attacks[line[0]].us, self.trial.attacks[line[-1]].us
            notes = self._changed(gone)
            yield Remedy(
                RemedyKind.GLISSANDO, start, end, Fraction(1, 2), setting=advice.setting, notes=notes
            )

    def _line(self) -> list[int]:
        """The attacks of the quick single line one way that the first trouble lies in; few where it lies in none."""
        attacks, step = self.trial.attacks, self.trial.figures.glissando.step
        at = self.place.troubles[0]

        def way(number: int) -> int:
            """From the attack before: 1 up, -1 down, 0 where no such line goes on."""
            if not max(self.place.first, self.place.since) < number < len(attacks):
                return 0
            before, here = attacks[number - 1], attacks[number]
            if len(before.notes) > 1 or len(here.notes) > 1 or here.us - before.us > step:
                return 0
            rise = here.notes[0][0] - before.notes[0][0]
            return (rise > 0) - (rise < 0)

        up = way(at) or way(at + 1)
        first, last = at, at
        while up and way(first) == up:
            first -= 1
        while up and way(last + 1) == up:
            last += 1
        return list(range(first, last + 1)) if up else []

    def tempo(self) -> Iterator[Remedy]:
        """The fastest tempo for the place, the rest in tempo."""
        place = self.place
        # First a little beyond the place, then all the way.
        near = min(self.until, place.troubles[-1] + NEAR)
        self.speed = fastest(lambda speed: self._manages(speed, near), tried=True)
        if self.speed is not None and near < self.until and not self._manages(self.speed, self.until):
            near = self.until
            self.speed = fastest(lambda speed: self._manages(speed, self.until), tried=True)
        if self.speed is None:
            return
        above = Stretch(place.start, place.end, self.speed + (STEP if self.speed >= HALF else FINE))
        needed = self.trial.needed(self.forks[place.first], place.first, near, above, place.since)

        def roomy(speed: int) -> int:
            return with_margin(speed, needed, self.trial.figures.tempo.uneven)

        self.told = roomy(self.speed)
        if self.told >= HALF and self._manages(self.told, self.until):
            yield _slowed(place.start, place.end, self.told, *self._heard(self.told, roomy))

    def _heard(self, speed: int, roomy: Callable[[int], int]) -> tuple[int, Fraction | None, int]:
        """The audible pedal changes at this speed, a slower tempo without any, and how many attacks of the same bars
        are another place's and cannot be played so. roomy: a speed with room for an uneven hand.
        """
        place, trial = self.place, self.trial
        end = trial.at(place.end)
        # What is heard further on, where the music is in tempo, is no matter of this place.
        until = min(self.until, max(end, place.troubles[-1] + 1))
        first = trial.at(place.passage.start)

        def heard(speed: int, since: int, until: int) -> tuple[int, int]:
            stretch = Stretch(place.start, place.end, speed)
            return trial.heard(self.passage_start, first, since, until, stretch)

        others = 0
        if place.since > place.first or self.until < end:
            _, others = heard(speed, place.first, end)
        since = max(place.first, place.since)
        audible, _ = heard(speed, since, until)
        if not audible or until - first > EASILY_HEARD:
            return audible, None, others
        quiet = fastest(
            lambda slower: slower < speed and not heard(slower, since, until)[0], HALF, tried=True
        )
        quiet = None if quiet is None or roomy(quiet) < HALF else roomy(quiet)
        return audible, None if quiet is None else Fraction(quiet, WRITTEN), others

    def _manages(self, speed: int, until: int) -> bool:
        place = self.place
        trouble = self.trial.first_trouble(
            self.forks[place.first],
            place.first,
            until,
            stretch=Stretch(place.start, place.end, speed),
            since=place.since,
        )
        return trouble is None

    def rest(self) -> Iterator[Remedy]:
        """A longer rest before the passage, where that is what is missing."""
        first = self.trial.at(self.place.passage.start)
        if first == 0 or self.place.troubles[0] - first > LOOKBACK:
            return
        before = self.passage_start.alone(self.trial.number)
        longer = rest_for(self.trial, before, first, self.until)
        if longer is not None:
            start = self.place.passage.start
            yield Remedy(RemedyKind.REST, start, start, 2 + Fraction(longer, 1_000_000), longer=longer)

    def notes(self) -> Iterator[Remedy]:
        """Notes an octave away where strings or hands are in trouble, and notes left out."""
        if octaves_help(self.findings, range(self.place.troubles[0], self.place.troubles[-1] + 1)):
            for found in self._notes(octaves=True, melody=False):
                yield self._remedy(RemedyKind.OCTAVE, found, each=3)
        for found in self._notes(octaves=False, melody=False):
            yield self._remedy(RemedyKind.OMIT, found, each=4)

    def second(self) -> Iterator[Remedy]:
        """A second harp."""
        place = self.place
        search = SecondSearch(
            self.trial,
            self.forks,
            place.first,
            self.until,
            place.lines,
            place.troubles,
            min(self.budget, BUDGET_SECOND),
            place.since,
        )
        deal = search.best()
        if deal is not None:
            yield Remedy(RemedyKind.SECOND_HARP, deal.start, deal.end, LAST_RESORT, second=deal)

    def _notes(self, octaves: bool, melody: bool) -> Iterator[tuple[ChangedNote, ...]]:
        troubles = self.place.troubles
        if len(troubles) > MOST_FIXED:
            return
        first = max(min(self.forks), self.place.since)
        search = NoteSearch(self.trial, self.voices, self.forks, first, troubles, self.until, self.budget)
        for changes in search.ways(octaves, melody):
            yield self._changed(changes)

    def _changed(self, changes: NoteChanges) -> tuple[ChangedNote, ...]:
        return tuple(
            ChangedNote(self.trial.attacks[number].us, pitch, to)
            for (number, pitch), to in sorted(changes.items())
        )

    def _remedy(self, kind: RemedyKind, notes: tuple[ChangedNote, ...], each: int) -> Remedy:
        outer = sum(self.voices.outer((self.trial.at(note.us), note.pitch)) for note in notes)
        return Remedy(kind, notes[0].us, notes[-1].us, Fraction(each * len(notes) + 2 * outer), notes=notes)


def _heavy(
    trial: Trial, passages: Sequence[Passage], time_map: TimeMap | None
) -> tuple[Heavy, dict[Passage, Loads]]:
    """The loads at the written tempo of the passages in which some player has too much at once."""
    from livepedal.advice.remedies.heavy import Heavy  # little music has too much at once

    heavy = Heavy(trial, time_map)
    loads = heavy.loads(AS_WRITTEN)
    return heavy, {
        passage: each
        for passage, each in zip(passages, loads, strict=True)
        if any(one.too_much for one in each)
    }


def _slower(
    heavy: Heavy, load: Load, passage: Passage, before: Monitor, time_map: TimeMap | None
) -> PlaceAdvice:
    """What to do where there is too much at once: the bars of it slower, else the passage that they are in. before:
    the monitor just before that.
    """
    start, end = passage.start, passage.end
    speed = None
    if end - start > SHORT_PASSAGE:
        start = max(start, _bars_around(load.start, time_map)[0])
        end = min(end, _bars_around(load.end, time_map)[1])
        speed = heavy.speed(start, end, passage)
    if speed is None:
        start, end = passage.start, passage.end
        speed = heavy.speed(start, end, passage)
    if speed is None:
        return PlaceAdvice(start, end, (load.start,), (), Hard(None), too_much=True)
    trial, stretch = heavy.trial, Stretch(start, end, speed)
    first, until = trial.at(start), trial.at(end)
    heard, others = trial.heard(before, trial.at(passage.start), first, until, stretch)
    slowed = _slowed(start, end, speed, heard, others=others)
    return PlaceAdvice(start, end, (load.start,), (slowed,), too_much=True)


def _passage_at(passages: Sequence[Passage], us: int) -> Passage:
    return next(passage for passage in reversed(passages) if passage.start <= us)


def _places(
    trial: Trial, troubles: Sequence[int], passages: Sequence[Passage], time_map: TimeMap | None
) -> list[_Place]:
    """Troubles that lie close together are one place."""
    found: list[_Place] = []
    for number in troubles:
        us = trial.attacks[number].us
        passage = _passage_at(passages, us)
        start, end = passage.start, passage.end
        if end - start > SHORT_PASSAGE:
            start, end = _bars_around(us, time_map)
            start, end = max(start, passage.start), min(end, passage.end)
        first = min(trial.at(start), number)
        start = trial.attacks[first].us
        last = found[-1] if found else None
        if last is not None and last.passage == passage and start < last.end:
            troubles = (*last.troubles, number)
            found[-1] = _Place(troubles, last.first, last.start, max(last.end, end), passage, time_map)
        else:
            found.append(_Place((number,), first, start, max(end, us + 1), passage, time_map))
    return found


def _bars_around(us: int, time_map: TimeMap | None) -> tuple[int, int]:
    """The bar of a trouble, and the bar before it where the trouble lies in its first beat: that is where it
    comes from.
    """
    if time_map is None:
        return us - BEFORE, us + AFTER
    place = time_map.place(us)
    start = time_map.us_of_bar(place.bar - (place.beat < 2))
    return start, time_map.us_of_bar(place.bar + 1)
