"""Who plays what of a part that two share, as values: each attack's owners, and the turns that they make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from livepedal.music.attacks import Gathered
from livepedal.music.timemap import Place

BOTH = 2
# Which player has each note of an attack, upwards.
Owners = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Split:
    """Attacks from `first` to before `stop` that both play.

    Attributes:
        from_note: the first player has the notes from this MIDI number up, or
        classes: the second has these pitch classes.
    """

    first: int
    stop: int
    from_note: int | None = None
    classes: tuple[int, ...] = ()

    def owners(self, attack: Gathered) -> Owners:
        """Who has which of its notes."""
        if self.from_note is not None:
            return tuple(int(pitch < self.from_note) for pitch, _ in attack.notes)
        return tuple(int(pitch % 12 in self.classes) for pitch, _ in attack.notes)


@dataclass(frozen=True, slots=True)
class Deal:
    """Who plays what.

    Attributes:
        impossible, audible: the numbers of the attacks that cannot be played so, or only with an audible pedal change.
        splits: what both play.
        bars: how long its turns are, where it was made by bars.
    """

    owners: tuple[Owners, ...]
    impossible: tuple[int, ...] = ()
    audible: tuple[int, ...] = ()
    splits: tuple[Split, ...] = ()
    bars: int = 0

    @property
    def faults(self) -> tuple[int, int]:
        """How many attacks cannot be played, and how many only audibly."""
        return len(self.impossible), len(self.audible)

    @property
    def borders(self) -> tuple[int, ...]:
        """The attacks at which the other player comes in."""
        who = [who_has(one) for one in self.owners]
        return tuple(n for n in range(1, len(who)) if {who[n - 1], who[n]} == {0, 1})


@dataclass(frozen=True, slots=True)
class Turn:
    """From one attack (its place among all) to before another, one player plays, 0 or 1, or both (2).

    Attributes:
        start, end: the bars and beats of its first attack and of its last.
        us: its first moment.
        quick: too short to sound seamless.
        split: how both share it, where they share a span.
    """

    first: int
    stop: int
    who: int
    start: Place
    end: Place
    us: int
    quick: bool = False
    split: Split | None = None


def hand_overs(turns: Sequence[Turn]) -> int:
    """How often another player goes on."""
    return sum({a.who, b.who} == {0, 1} for a, b in pairwise(turns))


def who_has(owners: Owners) -> int:
    """The player who has all of an attack; `BOTH` where they share it."""
    return owners[0] if len(set(owners)) == 1 else BOTH


def turn_around(owners: Sequence[Owners], number: int) -> range:
    """The attacks around one that are dealt to the same."""
    first = stop = number
    while first > 0 and set(owners[first - 1]) == set(owners[number]):
        first -= 1
    while stop < len(owners) and set(owners[stop]) == set(owners[number]):
        stop += 1
    return range(first, stop)
