"""The search behind the plan: the cheapest path through the attacks of a part (prices.py says what costs what).

A state holds what the verdict search's readings hold (readings.py), for both feet, but remembers every
pedal's position, for each move has a price. As there, a quiet foot forgets what it owes (here its letters stay where
they are, free to be changed at ease at any time), and a state goes when another one can turn itself into it, quietly
and at ease, without paying more. Both rules keep the best path.

Music in which the written names can be played at ease takes one look an attack (attack.py), and is proved the best.
Where they cannot, the search goes back a while and keeps many states, until it is past the place; if the next such
place is near, it goes on from those. Where that may not be the best, `bounded` counts the attacks at which states were
dropped. What lies farther back than the search ever goes is kept as bare steps, so that long music takes little memory.

As many attacks are given up as the verdict calls unplayable: for each of them that one, or the one before it if that
lets it be played and is better for the rest. Others are given up only if no state that was kept can play them.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from livepedal.harp import Player, Setting
from livepedal.model.feet.letters import UNSET
from livepedal.model.plan.attack import AttackStep, State, Taken
from livepedal.model.plan.footwork import Footwork
from livepedal.model.plan.prepared import Music
from livepedal.model.plan.prices import AUDIBLE, IMPOSSIBLE, NAME, NEVER
from livepedal.model.plan.stands import FREE, FootState


class Look(NamedTuple):
    """How hard the search looks where an attack costs more than was known before.

    more: from what price on; states: how many are kept; alike: how many of them with the pedals standing the same, so
    that there are some that are unlike; back: how many attacks it goes back for that.
    """

    more: int
    states: int
    alike: int
    back: int


LOOKS = (Look(0, 1, 1, 0), Look(NAME, 10, 3, 16), Look(AUDIBLE, 24, 6, 40), Look(IMPOSSIBLE, 64, 8, 40))
ON = 12  # for so many attacks it goes on like that
# States kept of a path that grows, more than the search goes back; after so many it is shortened.
KEPT, OFTEN = 64, 512


class Search:
    """The search for the best path of one player through one part.

    relaxed: the slowest player, whose figures say what is tight; cannot: the moments (µs) of the attacks that the
    player's feet cannot play, as the verdict has it.
    """

    def __init__(self, music: Music, player: Player, relaxed: Player, cannot: Collection[int] = ()) -> None:
        self.music = music
        self.work = Footwork(music, player, relaxed)
        self.bounded = 0
        # The attacks that cannot be played, which is counted in the lower bound, and those given up instead perhaps.
        self._fails = [us in cannot or out for us, out in zip(music.moments, music.left_out, strict=True)]
        self._instead = [*self._fails[1:], False]
        # What the attacks from a place on cost at least, not counting each pedal's first change.
        self._place, self._rest = len(music.moments), 0
        self._done: list[Taken] = []  # what lies behind the states of a quick path
        self.looked = 0

    def first(self, start: Setting | None, start_us: int) -> State:
        """Both feet before the music: their letters set at a moment (µs), or as they are wanted first."""
        positions = start.positions if start else (None,) * 7
        feet = []
        least = self.rest(0)
        for number, group in enumerate(self.music.groups):
            mine = positions[group.first : group.first + group.count]
            times = tuple(FREE if position is None else (start_us, start_us, ()) for position in mine)
            stand = group.stand(tuple(UNSET if position is None else int(position) for position in mine))
            least += self.music.ahead(0, number, stand)
            feet.append(FootState((stand, times, ())))
        return State(least, 0, feet[0], feet[1], None, Taken((), (), (), (), False))

    # -- whole paths ---------------------------------------------------------------------------------------------------

    def quick(self, first: State, far: bool = True) -> State:
        """The end of a cheap path. far: whether to go back far at hard places."""
        looks = LOOKS if far else LOOKS[:2]
        states, number = [first], 0
        self._done = []
        level, until = 0, 0  # how hard the search looks, and up to which attack
        past, kept, looked = 0, states, 0  # where it last looked so hard, the states after that, and how hard
        while number < len(self.music.moments):
            if number >= until:
                if level:
                    past, kept, looked = number, states, level
                states, level = states[:1], 0
                if number >= len(self._done) + OFTEN:
                    states = [self._shortened(states[0])]
                    kept, looked = states, 0
            look = looks[level]
            after = self.step(states, number, look.states, look.alike)
            more = (after[0].least if after else NEVER) - states[0].least
            wanted = max([place for place, one in enumerate(looks) if more >= one.more], default=0)
            if wanted:
                until = max(until, number + 1 + ON)
            if wanted > level:
                # What it costs here may be spared by what was done before.
                level = wanted
                self.work.slides |= looks[level].more >= AUDIBLE
                number, states = self._calm(states[0], number, looks[level].back)
                if looked >= level and number <= past:
                    number, states = past, kept
                continue
            states = after or self.step(states, number, look.states, look.alike, may_fail=True)
            number += 1
        return states[0]

    def _calm(self, state: State, number: int, back: int) -> tuple[int, list[State]]:
        """The last attack up to this one before which both feet were calm, and the state there.

        They are calm when nothing is owed and every string is free. At most `back` attacks ago.
        """
        begin = number
        while state.before is not None and begin > number - back:
            feet = [self.work.cut(foot, self.work.quiet(begin)) for foot in (state.left, state.right)]
            if all(not foot.owed and all(times == FREE for times in foot.times) for foot in feet):
                break
            begin, state = begin - 1, state.before
        return begin, [state]

    def whole(self, first: State, most: int, limit: int, effort: int) -> State | None:
        """The best path of all that cost less than `limit`.

        None where there is none, or where that is not known (`bounded`).

        Args:
            first: the state before the music.
            most: how many states to keep, at the most.
            limit: a price.
            effort: how many choices to look at, at the most.
        """
        states = [first]
        for number in range(len(self.music.moments)):
            states = self.step(states, number, most, most, limit, effort)
            effort -= self.looked
            if not states:
                return None
        return states[0]

    def step(
        self,
        states: list[State],
        number: int,
        most: int,
        alike: int,
        limit: int = NEVER,
        effort: int | None = None,
        may_fail: bool = False,
    ) -> list[State]:
        """The states after one attack (attack.py), none where it cannot be played.

        Args:
            states: before it.
            number: of the attack.
            most: as for `AttackStep.after`, like `alike`, `limit` and `effort`.
            alike: how many with the pedals standing the same, at the most.
            limit: the price that a path has to stay below.
            effort: how many choices to look at.
            may_fail: whether it may be given up though the verdict does not say so.
        """
        fails, instead, rest = self._fails[number], self._instead[number], self.rest(number + 1)
        may_fail |= fails or instead
        attack = AttackStep(self.music, self.work, states, number, rest, fails, instead, may_fail)
        found, complete = attack.after(most, alike, limit, effort)
        self.looked = attack.looked
        self.bounded += not complete
        return found

    def rest(self, number: int) -> int:
        """What all attacks from this one on cost at least, not counting each pedal's first change."""
        while self._place > number:
            self._place -= 1
            self._rest += self.music.least[self._place] + IMPOSSIBLE * self._fails[self._place]
        while self._place < number:
            self._rest -= self.music.least[self._place] + IMPOSSIBLE * self._fails[self._place]
            self._place += 1
        return self._rest

    # -- the path ------------------------------------------------------------------------------------------------------

    def path(self, best: State) -> list[Taken]:
        """What is done for each attack on the way to the end of a path, the last that was found."""
        return [*self._done, *_taken(best)]

    def _shortened(self, state: State) -> State:
        """The end of a path, with what lies farther back than the search may go as bare steps."""
        states = [state]
        while (before := states[-1].before) is not None:
            states.append(before)
        kept = states[KEPT]._replace(before=None)
        known = {step: step for step in self._done[-OFTEN:]}
        self._done += [known.setdefault(step, step) for step in _taken(states[KEPT])]
        for state in reversed(states[:KEPT]):
            kept = state._replace(before=kept)
        return kept


def _taken(best: State) -> list[Taken]:
    """What is done for each attack on the way there."""
    steps: list[Taken] = []
    while best.before is not None:
        steps.append(best.taken)
        best = best.before
    steps.reverse()
    return steps
