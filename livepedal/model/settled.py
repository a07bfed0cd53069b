"""What is settled of what a monitor says, each thing once: for whoever tells it while music goes on.

A finding is settled when its attack is over, since until then a late note may revise it or take it back; a passage
when it is over.
"""

from __future__ import annotations

from collections.abc import Iterable

from livepedal.model.findings import Finding, Passage, keep
from livepedal.model.monitor import Monitor


class Settled:
    """Of one monitor. told: how many of its passages have been handed out."""

    def __init__(self, monitor: Monitor, window: int) -> None:
        """window: in which notes are one attack (µs)."""
        self.told = 0
        self._monitor = monitor
        self._window = window
        self._fresh: dict[int, Finding] = {}

    def found(self, findings: Iterable[Finding]) -> None:
        """What the monitor has just said."""
        keep(self._fresh, findings)

    def findings(self, over: bool = False) -> list[Finding]:
        """Those that are settled and were not handed out before. over: nothing more will come."""
        if not self._fresh:
            return []
        now = self._monitor.now
        settled = [one for one in self._fresh.values() if over or now - one.us > self._window]
        for finding in settled:
            del self._fresh[finding.id]
        return settled

    def passages(self) -> list[Passage]:
        """Those that are over and were not handed out before."""
        closed = [passage for passage in self._monitor.passages[self.told :] if not passage.open]
        self.told += len(closed)
        return closed
