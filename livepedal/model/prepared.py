"""A part made ready for the search for its plan, once for all players, with what is found out on the way.

Of each attack that is: the ways to put its notes on strings (chords.py), when its strings are free, and the least
that all from it on costs (ahead.py). At ease all players are as slow as the slowest, so what one search at ease has
found, the others can look up.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from livepedal.harp import Pedal, Player, Ringing
from livepedal.model.ahead import Ahead
from livepedal.model.chords import RIGHT_FIRST_PEDAL, Chords, Narrowing, Sharing, Way
from livepedal.model.free import FreeRule
from livepedal.model.stands import FootState, Group, Moves, Stand
from livepedal.music.attacks import Gathered

# For each pitch of an attack: when its string is free when held counts, and when it does not (µs).
Frees: TypeAlias = dict[int, tuple[int, int]]


class Path(NamedTuple):
    """The end of a path through the attacks: its price, the path before, and what each foot did last."""

    price: int
    before: Path | None
    left_way: Way
    left_moves: Moves
    right_way: Way
    right_moves: Moves


NOWHERE = Path(0, None, (), (), (), ())
# The states of both feet that a path leads to, each pair once.
State: TypeAlias = tuple[FootState, FootState, Path]
States: TypeAlias = list[State]


@dataclass(slots=True)
class Run:
    """A search on its way: the states before each of the last attacks, those before the attack of this number, the
    attack until which several of them are kept, and how often states were dropped.
    """

    before: deque[States]
    states: States
    number: int
    wide: int
    bounded: int


# States, told by what makes them equal and their prices above the first one's; with the number of the attack.
_Seen: TypeAlias = tuple[int, tuple[tuple[object, object, int], ...]]
# The states after the attack, each with its price above that of the first one before, the number of the state
# before, and its steps; and whether some were dropped.
_Found: TypeAlias = tuple[list[tuple[FootState, FootState, int, int, Path]], int]
Shared: TypeAlias = dict[_Seen, _Found]


class Music:
    """The attacks of a part as a search needs them, for any player.

    chords: of the instrument; asked: how attacks are to be spelled, by their moment (µs).
    """

    def __init__(
        self,
        attacks: Sequence[Gathered],
        chords: Chords,
        ringing: Ringing,
        asked: Mapping[int, Narrowing] | None = None,
    ) -> None:
        self.attacks = attacks
        self.moments = [attack.us for attack in attacks]
        self.ringing = ringing
        self.ways: list[tuple[Sharing, ...]] = []
        # For each attack the pitches that its ways leave out.
        self.left_out: list[tuple[int, ...]] = []
        for attack in attacks:
            there = chords.narrowed(asked.get(attack.us, ())) if asked else chords
            pitches = [pitch for pitch, _ in attack.notes if there.options[pitch] is not None]
            ways, left_out = there.most_of(pitches)
            if left_out or len(pitches) < len(attack.notes):
                out = [pitch for pitch, _ in attack.notes if there.options[pitch] is None]
                self.left_out.append((*out, *left_out))
            else:
                self.left_out.append(())
            self.ways.append(ways)
        self.left, self.right = (
            Group(0, RIGHT_FIRST_PEDAL),
            Group(RIGHT_FIRST_PEDAL, len(Pedal) - RIGHT_FIRST_PEDAL),
        )
        self._frees: dict[tuple[int, int], tuple[Frees, ...]] = {}
        # What searches found at ease, by what tells them apart (best_path.py): step by step, and how far they came.
        self.shared: dict[tuple[object, ...], Shared] = {}
        self.begun: dict[tuple[object, ...], Run] = {}
        self.ahead = Ahead(self.ways)

    def frees(self, player: Player) -> tuple[Frees, ...]:
        """For each attack when its notes' strings are free, for this player."""
        key = player.overlap, player.grip
        known = self._frees.get(key)
        if known is None:
            known = self._frees[key] = free_times(self.attacks, player, self.ringing)
        return known

    def price(self, number: int, left: Stand, right: Stand) -> int:
        """The least price of the attacks from the given one on, for feet that stand so."""
        return self.ahead.least(number, left.code, right.code)


def free_times(attacks: Sequence[Gathered], player: Player, ringing: Ringing) -> tuple[Frees, ...]:
    """For each attack, pitch to (free when held counts, free when it does not), in µs, no string being plucked again
    (free.py).
    """
    moments = [attack.us for attack in attacks]
    held, sliding = FreeRule.held(player, ringing), FreeRule.sliding(player, ringing)
    again: dict[int, int] = {}
    found: list[Frees] = []
    for attack in reversed(attacks):
        now = {}
        us = attack.us
        for pitch, release in attack.notes:
            struck_again = again.get(pitch)
            if struck_again is not None and (release is None or release > struck_again):
                release = struck_again
            latest = us if release is None else moments[bisect_right(moments, release) - 1]
            again[pitch] = us
            now[pitch] = held.free(pitch, us, release, latest), sliding.free(pitch, us, release, latest)
        found.append(now)
    found.reverse()
    return tuple(found)
