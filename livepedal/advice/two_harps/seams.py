"""Where one player can hand over to the other: after rests, at bar lines, on beats, and not inside a run.

A run is a line one way of more notes than a hand places, each no farther from the last than the next string can be.
How quick it has to be, so that nobody would hand it over, is a figure (figures.toml, [share]).
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum

from livepedal.harp import Figures
from livepedal.music.attacks import WIDEST_STEP, Gathered
from livepedal.music.timemap import TimeMap


class Ease(IntEnum):
    """How easily the other player comes in at an attack."""

    NEVER = 0
    IN_RUN = 1  # on a beat, but a run goes on
    BEAT = 2  # or where a run begins
    BAR = 3  # at a bar line, or after a rest
    REST = 4  # at a bar line after a rest


def eases(attacks: Sequence[Gathered], time_map: TimeMap, figures: Figures) -> list[Ease]:
    """How easily the other player comes in at each attack, and after the last one."""
    inside = attacks_inside_runs(attacks, figures)
    found = [
        _ease(attacks[number - 1] if number else None, attack, inside.get(number), time_map, figures)
        for number, attack in enumerate(attacks)
    ]
    for number in inside:
        if number - 1 not in inside:  # where a run begins
            found[number - 1] = max(found[number - 1], Ease.BEAT)
    return [*found, Ease.REST]


def _ease(
    before: Gathered | None, attack: Gathered, run_goes_on: bool | None, time_map: TimeMap, figures: Figures
) -> Ease:
    """The ease of one attack. run_goes_on: past it, where it is inside a run; None: it is in none."""
    place = time_map.place(attack.us + figures.window.attack)
    near = 2 * figures.window.attack * time_map.beats_per_minute(attack.us) / 60_000_000  # beats
    on_beat = place.beat % 1 <= near
    # The note on a beat that a run leads to may be the other player's.
    if run_goes_on or (run_goes_on is not None and not on_beat):
        return Ease.IN_RUN if on_beat else Ease.NEVER
    ends = [end for _, end in before.notes if end is not None] if before else []
    rest = bool(ends) and attack.us - max(ends) >= figures.share.breath
    if place.beat - 1 <= near:
        return Ease.REST if rest else Ease.BAR
    if rest:
        return Ease.BAR
    return Ease.BEAT if on_beat else Ease.NEVER


def attacks_inside_runs(attacks: Sequence[Gathered], figures: Figures) -> dict[int, bool]:
    """The attacks that go on with a run which began before them, and whether one goes on past them.

    The note before one in a line belongs to the attack before it, or where several lines go at once to another one no
    longer ago than from string to string in a glissando.
    """
    inside: dict[int, bool] = {}
    least = figures.glissando.notes
    # Attacks shortly before: moment, and by pitch the last attacks of a line up and of one down to it.
    recent: list[tuple[int, dict[int, tuple[tuple[int, ...], tuple[int, ...]]]]] = []
    for number, attack in enumerate(attacks):
        latest = len(recent)
        recent = [
            earlier
            for place, earlier in enumerate(recent, start=1)
            if attack.us - earlier[0] <= (figures.share.run if place == latest else figures.glissando.step)
        ]
        here: dict[int, tuple[tuple[int, ...], tuple[int, ...]]] = {}
        for pitch, _ in attack.notes:
            lines: list[tuple[int, ...]] = [(number,), (number,)]
            for _, before in recent:
                for last, known in before.items():
                    way = int(pitch < last)
                    if 0 < abs(pitch - last) <= WIDEST_STEP and len(known[way]) >= len(lines[way]):
                        lines[way] = (*known[way][1 - least :], number)
            here[pitch] = lines[0], lines[1]
            for line in lines:
                if len(line) == least:
                    inside |= dict.fromkeys(line[1:-1], True)
                    inside.setdefault(number, False)
        recent.append((attack.us, here))
    return inside
