"""Dealing a part out to two players, so that each can play what falls to them.

The players take turns. One plays on as far as the model says that they can, without an audible pedal change, and then
back to the last place where the other comes in easily (seams.py): at a bar line or after a rest if possible, else on a
beat, never inside a run. The other has had all that time to set the pedals. Playing less is never harder, so among
turns that end at such places going on as far as possible gives the fewest.

Where neither gets to such a place within a turn that is long enough to sound seamless, both play, on to the first such
place after the trouble: each has the notes on one side of a height, so that no line crosses it, or they share it
note by note, each having the notes of one whole-tone scale. (Common practice, no source. Seven strings hold
the six notes of such a scale at once, so no pedal moves; counted over all settings in the tests.) The way with the
fewest faults is taken, and among equals the one that is easiest for all three players. Only where every way has
faults may a run be handed over, if the other can play it to its end. What even two cannot play stays with the player
whose turn it is, and is said.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Container, Sequence
from dataclasses import replace
from fractions import Fraction

from livepedal.advice.judging.basis import Basis
from livepedal.advice.two_harps.chair import Chair, faults_of
from livepedal.advice.two_harps.seams import Ease, attacks_inside_runs, eases
from livepedal.advice.two_harps.turns import BOTH, Split, Turn, dealt, splits
from livepedal.music.attacks import Gathered
from livepedal.music.song import Part
from livepedal.music.timemap import Place


class Dealer:
    """Deals the attacks of one part."""

    def __init__(
        self, part: Part, attacks: Sequence[Gathered], basis: Basis, step: Callable[[int, int], None]
    ) -> None:
        """step: called with (attacks dealt, attacks in all)."""
        self.part = part
        self.attacks = attacks
        self._basis = basis
        self._step = step
        self._ease = eases(attacks, part.time_map, basis.figures)
        self._inside = attacks_inside_runs(attacks, basis.figures)
        self.bars = [self._place(attack.us).bar for attack in attacks]

    def alone(self) -> tuple[Turn, ...]:
        """Everything with the first player."""
        return (self._turn(0, len(self.attacks), 0),)

    def deal(self, short: Container[int] = ()) -> tuple[Turn, ...]:
        """Who plays what. short: bars in which the players take turns bar by bar, where a turn could be longer."""
        chairs = self.chairs()
        turns: list[Turn] = []
        while (place := turns[-1].stop if turns else 0) < len(self.attacks):
            self._step(place, len(self.attacks))
            last = turns[-1] if turns else None
            turn = self._next(chairs, place, short, last)
            play(chairs, self.attacks, turn)
            if last is not None and (last.who, last.split) == (turn.who, turn.split):
                turn = self._turn(turns.pop().first, turn.stop, turn.who, turn.split)
            turns.append(turn)
        return tuple(turns)

    def chairs(self) -> tuple[Chair, Chair]:
        """Both players before the first note."""
        return Chair(self._basis), Chair(self._basis)

    def _next(self, chairs: Sequence[Chair], place: int, short: Container[int], last: Turn | None) -> Turn:
        """The turn from the attack `place` on.

        Args:
            chairs: both players, as they are then.
            place: the number of the attack.
            short: as for `deal`.
            last: the turn before.
        """
        here = self.bars[place]
        later = (bar for bar in self.bars[place:] if bar > here and (here in short or bar in short))
        border = next(later, self.bars[-1] + 1)
        until, far = bisect_left(self.bars, border), bisect_left(self.bars, border + 1)
        same = last.who if last is not None and last.who != BOTH else 0
        reached = {
            who: place + chair.fork().reach(self.attacks[place:far]) for who, chair in enumerate(chairs)
        }

        def alone(least: Ease, players: tuple[int, int]) -> Turn | None:
            """The turn of the player who goes on farther; of the first of two equals."""
            stops = [self._stop(place, reached[who], until, least) for who in players]
            return self._turn(place, max(stops), players[stops.index(max(stops))]) if any(stops) else None

        other = 1 - same if last is not None else same
        if turn := alone(Ease.BAR, (other, 1 - other)) or alone(Ease.BEAT, (same, 1 - same)):
            return turn
        ends = range(max(reached.values()) + 1, len(self.attacks) + 1)
        end = next(n for n in ends if self._ease[n] >= Ease.BEAT)
        ways = [self._turn(place, end, same)]
        known = [last.split] if last is not None and last.split is not None else []
        ways += [self._turn(place, end, BOTH, one) for one in (*known, *splits(self.attacks[place:end]))]
        costs = [self._cost(chairs, way) for way in ways]
        if any(min(costs)[:2]):
            for least in (Ease.IN_RUN, Ease.NEVER):
                turn = alone(least, (same, 1 - same))
                if turn and self._goes_on(chairs[1 - turn.who], turn.stop):
                    return turn
        return ways[costs.index(min(costs))]

    def _goes_on(self, chair: Chair, place: int) -> bool:
        """Whether a player gets from an attack on to a place where the other comes in easily."""
        reached = place + chair.fork().reach(self.attacks[place:])
        return self._stop(place, reached, reached, Ease.BEAT) > 0

    def _stop(self, place: int, reached: int, until: int, least: Ease) -> int:
        """Where a turn ends that could go on to before the attack `reached`; 0: nowhere well enough.

        Not long after `until`.
        """
        good = [
            n for n in range(place + 1, reached + 1) if self._ease[n] >= least and self._seamless(place, n)
        ]
        return max((n for n in good if n <= until), default=min(good, default=0))

    def _seamless(self, first: int, stop: int) -> bool:
        """Whether a turn is long enough to sound seamless, or a whole run, or the end."""
        return (
            self._lasts(first, stop) >= self._basis.figures.share.seam
            or stop == len(self.attacks)
            or (stop > first + 1 and all(n in self._inside for n in range(first + 1, stop)))
        )

    def _cost(self, chairs: Sequence[Chair], turn: Turn) -> tuple[int, int, int]:
        trial = [chair.fork() for chair in chairs]
        play(trial, self.attacks, turn)
        return faults_of(trial)

    def _turn(self, first: int, stop: int, who: int, split: Split | None = None) -> Turn:
        start, end = self._place(self.attacks[first].us), self.part.time_map.place(self.attacks[stop - 1].us)
        return Turn(first, stop, who, split, start, end, self._lasts(first, stop))

    def _lasts(self, first: int, stop: int) -> int:
        if stop < len(self.attacks):
            after = self.attacks[stop].us
        else:
            after = max(self.part.end_us if end is None else end for _, end in self.attacks[-1].notes)
        return after - self.attacks[first].us

    def _place(self, us: int) -> Place:
        """Where an attack is; one just before a bar line counts as on it."""
        here = self.part.time_map.place(us)
        soon = self.part.time_map.place(us + self._basis.figures.window.attack)
        return here if here.bar == soon.bar else replace(soon, beat=Fraction(1))


def play(chairs: Sequence[Chair], attacks: Sequence[Gathered], turn: Turn) -> None:
    """Have the players play a turn."""
    for who, chair in enumerate(chairs):
        for attack in dealt(attacks, turn, who):
            chair.play(attack)
