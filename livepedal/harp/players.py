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

from livepedal.harp.specs import ValueKind, figure


@dataclass(frozen=True, slots=True)
class Player:
    """The figures of one player (figures.toml has those of the three).

    All times are integer microseconds.

    Attributes:
        reach: strings from the lowest to the highest that one hand takes at once, both counted (a tenth is 10; siba,
            hand position).
        inner_reach: the same without the thumb, whose string lies apart (theharplegacyproject.com, typical).
        rolled_reach: the reach of a chord that is broken.
        fingers: of one hand.
        place: to place one finger.
        place_finger: more for each further finger struck at once.
        leap: more for each string that lies beyond the hand's reach.
        line: from stroke to stroke where hands take turns and it goes on.
        turn: more for each note at which such a line turns back.
        restrike: from one pluck of a string to its next, once.
        repeat: the same, on average, when it goes on.
        glissando, tremolo, trill, arpeggio: the least from stroke to stroke in such a figure.
        wire_strokes: how many strokes on wire strings are heard clearly within a second.
        sustained: pedal changes a second that both feet together keep up (model/load.py).
    """

    name: str
    flick: int = figure(ValueKind.SECONDS, above=True, abler=-1)
    two_notch_flick: int = figure(ValueKind.FACTOR, key="two_notches", least=1, most=10, abler=-1)
    cycle: int = figure(ValueKind.SECONDS, abler=-1)
    settle: int = figure(ValueKind.SECONDS, abler=-1)
    overlap: int = figure(ValueKind.SECONDS, abler=1)
    grip: int = figure(ValueKind.SECONDS, abler=-1)
    damp: int = figure(ValueKind.SECONDS, most=1, abler=1)
    two_at_once: bool = figure(ValueKind.FLAG, abler=1)
    reach_across: bool = figure(ValueKind.FLAG, abler=1)
    reach: int = figure(ValueKind.STRINGS, least=1, most=20, abler=1)
    inner_reach: int = figure(ValueKind.STRINGS, least=1, most=20, abler=1)
    rolled_reach: int = figure(ValueKind.STRINGS, least=1, most=20, abler=1)
    fingers: int = figure(ValueKind.COUNT, least=1, most=5, abler=1)
    place: int = figure(ValueKind.SECONDS, abler=-1)
    place_finger: int = figure(ValueKind.SECONDS, abler=-1)
    leap: int = figure(ValueKind.SECONDS, abler=-1)
    line: int = figure(ValueKind.SECONDS, abler=-1)
    turn: int = figure(ValueKind.SECONDS, abler=-1)
    restrike: int = figure(ValueKind.SECONDS, abler=-1)
    repeat: int = figure(ValueKind.SECONDS, abler=-1)
    glissando: int = figure(ValueKind.SECONDS, abler=-1)
    tremolo: int = figure(ValueKind.SECONDS, abler=-1)
    trill: int = figure(ValueKind.SECONDS, abler=-1)
    arpeggio: int = figure(ValueKind.SECONDS, abler=-1)
    wire_strokes: int = figure(ValueKind.COUNT, least=1, most=100, abler=1)
    sustained: Decimal = figure(ValueKind.FACTOR, above=True, abler=1)

    @property
    def leads(self) -> tuple[int, int, int]:
        """How long before its attack a change over 0, 1 or 2 notches must begin (µs): its flick, and `settle`."""
        return 0, self.settle + self.flick, self.settle + self.two_notch_flick
