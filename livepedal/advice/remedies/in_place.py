"""The remedies of one place, each verified by running the model on the changed music.

What a remedy costs the music is common practice, no source: a setting nothing; a glissando next to nothing; a longer
rest, or a few per cent of the tempo, less than a note; a note an octave away less than a note left out; an inner note
less than the lowest; and a second player most of all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from livepedal.advice.judging.stretch import WRITTEN, Stretch
from livepedal.advice.remedies.omit import MOST_FIXED, NoteSearch, octaves_help
from livepedal.advice.remedies.places import LOOKBACK, HardPlace
from livepedal.advice.remedies.remedy import ChangedNote, Hard, PlaceAdvice, Remedy, RemedyKind
from livepedal.advice.remedies.second import SecondSearch
from livepedal.advice.remedies.starting import rest_for, setting_for
from livepedal.advice.remedies.tempo import HALF, SLOWEST, fastest, next_faster, with_room
from livepedal.advice.remedies.trial import Changes, Excerpt, Forks, Run, Survey, Trial
from livepedal.model.findings import Layer, Outcome
from livepedal.model.hands.nearest_setting import nearest_glissando

LAST_RESORT = Fraction(1_000)  # the cost of a second player
MOST_FOR_QUIET = 400  # attacks; where more would be judged each time, no quiet tempo is looked for
BUDGET = 4_000  # attacks that the search for notes may judge for one place
BUDGET_SECOND = 1_500  # the same for a second harp


def slowed(
    start: int, end: int, speed: int, audible: int, quiet: Fraction | None = None, others: int = 0
) -> Remedy:
    """The remedy that the music from `start` to `end` (µs) is played at this speed (thousandths)."""
    cost, ratio = Fraction(WRITTEN - speed, 25), Fraction(speed, WRITTEN)
    return Remedy(
        RemedyKind.TEMPO, start, end, cost, ratio=ratio, audible=audible, quiet=quiet, others=others
    )


class InPlace:
    """The remedies of one place.

    Attributes:
        fastest_speed: the fastest (thousandths of the tempo) that is managed, only just; until `tempo` has run a guess.
        advised_speed: the same with room for an uneven hand.
    """

    def __init__(
        self,
        trial: Trial,
        survey: Survey,
        place: HardPlace,
        run: Run,
        budget: int,
        guess: int | None = None,
    ) -> None:
        """The arguments of the search.

        Args:
            trial: the music.
            survey: of the whole.
            place: the place.
            run: through the music as it is.
            budget: attacks that a search for notes may judge.
            guess: a speed that is likely to be the fastest.
        """
        self.trial = trial
        self.place = place
        self.fastest_speed = guess
        self.advised_speed: int | None = None
        self._survey = survey
        self._run = run
        self._forks: Forks = {number: run.before(number) for number in place.forks}
        self._music = Excerpt(self._forks[place.first], range(place.first, place.until), place.since)
        concerned = range(place.first, max(place.until, trial.at(place.end)))
        self._slower = replace(self._music, layers=survey.slower(trial.number, concerned))
        self._budget = budget

    def advice(self) -> PlaceAdvice:
        """All of them, cheapest first."""
        place = self.place
        moments = tuple(self.trial.attacks[n].us for n in place.troubles)
        searches = (self.starts, self.glissando, self.rest, self.tempo, self.notes, self.second)
        remedies = sorted((one for search in searches for one in search()), key=lambda remedy: remedy.cost)
        hard = None
        if all(remedy.kind is not RemedyKind.TEMPO for remedy in remedies):
            melody: tuple[ChangedNote, ...] = ()
            if all(remedy.kind is RemedyKind.SECOND_HARP for remedy in remedies):
                melody = next(self._notes(octaves=False, melody=True), ())
            hard = Hard(self.advised_speed, melody)
        return PlaceAdvice(place.start, place.end, moments, tuple(remedies), hard)

    def starts(self) -> Iterator[Remedy]:
        """Another setting where one was asked for."""
        asked = self.trial.basis.setting
        setting = None if asked is None else setting_for(self.trial, self.place.until, asked)
        if setting is not None:
            yield Remedy(RemedyKind.SETTING, 0, 0, Fraction(0), setting=setting, asked=asked)

    def glissando(self) -> Iterator[Remedy]:
        """A quick single line one way as a glissando that begins and ends on the same notes.

        The notes that the nearest setting does not have are left out (common practice, no source).
        """
        line = self._line()
        pitches = [self.trial.attacks[number].notes[0][0] for number in line]
        if len(line) <= self.trial.figures.glissando.notes:
            return
        advice = nearest_glissando(pitches, keep=(pitches[0], pitches[-1]))
        gone = {
            (number, pitch): None
            for number, pitch in zip(line, pitches, strict=True)
            if pitch % 12 in advice.left_out
        }
        if not gone or 2 * len(gone) >= len(line):
            return
        if self.trial.plays(self._music, gone):
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

    def tempo(self, lowest: int = SLOWEST) -> Iterator[Remedy]:
        """The fastest tempo for the place, the rest in tempo; lowest: the slowest to try (thousandths)."""
        place = self.place
        border = self.fastest_speed = fastest(self._manages, lowest, guess=self.fastest_speed)
        if border is None:
            return
        faster = Stretch(place.start, place.end, next_faster(border))
        limit, needed = self.trial.needed(self._slower, faster)
        speed = self.advised_speed = with_room(self.trial, border, needed)
        if speed < HALF:
            return
        end, since = self.trial.at(place.end), max(place.first, place.since)
        faults = self._faults(speed, max(end, place.until))
        if any(faults[n] is Outcome.CANNOT for n in faults if since <= n < place.until):
            return
        # What is heard further on, where the music is in tempo, does not concern this place.
        mine = range(since, min(place.until, max(end, place.troubles[-1] + 1)))
        audible = sum(faults[n] is Outcome.AUDIBLE for n in faults if n in mine)
        others = sum(faults[n] is Outcome.CANNOT for n in faults if n < end)  # they belong to other places
        quiet = None
        if audible and mine.stop - place.first <= MOST_FOR_QUIET:
            quiet = fastest(lambda slower: slower < speed and self._quiet(slower, mine), HALF)
        if quiet is not None:
            quiet = with_room(self.trial, quiet, needed)
        share = None if quiet is None or quiet < HALF else Fraction(quiet, WRITTEN)
        found = slowed(place.start, place.end, speed, audible, share, others)
        if limit is not None and speed < border:
            found = replace(found, limit=(self.trial.attacks[limit].us, Fraction(border, WRITTEN)))
        yield found

    def _quiet(self, speed: int, mine: range) -> bool:
        """Whether no pedal is heard in these attacks at a speed."""
        faults = self._faults(speed, mine.stop)
        return not any(faults[n] is Outcome.AUDIBLE for n in faults if n in mine)

    def _faults(self, speed: int, until: int) -> dict[int, Outcome]:
        return self.trial.faults(self._slower, Stretch(self.place.start, self.place.end, speed), until)

    def _manages(self, speed: int) -> bool:
        stretch = Stretch(self.place.start, self.place.end, speed)
        return self.trial.plays(self._slower, stretch=stretch)

    def rest(self) -> Iterator[Remedy]:
        """A longer rest before the passage, where that is what is missing."""
        start = self.place.passage.start
        first = self.trial.at(start)
        if first == 0 or self.place.troubles[0] - first > LOOKBACK:
            return
        trial, attacks = self.trial, range(first, self.place.until)
        layers = self._survey.slower(trial.number, attacks)
        longer = rest_for(trial, Excerpt(self._run.before(first), attacks, layers=layers))
        if longer is not None:
            yield Remedy(RemedyKind.REST, start, start, 2 + Fraction(longer, 1_000_000), longer=longer)

    def notes(self) -> Iterator[Remedy]:
        """Notes an octave away where strings or hands are in trouble, and notes left out."""
        if octaves_help(self._survey.findings, range(self.place.troubles[0], self.place.troubles[-1] + 1)):
            for found in self._notes(octaves=True, melody=False):
                yield self._remedy(RemedyKind.OCTAVE, found, each=3)
        for found in self._notes(octaves=False, melody=False):
            yield self._remedy(RemedyKind.OMIT, found, each=4)

    def second(self) -> Iterator[Remedy]:
        """A second harp."""
        budget = min(self._budget, BUDGET_SECOND)
        deal = SecondSearch(self.trial, self.place, self._forks, budget).best()
        if deal is not None:
            yield Remedy(RemedyKind.SECOND_HARP, deal.start, deal.end, LAST_RESORT, second=deal)

    def _notes(self, octaves: bool, melody: bool) -> Iterator[tuple[ChangedNote, ...]]:
        if len(self.place.troubles) <= MOST_FIXED:
            missing = {
                (number, finding.note)
                for number in self.place.troubles
                for finding in self._survey.findings[number]
                if finding.layer is Layer.STRINGS
            }
            search = NoteSearch(
                self.trial,
                self.place,
                self._forks,
                self._budget,
                octaves=octaves,
                melody=melody,
                missing=missing,
            )
            yield from map(self._changed, search.ways())

    def _changed(self, changes: Changes) -> tuple[ChangedNote, ...]:
        return tuple(
            ChangedNote(self.trial.attacks[number].us, pitch, to)
            for (number, pitch), to in sorted(changes.items())
        )

    def _remedy(self, kind: RemedyKind, notes: tuple[ChangedNote, ...], each: int) -> Remedy:
        """The remedy of some changed notes; `each`: what one costs."""
        outer = sum(self.trial.voices.outer((self.trial.at(note.us), note.pitch)) for note in notes)
        return Remedy(kind, notes[0].us, notes[-1].us, Fraction(each * len(notes) + 2 * outer), notes=notes)
