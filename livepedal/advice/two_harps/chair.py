"""One player on a harp of their own, who is given attacks one after another and says whether they can be played.

A chair is the model with nothing but this player's notes in it; it can be forked, so that a deal can be tried
before it is made.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from heapq import heappop, heappush

from livepedal.advice.judging.basis import Basis
from livepedal.model.findings import Outcome
from livepedal.model.monitor import BareMonitor
from livepedal.music.attacks import Gathered
from livepedal.music.events import NoteOff, NoteOn, SetPedals

LATE = 12  # attacks after one until nothing that is said against it is taken back any more


class Chair:
    """A player to be handed attacks in order of time.

    Attributes:
        fingers: of both hands.
    """

    def __init__(self, basis: Basis) -> None:
        self._monitor = BareMonitor(basis.figures, basis.instrument, basis.player, basis.layers or None)
        if basis.setting is not None:
            self._monitor.feed(SetPedals(0, basis.setting))
        self.fingers = 2 * basis.chosen.fingers
        self._number = basis.number
        self._held: list[tuple[int, int, int]] = []  # a heap: when a key comes up, its pitch and number
        self._keys = 0

    def fork(self) -> Chair:
        """A copy that goes its own way."""
        copy = object.__new__(Chair)
        copy._monitor = self._monitor.fork()
        copy.fingers, copy._number = self.fingers, self._number
        copy._held, copy._keys = list(self._held), self._keys
        return copy

    def play(self, attack: Gathered) -> Outcome:
        """Play one attack; how it fared, as far as is known then.

        What the hands cannot do yet may be the beginning of a figuration, which is known some attacks later. Whoever
        relies on this answer (thinning.py) takes such a beginning for a fault, and drops more than need be, never less.
        """
        while self._held and self._held[0][0] <= attack.us:
            us, pitch, key = heappop(self._held)
            self._monitor.feed(NoteOff(us, pitch, key))
        before = self._so_far
        for pitch, end in attack.notes:
            self._keys += 1
            self._monitor.feed(NoteOn(attack.us, pitch, source=self._keys))
            if end is not None:
                heappush(self._held, (end, pitch, self._keys))
        after = self._so_far
        if after[0] > before[0]:
            return Outcome.CANNOT
        return Outcome.AUDIBLE if after[1] > before[1] else Outcome.PLAYS

    @property
    def _so_far(self) -> tuple[int, int]:
        """How many attacks could not be played, and how many only audibly, as far as is known now."""
        count = self._monitor.counts()[self._number]
        return count.unplayable, count.audible

    def reach(self, attacks: Iterable[Gathered]) -> int:
        """How many of these attacks can be played from here on, none of them with an audible change.

        What is said against the first notes of a run is taken back once there are enough of them.
        """
        before, good = self._so_far, 0
        for number, attack in enumerate(attacks, start=1):
            self.play(attack)
            if self._so_far <= before:
                good = number
            elif number - good > LATE:
                break
        return good

    def faults(self) -> tuple[int, int, int]:
        """The attacks that cannot be played, or only audibly, if nothing more comes; and those that others cannot.

        The last number counts the relaxed, the working and the virtuoso player together: the lower, the easier it is.
        """
        ended = self._monitor.fork()
        ended.finish()
        counts = ended.counts()
        mine = counts[self._number]
        return mine.unplayable, mine.audible, sum(count.unplayable for count in counts)


def faults_of(chairs: Sequence[Chair]) -> tuple[int, int, int]:
    """The faults of several players together."""
    cannot, audible, others = zip(*(chair.faults() for chair in chairs), strict=True)
    return sum(cannot), sum(audible), sum(others)
