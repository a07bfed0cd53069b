"""Another start: another setting of the pedals, or a longer rest before.

A verdict already takes the best setting there is, unless one was asked for: then another one may help. The nearest
ones are tried first, by how many pedals differ, then the one that the plan would start with. And where a passage could
be played if only the pedals were set right at its beginning, a longer rest before it gives the feet their time.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product

from livepedal.advice.judging.part import planner_for
from livepedal.advice.judging.stretch import Stretch
from livepedal.advice.remedies.tempo import border
from livepedal.advice.remedies.trial import Excerpt, Trial
from livepedal.harp import Pedal, Position, Setting

MOST_MOVED = 2  # pedals that are tried elsewhere; beyond that the plan is asked
PLANNED = 300  # attacks that are planned for a setting
LONGEST_REST = 8_000_000  # µs that a rest may be made longer
REST_STEP = 100_000  # µs


def setting_for(trial: Trial, until: int, asked: Setting) -> Setting | None:
    """The nearest setting to the one asked for with which the attacks before `until` can be played, if any."""

    def plays(setting: Setting | None) -> bool:
        return trial.plays(Excerpt(trial.fresh(setting), range(until)))

    if not plays(None):
        return None
    near = next(filter(plays, _near(asked)), None)
    if near is not None:
        return near
    music = trial.music(min(until, PLANNED))
    setting = planner_for(trial.basis).plan(music.attacks, music=music).setting
    return setting if plays(setting) else None


def _near(asked: Setting) -> Iterator[Setting]:
    """Settings that differ in one pedal, then in two; one notch before two, flats before sharps."""
    for count in range(1, MOST_MOVED + 1):
        found: list[tuple[int, int, Setting]] = []
        for pedals in combinations(Pedal, count):
            places = [[p for p in Position if p is not asked.positions[pedal]] for pedal in pedals]
            for chosen in product(*places):
                setting, notches = asked, 0
                for pedal, position in zip(pedals, chosen, strict=True):
                    here = asked.positions[pedal]
                    notches += abs(position - (here if here is not None else position))
                    setting = setting.replace(pedal, position)
                found.append((notches, sum(chosen), setting))
        found.sort(key=lambda item: item[:2])
        yield from (setting for *_, setting in found)


def rest_for(trial: Trial, music: Excerpt) -> int | None:
    """How much longer (µs, in tenths of a second) the rest before some music has to be; None: that does not help."""

    def manages(longer: int) -> bool:
        later = Stretch(trial.attacks[music.attacks.start].us, later=longer)
        return trial.plays(music, stretch=later)

    return border(manages, LONGEST_REST, 0, REST_STEP) if manages(LONGEST_REST) else None
