"""Too much at once at other tempos: how slow it has to be for the feet to keep up.

The load of a passage (model/load.py) comes from the pedal changes of its plan, by real time. So at another tempo
everything is done again as `check` does it: the verdicts, the plan, the load. That is dear, so it is asked only
where the written tempo is too much, and of a long part first for the passages that are, each by itself; what was
found is then tried in the whole.

Slower is hardly ever more at once, since the same changes are spread over a longer time; but the plan may make
other changes at another tempo, so this is no law. The tempo that is told was judged as it is told.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from livepedal.advice.judging.burden import burdens_of
from livepedal.advice.judging.part import beats_of, plan_for_all
from livepedal.advice.judging.stretch import WRITTEN, Stretch
from livepedal.advice.remedies.tempo import HALF, SLOWEST, STEP, PlayerTempo, fastest
from livepedal.advice.remedies.trial import Trial
from livepedal.model.findings import Passage
from livepedal.model.load import Load
from livepedal.music.attacks import Gathered, events_of
from livepedal.music.timemap import TimeMap

SHORT = 400  # attacks; a part of so many is always judged as a whole
MOST_DOWN = 5  # per cents that the whole may have to be slower than the passage by itself

Loads = tuple[Load, Load, Load]


class Heavy:
    """The loads of one part at other tempos."""

    def __init__(self, trial: Trial, time_map: TimeMap | None = None) -> None:
        """time_map: by which the plan puts changes on beats; None where nobody counts."""
        self.trial = trial
        self.time_map = time_map
        self._known: dict[tuple[int | None, int, int, Stretch, bool], tuple[Loads, ...]] = {}

    def loads(
        self,
        stretch: Stretch,
        first: int = 0,
        until: int | None = None,
        number: int | None = None,
        quick: bool = False,
    ) -> tuple[Loads, ...]:
        """The loads of the three players in each passage, with some of the music slower.

        Args:
            first, until: only these attacks are played; the others are as if they were not there.
            number: of the only player whose loads are wanted; those of the others mean nothing then.
            quick: by plans that are good, not the best.
        """
        until = len(self.trial.attacks) if until is None else until
        key = number, first, until, stretch, quick
        if key not in self._known:
            self._known[key] = self._judged(stretch, first, until, number, quick)
        return self._known[key]

    def _judged(
        self, stretch: Stretch, first: int, until: int, number: int | None, quick: bool
    ) -> tuple[Loads, ...]:
        trial = self.trial
        attacks = tuple(_stretched(attack, stretch) for attack in trial.attacks[first:until])
        setting = trial.setting if first == 0 else None
        monitor = trial.everybody(setting)
        for event in events_of(attacks):
            monitor.feed(event)
        monitor.finish()
        trial.fed += len(attacks)
        plans = plan_for_all(
            attacks,
            replace(trial.basis, setting=setting),
            monitor.record.troubles,
            None if self.time_map is None else beats_of(self.time_map, stretch),
            wanted=number,
            thorough=not quick,
            start_us=trial.begin_us,
        )
        burdens = burdens_of(monitor.passages, plans, trial.players, trial.figures)
        return tuple(burden.loads for burden in burdens)

    def too_much(
        self,
        number: int,
        stretch: Stretch,
        start: int,
        end: int | None,
        first: int,
        until: int,
        quick: bool = False,
    ) -> bool:
        """Whether a player has too much at once anywhere in some music, with some of it slower.

        Args:
            number: of the player (0 to 2, the relaxed first).
            start, end: of the music, as written (µs).
            first, until, quick: as for `loads`.
        """
        low, high = stretch.at(start), None if end is None else stretch.at(end)
        return any(
            loads[number].too_much
            and low <= loads[number].start
            and (high is None or loads[number].start <= high)
            for loads in self.loads(stretch, first, until, number, quick)
        )

    def speed(self, start: int, end: int, passage: Passage) -> int | None:
        """How fast the music from `start` to `end` (µs) can be for the player of the trial, so that there is nowhere
        too much at once in its passage.

        Returns:
            Thousandths of the tempo; below half of it it is no remedy. None: not even then.
        """
        number, whole = self.trial.number, (passage.start, passage.end)

        def manages(speed: int) -> bool:
            span = self._span(*whole)
            return not self.too_much(number, Stretch(start, end, speed), *whole, *span, quick=True)

        def in_place(speed: int) -> bool:
            everything = 0, len(self.trial.attacks)
            return not self.too_much(number, Stretch(start, end, speed), *whole, *everything)

        speed = fastest(manages, tried=True)
        near = _near(None if speed is None or speed < HALF else speed, in_place)
        hard = near is None and speed is not None and speed < HALF
        return _near(speed, in_place) if hard else near

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
                    speed = self.slower(number, passage, speed)
            if whole and number == self.trial.number and speed != tempo.speed:
                speed = _near(speed, self._whole, up=False)
            found.append(tempo if speed is None and not tempo.sensible else replace(tempo, speed=speed))
        return tuple(found)

    def _whole(self, speed: int) -> bool:
        """Whether the player of the trial has nowhere too much with all of the part at this speed."""
        everything = 0, len(self.trial.attacks)
        return not self.too_much(
            self.trial.number, Stretch(self.trial.begin_us, None, speed), 0, None, *everything
        )

    def slower(self, number: int, passage: Passage, most: int) -> int | None:
        """How fast (thousandths, at most `most`) the player of this number can play a passage; None: not at all."""
        start, end = passage.start, passage.end
        span = self._span(start, end)

        def manages(speed: int, quick: bool = False) -> bool:
            return speed <= most and not self.too_much(
                number, Stretch(start, end, speed), start, end, *span, quick=quick
            )

        if most < WRITTEN and manages(most):
            return most
        return _near(fastest(lambda speed: manages(speed, quick=True), HALF, tried=True), manages)

    def _span(self, start: int, end: int) -> tuple[int, int]:
        """The attacks to judge for what lies between two moments (µs): all of a short part."""
        if len(self.trial.attacks) <= SHORT:
            return 0, len(self.trial.attacks)
        return self.trial.at(start), self.trial.at(end + 1)


def _stretched(attack: Gathered, stretch: Stretch) -> Gathered:
    notes = tuple((pitch, None if end is None else stretch.at(end)) for pitch, end in attack.notes)
    return replace(attack, us=stretch.at(attack.us), notes=notes)


def _near(speed: int | None, manages: Callable[[int], bool], up: bool = True) -> int | None:
    """The fastest speed close to this one that is managed: what was found by quick plans, and for a passage by
    itself, which may start with the pedals as it likes, is tried for good.
    """
    speed = HALF if speed is None and up else speed
    if speed is None:
        return None
    if manages(speed):
        for faster in range(speed + STEP, WRITTEN if up else 0, STEP):
            if not manages(faster):
                return faster - STEP
        return speed if not up else WRITTEN - STEP
    lowest = max(HALF if speed >= HALF else SLOWEST, speed - MOST_DOWN * STEP)
    for slower in range(speed - STEP, lowest - 1, -STEP):
        if manages(slower):
            return slower
    return None
