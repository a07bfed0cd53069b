"""Too much at once: more pedal changes than a player can keep up, although each could be made in time.

How soon a foot is ready again (`cycle`, players.py) is a short-term rate. Nobody keeps it up with both feet for long
while playing (common practice, no source for a figure): in the harp parts that livepedal was tried on, no stretch
of six seconds has more than eleven changes. So the changes in any stretch as long as [load] span may be no more
than the player's `sustained` rate times that span.

What is left out: that pedalling is harder while the hands move independently than while they move together (trade
facts, common practice, no source). In those parts the stretches with most changes have the busiest hands too, so a
figure for it could not be told from one that forbids what harpists play.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from livepedal.harp import LoadFigures, Player

SECOND = 1_000_000


@dataclass(frozen=True, slots=True)
class Load:
    """The part of a passage with the most pedal changes.

    Attributes:
        start, end: of its first and last change (µs).
        changes: how many.
        most: the number that the player can keep up in `span` µs.
    """

    start: int
    end: int
    changes: int
    most: float
    span: int

    @property
    def too_much(self) -> bool:
        """Whether there are more than the player can keep up."""
        return self.changes > self.most


def load(start: int, end: int, changes: Iterable[int], player: Player, figures: LoadFigures) -> Load:
    """The load of the passage from `start` to `end` (µs).

    Args:
        start: of the passage.
        end: of the passage.
        changes: moments of pedal changes (µs), of any passage.
        player: whose sustained rate counts.
        figures: over how long a span changes are counted.
    """
    moved = sorted(us for us in changes if start <= us <= end)
    most = float(player.sustained * figures.span / SECOND)
    best = Load(start, start, 0, most, figures.span)
    first = 0
    # A span can start later, at its first change, without losing any, so only such spans are tried.
    for number, us in enumerate(moved):
        while us - moved[first] > figures.span:
            first += 1
        if number + 1 - first > best.changes:
            best = Load(moved[first], us, number + 1 - first, most, figures.span)
    return best
