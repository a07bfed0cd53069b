"""Too much at once at other tempos: how slow it has to be for the feet to keep up.

The load of a passage (model/load.py) comes from the pedal changes of its plan, in real time. So at another tempo the
feet are judged, planned for and counted again as `check` does it. That takes long. So a tempo is looked for with the
attacks of the passage alone, by plans that are good but not the best, and then tried in the whole part.

Slower is hardly ever more at once, since the same changes are spread over a longer time; but the plan may make
other changes at another tempo, so this is no law. The tempo that is given was judged as it is given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from livepedal.advice.judging.part import beats_of, planner_for
from livepedal.advice.judging.stretch import AS_WRITTEN, WRITTEN, Stretch
from livepedal.advice.remedies.tempo import HALF, STEP, PlayerTempo, fastest
from livepedal.advice.remedies.trial import Trial
from livepedal.model.findings import Layer, Outcome, Passage
from livepedal.model.load import Load, load
from livepedal.music.attacks import events_of
from livepedal.music.timemap import TimeMap

MOST_TRIED = 6  # tempos that are tried in the whole part
AROUND = 10_000_000  # µs before and after too much at once for which a plan is made by itself
FEET = frozenset((Layer.PEDALS, Layer.LOAD))


class Heavy:
    """What is too much at once in one part at other tempos."""

    def __init__(self, trial: Trial, time_map: TimeMap | None = None) -> None:
        """With a time map the plan puts changes on beats."""
        self.trial = trial
        self.time_map = time_map
        self._known: dict[tuple[int, Stretch], tuple[Load, ...]] = {}

    def too_much(self, number: int, stretch: Stretch = AS_WRITTEN) -> tuple[Load, ...]:
        """What is too much at once for a player (0 to 2) with some of the music slower, one for each passage."""
        key = number, stretch
        if key not in self._known:
            self._known[key] = self._judged(*key)
        return self._known[key]

    def _judged(self, number: int, stretch: Stretch, alone: range | None = None) -> tuple[Load, ...]:
        """The same; alone: the only attacks that are played, by a plan that is good but not the best."""
        trial = self.trial
        music = trial.music(alone or range(len(trial.attacks)), stretch)
        setting = None if alone is not None and alone.start else trial.basis.setting
        events = events_of(music.attacks)
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
            music.attacks,
            setting,
            trial.begin_us,
            beats=None if self.time_map is None else beats_of(self.time_map, stretch),
            thorough=alone is None,
            music=music,
            cannot={us for us, outcomes in monitor.record.troubles if outcomes[who] is Outcome.CANNOT},
        )
        moved = [change.us for change in plan.changes]
        player, figures = trial.players[number], trial.figures.load
        loads = (load(one.start, one.end, moved, player, figures) for one in monitor.passages)
        return tuple(most for most in loads if most.too_much)

    def speed(
        self,
        number: int,
        passage: Passage,
        loads: Sequence[Load],
        lowest: int,
        slower: Stretch | None = None,
        most: int = WRITTEN,
    ) -> int | None:
        """How slow a passage has to be for a player to have nowhere too much at once in it.

        Args:
            number: of the player, 0 to 2.
            passage: the passage.
            loads: what is too much in it as it is written.
            lowest: the slowest speed to try (thousandths of the tempo).
            slower: the only music in it that is slower.
            most: the fastest speed, which is tried first.

        Returns:
            Thousandths of the tempo; None: not at `lowest` either.
        """
        slower = slower or Stretch(passage.start, passage.end)
        speed = most
        for _ in range(MOST_TRIED):
            stretch = replace(slower, speed=speed)
            if speed < WRITTEN:
                start, end = stretch.at(passage.start), stretch.at(passage.end)
                loads = [one for one in self.too_much(number, stretch) if start <= one.start <= end]
                loads = [
                    replace(one, start=stretch.back(one.start), end=stretch.back(one.end)) for one in loads
                ]
            if not loads:  # a passage has one finding of this kind, which goes only with all that is too much
                return speed
            below = speed
            for heaviest in loads:
                limit = self._by_itself(number, passage, heaviest, slower, lowest, below)
                if limit is None:
                    return None
                speed = min(speed, limit)
        return None

    def _by_itself(
        self, number: int, passage: Passage, load: Load, slower: Stretch, lowest: int, below: int
    ) -> int | None:
        """The fastest speed below another at which what is too much at once in a passage is not, by itself."""
        trial = self.trial
        start, end = max(passage.start, load.start - AROUND), min(passage.end, load.end + AROUND)
        around = range(trial.at(start), trial.at(end + 1))
        return fastest(
            lambda speed: speed < below and not self._judged(number, replace(slower, speed=speed), around),
            lowest,
        )

    def tempo(
        self, number: int, tempo: PlayerTempo, loads: Mapping[Passage, Sequence[Load]], whole: bool = False
    ) -> PlayerTempo:
        """How fast a player manages some passages, what is too much at once included.

        Args:
            number: of the player, 0 to 2.
            tempo: the same without it.
            loads: what is too much for them at the written tempo, by passage.
            whole: whether nothing of the whole part may be too much at that tempo.
        """
        speed = tempo.speed
        if not tempo.sensible:
            return tempo
        for passage, some in loads.items():
            if speed is not None:
                speed = self.speed(number, passage, some, HALF, most=speed)
        if whole and speed is not None and speed != tempo.speed:
            speeds = range(speed, speed - MOST_TRIED * STEP, -STEP)
            slower = (Stretch(self.trial.begin_us, None, one) for one in speeds)
            speed = next((one.speed for one in slower if not self.too_much(number, one)), None)
        return replace(tempo, speed=speed)
