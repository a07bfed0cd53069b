"""Too much at once, passage by passage: what each player's feet and hands together have to do (model/load.py).

It is the last of the layers, since it needs to know the pedal changes that are made, and so the plan.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from livepedal.harp import Figures, Player
from livepedal.model.faults import Where
from livepedal.model.findings import Finding, Kind, Layer, Outcome, Passage, grade
from livepedal.model.load import Load, load
from livepedal.model.plan import Plan
from livepedal.model.shares import Share


@dataclass(frozen=True, slots=True)
class Burden:
    """One passage, and the load that each of the three players has in it."""

    passage: Passage
    loads: tuple[Load, Load, Load]

    @property
    def outcomes(self) -> tuple[Outcome, Outcome, Outcome]:
        """Who can bear it."""
        one, two, three = (Outcome.CANNOT if one.too_much else Outcome.PLAYS for one in self.loads)
        return one, two, three

    @property
    def heavier(self) -> Passage:
        """The passage with its verdict, this layer included."""
        verdict, _ = grade(self.outcomes)
        return replace(self.passage, verdict=max(self.passage.verdict, verdict))


def burdens_of(
    passages: Sequence[Passage],
    plans: Sequence[Plan],
    shares: Sequence[Sequence[Share]],
    players: Sequence[Player],
    figures: Figures,
) -> tuple[Burden, ...]:
    """The burdens of all passages. plans, shares: of the three players; a share is who plays what (shares.py)."""
    moved = [[change.us for change in plan.changes] for plan in plans]
    found = []
    for passage in passages:
        one, two, three = (
            load(passage.start, passage.end, changes, mine, player, figures.loads)
            for changes, mine, player in zip(moved, shares, players, strict=True)
        )
        found.append(Burden(passage, (one, two, three)))
    return tuple(found)


def burden_finding(
    burden: Burden, number: int, name: str, shares: Sequence[Share], identity: int
) -> Finding | None:
    """The finding where the player of this number and name has too much at once; None where not."""
    mine = burden.loads[number]
    if not mine.too_much:
        return None
    struck = next((share.left + share.right for share in shares if share.us >= mine.start), ())
    where = Where(mine.start, struck, name, burden.outcomes, audible=False)
    return replace(where.finding(Kind.TOO_MUCH, Layer.LOAD, max(struck, default=0)), id=identity, load=mine)
