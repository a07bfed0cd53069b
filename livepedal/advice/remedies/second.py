"""A second harp for one place: what it would have to play so that both players can play what is left to them.

The plainest deal comes first: the second player has some bars, as few as will do, and the first one rests;
else the second has one pitch class in the bars around the trouble, such as every G♯, and the first all else;
else the two share a single line note by note, each with one of the two whole-tone scales, whose notes seven strings
hold without any pedal change;
else the notes below, or from, some height; else two pitch classes; and at last the bars where that turn is
too short to sound seamless. Each is tried: the first player from the readings as they stood, without those
notes, on until the next trouble that the music has anyway; the second with these notes alone, and with all
the time before them to set the pedals. `share` deals a whole part to two players; this is about one place.

A way for the feet to play some notes is a way to play fewer of them. So where the feet fail for some notes, no deal is
tried that gives that player all of them and more.

What is plain, and in which order it comes, is common practice, no source: an orchestra's second harp most
often comes in for some bars, while the first sets its pedals.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

from livepedal.advice.remedies.places import HardPlace
from livepedal.advice.remedies.trial import FEET, HANDS, Excerpt, Forks, Trial, last_fork
from livepedal.advice.remedies.voices import Note
from livepedal.model.findings import Layer
from livepedal.music.attacks import events_of

MOST_BARS = 9  # bar lines between which whole bars are tried
HEIGHTS = 5  # pitches that are tried as the border between the players
PAIRED = 6  # pitch classes that are tried in pairs, those in trouble first

WHOLE_TONES = (tuple(range(1, 12, 2)), tuple(range(0, 12, 2)))


@dataclass(frozen=True, slots=True)
class SecondHarp:
    """What the second harp has from `start` to before `end` (µs): everything, unless classes or a height are given.

    Attributes:
        notes: how many.
        classes: these pitch classes only.
        below, above: only the notes below, or from, this MIDI number.
        quick: its turn is so short that two hand-overs will not sound seamless.
    """

    start: int
    end: int
    notes: int
    classes: tuple[int, ...] = ()
    below: int | None = None
    above: int | None = None
    quick: bool = False

    def has(self, us: int, pitch: int) -> bool:
        """Whether the second harp plays a note of this moment."""
        if not self.start <= us < self.end:
            return False
        if self.classes:
            return pitch % 12 in self.classes
        if self.below is not None:
            return pitch < self.below
        return self.above is None or pitch >= self.above


class SecondSearch:
    """Looks for what a second harp could take over in one place."""

    def __init__(self, trial: Trial, place: HardPlace, forks: Forks, budget: int) -> None:
        """The arguments of the search.

        Args:
            trial: the music.
            place: the place.
            forks: before each attack of `place.forks`.
            budget: attacks that it may judge.
        """
        self.trial = trial
        self.place = place
        self.troubles = place.troubles
        self.lines = place.lines  # where handing over is easy
        self._forks = forks
        self._limit = trial.judged + budget
        self._too_many: list[frozenset[Note]] = []  # for the second harp
        self._too_few: list[frozenset[Note]] = []  # since the first cannot play the rest

    def best(self) -> SecondHarp | None:
        """The plainest deal with which both can play."""
        for deal in self._deals():
            if self.trial.judged > self._limit:
                return None
            if deal.notes and self._both_play(deal):
                return deal
        return None

    def _both_play(self, deal: SecondHarp) -> bool:
        theirs = self._notes(deal)
        if any(some <= theirs for some in self._too_many) or any(theirs <= some for some in self._too_few):
            return False
        struck = sum(len(self.trial.attacks[number].notes) for number in self._inside(deal))
        # Feet are judged sooner than hands, and who has more to play is sooner in trouble.
        order = [(self._second_plays, self._too_many), (self._first_plays, self._too_few)]
        if 2 * deal.notes < struck:
            order.reverse()
        for plays, failed in order:
            if not plays(theirs, FEET):
                failed.append(theirs)
                return False
        return all(plays(theirs, HANDS) for plays, _ in order)

    def _second_plays(self, theirs: frozenset[Note], layers: frozenset[Layer]) -> bool:
        """Whether the second can play these notes, with nothing before them: there was time to set the pedals."""
        trial = self.trial
        attacks = [
            trial.attacks[n].of(tuple(note for note in trial.attacks[n].notes if (n, note[0]) in theirs))
            for n in sorted({number for number, _ in theirs})
        ]
        monitor = trial.fresh().alone(layers=layers)
        for _ in trial.play(monitor, events_of(attacks)):
            if layers is FEET and monitor.counts()[trial.number].unplayable:
                return False
        monitor.finish()  # what the hands could not do may have been the beginning of a figuration
        return not monitor.counts()[trial.number].unplayable

    def _first_plays(self, theirs: frozenset[Note], layers: frozenset[Layer]) -> bool:
        """Whether the first can play on without these notes."""
        begin = last_fork(self._forks, min(theirs)[0])
        music = Excerpt(self._forks[begin], range(begin, self.place.until), self.place.since, layers)
        return self.trial.plays(music, dict.fromkeys(theirs))

    def _deals(self) -> Iterator[SecondHarp]:
        whole, quick = self._whole_bars()
        yield from whole
        attacks, troubles = self.trial.attacks, self.troubles
        start = max((line for line in self.lines if line <= attacks[troubles[0]].us), default=self.lines[0])
        end = min((line for line in self.lines if line > attacks[troubles[-1]].us), default=self.lines[-1])
        around = SecondHarp(start, end, 0)
        inside = self._inside(around)
        classes = self._classes(inside)
        for pitch_class in classes:
            yield self._counted(replace(around, classes=(pitch_class,)))
        for scale in WHOLE_TONES:
            yield self._counted(replace(around, classes=scale))
        pitches = sorted(pitch for n in inside for pitch, _ in attacks[n].notes)
        borders = {pitches[len(pitches) * n // (HEIGHTS + 1)] for n in range(1, HEIGHTS + 1)} - {pitches[0]}
        for border in sorted(borders):
            yield self._counted(replace(around, below=border))
            yield self._counted(replace(around, above=border))
        for two in combinations(classes[:PAIRED], 2):
            yield self._counted(replace(around, classes=two))
        yield from quick

    def _whole_bars(self) -> tuple[list[SecondHarp], list[SecondHarp]]:
        """Bars around the troubles, fewest notes first; and apart from them those that are too quick a turn."""
        attacks, troubles = self.trial.attacks, self.troubles
        # The lines around the first trouble and the last one matter most.
        near = [n for n, line in enumerate(self.lines) if line <= attacks[troubles[0]].us]
        lines = self.lines[max(0, near[-1] - 1 if near else 0) :][:MOST_BARS]
        whole: list[SecondHarp] = []
        quick: list[SecondHarp] = []
        for start, end in combinations(lines, 2):
            if start <= attacks[troubles[-1]].us and end > attacks[troubles[0]].us:
                deal = self._counted(SecondHarp(start, end, 0))
                if self._quick(deal):
                    quick.append(replace(deal, quick=True))
                else:
                    whole.append(deal)
        whole.sort(key=lambda deal: deal.notes)
        quick.sort(key=lambda deal: deal.notes)
        return whole, quick

    def _inside(self, deal: SecondHarp) -> range:
        return range(self.trial.at(deal.start), self.trial.at(deal.end))

    def _counted(self, deal: SecondHarp) -> SecondHarp:
        return replace(deal, notes=len(self._notes(deal)))

    def _notes(self, deal: SecondHarp) -> frozenset[Note]:
        attacks = self.trial.attacks
        return frozenset(
            (n, pitch)
            for n in self._inside(deal)
            for pitch, _ in attacks[n].notes
            if deal.has(attacks[n].us, pitch)
        )

    def _classes(self, inside: range) -> list[int]:
        """The pitch classes struck: those in trouble first, and of them those struck least."""
        attacks = self.trial.attacks
        counts: dict[int, int] = {}
        for n in inside:
            for pitch, _ in attacks[n].notes:
                counts[pitch % 12] = counts.get(pitch % 12, 0) + 1
        troubled = {pitch % 12 for n in self.troubles for pitch, _ in attacks[n].notes}
        return sorted(counts, key=lambda one: (one not in troubled, counts[one], one))

    def _quick(self, deal: SecondHarp) -> bool:
        """Whether the first harp plays right before and right after, and this turn is short."""
        attacks, inside = self.trial.attacks, self._inside(deal)
        seam = self.trial.figures.share.seam
        if not inside or inside.start == 0 or inside.stop >= len(attacks):
            return False
        return attacks[inside.stop].us - attacks[inside.start].us < seam
