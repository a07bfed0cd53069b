"""The tightest gap of each bar.

A *gap* is time that a pedal change of the plan has: from when its string is free (as held, so nothing for an
audible change) to the attack that needs it, which has to hold a flick and `settle`; or from the change of the
same foot before it, which has to hold a cycle (model/plan/footwork.py has both rules). The tightest gap of a bar is the
one that is shortest for what it has to hold, by the figures of the player that the plan is for. A change belongs
to the bar in which the foot starts.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from livepedal.advice.judging.report import PartReport
from livepedal.harp import Foot, Pedal, Player, Ringing
from livepedal.model.plan.prepared import FreeTimes
from livepedal.model.plan.timing import PedalChange


@dataclass(frozen=True, slots=True)
class Gap:
    """Time that a pedal change has.

    Attributes:
        available, needed: µs; available is 0 or less where the string is wanted until the attack.
        change: the one it is about.
        before: the foot's change before it, where the gap lies between the two; None where it is the string that has
            to be free.
    """

    available: int
    needed: int
    change: PedalChange
    before: PedalChange | None = None

    @property
    def share(self) -> Fraction:
        """What there is of what it has to hold: 1 is just enough."""
        return Fraction(self.available, max(self.needed, 1))


def tightest_gaps(part: PartReport, player: Player, ringing: Ringing) -> Mapping[int, Gap]:
    """The tightest gap of each bar, by number, that has one.

    Args:
        part: the part.
        player: the one that the part was judged for.
        ringing: how long strings are heard.
    """
    gaps: dict[int, list[Gap]] = defaultdict(list)
    for gap in gaps_of(part, player, ringing):
        gaps[part.place(gap.change.us).bar].append(gap)
    return {bar: min(some, key=lambda gap: gap.share) for bar, some in gaps.items()}


def gaps_of(part: PartReport, player: Player, ringing: Ringing) -> Iterator[Gap]:
    """Every gap that limits a change of the plan, in the order of the changes."""
    free = _free(part, player, ringing)
    last: dict[Foot, PedalChange] = {}
    for change in part.plan.changes:
        since = [us for struck, us in free.get(change.pedal, ()) if struck < change.attack_us]
        if since:
            notches = abs(change.goal - change.start)
            yield Gap(change.attack_us - max(since), player.leads[notches], change)
        before = last.get(change.foot)
        if before is not None and before.possible:
            yield Gap(change.us - before.us, player.cycle, change, before)
        last[change.foot] = change


def _free(part: PartReport, player: Player, ringing: Ringing) -> Mapping[Pedal, Sequence[tuple[int, int]]]:
    """For each pedal's strings: when they were struck, and from when they are free."""
    found: dict[Pedal, list[tuple[int, int]]] = defaultdict(list)
    frees = FreeTimes(part.music, player, ringing)
    for number, (attack, spellings) in enumerate(part.spelled):
        for (pitch, _), spelling in zip(attack.notes, spellings, strict=True):
            if spelling is not None and not spelling.fixed:
                found[spelling.pedal].append((attack.us, frees[number][pitch][0]))
    return found
