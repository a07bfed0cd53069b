"""Three players' feet side by side, each under two notions of when a string is free: six trackers of the same code.

All six are asked about every attack. After an attack that a player cannot play, that player's tracker stands elsewhere
than those of the others, so none of them can be answered for by another.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy

from livepedal.harp import Player, Ringing
from livepedal.model.feet.chords import Sharing
from livepedal.model.feet.letters import Letter
from livepedal.model.feet.tracker import Released, Tracker


class Feet:
    """The six trackers of three players; none where nobody asks about the feet.

    Attributes:
        trackers: the slowest player first, for each player first held, then sliding.
    """

    def __init__(self, players: Sequence[Player], ringing: Ringing) -> None:
        self._asked = self.trackers = tuple(
            Tracker(player, sliding, ringing) for player in players for sliding in (False, True)
        )

    def fork(self) -> Feet:
        """A copy that goes its own way."""
        twin = copy(self)
        twin._asked = tuple([tracker.fork() for tracker in self._asked])
        twin.trackers = twin._asked * (len(self.trackers) // max(len(twin._asked), 1))
        return twin

    def alone(self, number: int, audible: bool = False) -> Feet:
        """A copy with the trackers of one player (0: the relaxed) in the place of all six, for trying things on.

        A remedy is a question about one player: can this be played, audibly or not? The tracker that slides answers it
        by itself, exactly as it does among the six. Whatever is asked of any player is answered for this one, and
        nothing is ever audible unless it is asked for: then strings are held beside it.
        """
        twin = copy(self)
        if self.trackers:
            held, sliding = self.trackers[2 * number : 2 * number + 2]
            twin._asked = (held.fork(), sliding.fork()) if audible else (sliding.fork(),)
            twin.trackers = twin._asked * (6 // len(twin._asked))
        return twin

    def start(self, letters: tuple[Letter, ...] | None) -> None:
        """Start with nothing owed; letters unset, or as given."""
        for tracker in self._asked:
            tracker.start(letters)

    def open(self, moment: int) -> None:
        """A new attack begins (µs)."""
        for tracker in self._asked:
            tracker.open(moment)

    def strike(self, pitch: int, moment: int) -> None:
        """A key goes down."""
        for tracker in self._asked:
            tracker.strike(pitch, moment)

    def release(self, released: Sequence[Released], before: bool) -> None:
        """Keys were released; `before`: ones struck before the open attack, while it is open."""
        for tracker in self._asked:
            if before:
                tracker.release_before(released)
            else:
                tracker.release_after(released)

    def judge(self, ways: tuple[Sharing, ...], moment: int) -> None:
        """Judge the open attack (its ways: chords.py); each tracker's `failed` says whose feet cannot play it."""
        for tracker in self._asked:
            tracker.judge(ways, moment)

    @property
    def by_player(self) -> Sequence[tuple[Tracker, Tracker]]:
        """The trackers of each player: held, sliding."""
        return [*zip(self.trackers[::2], self.trackers[1::2], strict=True)]
