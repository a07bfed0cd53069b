"""Too much at once: more pedal changes than a player can keep up, although each could be made in time.

How soon a foot is ready again (`cycle`, players.py) is a short-term rate. Nobody keeps it up with both feet for long
while playing (common practice, no source for a figure). So the changes in any stretch as long as [load] span may be no
more than the player's `sustained` rate times that span.

What counts is the least that the notes ask for, whatever they are called (unless a spelling is given), and however the
pedals stand before them: no pedalling has fewer changes there. So whatever is called too much at once is, for every way
to play it. And what the notes ask for depends neither on the tempo nor on the player: a slower tempo only parts notes
that were within one stretch, and an abler player keeps up more. So slower is never worse, and an abler player never
fares worse.

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
from functools import lru_cache
from itertools import islice, product
from typing import NamedTuple, TypeAlias

from livepedal.harp import Player
from livepedal.model.feet.chords import RIGHT_FIRST_PEDAL, Sharing

SECOND = 1_000_000

# Positions of letters as a bit mask: three bits for each letter, of which one is set, or none before it is used.
_Stand: TypeAlias = int
# What a way of an attack asks for: the letters that it uses, all three bits of each set, and how they have to stand.
_Asks: TypeAlias = tuple[tuple[int, _Stand], ...]
# The ways to stand after some attacks, each with its number of changes above the fewest, the fewest first.
_Stands: TypeAlias = tuple[tuple[_Stand, int], ...]
BITS = 3
FREE: _Stands = ((0, 0),)


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


class _Struck(NamedTuple):
    """An attack: its moment (µs), its notes, what they ask for, the ways to stand after it, and what it adds."""

    us: int
    pitches: tuple[int, ...]
    asks: _Asks
    stands: _Stands
    more: int


class Busiest:
    """The part of a passage with the most changes so far, attack by attack.

    Attributes:
        span: over how long a time changes are counted (µs).
        mosts: the number that each player can keep up in that time.
        changes: how many it takes at the least.
    """

    def __init__(self, span: int, players: Iterable[Player]) -> None:
        self.span = span
        self.mosts = tuple([int(player.sustained * span / SECOND) for player in players])
        self.changes = 0
        self._recent: deque[_Struck] = deque()
        self._since = 0  # what the last attacks take since some moment, at first since the first
        self._busy: Sequence[_Struck] = ()  # the span with the most

    def fork(self) -> Busiest:
        """A copy that goes its own way."""
        twin = copy(self)
        twin._recent = self._recent.copy()
        return twin

    @property
    def too_much(self) -> tuple[bool, ...]:
        """Whether that is more than each player can keep up."""
        return tuple([self.changes > most for most in self.mosts])

    def attack(self, us: int, pitches: tuple[int, ...], ways: Sequence[Sharing]) -> None:
        """One more attack: its moment (µs), its notes, and the ways to put them on strings."""
        recent = self._recent
        asks = _asks(ways)
        stands, more = _after(recent[-1].stands if recent else FREE, asks)
        recent.append(_Struck(us, pitches, asks, stands, more))
        self._since += more
        while us - recent[0].us > self.span:
            recent.popleft()
        # Fewer attacks never take more changes, so the last span by itself is worth a look only here.
        if self._since > self.changes:
            self._anew()
        if self._since > self.changes:
            self.changes, self._busy = self._since, tuple(recent)

    def _anew(self) -> None:
        """Count what the last span takes by itself, until from some attack on all is as it was before."""
        recent, stands, since = self._recent, FREE, 0
        for number, struck in enumerate(recent):
            stands, more = _after(stands, struck.asks)
            since += more
            recent[number] = struck._replace(stands=stands, more=more)
            if stands == struck.stands:
                since += sum([later.more for later in islice(recent, number + 1, None)])
                break
        self._since = since

    def loads(self) -> tuple[tuple[Load, ...], tuple[int, ...]]:
        """The load of the passage for each player, and the notes of the attack with which it begins."""
        stands, changes, start, pitches = FREE, 0, 0, tuple[int, ...]()
        end = self._busy[-1].us if self._busy else 0
        for struck in reversed(self._busy):  # backwards it takes as many
            stands, more = _after(stands, struck.asks)
            changes, start, pitches = changes + more, struck.us, struck.pitches
            if changes == self.changes:
                break
        return tuple([Load(start, end, changes, most, self.span) for most in self.mosts]), pitches


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


@lru_cache(4096)  # a chromatic line asks for the same again and again, as does each tempo that is tried
def _after(stands: _Stands, asks: _Asks) -> tuple[_Stands, int]:
    """The ways to stand after one more attack, and how many changes it adds at the least."""
    fewest: dict[_Stand, int] = {}
    for before, changes in stands:
        for letters, stand in asks:
            now = before & ~letters | stand
            more = changes + (before & letters & ~stand).bit_count()
            if more < fewest.get(now, more + 1):
                fewest[now] = more
    least = min(fewest.values())
    kept: list[tuple[_Stand, int]] = []
    for more, now in sorted([(more - least, now) for now, more in fewest.items()]):
        for other, less in kept:
            if less + (other & ~now).bit_count() <= more:
                break
        else:
            kept.append((now, more))
    return tuple(kept), least
