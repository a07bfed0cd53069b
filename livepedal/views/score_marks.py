"""What goes back into a score: settings as harp-pedals diagrams, pedal changes, and findings if asked for.

Diagrams stand at the start and at rehearsal marks, each pedal change where the foot starts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from enum import StrEnum
from itertools import groupby

from livepedal.advice.judging.groups import Group
from livepedal.advice.judging.report import PartReport
from livepedal.advice.report import FileReport
from livepedal.harp import Pedal, Setting
from livepedal.sources.scores.marking import ScorePut
from livepedal.views import words


class PedalsAs(StrEnum):
    """How pedal changes are printed."""

    WORDS = "words"  # "F♯"
    DIAGRAMS = "diagrams"  # how all pedals stand from there on


def pedal_puts(file: FileReport, how: PedalsAs) -> list[ScorePut]:
    """The diagrams and pedal changes of each part."""
    return [put for part in file.parts for put in _pedals(part, how)]


def _pedals(part: PartReport, how: PedalsAs) -> Iterator[ScorePut]:
    # Under the lower staff, also where two parts are the two staves of one harp.
    track, tick = part.tracks[-1].number, part.time_map.tick
    setting = part.plan.setting
    if not any(position is not None for position in setting.positions):
        return
    yield ScorePut(track, tick(part.begin), pedals=_diagram(setting))
    stands = [(tick(part.begin), setting)]
    for at, together in groupby(part.plan.changes, key=lambda change: tick(change.us)):
        changes = list(together)
        for change in changes:
            setting = setting.replace(change.pedal, change.goal)
        stands.append((at, setting))
        if how is PedalsAs.DIAGRAMS:
            yield ScorePut(track, at, pedals=_diagram(setting))
        else:
            yield ScorePut(track, at, " ".join(words.change_name(change) for change in changes))
    for mark in part.time_map.marks:
        here = next((setting for at, setting in reversed(stands) if at <= mark.tick), None)
        if here is not None and mark.tick > stands[0][0]:
            yield ScorePut(track, mark.tick, pedals=_diagram(here))


def _diagram(setting: Setting) -> tuple[tuple[str, int], ...]:
    """The pedals that are set, in their order."""
    return tuple((pedal.letter, int(position)) for pedal in Pedal if (position := setting[pedal]) is not None)


def in_brief(group: Group, middle_c: str) -> str:
    """A group of findings in a few words: "unplayable: A2 too fast ×54"."""
    often = f" ×{group.attacks}" if group.attacks > 1 else ""
    return f"{words.verdict_of(group.worst)}: {words.briefly(group.worst, middle_c)}{often}"


def finding_puts(
    file: FileReport, text: Callable[[Group], str]
) -> tuple[list[ScorePut], list[tuple[int, int, int]]]:
    """A text above the staff for each group of findings, and the notes they are about: track, tick, MIDI number."""
    puts: list[ScorePut] = []
    notes: list[tuple[int, int, int]] = []
    for part in file.parts:
        for group in part.groups:
            tick = part.time_map.tick(group.findings[0].us)
            puts.append(ScorePut(part.tracks[0].number, tick, text(group), above=True))
        for finding in part.findings:
            tick = part.time_map.tick(finding.us)
            pitches = (finding.note,) if finding.note in finding.pitches else finding.pitches
            notes += [(track.number, tick, pitch) for track in part.tracks for pitch in pitches]
    return puts, notes
