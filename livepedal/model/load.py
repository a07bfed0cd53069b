"""Too much at once: feet and hands each manage, and together they do not.

Difficulty adds up in layers: right hand, left hand, and the feet busy. With many pedal moves, hands that move
together are safer than hands that move independently, because the instrument shifts on the player's shoulder
(trade facts, common practice, no source; harp rhythm and leaps while pedalling: siba, pedaling: many fast
changes are easy if they fall in rhythm with the music, hard if the hands are busy with rhythm or leaps).

The formula is livepedal's own, no source. Over the busiest stretch of a passage, as long as [load] span:

    feet  = pedal changes a second / [load] feet
    hands = troubles of the hands a second / [load] hands
    load  = feet * (1 + hands)

so each change counts once, and once more for every unit of what the hands are troubled with meanwhile. Feet
alone and hands alone are judged by their own figures; without changes there is no load. A *trouble of the
hands* is
- an attack after which the hands go on otherwise than together or in turn: one of them rests where both had
  played, or joins in where one had (independent rhythm). Hands that strike together, and hands that take
  turns, have none;
- an attack in which both play and one goes up while the other goes down;
- a leap: strings beyond the reach (hands.py).

Above the player's `load` (players.py) the passage gets a finding that names the layer to thin out: the larger
of the two. All figures stand in figures.toml, marked as common practice without source.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import TYPE_CHECKING

from livepedal.harp import LoadFigures, Player

if TYPE_CHECKING:
    from livepedal.model.shares import Share

SECOND = 1_000_000


class Thin(StrEnum):
    """The layer that has most to give."""

    FEET = "feet"
    HANDS = "hands"


@dataclass(frozen=True, slots=True)
class Load:
    """How much there is to do in the busiest stretch of a passage.

    start, end: of the stretch (µs). changes, troubles: how many; feet, hands, total: in the units of the head
    of this file. too_much: more than the player's figure; thin: the layer to thin out.
    """

    start: int
    end: int
    changes: int
    troubles: int
    feet: float
    hands: float
    total: float
    too_much: bool
    thin: Thin


def load(
    start: int,
    end: int,
    changes: Iterable[int],
    shares: Sequence[Share],
    player: Player,
    figures: LoadFigures,
) -> Load:
    """The load of the passage from `start` to `end` (µs).

    changes: the moments of pedal changes (µs), of any passage; shares: who plays what, of any passage, in
    order (shares.py).
    """
    moved = sorted(us for us in changes if start <= us <= end)
    here = [share for share in shares if start <= share.us <= end]
    troubled = [share.us for before, share in pairwise(here) for _ in range(troubles(before, share))]
    best: Load | None = None
    # The busiest stretch can always be taken to begin with a change.
    for first in moved or [start]:
        last = first + figures.span
        some = bisect_right(moved, last) - bisect_left(moved, first)
        many = bisect_right(troubled, last) - bisect_left(troubled, first)
        one = _load(first, min(last, end), some, many, player, figures)
        if best is None or one.total > best.total:
            best = one
    assert best is not None
    return best


def _load(start: int, end: int, changes: int, troubled: int, player: Player, figures: LoadFigures) -> Load:
    seconds = figures.span / SECOND
    feet = changes / seconds / float(figures.feet)
    hands = troubled / seconds / float(figures.hands)
    total = feet * (1 + hands)
    thin = Thin.FEET if feet >= hands else Thin.HANDS
    return Load(start, end, changes, troubled, feet, hands, total, total > player.load, thin)


def troubles(before: Share, share: Share) -> int:
    """The troubles of the hands from one attack to the next: 0 to 2."""
    both, were_both = bool(share.left and share.right), bool(before.left and before.right)
    found = int(both != were_both)
    if both and were_both:
        found = int(_towards(before.left, share.left) * _towards(before.right, share.right) < 0)
    return found + (share.beyond > 0)


def _towards(before: Sequence[int], after: Sequence[int]) -> int:
    one, other = before[-1], after[-1]
    return (other > one) - (other < one)
