"""Too much at once at other tempos: how slow it has to be for the feet to keep up.

The load of a passage (model/load.py) comes from the pedal changes of its plan, in real time. So at another tempo the
feet are judged, planned for and counted again as `check` does it. That takes long. So a tempo is looked for with the
attacks of the passage alone, by plans that are good but not the best, and then tried in the whole part.

Slower is hardly ever more at once, since the same changes are spread over a longer time; but the plan may make
other changes at another tempo, so this is no law. The tempo that is given was judged as it is given.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from livepedal.advice.judging.part import beats_of, planner_for
from livepedal.advice.judging.stretch import AS_WRITTEN, WRITTEN, Stretch
from livepedal.advice.remedies.tempo import HALF, STEP, PlayerTempo, fastest
from livepedal.advice.remedies.trial import Trial
from livepedal.model.findings import Layer, Outcome, Passage
from livepedal.model.load import Load, load
from livepedal.music.attacks import Gathered, events_of
from livepedal.music.timemap import TimeMap

MOST_DOWN = 5  # per cents that the whole may have to be slower than the passage by itself
FEET = frozenset((Layer.PEDALS, Layer.LOAD))


@dataclass(frozen=True, slots=True)
class Judged:
    """What a player has to do at some tempo.

    Attributes:
        too_much: when it is too much at once (µs): the beginning in each passage.
        moved: the written moments of the pedal changes (µs).
    """

    too_much: frozenset[int]
    moved: Sequence[int]


class Heavy:
    """What is too much at once in one part at other tempos."""

    def __init__(self, trial: Trial, time_map: TimeMap | None = None) -> None:
        """With a time map the plan puts changes on beats."""
        self.trial = trial
        self.time_map = time_map
        self._known: dict[tuple[int, Stretch, range | None], Judged] = {}

    def too_much(self, number: int) -> frozenset[int]:
        """When a player (0 to 2) has too much at once as it is written (µs): the beginning in each passage."""
        return self._judged(number, AS_WRITTEN, None).too_much

    def _judged(self, number: int, stretch: Stretch, alone: range | None) -> Judged:
        """What a player has to do with some of the music slower.

        Args:
            number: of the player, 0 to 2.
            stretch: which music is slower.
            alone: the only attacks that are played, by a plan that is good but not the best.
        """
        key = number, stretch, alone
        if key not in self._known:
            self._known[key] = self._judge(*key)
        return self._known[key]

    def _judge(self, number: int, stretch: Stretch, alone: range | None) -> Judged:
        trial = self.trial
        some = trial.attacks if alone is None else trial.attacks[alone.start : alone.stop]
        attacks = tuple(_stretched(attack, stretch) for attack in some)
        setting = None if alone is not None and alone.start else trial.basis.setting
        events = events_of(attacks)
        # Where a slower player can play everything without a slide, that plan does for the quicker ones too.
        for who in range(number + 1):
            monitor = trial.everybody(setting).alone(who, FEET, audible=True)
            for event in events:
                monitor.feed(event)
                if who < number and monitor.record.troubles:
                    break
            monitor.finish()
            if not monitor.record.troubles:
                break
        plan = planner_for(trial.basis, trial.players[who]).plan(
            attacks,
            setting,
            trial.begin_us,
            beats=None if self.time_map is None else beats_of(self.time_map, stretch),
            thorough=alone is None,
            cannot={us for us, outcomes in monitor.record.troubles if outcomes[who] is Outcome.CANNOT},
        )
        moved = [change.us for change in plan.changes]
        loads = [self._load(number, passage, moved) for passage in monitor.passages]
        return Judged(
            frozenset(most.start for most in loads if most.too_much), [stretch.back(us) for us in moved]
        )

    def _load(
        self, number: int, passage: Passage, moved: Iterable[int], stretch: Stretch = AS_WRITTEN
    ) -> Load:
        start, end = stretch.at(passage.start), stretch.at(passage.end)
        player, figures = self.trial.players[number], self.trial.figures
        return load(start, end, map(stretch.at, moved), player, figures.load)

    def _bearable(
        self, number: int, stretch: Stretch, passage: Passage | None, alone: range | None = None
    ) -> bool:
        """Whether a player has nowhere too much at once in a passage, or in the whole part."""
        starts = self._judged(number, stretch, alone).too_much
        if passage is None:
            return not starts
        return not any(stretch.at(passage.start) <= us <= stretch.at(passage.end) for us in starts)

    def speed(self, number: int, passage: Passage, lowest: int, slower: Stretch | None = None) -> int | None:
        """How slow a passage has to be for a player to have nowhere too much at once in it.

        Args:
            number: of the player, 0 to 2.
            passage: the passage.
            lowest: the slowest speed to try (thousandths of the tempo).
            slower: the only music in it that is slower.

        Returns:
            Thousandths of the tempo; None: not at `lowest` either.
        """
        trial = self.trial
        alone = range(trial.at(passage.start), trial.at(passage.end + 1))
        slower = slower or Stretch(passage.start, passage.end)

        def bearable(speed: int, alone: range | None = None) -> bool:
            return self._bearable(number, replace(slower, speed=speed), passage, alone)

        first = next((speed for speed in (HALF, lowest) if bearable(speed, alone)), None)
        if first is None:
            return None
        # Nearly always the same changes are made a little faster.
        moved = self._judged(number, replace(slower, speed=first), alone).moved
        guess = fastest(
            lambda speed: not self._load(number, passage, moved, replace(slower, speed=speed)).too_much,
            lowest,
        )
        return _from(fastest(lambda speed: bearable(speed, alone), lowest, guess=guess), bearable)

    def tempo(
        self, number: int, tempo: PlayerTempo, written: Collection[Passage], whole: bool = False
    ) -> PlayerTempo:
        """How fast a player manages some passages, the load included.

        Args:
            number: of the player, 0 to 2.
            tempo: the same without it.
            written: the passages in which they have too much at the written tempo.
            whole: whether nothing of the whole part may be too much at that tempo.
        """
        if not tempo.sensible:
            return tempo
        speed = tempo.speed
        for passage in written:
            if speed is not None:
                speed = self.at_most(number, passage, speed)
        if whole and speed != tempo.speed:
            speed = _from(
                speed,
                lambda speed: self._bearable(number, Stretch(self.trial.begin_us, None, speed), None),
            )
        return replace(tempo, speed=speed)

    def at_most(self, number: int, passage: Passage, most: int) -> int | None:
        """How fast a player can play a passage: at most this speed, at least half the tempo; None: not at all."""
        stretch = Stretch(passage.start, passage.end, most)
        if most < WRITTEN and self._bearable(number, stretch, passage):
            return most
        speed = self.speed(number, passage, HALF)
        return None if speed is None else min(speed, most)


def _stretched(attack: Gathered, stretch: Stretch) -> Gathered:
    notes = tuple((pitch, None if end is None else stretch.at(end)) for pitch, end in attack.notes)
    return replace(attack, us=stretch.at(attack.us), notes=notes)


def _from(speed: int | None, bearable: Callable[[int], bool]) -> int | None:
    """The fastest of this speed and those just below it that is bearable."""
    if speed is None:
        return None
    slower = range(speed, speed - MOST_DOWN * STEP - 1, -STEP)
    return next((one for one in slower if bearable(one)), None)
