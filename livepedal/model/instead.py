"""What could be played instead of an attack that cannot be: the nearest that can, for that attack alone.

From the readings before it, which are at hand, the attack is tried again with one note an octave away, with the note
that broke it a little later, and without one note or two. What follows is not asked: that is for remedies of a whole
passage (advice/remedies/). A case holds copies, so it can be worked out in any thread, whatever is judged meanwhile.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from livepedal.model.feet.chords import Chords
from livepedal.model.feet.tracker import Tracker
from livepedal.model.feet.tunings import Tunings
from livepedal.model.findings import Finding, Layer
from livepedal.model.hands import Hands
from livepedal.model.hands.strokes import Failed
from livepedal.model.monitor import BareMonitor

OCTAVES = (12, -12, 24, -24)  # the nearest first
TENTH = 100_000  # µs


@dataclass(frozen=True, slots=True)
class Instead:
    """What could be played instead of an attack.

    Attributes:
        note: that broke it.
        octave: a note and where it could go.
        later: by how much (µs) the note that broke it could come later, and quarter: the length of a quarter then
            (µs), None where nobody counts.
        without: the notes that could be left out, `every`: whether nothing is left then. All are None or () where
            that does not help.
    """

    note: int
    octave: tuple[int, int] | None = None
    later: int | None = None
    quarter: int | None = None
    without: tuple[int, ...] = ()
    every: bool = False


@dataclass(frozen=True, slots=True)
class Case:
    """One attack that a player cannot play.

    Attributes:
        finding: what is told of it.
        number: of the player, the relaxed is 0.
        tracker: of that player, with strings sliding.
        hands: None where they are not judged; strung: whether pedals are.
    """

    finding: Finding
    number: int
    tracker: Tracker
    hands: Hands | None
    tunings: Tunings
    chords: Chords
    feet: bool

    @classmethod
    def of(cls, monitor: BareMonitor, finding: Finding) -> Case:
        """The open attack of a monitor, of which this finding says that it cannot be played."""
        return cls(
            finding,
            monitor.number,
            monitor.tracker(held=False).fork(),
            None if monitor.hands is None else monitor.hands.fork(),
            monitor.tunings.fork(),
            monitor.chords,
            bool(monitor.feet.trackers),
        )

    def instead(self, quarter: int | None, until: int | None = None) -> Instead:
        """The nearest ways out.

        Args:
            quarter: its length (µs): the note is tried later by semiquavers up to a quarter; None: by tenths of a
                second up to one.
            until: where the next attack stands (µs), if that is known: no note can come later than that.
        """
        finding = self.finding
        steps = 4 if quarter else 10
        delays = [(quarter or 10 * TENTH) * n // steps for n in range(1, steps + 1)]
        if until is not None:
            delays = [delay for delay in delays if finding.us + delay < until]
        octave = None if finding.layer is Layer.PEDALS else next(self._octaves(), None)
        later = next((delay for delay in delays if self._plays_later(delay)), None)
        without = next(self._without(), ())
        every = len(without) == len(finding.pitches)
        return Instead(finding.note, octave, later, quarter, without, every)

    def _inner_first(self) -> list[int]:
        """The note that broke it, then the others, inner ones before the lowest, the highest last."""
        low, *inner = sorted(set(self.finding.pitches))
        order = [*inner[:-1], low, *inner[-1:]]
        return sorted(order, key=lambda pitch: pitch != self.finding.note)

    def _octaves(self) -> Iterator[tuple[int, int]]:
        pitches = self.finding.pitches
        for note in self._inner_first():
            rest = [pitch for pitch in pitches if pitch != note]
            for octave in OCTAVES:
                if note + octave not in rest and self._plays([*rest, note + octave]):
                    yield note, note + octave

    def _without(self) -> Iterator[tuple[int, ...]]:
        order = self._inner_first()
        for count in range(1, min(2, len(order)) + 1):
            for gone in combinations(order, count):
                if self._plays([pitch for pitch in self.finding.pitches if pitch not in gone]):
                    yield gone

    def _plays(self, pitches: Sequence[int]) -> bool:
        """Whether the attack could be played with these notes."""
        us, tracker = self.finding.us, self.tracker
        held = tuple(sorted(set(pitches)))
        if any(not 0 <= pitch < 128 or self.chords.options[pitch] is None for pitch in held):
            return False
        if self.tunings.fork().judge(held, us):
            return False
        if self.feet:
            ways, left_out = self.chords.most_of(held)
            if left_out or (held and not tracker.attempt(tracker.before, ways, us)):
                return False
        if self.hands is None or not held:
            return True
        return not _strike(self.hands.fork(), held, us)[self.number]

    def _plays_later(self, delay: int) -> bool:
        """Whether the note that broke it can be played so much later (µs), and the rest in time."""
        us, note = self.finding.us, self.finding.note
        rest = tuple(sorted({*self.finding.pitches} - {note}))
        if self.chords.options[note] is None or self.tunings.fork().judge([*rest, note], us):
            return False
        if not self._plays(rest):
            return False
        if self.feet:
            tracker = self.tracker.fork()
            if rest:
                tracker.judge(self.chords.ways(rest), us)
            else:
                tracker.after = tracker.before
            tracker.open(us + delay)
            if not tracker.attempt(tracker.before, self.chords.ways((note,)), us + delay):
                return False
        if self.hands is None:
            return True
        hands = self.hands.fork()
        if rest:
            _strike(hands, rest, us)
            hands.close()
            hands.open(us + delay)
        return not _strike(hands, (note,), us + delay)[self.number]


def _strike(hands: Hands, pitches: tuple[int, ...], us: int) -> Failed:
    """The open attack has these notes and no others: who cannot play it."""
    hands.take_back()
    for pitch in pitches:
        hands.strike(pitch, us)
    return hands.judge(pitches, us)
