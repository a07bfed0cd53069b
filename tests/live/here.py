"""Advice in the thread that asks for it, for wherever the moment has to be known."""

from __future__ import annotations

from livepedal.live.advising import advise
from livepedal.live.advisor import Advisor
from livepedal.live.question import Question


class AdvisorHere(Advisor):
    """Answers at once."""

    def wake(self) -> None:
        pass

    def ask(self, question: Question) -> None:
        for advice in advise(question):
            self._tell(advice)
        self._done(question)
