"""The tables of figures that are the same for every player."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from livepedal.harp.specs import ValueKind, figure
from livepedal.harp.strings import HarpString


@dataclass(frozen=True, slots=True)
class WindowFigures:
    """Times (µs) that part the music.

    Attributes:
        attack: notes within this time are one attack.
        passage_rest: the silence that ends a passage.
        retune: the shortest break in which a string without a pedal can be retuned.
    """

    attack: int = figure(ValueKind.SECONDS, most=1)
    passage_rest: int = figure(ValueKind.SECONDS, above=True, most=3600)
    retune: int = figure(ValueKind.SECONDS, above=True, most=3600)


@dataclass(frozen=True, slots=True)
class HandsFigures:
    """When something that the hands do is worth knowing.

    Attributes:
        right_low: the lowest string that the right hand plays without remark.
        told_step: from stroke to stroke of a tremolo, trill or arpeggio that is told of, at the most (µs).
        wire: the highest wire string.
        buzzing: the highest string that buzzes when it is plucked again so soon.
    """

    right_low: HarpString = figure(ValueKind.STRING)
    told_step: int = figure(ValueKind.SECONDS, above=True, most=1)
    wire: HarpString = figure(ValueKind.STRING)
    buzzing: HarpString = figure(ValueKind.STRING)


@dataclass(frozen=True, slots=True)
class SmearFigures:
    """How much of a string's ring must be left for a change of its pedal to be heard.

    Attributes:
        faint, clear: the part of it (0 to 1) for the change to be heard faintly, clearly.
    """

    faint: Decimal = figure(ValueKind.FACTOR, most=1)
    clear: Decimal = figure(ValueKind.FACTOR, most=1)


@dataclass(frozen=True, slots=True)
class GlissandoFigures:
    """What counts as a glissando.

    Attributes:
        step, least_step: the longest and the shortest time from string to string (µs).
        notes: the smallest number of notes.
        remark_step, remark_notes: the longest average time from string to string (µs) and the smallest number of notes
            of a glissando that is mentioned.
    """

    step: int = figure(ValueKind.SECONDS, above=True, most=1)
    least_step: int = figure(ValueKind.SECONDS, most=1)
    notes: int = figure(ValueKind.COUNT, least=3, most=47)
    remark_step: int = figure(ValueKind.SECONDS, above=True, most=1)
    remark_notes: int = figure(ValueKind.COUNT, least=3, most=47)


@dataclass(frozen=True, slots=True)
class LoadFigures:
    """span: the stretch (µs) over which pedal changes are counted."""

    span: int = figure(ValueKind.SECONDS, above=True)


@dataclass(frozen=True, slots=True)
class TempoFigures:
    """uneven: by how much (µs) a hand is early or late, at the most; a tempo that is advised leaves room for it."""

    uneven: int = figure(ValueKind.SECONDS, most=1)


@dataclass(frozen=True, slots=True)
class ShareFigures:
    """Two harps that take turns.

    Attributes:
        seam: a shorter turn will not sound seamless.
        breath: silence that makes a hand-over easy (µs).
        run: the longest time from note to note of a run (µs).
    """

    seam: int = figure(ValueKind.SECONDS)
    breath: int = figure(ValueKind.SECONDS)
    run: int = figure(ValueKind.SECONDS)


@dataclass(frozen=True, slots=True)
class AnswerFigures:
    """The answers of `listen --answer`.

    Attributes:
        channel: 1 to 16.
        unplayable, well: numbers of notes.
        controllers: whether they are numbers of controllers instead.
        velocity: of the notes, or the value of the controllers.
        length: µs until the note is let go, or the value is 0.
    """

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
