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

from livepedal.harp.specs import Abler, Count, Factor, Flag, Strings, Time, figure


@dataclass(frozen=True, slots=True)
class Player:
    """The figures of one player. What each means stands on its line of figures.toml; all times are integer µs."""

    name: str
    flick: Time = figure(Abler.LESS, above=True)
    # A factor of `flick`, so what says who is abler is their product.
    two_notches: Factor = figure(least=1, most=10)
    cycle: Time = figure(Abler.LESS)
    settle: Time = figure(Abler.LESS)
    overlap: Time = figure(Abler.MORE)
    grip: Time = figure(Abler.LESS)
    damp: Time = figure(Abler.MORE, most=1)
    two_at_once: Flag = figure(Abler.MORE)
    reach_across: Flag = figure(Abler.MORE)
    inner_reach: Strings = figure(Abler.MORE, least=1, most=20)
    rolled_reach: Strings = figure(Abler.MORE, least=1, most=20)
    fingers: Count = figure(Abler.MORE, least=1, most=5)
    place: Time = figure(Abler.LESS)
    place_finger: Time = figure(Abler.LESS)
    leap: Time = figure(Abler.LESS)
    line: Time = figure(Abler.LESS)
    turn: Time = figure(Abler.LESS)
    restrike: Time = figure(Abler.LESS)
    repeat: Time = figure(Abler.LESS)
    glissando: Time = figure(Abler.LESS)
    tremolo: Time = figure(Abler.LESS)
    trill: Time = figure(Abler.LESS)
    arpeggio: Time = figure(Abler.LESS)
    wire_strokes: Count = figure(Abler.MORE, least=1, most=100)
    sustained: Factor = figure(Abler.MORE, above=True)

    @property
    def two_notch_flick(self) -> int:
        """The time of a movement over two notches (µs)."""
        return round(self.flick * self.two_notches)

    @property
    def leads(self) -> tuple[int, int, int]:
        """How long before its attack a change over 0, 1 or 2 notches must begin (µs): its flick, and `settle`."""
        return 0, self.settle + self.flick, self.settle + self.two_notch_flick
