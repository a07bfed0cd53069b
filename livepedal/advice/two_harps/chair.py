"""One player on a harp of their own, who is given attacks one after another and says whether they can be played.

A chair is the model with nothing but this player's notes in it; it can be forked, so that a deal can be tried
before it is made.

`play` answers attack by attack, as the model does while music goes on. What the hands cannot do yet may be the
beginning of a figuration, which is known some attacks later; whoever asks `play` alone (the division of one attack,
thinning.py) takes such a beginning for a fault, and may share or drop more than need be, never less. `reach` and
`graded` wait for what is taken back.
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heappop, heappush
from itertools import combinations

from livepedal.advice.judging.basis import Basis
from livepedal.advice.two_harps.turns import Owners
from livepedal.model.findings import Outcome
from livepedal.model.monitor import Monitor
from livepedal.music.attacks import Gathered
from livepedal.music.events import NoteOff, NoteOn, SetPedals

FINGERS = 8
"""Four fingers of each hand; the little finger does not reach (Berlioz, Grand traité; Rimsky-Korsakov, ch. I:
five notes in a hand are impossible).
"""
LATE = 12  # attacks after one until nothing that is said against it is taken back any more
MOST_DIVIDED = 12  # notes of an attack that every division is tried for


class Chair:
    """A player to be handed attacks in order of time."""

    def __init__(self, basis: Basis) -> None:
        self._monitor = Monitor(basis.figures, basis.instrument, basis.player, basis.layers or None)
        if basis.setting is not None:
            self._monitor.feed(SetPedals(0, basis.setting))
        self._number = basis.number
        self._held: list[tuple[int, int, int]] = []
        self._keys = 0

    def fork(self) -> Chair:
        """A copy that goes its own way."""
        copy = object.__new__(Chair)
        copy._monitor = self._monitor.fork()
        copy._number = self._number
        copy._held = list(self._held)
        copy._keys = self._keys
        return copy

    def play(self, attack: Gathered) -> Outcome:
        """Play one attack; how it fared, as far as is known then."""
        while self._held and self._held[0][0] <= attack.us:
            us, pitch, key = heappop(self._held)
            self._monitor.feed(NoteOff(us, pitch, key))
        before = self._monitor.counts()[self._number]
        for pitch, end in attack.notes:
            self._keys += 1
            self._monitor.feed(NoteOn(attack.us, pitch, source=self._keys))
            if end is not None:
                heappush(self._held, (end, pitch, self._keys))
        after = self._monitor.counts()[self._number]
        if after.unplayable > before.unplayable:
            return Outcome.CANNOT
        return Outcome.AUDIBLE if after.audible > before.audible else Outcome.PLAYS

    @property
    def faults(self) -> tuple[int, int]:
        """How many attacks could not be played so far, and how many only with a pedal change to be heard."""
        count = self._monitor.counts()[self._number]
        return count.unplayable, count.audible

    def reach(self, attacks: Sequence[Gathered]) -> int:
        """How many of these attacks can be played from here on, none of them with an audible change.

        What is said against the first notes of a run is taken back once there are enough of them.
        """
        before, good = self.faults, 0
        for number, attack in enumerate(attacks, start=1):
            self.play(attack)
            if self.faults <= before:
                good = number
            elif number - good > LATE:
                break
        return good

    def graded(self) -> dict[int, Outcome]:
        """The attacks that could not be played or only audibly, by their moments (µs)."""
        ended = self._monitor.fork()
        ended.finish()
        found = {one.us: one.outcomes[self._number] for one in ended.record.graded}
        return {us: outcome for us, outcome in found.items() if outcome is not Outcome.PLAYS}


def give(chairs: Sequence[Chair], attack: Gathered, owners: Owners) -> Outcome:
    """Give each player their notes of an attack; how the one fares who fares worse."""
    return max(give_part(chair, attack, owners, who) for who, chair in enumerate(chairs))


def give_part(chair: Chair, attack: Gathered, owners: Owners, who: int) -> Outcome:
    """Give one player theirs; how they fare."""
    notes = tuple(note for note, owner in zip(attack.notes, owners, strict=True) if owner == who)
    return chair.play(attack.of(notes)) if notes else Outcome.PLAYS


def divisions(count: int, who: int) -> list[Owners]:
    """Ways to divide an attack of so many notes: all to one player, at a height, then more and more notes apart."""
    found = [(who,) * count, (1 - who,) * count]
    heights = [n for n in range(1, count) if max(n, count - n) <= FINGERS] or list(range(1, count))
    heights.sort(key=lambda n: abs(2 * n - count))
    found += [(1,) * n + (0,) * (count - n) for n in heights]
    found += [(0,) * n + (1,) * (count - n) for n in heights]
    if count <= MOST_DIVIDED:
        for size in range(1, count // 2 + 1):
            for given in combinations(range(count), size):
                found.append(tuple(1 - who if n in given else who for n in range(count)))
    return list(dict.fromkeys(found))
