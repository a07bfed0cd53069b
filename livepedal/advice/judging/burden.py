"""Too much at once, passage by passage: the pedal changes that each player would have to keep up (model/load.py).

It is the last of the layers, since it needs to know the pedal changes that are made, and so the plan, which looks
ahead. So it is not told while music goes on, and it can only make a passage's verdict worse.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from livepedal.advice.judging.basis import Basis
from livepedal.harp import Figures, Player
from livepedal.model.findings import Finding, Kind, Layer, Outcome, Passage, grade
from livepedal.model.load import Load, load
from livepedal.model.plan.planner import Plan
from livepedal.music.attacks import Gathered


@dataclass(frozen=True, slots=True)
class Burden:
    """One passage, and the load that each of the three players has in it."""

    passage: Passage
    loads: tuple[Load, Load, Load]

    @property
    def outcomes(self) -> tuple[Outcome, Outcome, Outcome]:
        """Who can bear it."""
        first, second, third = (Outcome.CANNOT if load.too_much else Outcome.PLAYS for load in self.loads)
        return first, second, third

    @property
    def heavier(self) -> Passage:
        """The passage with its verdict, this layer included."""
        verdict, _ = grade(self.outcomes)
        return replace(self.passage, verdict=max(self.passage.verdict, verdict))


def burdens_of(
    passages: Sequence[Passage], plans: Sequence[Plan], players: Sequence[Player], figures: Figures
) -> tuple[Burden, ...]:
    """The burdens of all passages.

    Args:
        passages: in order.
        plans: of the three players.
        players: the three, the relaxed first.
        figures: of the players and harps.
    """
    moved = [[change.us for change in plan.changes] for plan in plans]
    found = []
    for passage in passages:
        first, second, third = (
            load(passage.start, passage.end, changes, player, figures.load)
            for changes, player in zip(moved, players, strict=True)
        )
        found.append(Burden(passage, (first, second, third)))
    return tuple(found)


def burden_findings(
    burdens: Iterable[Burden], basis: Basis, attacks: Sequence[Gathered], identity: int
) -> Iterator[Finding]:
    """A finding for each passage where the chosen player has too much at once.

    Args:
        burdens: of all passages.
        basis: what it is judged on.
        attacks: as gathered, in order.
        identity: the id of the first.
    """
    for burden in burdens:
        mine = burden.loads[basis.number]
        if mine.too_much:
            struck = next((attack.pitches for attack in attacks if attack.us >= mine.start), ())
            yield Finding(
                identity,
                Kind.TOO_MUCH,
                Layer.LOAD,
                grade(burden.outcomes)[0],
                audible=False,
                us=mine.start,
                pitches=struck,
                note=max(struck, default=0),
                player=basis.player,
                load=mine,
            )
            identity += 1
