"""Which hand takes what: the few best histories of both hands, attack by attack.

Each history that is kept (`KEPT`) has its greatest strain for every player (placing.py). They tell who takes what. An
attack that one of them comes through is playable. Where none does, certain.py looks at every way.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from typing import NamedTuple

from livepedal.model.hands.certain import BACK, surely_fails
from livepedal.model.hands.grips import NEVER, Block
from livepedal.model.hands.placing import HandsFault, Placing
from livepedal.model.hands.strokes import MARGIN, NO_STRAIN, Hand, Strains, Struck

KEPT = 4  # histories
# The older rank of a history is multiplied by this at each attack: what was hard a while ago says little.
FADE = 0.93
# In the rank, what a player avoids without need counts as so much more strain (common practice): the left hand above
# the right, and each semitone of the right hand in the bass or of the left in the treble. To share a chord otherwise
# than a score's staves do counts as so many of those (`awkward`): players follow print, unless that costs something.
CROSSED = 1.5
AWKWARD = 0.02
TOO_HARD = 1.1  # the strain that is reported for a certain failure, where no history that was kept has one
LATELY = 6  # attacks after which it is settled which hand took what


class Share(NamedTuple):
    """Which hand takes what of one attack, at `us` (µs).

    Attributes:
        left, right: pitches upwards.
        rolled: whether a hand has to break its chord, or takes it in two placings.
        possible: whether the middle player (number 1) can take it so.
    """

    us: int
    left: Block
    right: Block
    rolled: bool
    possible: bool


class History(NamedTuple):
    """What is known of one history of both hands.

    That is its greatest strain for each player, its rank (the less the better; where that is the same, the less awkward
    one), and who took what lately, latest first.
    """

    strains: Strains
    rank: float
    awkward: float
    shares: tuple[Share, ...]


Hands = tuple[Hand, Hand]


class Histories:
    """Both hands of three players (slowest first), free at first.

    Attributes:
        before: the histories before the open attack, by what is known of the hands.
        after: those with it.
        strains: the least strain that each player comes through with, up to the open attack.
        shares: as far as it is settled who took what.
    """

    def __init__(self, placing: Placing) -> None:
        self._placing = placing
        self.before: dict[Hands, History] = {((), ()): History(NO_STRAIN, 0.0, 0.0, ())}
        self.after = self.before
        self.strains = NO_STRAIN
        self._past: tuple[Struck, ...] = ()  # the last attacks before the open one
        self._struck: Struck | None = None  # the open attack
        # For how many more attacks each player's strains cannot be trusted, as they were reset.
        self._doubt = self._doubt_after = [0, 0, 0]
        self.shares: list[Share] = []

    def fork(self) -> Histories:
        """A copy that goes its own way."""
        twin = copy(self)
        twin.shares = list(self.shares)
        return twin

    def open(self, us: int) -> None:
        """A new attack begins (µs)."""
        then = us - self._placing.anywhere
        if self._struck is not None:
            self._past = (*self._past[2 - BACK[-1] :], self._struck)
            self._struck = None
        self.before = self.after
        self._doubt = self._doubt_after
        if any(hand and hand[0].us <= then for hands in self.after for hand in hands):
            self.before = {}
            for (left, right), history in sorted(self.after.items(), key=lambda item: _told(item[1]), reverse=True):
                left = left if left and left[0].us > then else ()
                right = right if right and right[0].us > then else ()
                if not left and not right:
                    history = history._replace(rank=0.0, awkward=0.0, strains=NO_STRAIN)
                self.before[left, right] = history

    def judge(self, struck: Struck) -> Strains:
        """The strain of each player's easiest way to the open attack. Some may have failed at it otherwise."""
        found = self._go_on(struck)
        if not found:
            found = dict(self.before)  # nobody can take it, and so it changes nothing
            self.strains = (NEVER, NEVER, NEVER)
        else:
            easiest = [min(found.items(), key=lambda item: item[1].strains[n]) for n in range(3)]
            self.strains = tuple([history.strains[n] for n, (_, history) in enumerate(easiest)])
            if len(found) > KEPT:
                found = dict([*sorted(found.items(), key=_rank)[:KEPT], *easiest])
        self._struck = struck
        lost = [strain > MARGIN for strain in self.strains]
        self._doubt_after = [0, 0, 0]
        if any(lost) or any(self._doubt):
            self._make_certain(struck, lost)
            # Nothing from before it stands against what comes.
            for hands, history in list(found.items()):
                strains = tuple([0.0 if f else s for f, s in zip(lost, history.strains, strict=True)])
                found[hands] = history._replace(strains=strains)
        self.after = found
        return self.strains

    def _go_on(self, struck: Struck) -> dict[Hands, History]:
        """The histories with the open attack, less those that come to the same hands with a worse rank."""
        found: dict[Hands, History] = {}
        strokes, astray = self._placing.strokes, self._placing.hands.awkward
        every = self._placing.divisions(struck)
        # In two placings only what cannot be had in one.
        divisions = [one for one in every if not one.left_again[0] and not one.right_again[0]] or every
        for (left, right), history in self.before.items():
            faded, awkward = history.rank * FADE, history.awkward * FADE
            a, b, c = history.strains
            for split in divisions:
                unlike = split.awkward + (astray if struck.left not in (None, split.left) else 0)
                rights = strokes(right, split.right, split.right_again, struck)
                for new_left, (slow, middle, quick) in strokes(left, split.left, split.left_again, struck):
                    for new_right, (first, second, third) in rights:
                        rank = middle if middle > second else second  # for the middle player
                        possible = rank <= MARGIN
                        rank *= 1 + AWKWARD * unlike
                        if new_left and new_right and new_left[0].block[-1] > new_right[0].block[0]:
                            rank *= CROSSED
                        if faded > rank:
                            rank = faded
                        strains: Strains = max(a, slow, first), max(b, middle, second), max(c, quick, third)
                        key = new_left, new_right
                        other = found.get(key)
                        if other is not None:
                            strains = tuple(map(min, strains, other.strains))
                            if (other.rank, other.awkward) <= (rank, awkward + unlike):
                                found[key] = other._replace(strains=strains)
                                continue
                        share = Share(struck.us, split.left, split.right, split.rolled, possible)
                        shares = share, *history.shares[: LATELY - 1]
                        found[key] = History(strains, rank, awkward + unlike, shares)
        return found

    def _make_certain(self, struck: Struck, lost: Sequence[bool]) -> None:
        """Settle which players surely fail, where the histories kept do not tell.

        Asked of those whom no history brings through, or whose histories do not count; not of those who cannot play
        the attack anyway.
        """
        sure, strains, doubt = [False] * 3, list(self.strains), [0, 0, 0]
        for n in reversed(range(3)):
            asked = not struck.failed[n] and (lost[n] or self._doubt[n] > 0)
            # Where a quicker player fails, a slower one does.
            sure[n] = (n < 2 and sure[n + 1]) or (
                asked and surely_fails(self._placing, (*self._past, struck), n)
            )
            if sure[n]:
                strains[n] = max(strains[n], TOO_HARD)
            elif lost[n]:
                strains[n] = 1.0
            if asked and not sure[n]:
                doubt[n] = BACK[-1] - 1 if lost[n] else self._doubt[n] - 1
        self.strains = tuple(strains)
        self._doubt_after = doubt
        failed = tuple([a or b for a, b in zip(sure, struck.failed, strict=True)])
        self._struck = struck._replace(failed=failed)

    def close(self) -> None:
        """The open attack is over: who took what a while ago is settled."""
        best = min(self.after.values(), key=_told)
        if len(best.shares) == LATELY:
            self._settle(best.shares[-1:])

    def finish(self) -> None:
        """The music is over: all of it is settled."""
        self._settle(min(self.after.values(), key=_told).shares)

    def _settle(self, shares: Sequence[Share]) -> None:
        last = self.shares[-1].us if self.shares else -1
        self.shares += [share for share in reversed(shares) if share.us > last]

    def fault(self, number: int) -> HandsFault:
        """Why the player of this number cannot play the open attack."""
        assert self._struck is not None
        return self._placing.fault(self.before, self._struck, number)


def _told(history: History) -> tuple[bool, float, float]:
    """Which hand takes what, as it is reported: by the least awkward history that can be played."""
    return history.rank > MARGIN, history.awkward, history.rank


def _rank(item: tuple[Hands, History]) -> tuple[float, float]:
    return item[1].rank, item[1].awkward
