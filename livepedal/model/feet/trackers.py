"""Three players side by side, each under two notions of when a string is free: six trackers of the same code.

All six are asked about every attack, or none where nobody wants to know of the feet. After an attack that a player
cannot play, that player's tracker stands elsewhere than those of the others, so none of them can be answered for by
another.
"""

from __future__ import annotations

from collections.abc import Sequence

from livepedal.harp import Player, Ringing
from livepedal.model.feet.chords import Sharing
from livepedal.model.feet.letters import Letter
from livepedal.model.feet.tracker import Released, Tracker


class Scale:
    """The six trackers of three players.

    Attributes:
        trackers: the slowest player first, for each player first held, then sliding.
        idle: nobody asks about the feet, so the trackers are told nothing and can play everything.
    """

    __slots__ = ("_asked", "trackers")

    def __init__(self, players: Sequence[Player], ringing: Ringing, idle: bool = False) -> None:
        self.trackers = tuple(
            Tracker(player, sliding, ringing) for player in players for sliding in (False, True)
        )
        self._asked = () if idle else self.trackers

    def alone(self, number: int, audible: bool = False) -> Scale:
        """A copy with the trackers of one player (0: the relaxed) in the place of all six, for trying things on.

        A remedy is a question about one player: can this be played, audibly or not? The tracker that slides answers it
        by itself, exactly as it does among the six. Whatever is asked of any player is answered for this one, and
        nothing is ever audible unless it is asked for: then strings are held beside it.
        """
        if not self._asked:
            return self
        copy = object.__new__(Scale)
        held, sliding = self.trackers[2 * number : 2 * number + 2]
        copy._asked = (held.fork(), sliding.fork()) if audible else (sliding.fork(),)
        copy.trackers = copy._asked * (6 // len(copy._asked))
        return copy

    def idle(self) -> Scale:
        """A copy that is asked about nothing more."""
        copy = object.__new__(Scale)
        copy._asked, copy.trackers = (), self.trackers
        return copy

    def fork(self) -> Scale:
        """A copy that goes its own way."""
        if not self._asked:
            return self
        copy = object.__new__(Scale)
        copy._asked = tuple(one.fork() for one in self._asked)
        copy.trackers = copy._asked * (6 // len(copy._asked))
        return copy

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

    def judge(self, ways: tuple[Sharing, ...], moment: int) -> bool:
        """Whether every player's feet can play the open attack (its ways: chords.py) without a slide.

        Where they cannot, each tracker's `failed` says whose feet cannot.
        """
        plays = True
        for tracker in self._asked:
            plays = tracker.judge(ways, moment) and plays
        return plays

    @property
    def cut(self) -> tuple[bool, bool, bool]:
        """For which players the search for the open attack was cut short."""
        first, second, third = (
            held.cut or sliding.cut
            for held, sliding in zip(self.trackers[::2], self.trackers[1::2], strict=True)
        )
        return first, second, third
