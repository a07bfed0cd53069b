"""The hands: which hand takes what, and how close that comes to what each player can do.

Fingers are *placed* on strings before they pluck (theharplegacyproject.com, typical). Placing takes time, plucking does
not: up to four notes of one hand that lie within its reach are placed beforehand and go off at any speed, so rolled
chords, grace notes and groups of an arpeggio are no fast runs (follows from the placing rule; common practice). A
finger is free again once it has plucked. So when a hand strikes, look back along its own attacks to the last one
after which it had the fingers free, within reach, for what it strikes now. Since then there must have been time to
place each attack from there on:

    place + place_finger * (notes that were not in the attack before - 1) + leap * (strings beyond the reach)

where the strings beyond the reach are those by which an attack and the one before it together exceed what the hand
reaches; a hand cannot leap before it has plucked what it holds. The *strain* of an attack is the time needed divided
by the time there was; up to 1 it is met, and up to `MARGIN` judged as met.

The few best histories of both hands are kept (`KEPT`), each with its greatest strain for every player; they tell who
takes what. An attack that one of them comes through is playable. Where none does, certain.py looks at every way.

What stands in figurations (figurations.py) is judged by their limits where those are easier: a hand takes it within
reach of where it is, without placing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from operator import itemgetter
from typing import NamedTuple

from livepedal.harp import Instrument, Player
from livepedal.model.hands.certain import BACK, surely_fails
from livepedal.model.hands.grips import NEVER, Block, Grips, HandSplit
from livepedal.model.hands.strokes import (
    MARGIN,
    NO_STRAIN,
    NOBODY,
    Failed,
    Hand,
    Pluck,
    Strains,
    Stroke,
    Struck,
)

KEPT = 4  # histories
# The older rank of a history is multiplied by this at each attack: what was hard a while ago says little.
FADE = 0.93
# In the rank, what a player avoids without need counts as so much more strain (common practice): the left hand above
# the right, and each semitone of the right hand in the bass or of the left in the treble. To share a chord otherwise
# than a score's staves do counts as two octaves of that: players follow print, unless that costs them something.
CROSSED = 1.5
AWKWARD = 0.02
ASTRAY = 24
TOO_HARD = 1.1  # the strain that is reported for a certain failure, where no history that was kept has one
_ROLLED = 0, 0, 0  # further placings of a chord that is written as rolled
LATELY = 6  # attacks after which it is settled which hand took what


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


@dataclass(frozen=True, slots=True)
class Share:
    """Which hand takes what of one attack, at `us` (µs).

    Attributes:
        left, right: pitches upwards.
        beyond: strings by which the hands exceed their reach.
        rolled: whether a hand has to break its chord, or takes it in two placings.
        possible: whether the middle player (number 1) can take it so.
    """

    us: int
    left: Block
    right: Block
    beyond: int
    rolled: bool
    possible: bool


# (µs, left, right, strings beyond the reach, whether the middle player can take it so)
_Share = tuple[int, Block, Block, int, bool]


class History(NamedTuple):
    """What is known of one history of both hands.

    That is its greatest strain for each player, its rank (the less the better; where that is the same, the less awkward
    one), and who took what lately, latest first.
    """

    strains: Strains
    rank: float
    awkward: float
    shares: tuple[_Share, ...]


Histories = dict[tuple[Hand, Hand], History]
START: Histories = {((), ()): History(NO_STRAIN, 0.0, 0.0, ())}


class Placing:
    """Both hands of three players (slowest first).

    Attributes:
        before: the histories before the open attack.
        after: those with it.
        strains: the least strain that each player comes through with, up to the open attack.
    """

    def __init__(self, players: Sequence[Player], instrument: Instrument) -> None:
        self.grips = Grips(players, instrument)
        self.players = tuple(players)
        slowest = self.players[0]
        self._fingers, self._reach = slowest.fingers, slowest.reach
        self._spread = max(slowest.rolled_reach, slowest.reach)
        # After so long a hand can be anywhere, with all its fingers, and has even placed them twice.
        span = self.grips.highest[-1] - self.grips.lowest[0]
        self._anywhere = (
            2 * (slowest.place + slowest.place_finger * (slowest.fingers - 1)) + slowest.leap * span
        )
        self.start()

    def start(self) -> None:
        """Both hands free."""
        self.before = self.after = START
        self.strains = NO_STRAIN
        self.past: tuple[Struck, ...] = ()  # the last attacks, the open one last
        # For how many more attacks each player's strains cannot be trusted, as they were reset.
        self._doubt = self._doubt_after = (0, 0, 0)
        self.shares: list[Share] = []  # as far as it is settled who took what

    def fork(self) -> Placing:
        """A copy that goes its own way."""
        copy = object.__new__(Placing)
        copy.__dict__.update(self.__dict__)
        copy.shares = list(self.shares)
        return copy

    def open(self, us: int) -> None:
        """A new attack begins (µs)."""
        then = us - self._anywhere
        self.before = self.after
        self.past = (*self.past[1 - BACK[-1] :], Struck(us, ()))
        self._doubt = self._doubt_after
        if any(hand and hand[0].us <= then for hands in self.after for hand in hands):
            self.before = {}
            for (left, right), history in sorted(self.after.items(), key=_rank, reverse=True):
                left = left if left and left[0].us > then else ()
                right = right if right and right[0].us > then else ()
                if not left and not right:
                    history = history._replace(rank=0.0, awkward=0.0, strains=NO_STRAIN)
                self.before[left, right] = history

    def judge(self, struck: Struck, failed_so: Failed = NOBODY) -> Strains:
        """The strain of each player's easiest way to the open attack. failed_so: who cannot play it anyway."""
        found = self._go_on(struck)
        if not found:
            found = dict(self.before)  # nobody can take it, and so it changes nothing
            self.strains = (NEVER, NEVER, NEVER)
        else:
            easiest = [min(found.items(), key=lambda item: item[1].strains[n]) for n in range(3)]
            first, second, third = (history.strains[n] for n, (_, history) in enumerate(easiest))
            self.strains = first, second, third
            if len(found) > KEPT:
                found = dict([*sorted(found.items(), key=_rank)[:KEPT], *easiest])
        self.past = (*self.past[:-1], struck._replace(failed=failed_so))
        lost = [strain > MARGIN for strain in self.strains]
        self._doubt_after = (0, 0, 0)
        if any(lost) or any(self._doubt):
            self._make_certain(lost, failed_so)
            # Nothing from before it stands against what comes.
            for hands, history in list(found.items()):
                first, second, third = (0.0 if f else s for f, s in zip(lost, history.strains, strict=True))
                found[hands] = history._replace(strains=(first, second, third))
        self.after = found
        return self.strains

    def _go_on(self, struck: Struck) -> Histories:
        """The histories with the open attack, less those that come to the same hands with a worse rank."""
        found: Histories = {}
        tried: dict[tuple[Hand, Block], list[Stroke]] = {}
        every = self._divisions(struck)
        # In two placings only what cannot be had in one.
        divisions = [one for one in every if not one.left_again[0] and not one.right_again[0]] or every

        def strike(hand: Hand, block: Block, again: tuple[int, ...]) -> list[Stroke]:
            if not block:
                return [(hand, NO_STRAIN, 0)]
            known = tried.get((hand, block))
            if known is None:
                known = tried[hand, block] = self._strike(hand, block, again, struck)
            return known

        for (left, right), history in self.before.items():
            faded, awkward = history.rank * FADE, history.awkward * FADE
            a, b, c = history.strains
            for division in divisions:
                unlike = division.awkward + (ASTRAY if struck.left not in (None, division.left) else 0)
                rights = strike(right, division.right, division.right_again)
                for new_left, (slow, middle, quick), out in strike(left, division.left, division.left_again):
                    for new_right, (first, second, third), beyond in rights:
                        rank = middle if middle > second else second  # for the middle player
                        share = struck.us, division.left, division.right, out + beyond, rank <= MARGIN
                        rank *= 1 + AWKWARD * unlike
                        if new_left and new_right and new_left[0].block[-1] > new_right[0].block[0]:
                            rank *= CROSSED
                        if faded > rank:
                            rank = faded
                        strains = max(a, slow, first), max(b, middle, second), max(c, quick, third)
                        key = new_left, new_right
                        other = found.get(key)
                        if other is not None:
                            x, y, z = other.strains
                            strains = min(strains[0], x), min(strains[1], y), min(strains[2], z)
                            if (other.rank, other.awkward) <= (rank, awkward + unlike):
                                found[key] = other._replace(strains=strains)
                                continue
                        shares = share, *history.shares[: LATELY - 1]
                        found[key] = History(strains, rank, awkward + unlike, shares)
        return found

    def _make_certain(self, lost: Sequence[bool], failed_so: Failed) -> None:
        """Settle which players surely fail, where the histories kept do not tell.

        Asked of those whom no history brings through, or whose histories do not count; not of those who cannot play
        the attack anyway.
        """
        sure, strains, doubt = [False] * 3, list(self.strains), [0] * 3
        for n in reversed(range(3)):
            asked = not failed_so[n] and (lost[n] or self._doubt[n] > 0)
            # Where a quicker player fails, a slower one does.
            sure[n] = (n < 2 and sure[n + 1]) or (
                asked and surely_fails(self.past, n, self._divisions, self._strike)
            )
            if sure[n]:
                strains[n] = max(strains[n], TOO_HARD)
            elif lost[n]:
                strains[n] = 1.0
            if asked and not sure[n]:
                doubt[n] = BACK[-1] - 1 if lost[n] else self._doubt[n] - 1
        self.strains = strains[0], strains[1], strains[2]
        self._doubt_after = doubt[0], doubt[1], doubt[2]
        first, second, third = (a or b for a, b in zip(sure, failed_so, strict=True))
        self.past = (*self.past[:-1], self.past[-1]._replace(failed=(first, second, third)))

    def _strike(self, hand: Hand, block: Block, again: tuple[int, ...], struck: Struck) -> list[Stroke]:
        """The ways in which one hand strikes these notes: placed, and as part of a figuration."""
        us, figuration, whole = struck.us, struck.figuration, frozenset(block)
        after, since, placings, fingers, strings = self._look_back(hand, block, us)
        if since is None:
            strains = [float(NEVER) if more == NEVER else 0.0 for more in again]
        else:
            gap = max(us - since, 1)
            strains = [
                (p.place * (placings + more) + p.place_finger * fingers + p.leap * strings) / gap
                for p, more in zip(self.players, again, strict=True)
            ]
        first, second, third = strains
        found: list[Stroke] = [(after, (first, second, third), after[0].strings)]
        if figuration and figuration >= whole and (not after[0].strings or struck.slid >= whole):
            limits = struck.limits
            if struck.together & whole and any(again):
                first, second, third = (NEVER if a else b for a, b in zip(again, limits, strict=True))
                limits = first, second, third
            found.append(((Pluck(us, block, 0, 0, 0),), limits, 0))
        return found

    def _divisions(self, struck: Struck) -> Sequence[HandSplit]:
        """The ways to share an attack out."""
        every = self.grips.divisions(struck.pitches)
        if struck.rolled.issuperset(struck.pitches):
            every = tuple(replace(one, left_again=_ROLLED, right_again=_ROLLED) for one in every)
        return every

    def _look_back(self, hand: Hand, block: Block, us: int) -> tuple[Hand, int | None, int, int, int]:
        """The hand with these notes, and since when (µs) it can have placed them.

        With that comes what it placed since then: placings, further fingers, strings beyond the reach. None: it had the
        fingers free all along.
        """
        notes = len(block)
        if not hand:
            return (Pluck(us, block, 1, notes - 1, 0),), None, 0, 0, 0
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
        return tuple(kept), since, placings, fingers, strings

    def close(self) -> None:
        """The open attack is over: who took what a while ago is settled."""
        best = min(self.after.values(), key=_told)
        if len(best.shares) == LATELY:
            self._settle(best.shares[-1:])

    def finish(self) -> None:
        """The music is over: all of it is settled."""
        best = min(self.after.values(), key=_told)
        self._settle(best.shares)

    def _settle(self, shares: Sequence[_Share]) -> None:
        last = self.shares[-1].us if self.shares else -1
        slowest, flat = self.players[0], self.grips.flat
        self.shares += [
            Share(us, left, right, beyond, not (flat(left, slowest) and flat(right, slowest)), possible)
            for us, left, right, beyond, possible in reversed(shares)
            if us > last
        ]

    def fault(self, pitches: Block, us: int, number: int) -> HandsFault:
        """Why the player of this number cannot play the open attack."""
        player = self.players[number]
        best: tuple[float, HandsFault] | None = None
        divisions = self._divisions(self.past[-1])
        for hands in self.before:
            for division in divisions:
                worst: tuple[float, HandsFault] | None = None
                for is_left, hand, block, again in (
                    (True, hands[0], division.left, division.left_again[number]),
                    (False, hands[1], division.right, division.right_again[number]),
                ):
                    if not block or again == NEVER:
                        continue
                    after, since, placings, fingers, strings = self._look_back(hand, block, us)
                    if since is None:
                        continue
                    needed = player.place * (placings + again) + player.place_finger * fingers
                    far = after[0].strings and needed <= MARGIN * (us - since)
                    needed += player.leap * strings
                    kind = HandTrouble.TOO_FAR if far else HandTrouble.TOO_FAST
                    if again:
                        kind = HandTrouble.TOO_WIDE
                        if len(pitches) > 2 * player.fingers:
                            kind = HandTrouble.TOO_MANY
                    strain = needed / max(us - since, 1)
                    if worst is None or strain > worst[0]:
                        notes = pitches if kind is HandTrouble.TOO_MANY else block
                        worst = strain, HandsFault(kind, is_left, notes, needed, us - since, after[0].strings)
                possible = NEVER not in (division.left_again[number], division.right_again[number])
                if possible and worst is not None and worst[0] > MARGIN:
                    best = min(best or worst, worst, key=itemgetter(0))
        if best is None:  # not even in two placings a hand
            crowd = HandTrouble.TOO_MANY if len(pitches) > 2 * player.fingers else HandTrouble.TOO_WIDE
            return HandsFault(crowd, True, pitches, 0, 0, 0)
        return best[1]


def _told(history: History) -> tuple[bool, float, float]:
    """Which hand takes what, as it is reported: by the least awkward history that can be played."""
    return history.rank > MARGIN, history.awkward, history.rank


def _rank(item: tuple[tuple[Hand, Hand], History]) -> tuple[float, float]:
    return item[1].rank, item[1].awkward
