"""What is settled of what a monitor says, each thing once: for whoever tells it while music goes on.

A finding is settled when its attack is over, since until then a late note may revise it or take it back; a passage
when it is over.
"""

from __future__ import annotations

from collections.abc import Iterable

from livepedal.model.findings import Finding, Passage, keep
from livepedal.model.monitor import Monitor


class Settled:
    """Of one monitor. passages_handed: how many of its passages have been handed out."""

    def __init__(self, monitor: Monitor, window: int) -> None:
        """window: in which notes are one attack (µs)."""
        self.passages_handed = 0
        self._monitor = monitor
        self._window = window
        self._fresh: dict[int, Finding] = {}
        self._handed: set[int] = set()  # ids
        self._taken_back: list[Finding] = []

    def found(self, findings: Iterable[Finding]) -> None:
        """What the monitor has just said."""
        findings = tuple(findings)
        self._taken_back += [one for one in findings if one.withdrawn and one.id in self._handed]
        keep(self._fresh, findings)

    def findings(self, over: bool = False) -> list[Finding]:
        """Those that are settled and were not handed out before.

        Before them come those that were, and are withdrawn since: the figuration that they are part of was recognised.

        Args:
            over: nothing more will come.
        """
        if not self._fresh and not self._taken_back:
            return []
        now = self._monitor.now
        settled = [one for one in self._fresh.values() if over or now - one.us > self._window]
        for finding in settled:
            del self._fresh[finding.id]
            self._handed.add(finding.id)
        back, self._taken_back = self._taken_back, []
        return back + settled

    def passages(self) -> list[Passage]:
        """Those that are over and were not handed out before."""
        closed = self._monitor.record.passages[self.passages_handed :]
        self.passages_handed += len(closed)
        return closed
