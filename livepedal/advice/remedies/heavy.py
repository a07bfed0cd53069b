"""Too much at once at other tempos: how slow it has to be for the feet to keep up.

The load of a passage (model/load.py) comes from the pedal changes of its plan, in real time. So at another tempo
everything is done again as `check` does it: the verdicts, the plan, the load. That takes long. So a tempo is looked
for with the attacks of the passage alone, by plans that are good but not the best, and then tried in the whole part.

Slower is hardly ever more at once, since the same changes are spread over a longer time; but the plan may make
other changes at another tempo, so this is no law. The tempo that is given was judged as it is given.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from livepedal.advice.judging.burden import burdens_of
from livepedal.advice.judging.part import beats_of, plan_for_all
from livepedal.advice.judging.stretch import WRITTEN, Stretch
from livepedal.advice.remedies.tempo import HALF, STEP, PlayerTempo, fastest
from livepedal.advice.remedies.trial import Trial
from livepedal.model.findings import Passage
from livepedal.model.load import Load
from livepedal.music.attacks import Gathered, events_of
from livepedal.music.timemap import TimeMap

MOST_DOWN = 5  # per cents that the whole may have to be slower than the passage by itself

Loads = tuple[Load, Load, Load]


class Heavy:
    """The loads of one part at other tempos."""

    def __init__(self, trial: Trial, time_map: TimeMap | None = None) -> None:
        """With a time map the plan puts changes on beats."""
        self.trial = trial
        self.time_map = time_map
        self._known: dict[tuple[Stretch, int | None, range | None], tuple[Loads, ...]] = {}

    def loads(
        self, stretch: Stretch, wanted: int | None = None, alone: range | None = None
    ) -> tuple[Loads, ...]:
        """The loads of the three players in each passage, with some of the music slower.

        Args:
            stretch: which music is slower.
            wanted: the number of the only player whose loads are wanted; those of the others mean nothing then.
            alone: the only attacks that are played, by a plan that is good but not the best.
        """
        key = stretch, wanted, alone
        if key not in self._known:
            self._known[key] = self._judged(*key)
        return self._known[key]

    def _judged(self, stretch: Stretch, wanted: int | None, alone: range | None) -> tuple[Loads, ...]:
        trial = self.trial
        some = trial.attacks if alone is None else trial.attacks[alone.start : alone.stop]
        attacks = tuple(_stretched(attack, stretch) for attack in some)
        setting = None if alone is not None and alone.start else trial.basis.setting
        monitor = trial.everybody(setting)
        for event in events_of(attacks):
            monitor.feed(event)
        monitor.finish()
        plans = plan_for_all(
            attacks,
            replace(trial.basis, setting=setting),
            monitor.record.troubles,
            None if self.time_map is None else beats_of(self.time_map, stretch),
            wanted=wanted,
            thorough=alone is None,
            start_us=trial.begin_us,
        )
        burdens = burdens_of(monitor.passages, plans, trial.players, trial.figures)
        return tuple(burden.loads for burden in burdens)

    def _bearable(
        self, number: int, stretch: Stretch, passage: Passage | None, alone: range | None = None
    ) -> bool:
        """Whether a player has nowhere too much at once in a passage, or in the whole part."""
        start, end = (0, None) if passage is None else (stretch.at(passage.start), stretch.at(passage.end))
        mine = (loads[number] for loads in self.loads(stretch, number, alone) if loads[number].too_much)
        return not any(start <= load.start and (end is None or load.start <= end) for load in mine)

    def speed(
        self, number: int, passage: Passage, lowest: int, start: int | None = None, end: int | None = None
    ) -> int | None:
        """How slow a passage has to be for a player to have nowhere too much at once in it.

        Args:
            number: of the player, 0 to 2.
            passage: the passage; None: the whole part.
            lowest: the slowest speed to try (thousandths of the tempo).
            start, end: the only music in it that is slower (µs).
            start: where the slower music starts (µs).
            end: where it ends (µs).

        Returns:
            Thousandths of the tempo; None: not at `lowest` either.
        """
        trial = self.trial
        alone = range(trial.at(passage.start), trial.at(passage.end + 1))

        def bearable(speed: int, alone: range | None = None) -> bool:
            stretch = Stretch(
                passage.start if start is None else start, passage.end if end is None else end, speed
            )
            return self._bearable(number, stretch, passage, alone)

        return _from(fastest(lambda speed: bearable(speed, alone), lowest), bearable)

    def tempos(
        self, tempos: Sequence[PlayerTempo], written: Mapping[Passage, Loads], whole: bool
    ) -> tuple[PlayerTempo, ...]:
        """How fast each player manages some passages, the load included.

        Args:
            tempos: the same without it.
            written: the passages in which some player has too much at the written tempo, with the loads there.
            whole: whether they are told for the whole part.
        """
        found = []
        for number, tempo in enumerate(tempos):
            speed = tempo.speed if tempo.sensible else None
            for passage, loads in written.items():
                if speed is not None and loads[number].too_much:
                    speed = self.at_most(number, passage, speed)
            if whole and number == self.trial.number and speed != tempo.speed:
                speed = _from(speed, self._whole_bearable)
            found.append(tempo if speed is None and not tempo.sensible else replace(tempo, speed=speed))
        return tuple(found)

    def _whole_bearable(self, speed: int) -> bool:
        return self._bearable(self.trial.number, Stretch(self.trial.begin_us, None, speed), None)

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
