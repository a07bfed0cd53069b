"""Played plainly: the feet and the hands each by themselves, on the strings that suit the hands best.

Where the choice of strings ties feet and hands together (joint.py), one choice is nearly always enough: of
each chord's classes (grips.py) the one that leaves most to the hands. Held to that, the feet need not know of
the hands any more. What can be played so can be played, so as long as it goes on nobody need look for more.
"""

from __future__ import annotations

from collections.abc import Sequence

from livepedal.model.chords import Sharing
from livepedal.model.grips import GripClass
from livepedal.model.hands import HandsTracker, Links
from livepedal.model.tracker import Released, Tracker, covered


class Plainly:
    """Feet and hands, held to one class of each chord. Fed as a Tracker is."""

    __slots__ = ("feet", "hands")

    def __init__(self, feet: Tracker, hands: HandsTracker) -> None:
        self.feet = feet
        self.hands = hands

    def fork(self) -> Plainly:
        """A copy that goes its own way."""
        return Plainly(self.feet.fork(), self.hands.fork())

    def open(self, moment: int) -> None:
        """A new attack begins at `moment` (µs)."""
        self.feet.open(moment)
        self.hands.open(moment)

    def strike(self, pitch: int, moment: int) -> None:
        """A key goes down for the open attack."""
        self.feet.strike(pitch, moment)

    def release_before(self, released: Sequence[Released]) -> None:
        """Keys that were struck before the open attack were released."""
        self.feet.release_before(released)

    def release_after(self, released: Sequence[Released]) -> None:
        """Keys were released, whichever attack struck them."""
        self.feet.release_after(released)

    def judge(
        self, pitches: tuple[int, ...], ways: tuple[Sharing, ...], moment: int, links: Links = ()
    ) -> bool:
        """Whether the open attack can be played so; arguments as for a Performer."""
        hands = self.hands
        chord = max(hands.grips.classes(pitches, ways), key=_leaves)
        after = hands.attempt(hands.before, chord, moment, links)
        pairs = self.feet.attempt(self.feet.before, chord.ways, moment) if after else ()
        if not pairs:
            return False
        self.feet.after, hands.after, hands.rolled = pairs, after, chord.rolled
        return True

    def allows_all(self, feet: Tracker, hands: HandsTracker, moment: int) -> bool:
        """Whether from the open attack at `moment` on all can be played so that feet and hands can play by
        themselves.
        """
        return hands.allow(self.hands.before, hands.before, moment) and covered(
            feet.before, feet, self.feet.before, moment
        )


def _leaves(chord: GripClass) -> tuple[bool, int]:
    return not chord.rolled, len(chord.divisions)
