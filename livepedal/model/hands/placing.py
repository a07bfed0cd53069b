"""The rule of placing: how close a hand comes to what each player can do when it strikes some notes.

Fingers are *placed* on strings before they pluck (theharplegacyproject.com, typical). Placing takes time, plucking does
not: up to four notes of one hand that lie within its reach are placed beforehand and go off at any speed, so rolled
chords, grace notes and groups of an arpeggio are no fast runs (follows from the placing rule; common practice). A
finger is free again once it has plucked. So when a hand strikes, look back along its own attacks to the last one
after which it had the fingers free, within reach, for what it strikes now. Since then there must have been time to
place each attack from there on:

    place + place_finger * (notes that were not in the attack before - 1) + leap * (strings beyond the reach)

where the strings beyond the reach are those by which an attack and the one before it together exceed what the hand
reaches; a hand cannot leap before it has plucked what it holds. The *strain* of an attack is the time needed divided
by the time there was.

What stands in figurations (figurations.py) is judged by their limits where those are easier: a hand takes it within
reach of where it is, without placing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from operator import itemgetter
from typing import NamedTuple

from livepedal.harp import HandsFigures, Instrument, Player
from livepedal.model.hands.grips import NEVER, Block, Grips, HandSplit
from livepedal.model.hands.strokes import MARGIN, NO_STRAIN, Hand, Pluck, Stroke, Struck

_ROLLED = 0, 0, 0  # further placings of a chord that is written as rolled


class HandTrouble(StrEnum):
    """What the hands cannot do. The words are those of findings."""

    TOO_MANY = "too-many-notes"  # more notes at once than fingers, and no time to roll them
    TOO_WIDE = "too-wide"  # no division of the chord that both hands reach, and no time to roll it
    TOO_FAR = "too-far"  # a hand is too far away from where it has to be
    TOO_FAST = "too-fast"  # a hand cannot be placed again so soon
    LINE = "line"  # hands that take turns cannot play so many notes a second


@dataclass(frozen=True, slots=True)
class HandsFault:
    """Why an attack cannot be played: the way that comes nearest to it.

    `left`: whether it is the left hand that fails. `pitches`: what it has to strike. `needed`, `available`: µs.
    `strings`: how many strings beyond its reach it would have to go. `notes`: of a line, how many notes those times
    are for.
    """

    kind: HandTrouble
    left: bool
    pitches: Block
    needed: int
    available: int
    strings: int
    notes: int = 0


class _Placed(NamedTuple):
    """A hand with the notes that it strikes, and since when (µs) it can have placed them.

    With that comes what it has to have placed since then: placings, further fingers, strings beyond the reach. None: it
    had the fingers free all along.
    """

    hand: Hand
    since: int | None
    placings: int
    fingers: int
    strings: int

    def needed(self, player: Player, again: int) -> int:
        """The time that a player needs for that, with so many further placings (µs)."""
        placings = player.place * (self.placings + again)
        return placings + player.place_finger * self.fingers + player.leap * self.strings


class Placing:
    """The rule for three players (slowest first) on one instrument."""

    def __init__(self, players: Sequence[Player], instrument: Instrument, hands: HandsFigures) -> None:
        self.grips = Grips(players, instrument, hands)
        self.hands = hands
        self.players = tuple(players)
        slowest = self.players[0]
        self._fingers, self._reach = slowest.fingers, hands.reach
        self._spread = max(slowest.rolled_reach, hands.reach)
        self._times = tuple((player.place, player.place_finger, player.leap) for player in self.players)
        # After so long (µs) a hand has placed all its fingers one after another.
        self.anew = slowest.fingers * slowest.place
        # After so long (µs) a hand can be anywhere, with all its fingers, and has even placed them twice.
        span = self.grips.highest[-1] - self.grips.lowest[0]
        self.anywhere = (
            2 * (slowest.place + slowest.place_finger * (slowest.fingers - 1)) + slowest.leap * span
        )

    def divisions(self, struck: Struck) -> Sequence[HandSplit]:
        """The ways to share an attack out."""
        every = self.grips.divisions(struck.pitches)
        if struck.rolled.issuperset(struck.pitches):
            every = tuple(replace(one, left_again=_ROLLED, right_again=_ROLLED) for one in every)
        return every

    def strokes(self, hand: Hand, block: Block, again: tuple[int, ...], struck: Struck) -> Sequence[Stroke]:
        """The ways in which one hand strikes some notes of an attack: placed, and as part of a figuration.

        Args:
            hand: as it was before.
            block: the notes; () where it strikes none.
            again: the further placings that each player needs for them.
            struck: the attack.
        """
        if not block:
            return (Stroke(hand, NO_STRAIN),)
        known = struck.strokes.get((hand, block))
        if known is None:
            known = struck.strokes[hand, block] = self._work_out(hand, block, again, struck)
        return known

    def _work_out(self, hand: Hand, block: Block, again: tuple[int, ...], struck: Struck) -> list[Stroke]:
        us, moves = struck.us, struck.figuration
        placed = self._look_back(hand, block, us)
        after, since = placed.hand, placed.since
        if since is None:
            strains = tuple([float(NEVER) if more == NEVER else 0.0 for more in again])
        else:
            gap = max(us - since, 1)
            _, _, placings, fingers, strings = placed  # as `needed` says, written out: this is the most frequent work
            strains = tuple(
                [
                    (place * (placings + more) + finger * fingers + leap * strings) / gap
                    for (place, finger, leap), more in zip(self._times, again, strict=True)
                ]
            )
        found = [Stroke(after, strains)]
        if moves and moves.issuperset(block) and (not after[0].strings or struck.slid.issuperset(block)):
            limits = struck.limits
            if any(again) and not struck.together.isdisjoint(block):
                limits = tuple([NEVER if a else b for a, b in zip(again, limits, strict=True)])
            # What the hand plucked before still binds its fingers, and so does the last stroke of a figuration.
            before = hand[1:] if hand and not hand[0].placings else hand
            found.append(Stroke((Pluck(us, block, 0, 0, 0), *before[: self._fingers]), limits))
        return found

    def _look_back(self, hand: Hand, block: Block, us: int) -> _Placed:
        notes = len(block)
        if not hand:
            return _Placed((Pluck(us, block, 1, notes - 1, 0),), None, 0, 0, 0)
        lowest, highest = self.grips.lowest, self.grips.highest
        last = hand[0].block
        new = notes
        if notes > 1:
            new = sum([pitch not in last for pitch in block]) or 1
        low, high = min(block[0], last[0]), max(block[-1], last[-1])
        beyond = lowest[high] - highest[low] + 1 - self._reach
        if beyond < 0:
            beyond = 0
        kept = [Pluck(us, block, 1, new - 1, beyond)]
        since: int | None = hand[0].us if beyond else None
        placings, fingers, strings = 1, new - 1, beyond
        low, high = block[0], block[-1]
        held = used = notes
        for pluck in hand:
            theirs = pluck.block
            if since is None:
                used += len(theirs)
                if theirs[0] < low:
                    low = theirs[0]
                if theirs[-1] > high:
                    high = theirs[-1]
                if used > self._fingers or lowest[high] - highest[low] >= self._spread:
                    since = pluck.us
                else:
                    placings += pluck.placings
                    fingers += pluck.fingers
                    strings += pluck.strings
            if held >= self._fingers:
                break
            kept.append(pluck)
            held += len(theirs)
        return _Placed(tuple(kept), since, placings, fingers, strings)

    def fault(self, hands: Iterable[tuple[Hand, Hand]], struck: Struck, number: int) -> HandsFault:
        """Why a player cannot play an attack: of all ways to share it out the one that comes nearest.

        Args:
            hands: as they may have been before, left and right.
            struck: the attack.
            number: of the player.
        """
        ways = []
        for left, right in hands:
            for split in self.divisions(struck):
                if NEVER not in (split.left_again[number], split.right_again[number]):
                    sides = (
                        self._missed(left, split.left, split.left_again[number], struck, number, left=True),
                        self._missed(
                            right, split.right, split.right_again[number], struck, number, left=False
                        ),
                    )
                    ways.append(
                        max([side for side in sides if side is not None], key=itemgetter(0), default=None)
                    )
        missed = [way for way in ways if way is not None and way[0] > MARGIN]
        if missed:
            return min(missed, key=itemgetter(0))[1]
        # Not even in two placings a hand.
        return HandsFault(self._crowd(struck, number), True, struck.pitches, 0, 0, 0)

    def _missed(
        self, hand: Hand, block: Block, again: int, struck: Struck, number: int, *, left: bool
    ) -> tuple[float, HandsFault] | None:
        """The strain of one hand, and that as a fault; None where it has the fingers free, or plays a figuration."""
        if not block or (struck.figuration.issuperset(block) and struck.limits[number] <= MARGIN):
            return None
        placed, player = self._look_back(hand, block, struck.us), self.players[number]
        if placed.since is None:
            return None
        needed, available = placed.needed(player, again), struck.us - placed.since
        beyond, notes = placed.hand[0].strings, block
        kind = HandTrouble.TOO_FAST
        if again:
            kind = self._crowd(struck, number)
            notes = struck.pitches if kind is HandTrouble.TOO_MANY else block
        elif beyond and needed - player.leap * placed.strings <= MARGIN * available:
            kind = HandTrouble.TOO_FAR
        return needed / max(available, 1), HandsFault(kind, left, notes, needed, available, beyond)

    def _crowd(self, struck: Struck, number: int) -> HandTrouble:
        """What a chord is that one placing of each hand does not take."""
        many = len(struck.pitches) > 2 * self.players[number].fingers
        return HandTrouble.TOO_MANY if many else HandTrouble.TOO_WIDE
