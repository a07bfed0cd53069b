"""Players: how fast the feet and the hands are, as figures.

A *flick* is the time that one pedal movement takes, so how long its strings must be free for it. A *cycle* is
the time from the start of one movement of a foot to the start of its next, so how long the foot needs to get
round. They are different things: one figure for both flags ornaments in Mozart that harpists play. One rate
is published, about two movements a second and foot (Volpé Bligh, Writing for the Pedal Harp, item 6, as read
here); every other figure is a judgement and stands as such in figures.toml, to be tuned by those who know
better.

The hands' figures say how much a hand can take at once and how soon it can be placed again; what they mean in
time is the business of the model (model/hands/).
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from livepedal.harp.specs import Abler, ValueKind, ability, figure


@dataclass(frozen=True, slots=True)
class Player:
    """The figures of one player. What each means stands on its line of figures.toml; all times are integer µs."""

    name: str
    flick: int = ability(ValueKind.SECONDS, Abler.LESS, above=True)
    # A factor of `flick`, so what says who is abler is their product.
    two_notches: Decimal = figure(ValueKind.FACTOR, least=1, most=10)
    cycle: int = ability(ValueKind.SECONDS, Abler.LESS)
    settle: int = ability(ValueKind.SECONDS, Abler.LESS)
    overlap: int = ability(ValueKind.SECONDS, Abler.MORE)
    grip: int = ability(ValueKind.SECONDS, Abler.LESS)
    damp: int = ability(ValueKind.SECONDS, Abler.MORE, most=1)
    two_at_once: bool = ability(ValueKind.FLAG, Abler.MORE)
    reach_across: bool = ability(ValueKind.FLAG, Abler.MORE)
    reach: int = ability(ValueKind.STRINGS, Abler.MORE, least=1, most=20)
    inner_reach: int = ability(ValueKind.STRINGS, Abler.MORE, least=1, most=20)
    rolled_reach: int = ability(ValueKind.STRINGS, Abler.MORE, least=1, most=20)
    fingers: int = ability(ValueKind.COUNT, Abler.MORE, least=1, most=5)
    place: int = ability(ValueKind.SECONDS, Abler.LESS)
    place_finger: int = ability(ValueKind.SECONDS, Abler.LESS)
    leap: int = ability(ValueKind.SECONDS, Abler.LESS)
    line: int = ability(ValueKind.SECONDS, Abler.LESS)
    turn: int = ability(ValueKind.SECONDS, Abler.LESS)
    restrike: int = ability(ValueKind.SECONDS, Abler.LESS)
    repeat: int = ability(ValueKind.SECONDS, Abler.LESS)
    glissando: int = ability(ValueKind.SECONDS, Abler.LESS)
    tremolo: int = ability(ValueKind.SECONDS, Abler.LESS)
    trill: int = ability(ValueKind.SECONDS, Abler.LESS)
    arpeggio: int = ability(ValueKind.SECONDS, Abler.LESS)
    wire_strokes: int = ability(ValueKind.COUNT, Abler.MORE, least=1, most=100)
    sustained: Decimal = ability(ValueKind.FACTOR, Abler.MORE, above=True)

    @property
    def two_notch_flick(self) -> int:
        """The time of a movement over two notches (µs)."""
        return round(self.flick * self.two_notches)

    @property
    def leads(self) -> tuple[int, int, int]:
        """How long before its attack a change over 0, 1 or 2 notches must begin (µs): its flick, and `settle`."""
        return 0, self.settle + self.flick, self.settle + self.two_notch_flick
