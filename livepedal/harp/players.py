"""Players: how fast the feet are, as figures.

A *flick* is the time that one pedal movement takes, so how long its strings must be free for it. A *cycle*
is the time from the start of one movement of a foot to the start of its next, so how long the foot needs to
get round. They are different things: one figure for both flags ornaments in Mozart that harpists play. One
rate is published, about two movements a second and foot (Volpé Bligh, Writing for the Pedal Harp, item 6,
as read here); every other figure is a judgement and stands as such in figures.toml, to be tuned by those
who know better.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Player:
    """The figures of one player.  All times are integer microseconds.

    flick: one notch.  two_notch_flick: two notches, in one movement.  cycle: from the start of one change
    of a foot to the start of its next; the two feet are independent.  settle: from the end of a change to
    the attack that needs it.  overlap: how long after a later attack a key may be released and still count
    as released at that attack. grip: how long after the pluck a string counts as in use, wanted or not (for
    changes that are heard as a slide). two_at_once: one foot may move two neighbouring pedals at once
    (Stickney, Giant steps for harp, 2021: an advanced technique).  reach_across: left foot on E, right foot
    on B, the innermost pair (common practice, no source).
    """

    name: str
    flick: int
    two_notch_flick: int
    cycle: int
    settle: int
    overlap: int
    grip: int
    two_at_once: bool = False
    reach_across: bool = False

    def flick_over(self, notches: int) -> int:
        """The time that a change over this many notches (0, 1 or 2) takes, in microseconds."""
        return (0, self.flick, self.two_notch_flick)[notches]
