"""One player on a harp of their own, who is handed attacks one after another and says whether they can be
played.

A chair is the model with nothing but this player's notes in it; it can be forked, so that a deal can be tried
before it is made.
"""

from __future__ import annotations

from collections.abc import Iterable
from heapq import heappop, heappush

from livepedal.harp import Figures, Instrument, Setting
from livepedal.model.findings import Finding, Layer, Outcome, keep
from livepedal.model.monitor import Monitor
from livepedal.music.attacks import Gathered
from livepedal.music.events import NoteOff, NoteOn, SetPedals

FINGERS = 8
"""Four fingers of each hand; the little finger does not reach (Berlioz, Grand traité; Rimsky-Korsakov, ch. I:
five notes in a hand are impossible).
"""


class Chair:
    """A player to be handed attacks in order of time."""

    def __init__(
        self,
        figures: Figures,
        instrument: Instrument,
        player: str,
        setting: Setting | None = None,
        layers: tuple[Layer, ...] = (),
    ) -> None:
        self._monitor = Monitor(figures, instrument, player, layers or None)
        if setting is not None:
            self._monitor.feed(SetPedals(0, setting))
        self._number = self._monitor.players.index(self._monitor.player)
        self._held: list[tuple[int, int, int]] = []
        self._keys = 0
        self.findings: tuple[Finding, ...] = ()

    def fork(self) -> Chair:
        """A copy that goes its own way."""
        copy = object.__new__(Chair)
        copy._monitor = self._monitor.fork()
        copy._number = self._number
        copy._held = list(self._held)
        copy._keys = self._keys
        copy.findings = self.findings
        return copy

    def play(self, attack: Gathered) -> Outcome:
        """Play one attack; `findings` then says what stood against it."""
        while self._held and self._held[0][0] <= attack.us:
            us, pitch, key = heappop(self._held)
            self._monitor.feed(NoteOff(us, pitch, key))
        found: dict[int, Finding] = {}
        before = self._monitor.counts()[self._number]
        for pitch, end in attack.notes:
            self._keys += 1
            keep(found, self._monitor.feed(NoteOn(attack.us, pitch, source=self._keys)))
            if end is not None:
                heappush(self._held, (end, pitch, self._keys))
        self.findings = tuple(found.values())
        after = self._monitor.counts()[self._number]
        if after.unplayable > before.unplayable:
            return Outcome.CANNOT
        return Outcome.AUDIBLE if after.audible > before.audible else Outcome.PLAYS

    def reach(self, attacks: Iterable[Gathered], worst: Outcome = Outcome.PLAYS) -> int:
        """How many of these attacks can be played from here on, until one fares worse than `worst`."""
        count = 0
        for attack in attacks:
            if self.play(attack) > worst:
                break
            count += 1
        return count
