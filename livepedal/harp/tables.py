"""The tables of figures that are the same for every player.

What each figure means stands on its line of figures.toml; all times are integer µs.
"""

from __future__ import annotations

from dataclasses import dataclass

from livepedal.harp.specs import Count, Factor, Flag, Strings, Time, figure
from livepedal.harp.strings import HarpString


@dataclass(frozen=True, slots=True)
class WindowFigures:
    """Times that part the music."""

    attack: Time = figure(most=1)
    passage_rest: Time = figure(above=True, most=3600)
    retune: Time = figure(above=True, most=3600)


@dataclass(frozen=True, slots=True)
class HandsFigures:
    """What the hands of every player do, and when it is worth knowing."""

    reach: Strings = figure(least=1, most=20)
    awkward: Count = figure(most=1000)
    right_low: HarpString = figure()
    told_step: Time = figure(above=True, most=1)
    wire: HarpString = figure()
    buzzing: HarpString = figure()


@dataclass(frozen=True, slots=True)
class SmearFigures:
    """How much of a string's ring must be left (0 to 1) for a change of its pedal to be heard."""

    faint: Factor = figure(most=1)
    clear: Factor = figure(most=1)


@dataclass(frozen=True, slots=True)
class GlissandoFigures:
    """What counts as a glissando, and which ones are mentioned."""

    step: Time = figure(above=True, most=1)
    least_step: Time = figure(most=1)
    notes: Count = figure(least=3, most=47)
    remark_step: Time = figure(above=True, most=1)
    remark_notes: Count = figure(least=3, most=47)


@dataclass(frozen=True, slots=True)
class LoadFigures:
    """Over how long pedal changes are counted."""

    span: Time = figure(above=True)


@dataclass(frozen=True, slots=True)
class TempoFigures:
    """The room that an advised tempo leaves."""

    uneven: Time = figure(most=1)


@dataclass(frozen=True, slots=True)
class ShareFigures:
    """Two harps that take turns."""

    seam: Time = figure()
    breath: Time = figure()
    run: Time = figure()


@dataclass(frozen=True, slots=True)
class AnswerFigures:
    """What `listen --answer` sends."""

    channel: Count = figure(least=1, most=16)
    unplayable: Count = figure(most=127)
    well: Count = figure(most=127)
    controllers: Flag = figure()
    velocity: Count = figure(least=1, most=127)
    length: Time = figure(above=True, most=10)


TABLES = {
    "window": WindowFigures,
    "hands": HandsFigures,
    "smear": SmearFigures,
    "glissando": GlissandoFigures,
    "load": LoadFigures,
    "tempo": TempoFigures,
    "share": ShareFigures,
    "answer": AnswerFigures,
}
"""Each such table of figures.toml by its name there."""
