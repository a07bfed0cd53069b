"""The tables of figures that are the same for every player.

What each figure means stands on its line of figures.toml; all times are integer µs.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from livepedal.harp.specs import ValueKind, figure
from livepedal.harp.strings import HarpString


@dataclass(frozen=True, slots=True)
class WindowFigures:
    """Times that part the music."""

    attack: int = figure(ValueKind.SECONDS, most=1)
    passage_rest: int = figure(ValueKind.SECONDS, above=True, most=3600)
    retune: int = figure(ValueKind.SECONDS, above=True, most=3600)


@dataclass(frozen=True, slots=True)
class HandsFigures:
    """When something that the hands do is worth knowing."""

    right_low: HarpString = figure(ValueKind.STRING)
    told_step: int = figure(ValueKind.SECONDS, above=True, most=1)
    wire: HarpString = figure(ValueKind.STRING)
    buzzing: HarpString = figure(ValueKind.STRING)


@dataclass(frozen=True, slots=True)
class SmearFigures:
    """How much of a string's ring must be left (0 to 1) for a change of its pedal to be heard."""

    faint: Decimal = figure(ValueKind.FACTOR, most=1)
    clear: Decimal = figure(ValueKind.FACTOR, most=1)


@dataclass(frozen=True, slots=True)
class GlissandoFigures:
    """What counts as a glissando, and which ones are mentioned."""

    step: int = figure(ValueKind.SECONDS, above=True, most=1)
    least_step: int = figure(ValueKind.SECONDS, most=1)
    notes: int = figure(ValueKind.COUNT, least=3, most=47)
    remark_step: int = figure(ValueKind.SECONDS, above=True, most=1)
    remark_notes: int = figure(ValueKind.COUNT, least=3, most=47)


@dataclass(frozen=True, slots=True)
class LoadFigures:
    """Over how long pedal changes are counted."""

    span: int = figure(ValueKind.SECONDS, above=True)


@dataclass(frozen=True, slots=True)
class TempoFigures:
    """The room that an advised tempo leaves."""

    uneven: int = figure(ValueKind.SECONDS, most=1)


@dataclass(frozen=True, slots=True)
class ShareFigures:
    """Two harps that take turns."""

    seam: int = figure(ValueKind.SECONDS)
    breath: int = figure(ValueKind.SECONDS)
    run: int = figure(ValueKind.SECONDS)


@dataclass(frozen=True, slots=True)
class AnswerFigures:
    """What `listen --answer` sends."""

    channel: int = figure(ValueKind.COUNT, least=1, most=16)
    unplayable: int = figure(ValueKind.COUNT, most=127)
    well: int = figure(ValueKind.COUNT, most=127)
    controllers: bool = figure(ValueKind.FLAG)
    velocity: int = figure(ValueKind.COUNT, least=1, most=127)
    length: int = figure(ValueKind.SECONDS, above=True, most=10)


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
