"""Too much at once: more pedal changes than a player can keep up, although each could be made in time.

How soon a foot is ready again (`cycle`, players.py) is a short-term rate. Nobody keeps it up with both feet for long
while playing (common practice, no source for a figure). So the changes in any stretch as long as [load] span may be no
more than the player's `sustained` rate times that span.

What counts is the least that the notes ask for, whatever they are called, and however the pedals stand before them:
no pedalling has fewer changes there. So whatever is called too much at once is, for every way to play it. And what the
notes ask for hangs neither on the tempo nor on the player: a slower tempo only parts notes that were within one
stretch, and an abler player keeps up more. So slower is never worse, and an abler player never fares worse.

What is left out: the ordinary names may take more changes than the least; a stretch with the least of them may leave
another one with more; and the least may be more than there is time for, which is the feet's own layer. So is that
pedalling is harder while the hands move independently than while they move together (trade facts, common practice, no
source). In those parts the stretches with most changes have the busiest hands too, so a figure for it could not be
told from one that forbids what harpists play.

The least number of changes is found letter by letter, as it was used last. A way for the letters to stand goes where
another one can turn itself into it without more changes than it has: all that follows costs that one no more.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass
from itertools import product
from typing import TypeAlias

from livepedal.harp import Player
from livepedal.model.feet.chords import RIGHT_FIRST_PEDAL, Sharing

SECOND = 1_000_000

# Positions of letters as a bit mask: three bits for each letter, of which one is set, or none before it is used.
_Stand: TypeAlias = int
# What a way of an attack asks for: the letters that it uses, all three bits of each set, and how they have to stand.
_Asks: TypeAlias = tuple[tuple[int, _Stand], ...]
# The ways to stand after some attacks, each with its number of changes, the fewest first.
_Stands: TypeAlias = list[tuple[_Stand, int]]
BITS = 3
FREE: _Stands = [(0, 0)]


@dataclass(frozen=True, slots=True)
class Load:
    """The part of a passage with the most pedal changes.

    Attributes:
        start, end: of its first and last attack (µs).
        changes: how many it takes at the least.
        most: the number that the player can keep up in `span` µs.
    """

    start: int
    end: int
    changes: int
    most: int
    span: int

    @property
    def too_much(self) -> bool:
        """Whether there are more than the player can keep up."""
        return self.changes > self.most


class Busiest:
    """The part of a passage with the most changes so far, attack by attack.

    Attributes:
        span: over how long a time changes are counted (µs).
        start, end: its first and last attack (µs).
        changes: how many it takes at the least.
        pitches: of its first attack.
    """

    def __init__(self, span: int) -> None:
        self.start = self.end = self.changes = 0
        self.span = span
        self.pitches: tuple[int, ...] = ()
        self._recent: deque[tuple[int, tuple[int, ...], _Asks]] = deque()
        self._stands = FREE  # after the attacks since some moment, at first since the first

    def fork(self) -> Busiest:
        """A copy that goes its own way."""
        twin = copy(self)
        twin._recent = self._recent.copy()
        return twin

    def attack(self, us: int, pitches: tuple[int, ...], ways: Sequence[Sharing]) -> None:
        """One more attack: its moment (µs), its notes, and the ways to put them on strings."""
        asks, recent = _asks(ways), self._recent
        recent.append((us, pitches, asks))
        while us - recent[0][0] > self.span:
            recent.popleft()
        self._stands = _after(self._stands, asks)
        # Fewer attacks never take more changes, so the last span by itself is worth a look only here.
        if _fewest(self._stands) > self.changes:
            self._stands = FREE
            for _, _, asks in recent:
                self._stands = _after(self._stands, asks)
        if _fewest(self._stands) > self.changes:
            self.end, self.changes = us, _fewest(self._stands)
            back = FREE
            for self.start, self.pitches, asks in reversed(recent):  # backwards it takes as many
                back = _after(back, asks)
                if _fewest(back) == self.changes:
                    break

    def loads(self, players: Iterable[Player]) -> tuple[Load, ...]:
        """The load of the passage for each player, by their sustained rates."""
        rates = (int(player.sustained * self.span / SECOND) for player in players)
        return tuple(Load(self.start, self.end, self.changes, most, self.span) for most in rates)


def _fewest(stands: _Stands) -> int:
    return stands[0][1]


def _asks(ways: Sequence[Sharing]) -> _Asks:
    """What each way of an attack asks of the letters."""
    found: dict[tuple[int, _Stand], None] = {}
    for sharing in ways:
        for left, right in product(sharing.left, sharing.right):
            letters = stand = 0
            for first, way in ((0, left), (RIGHT_FIRST_PEDAL, right)):
                for index, position, _ in way:
                    place = BITS * (first + index)
                    letters |= (1 << BITS) - 1 << place
                    stand |= 1 << place + 1 + position
            found[letters, stand] = None
    return tuple(found)


def _after(stands: _Stands, asks: _Asks) -> _Stands:
    """The ways to stand after one more attack."""
    fewest: dict[_Stand, int] = {}
    for before, changes in stands:
        for letters, stand in asks:
            now = before & ~letters | stand
            more = changes + (before & letters & ~stand).bit_count()
            if more < fewest.get(now, more + 1):
                fewest[now] = more
    kept: _Stands = []
    for now, changes in sorted(fewest.items(), key=lambda one: one[1]):
        if all(less + (other & ~now).bit_count() > changes for other, less in kept):
            kept.append((now, changes))
    return kept
