"""Answers for a player who looks at the keys: a MIDI message, or the terminal's bell, when an attack is unplayable.

Another message says that a passage is over and all was well.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence

from livepedal.harp.tables import AnswerFigures
from livepedal.live.faults import Faults, Stage
from livepedal.model.findings import Finding, Verdict
from livepedal.sources.journal import Heard
from livepedal.sources.ports.stamps import clock
from livepedal.sources.raw import CONTROLLER, NOTE_OFF, NOTE_ON
from livepedal.views.dashboard.history import Chapter

Send = Callable[[Sequence[int], int], None]
"""Takes a message and when it is due (ns of `stamps.clock`; 0: at once)."""

_MOST_ANSWERED = 64  # attacks that may still be revised


class Answering:
    """Gives the answers, in the judge's thread.

    Attributes:
        bells: how often the terminal's bell should have been rung so far.

    Args:
        send: None where there is no output for answers.
        bell: count bells.
    """

    def __init__(
        self, figures: AnswerFigures, faults: Faults, send: Send | None, *, bell: bool = False
    ) -> None:
        self.bells = 0
        self._figures, self._faults, self._send, self._bell = figures, faults, send, bell
        self._answered: deque[int] = deque(maxlen=_MOST_ANSWERED)  # moments of attacks (µs of the take)

    def judged(self, message: Heard, found: tuple[Finding, ...]) -> None:
        """Answer to the findings of a message."""
        try:
            for finding in found:
                worst = finding.verdict is Verdict.UNPLAYABLE and not finding.withdrawn
                if worst and finding.us not in self._answered:
                    self._answered.append(finding.us)
                    self.bells += self._bell
                    self._answer(self._figures.unplayable)
        except Exception as error:
            self._faults.caught(Stage.ANSWERS, error)

    def over(self, chapter: Chapter) -> None:
        """Answer to a passage that is over, if all was well."""
        self._answered.clear()
        if not chapter.more and all(finding.audible for finding in chapter.findings):
            self._answer(self._figures.well)

    def _answer(self, number: int) -> None:
        if self._send is None:
            return
        figures, channel = self._figures, self._figures.channel - 1
        on, off = NOTE_ON, NOTE_OFF
        if figures.controllers:
            on = off = CONTROLLER
        self._send((on | channel, number, figures.velocity), 0)
        self._send((off | channel, number, 0), clock() + figures.length * 1000)
