"""Answers for a player who looks at the keys: a MIDI message, or the terminal's bell, when an attack is unplayable.

Another message says that a passage is over and all was well. It is sent once that is settled, too much at once included
(advising.py), and only while nothing new is played: in the middle of the next passage it would seem to mean that one.
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
    """Gives the answers. Findings come from the judge's thread, settled passages from that of advice.

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
        self._waiting: tuple[int, int] | None = None  # the take and the number of a passage

    def judged(self, message: Heard, found: tuple[Finding, ...]) -> None:
        """Answer to the findings of a message."""
        try:
            if message.data and message.data[0] & 0xF0 == NOTE_ON:
                self._waiting = None
            for finding in found:
                worst = finding.verdict is Verdict.UNPLAYABLE and not finding.withdrawn
                if worst and finding.us not in self._answered:
                    self._answered.append(finding.us)
                    self.bells += self._bell
                    self._answer(self._figures.unplayable)
        except Exception as error:
            self._faults.caught(Stage.ANSWERS, error)

    def over(self, chapter: Chapter) -> None:
        """Take note of a passage that is over."""
        self._answered.clear()
        self._waiting = chapter.take, chapter.within
        self.look(chapter)

    def look(self, chapter: Chapter) -> None:
        """Answer, if what is known of a passage now settles that all was well."""
        if (chapter.take, chapter.within) != self._waiting or (chapter.provisional and chapter.sought):
            return
        self._waiting = None
        if all(finding.audible for finding in chapter.findings):
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
