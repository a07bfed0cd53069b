"""How a session is judged and counted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from livepedal.advice.judging.basis import Basis
from livepedal.harp import Figures, Instrument, Setting, load_figures
from livepedal.model.findings import Layer
from livepedal.sources.journal import Header


@dataclass(frozen=True, slots=True)
class Setup:
    """How a session is judged and counted.

    Attributes:
        player: name.
        only: layers, empty for all.
        tempo: µs a quarter, None where nobody said.
        metre: numerator, denominator.
        start: how the pedals stand at first.
        channels: those heard, 1 to 16, empty for all but 10.
    """

    figures: Figures
    instrument: Instrument
    player: str = "working"
    only: tuple[Layer, ...] = ()
    tempo: int | None = None
    metre: tuple[int, int] = (4, 4)
    start: Setting | None = None
    channels: frozenset[int] = frozenset()
    middle_c: str = "C4"

    def basis(self, player: str, start: Setting | None) -> Basis:
        """The same for a player, and with the pedals standing so at first."""
        return Basis(self.figures, self.instrument, player, start, self.only)


def setup_of(header: Header, figures: Path | None = None) -> Setup:
    """How a session is judged.

    Args:
        figures: a file to use instead of the one that the header names.

    Raises:
        LivepedalError: for whatever cannot be had any more.
    """
    path = figures or (Path(header.figures) if header.figures else None)
    known = load_figures(path)
    if header.rest is not None:
        known = replace(known, passage_rest=header.rest)
    known.player(header.player)
    return Setup(
        figures=known,
        instrument=known.instrument(header.harp),
        player=header.player,
        only=tuple(Layer(name) for name in header.only),
        tempo=header.tempo,
        metre=header.metre,
        start=Setting.parse(header.start) if header.start else None,
        channels=frozenset(header.channels),
        middle_c=header.middle_c,
    )
