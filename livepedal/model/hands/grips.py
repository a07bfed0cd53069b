"""What two hands can take at once: the ways to share a chord out between them.

Four fingers a hand, so four notes and eight in all (Rimsky-Korsakov, ch. I; Volpé Bligh, item 2). A hand reaches so
many *strings*, not semitones (a tenth is easy: siba, hand position). The thumb plays the highest note in both hands,
and the wide gap of a chord lies at the thumb: the other fingers stay close (common practice; theharplegacyproject.com,
typical). So notes are a *grip* where there are no more than fingers, they lie within the reach, and all of them but the
highest within the inner reach. Chords are broken as a rule (Rimsky-Korsakov, ch. I), so the reach that counts is that
of a broken chord, `rolled_reach`; beyond `reach` it is worth a remark.

A chord is divided once: the left hand takes the lower notes, the right hand the higher ones. A hand whose notes are no
grip may take them in two placings, the lower one first (harpmastery.com, essential chord techniques).

Approximation: which string a note lies on is not asked. Each pitch lies on one of two neighbouring strings at the most,
and wherever a distance is measured the hands get the benefit of the doubt. So feet and hands can be judged apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from livepedal.harp import HandsFigures, Instrument, Player

Block = tuple[int, ...]
"""Pitches (MIDI numbers, upwards) that one hand strikes."""

NEVER = 1_000_000  # placings, of what no hand can take
MIDDLE = 60  # middle C, about which the hands are parted when nothing else counts
MOST_KNOWN = 20_000  # chords; a long session must not fill the memory with them


@dataclass(frozen=True, slots=True)
class HandSplit:
    """One way to share a chord out.

    Attributes:
        again: for each hand and player (slowest first) the further placings that it takes.
        awkward: semitones of the right hand in the bass and of the left in the treble.
        rolled: whether a hand of the slowest player has to break its part, or takes it in two placings.
    """

    left: Block
    right: Block
    left_again: tuple[int, ...]
    right_again: tuple[int, ...]
    awkward: int
    rolled: bool


class Grips:
    """The divisions of every chord for players side by side, on one instrument; worked out once for each chord."""

    def __init__(self, players: Sequence[Player], instrument: Instrument, hands: HandsFigures) -> None:
        self.players = tuple(players)
        self._hands = hands
        # For each MIDI number the lowest and the highest of the strings that give it; one that has none, and is never
        # played, gets that of the next one below.
        self.lowest: list[int] = []
        self.highest: list[int] = []
        for pitch in range(128):
            strings = [spelling.string.number for spelling in instrument.spellings(pitch)]
            strings = strings or self.highest[-1:] or [instrument.lowest.number]
            self.lowest.append(min(strings))
            self.highest.append(max(strings))
        self._known: dict[Block, tuple[HandSplit, ...]] = {}

    def span(self, low: int, high: int) -> int:
        """How many strings there are from one pitch to a higher one, both counted, at the least."""
        return self.lowest[high] - self.highest[low] + 1

    def fits(self, block: Block, player: Player) -> bool:
        """Whether one hand can take these notes in one placing."""
        count = len(block)
        return count < 2 or (
            count <= player.fingers
            and self.span(block[0], block[-1]) <= player.rolled_reach
            and (count < 3 or self.span(block[0], block[-2]) <= player.inner_reach)
        )

    def flat(self, block: Block, player: Player) -> bool:
        """Whether one hand can take these notes at one moment, unbroken."""
        return self.fits(block, player) and (len(block) < 2 or self.span(block[0], block[-1]) <= self._hands.reach)

    def divisions(self, pitches: Block) -> tuple[HandSplit, ...]:
        """The ways to share a chord out that some player can take; () where nobody can, whatever the time."""
        known = self._known.get(pitches)
        if known is None:
            if len(self._known) > MOST_KNOWN:
                self._known.clear()
            known = self._known[pitches] = tuple(self._work_out(pitches))
        return known

    def _work_out(self, pitches: Block) -> list[HandSplit]:
        found = []
        for cut in range(len(pitches) + 1):
            left, right = pitches[:cut], pitches[cut:]
            if max(len(left), len(right)) > 2 * max(player.fingers for player in self.players):
                continue
            again = [tuple(self._again(block, player) for player in self.players) for block in (left, right)]
            if min(again[0]) < NEVER and min(again[1]) < NEVER:
                awkward = sum(max(0, p - MIDDLE) for p in left) + sum(max(0, MIDDLE - p) for p in right)
                rolled = not (self.flat(left, self.players[0]) and self.flat(right, self.players[0]))
                awkward += self._hands.awkward * rolled
                found.append(HandSplit(left, right, again[0], again[1], awkward, rolled))
        return found

    def _again(self, block: Block, player: Player) -> int:
        if self.fits(block, player):
            return 0
        for cut in range(1, len(block)):
            if self.fits(block[:cut], player) and self.fits(block[cut:], player):
                return 1
        return NEVER
