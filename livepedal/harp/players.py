"""Players: how fast the feet and the hands are, as figures.

A *flick* is the time that one pedal movement takes, so how long its strings must be free for it. A *cycle* is
the time from the start of one movement of a foot to the start of its next, so how long the foot needs to get
round. They are different things: one figure for both flags ornaments in Mozart that harpists play. One rate
is published, about two movements a second and foot (Volpé Bligh, Writing for the Pedal Harp, item 6, as read
here); every other figure is a judgement and stands as such in figures.toml, to be tuned by those who know
better.

The hands' figures say how much a hand can take at once and how soon it can be placed again; what they mean in
time is the business of the model (model/hands.py, model/repeats.py).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Player:
    """The figures of one player (figures.toml has those of the three).  All times are integer microseconds.

    flick: one notch.  two_notch_flick: two notches, in one movement.  cycle: from the start of one change of
    a foot to the start of its next; the two feet are independent.  settle: from the end of a change to the
    attack that needs it.  overlap: how long after a later attack a key may be released and still count as
    released at that attack. grip: how long after the pluck a string counts as in use, wanted or not (for
    changes that are heard as a slide). two_at_once: one foot may move two neighbouring pedals at once
    (Stickney, Giant steps for harp, 2021: an advanced technique).  reach_across: left foot on E, right foot
    on B, the innermost pair (common practice, no source).

    reach: strings from the lowest to the highest that one hand takes at once, both counted (a tenth is 10;
    siba, hand position). inner_reach: the same without the thumb, whose string lies apart
    (theharplegacyproject.com, typical). rolled_reach: the reach where the notes come one after another.
    fingers: of one hand. place: from the last pluck of a hand to the first of its next placing, which has one
    finger; place_finger: more for each further finger struck at once; leap: more for each string that lies
    beyond the hand's reach. turn: from one pluck of a placing to the next where that goes back, which it can
    within turn_reach strings. roll: by how much the right hand may come later for each note of the left's in
    a broken chord. restrike: from one pluck of a string to its next, once; repeat: the same, on average, when
    there are more. sustained: pedal changes a second that both feet together keep up (model/load.py).
    """

    name: str
    flick: int
    two_notch_flick: int
    cycle: int
    settle: int
    overlap: int
    grip: int
    two_at_once: bool
    reach_across: bool
    reach: int
    inner_reach: int
    rolled_reach: int
    turn_reach: int
    fingers: int
    place: int
    place_finger: int
    leap: int
    turn: int
    roll: int
    restrike: int
    repeat: int
    sustained: float

    @property
    def leads(self) -> tuple[int, int, int]:
        """How long before its attack a change over 0, 1 or 2 notches must begin (µs): its flick, and `settle`."""
        return 0, self.settle + self.flick, self.settle + self.two_notch_flick
