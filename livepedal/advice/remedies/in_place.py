"""The remedies of one place, each verified by running the model on the changed music.

What a remedy costs the music is common practice, no source: a setting nothing, a few per cent of the tempo less
than a note, a note an octave away less than a note left out, an inner note less than the lowest, and a second
player most of all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

from livepedal.advice.judging.stretch import WRITTEN, Stretch
from livepedal.advice.remedies.omit import MOST_FIXED, NoteChanges, NoteSearch, Voices, octaves_help
from livepedal.advice.remedies.places import LOOKBACK, Spot
from livepedal.advice.remedies.remedy import ChangedNote, Hard, PlaceAdvice, Remedy, RemedyKind
from livepedal.advice.remedies.second import SecondSearch
from livepedal.advice.remedies.starting import rest_for, setting_for
from livepedal.advice.remedies.tempo import FINE, HALF, STEP, fastest, with_margin
from livepedal.advice.remedies.trial import UNCHANGED, Trial
from livepedal.model.findings import Finding
from livepedal.model.hands.glissando import advise as nearest_setting
from livepedal.model.monitor import Monitor

LAST_RESORT = Fraction(1_000)  # the cost of a second player
NEAR = 24  # attacks after a place that a tempo has to get over before it is judged all the way
EASILY_HEARD = 400  # attacks; where more would be fed each time, no quiet tempo is looked for
BUDGET = 4_000  # attacks that the search for notes may feed for one place
BUDGET_SECOND = 1_500  # the same for a second harp


def slowed(
    start: int, end: int, speed: int, audible: int, quiet: Fraction | None = None, others: int = 0
) -> Remedy:
    """The remedy that the music from `start` to `end` (µs) is played at this speed (thousandths)."""
    cost = Fraction(WRITTEN - speed, 25)
    ratio = Fraction(speed, WRITTEN)
    return Remedy(
        RemedyKind.TEMPO, start, end, cost, ratio=ratio, audible=audible, quiet=quiet, others=others
    )


class InPlace:
    """The remedies of one place."""

    def __init__(
        self,
        trial: Trial,
        voices: Voices,
        findings: dict[int, tuple[Finding, ...]],
        spot: Spot,
        passage_start: Monitor,
    ) -> None:
        """findings: by attack, what stands against it; passage_start: all players just before the place's passage."""
        self.trial = trial
        self.voices = voices
        self.findings = findings
        self.spot = spot
        self.place = spot.place
        self.until = spot.until
        self.before = spot.forks[spot.place.first]
        self.passage_start = passage_start
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
            setting = setting_for(trial, self.until, asked)
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
        if self._plays(self.until, changes=gone):
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
        needed = self.trial.needed(self.before, place.first, near, above, place.since)

        def roomy(speed: int) -> int:
            return with_margin(speed, needed, self.trial.figures.tempo.uneven)

        self.told = roomy(self.speed)
        if self.told >= HALF and self._manages(self.told, self.until):
            yield slowed(place.start, place.end, self.told, *self._heard(self.told, roomy))

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
        return self._plays(until, stretch=Stretch(self.place.start, self.place.end, speed))

    def _plays(self, until: int, changes: NoteChanges = UNCHANGED, stretch: Stretch | None = None) -> bool:
        """Whether nothing of the place is in trouble, with some notes changed or some of the music slower."""
        first, since = self.place.first, self.place.since
        return self.trial.first_trouble(self.before, first, until, changes, stretch, since=since) is None

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
        deal = SecondSearch(self.trial, self.spot, min(self.spot.budget, BUDGET_SECOND)).best()
        if deal is not None:
            yield Remedy(RemedyKind.SECOND_HARP, deal.start, deal.end, LAST_RESORT, second=deal)

    def _notes(self, octaves: bool, melody: bool) -> Iterator[tuple[ChangedNote, ...]]:
        if len(self.place.troubles) <= MOST_FIXED:
            for changes in NoteSearch(self.trial, self.voices, self.spot, octaves, melody).ways():
                yield self._changed(changes)

    def _changed(self, changes: NoteChanges) -> tuple[ChangedNote, ...]:
        return tuple(
            ChangedNote(self.trial.attacks[number].us, pitch, to)
            for (number, pitch), to in sorted(changes.items())
        )

    def _remedy(self, kind: RemedyKind, notes: tuple[ChangedNote, ...], each: int) -> Remedy:
        outer = sum(self.voices.outer((self.trial.at(note.us), note.pitch)) for note in notes)
        return Remedy(kind, notes[0].us, notes[-1].us, Fraction(each * len(notes) + 2 * outer), notes=notes)
