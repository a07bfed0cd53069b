"""One tracker in the place of a scale of six, for trying things on.

A remedy is a question about one player: can this be played, audibly or not? The tracker that slides answers
it by itself, exactly as it does among the six (scale.py), in a fraction of their time. As all three players
are then this one, whatever is asked of any of them is answered for this one, and nothing is ever audible.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from livepedal.model.monitor import Monitor
from livepedal.model.readings import Letter
from livepedal.model.tracker import Released, Tracker


def alone(monitor: Monitor, number: int) -> Monitor:
    """A fork of a monitor that follows one of its three players only (0 to 2, the relaxed first), and only
    whether they can play, audibly or not; its `counts` then say the same of all three.
    """
    copy = monitor.fork()
    copy.catch_up()
    scale: Any = Alone(copy._scale.trackers[2 * number + 1])
    copy._scale = scale
    return copy


class Alone:
    """Fed as a Scale is. one: a Tracker, or whatever stands in a scale in its place."""

    behind = False

    def __init__(self, one: Any) -> None:
        self._one = one
        self.trackers = (one,) * 6

    def start(self, letters: tuple[Letter, ...] | None) -> None:
        """Nothing owed; letters unset, or as given."""
        self._one.start(letters)

    def fork(self) -> Alone:
        """A copy that goes its own way."""
        return Alone(self._one.fork())

    def open(self, moment: int) -> None:
        """A new attack begins."""
        self._one.open(moment)

    def strike(self, pitch: int, moment: int) -> None:
        """A key goes down."""
        self._one.strike(pitch, moment)

    def release(self, released: Sequence[Released], before: bool) -> None:
        """Keys were released; `before`: ones struck before the open attack, while it is open."""
        (self._one.release_before if before else self._one.release_after)(released)

    def judge(self, *attack: Any) -> bool:
        """Whether the player can play the open attack; what a scale is asked with: ways and moment, for a
        player with hands the pitches before them and the links of a glissando after them.
        """
        if isinstance(self._one, Tracker):
            ways, moment = attack if len(attack) == 2 else attack[1:3]
            return self._one.judge(ways, moment)
        return bool(self._one.judge(*attack))

    def catch_up(self) -> None:
        """There is nothing to be done later."""
