"""What music is judged on: which player on which harp, by whose figures, and what of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from livepedal.defaults import PLAYER
from livepedal.harp import Figures, Instrument, Player, Setting
from livepedal.model.feet.chords import Narrowing
from livepedal.model.findings import Layer


@dataclass(frozen=True, slots=True)
class Basis:
    """What music is judged on.

    Attributes:
        player: the name of the chosen one.
        setting: how the pedals stand at first; None: as is best.
        layers: to judge; none: all.
        asked: how attacks are to be spelled, by their moment (µs); None: as is best.
    """

    figures: Figures
    instrument: Instrument
    player: str = PLAYER
    setting: Setting | None = None
    layers: tuple[Layer, ...] = ()
    asked: Mapping[int, Narrowing] | None = None

    @property
    def chosen(self) -> Player:
        """The player that verdicts are wanted for."""
        return self.figures.player(self.player)

    @property
    def players(self) -> tuple[Player, Player, Player]:
        """The three players, the relaxed first; the chosen one is among them."""
        return self.figures.scale(self.player)

    @property
    def number(self) -> int:
        """Which of the three the chosen one is."""
        return next(n for n, one in enumerate(self.players) if one.name == self.player)

    @property
    def judged(self) -> tuple[Layer, ...]:
        """The layers, all of them where none is named."""
        return self.layers or tuple(Layer)
