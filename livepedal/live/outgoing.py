"""What a session sends: what is played, as it comes; answers (answering.py); passages that are heard again (again.py).

Each output has a process to itself (sources/ports/outputs.py), so none of them can hold up hearing or judging.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from livepedal.advice.remedies.remedy import Remedy
from livepedal.harp.tables import AnswerFigures
from livepedal.live.advising import Question
from livepedal.live.again import Again
from livepedal.live.answering import Answering
from livepedal.live.faults import Faults
from livepedal.sources.ports.outputs import ANSWERS
from livepedal.sources.ports.sender import Sender
from livepedal.views.dashboard.history import Chapter

_ADVISED = 20  # passages that advice may still be to come on


@dataclass(frozen=True, slots=True)
class Outs:
    """Where a session sends: what is played, as it comes (through); answers; a passage that is to be heard again."""

    through: Sender | None = None
    answer: Sender | None = None
    again: Sender | None = None

    @property
    def roles(self) -> dict[Sender, list[str]]:
        """What each output is for, in words."""
        roles: dict[Sender, list[str]] = {}
        told = {"through": self.through, "answers": self.answer, "passages again": self.again}
        for role, sender in told.items():
            if sender is not None:
                roles.setdefault(sender, []).append(role)
        return roles

    def end(self) -> None:
        """Nothing more is sent; what is on is switched off."""
        for sender in self.roles:
            sender.end()


class Outgoing:
    """Follows a session. again: passages to be heard again; answering: the answers."""

    def __init__(self, outs: Outs, figures: AnswerFigures, faults: Faults, bell: bool) -> None:
        """bell: whether there is a terminal whose bell rings."""
        self.again = Again(outs.again)
        answer = None if outs.answer is None else partial(outs.answer.at_once, ANSWERS)
        self.answering = Answering(figures, faults, answer, bell=bell)

    def over(self, chapter: Chapter, question: Question) -> None:
        """A passage is over."""
        self.again.keep(chapter.number, question)
        self.answering.over(chapter)

    def known(
        self, chapters: Sequence[Chapter], take: int, within: int, remedies: Sequence[Remedy] = ()
    ) -> None:
        """More is known of a passage of a take."""
        for chapter in chapters[-_ADVISED:]:
            if (chapter.take, chapter.within) == (take, within):
                self.again.advised(chapter.number, remedies)
                self.answering.look(chapter)
