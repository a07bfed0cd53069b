"""The third stage of a session: what is settled, in words, and into the history of passages.

Runs in the judge's thread, since it looks at takes; a fault in it is the judge's to note, and stops nothing else.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from livepedal.live.advising import Question, question_of
from livepedal.live.advisor import Advisor
from livepedal.live.chapters import Chapters
from livepedal.live.session import Anew, Keeping, News
from livepedal.live.take import Take
from livepedal.model.findings import Finding, Layer, Passage
from livepedal.model.instead import Instead
from livepedal.views.dashboard.history import Chapter, nowhere
from livepedal.views.plain import finding_line, passage_line
from livepedal.views.signs import Signs


class Wording:
    """Turns news into lines. It is called with each."""

    def __init__(
        self,
        chapters: Chapters,
        advisor: Advisor | None,
        signs: Signs,
        middle_c: str,
        line: Callable[[str], None],
        say: Callable[[str], None],
        over: Callable[[Chapter, Question], None] = lambda chapter, question: None,
        nearest: Callable[[int, Finding], Instead | None] = lambda take, finding: None,
        named: Callable[[int, int], str] = lambda take, number: "",
    ) -> None:
        """Args:
        nearest: what could be played instead, as far as it is known.
        named: the name of the file of a passage, by the numbers of its take and of the passage from 0.
        line: takes a line of text about the music.
        say: takes a sentence about the session.
        over: takes a passage that is over, and what is asked about it, before anybody is.
        """
        self._chapters, self._advisor = chapters, advisor
        self._signs, self._middle_c = signs, middle_c
        self._line, self._say, self._over = line, say, over
        self._nearest, self._named = nearest, named

    def __call__(self, news: News) -> None:
        what, take = news.what, news.take
        time_map = take.time_map if take.musical else None
        match what:
            case str():
                self._say(what)
            case Finding():
                self._chapters.found(what)
                # What is taken back goes from the screen, so that is said there too.
                say = self._say if what.withdrawn else self._line
                say(
                    finding_line(
                        what, time_map, self._signs, self._middle_c, self._nearest(take.number, what)
                    )
                )
            case Passage():
                question = self._question(take, what)
                chapter = self._chapters.over(
                    question,
                    nowhere if time_map is None else lru_cache(maxsize=256)(time_map.place),
                    sought=self._advisor is not None,
                )
                self._over(chapter, question)
                if self._advisor is not None:
                    self._advisor.ask(question)
                provisional = self._advisor is not None and (not question.only or Layer.LOAD in question.only)
                self._line(passage_line(what, time_map, self._signs, provisional=provisional))
            case Keeping():
                name = self._named(take.number, what.number)
                when = "" if what.over else " when it is over"
                self._say(
                    f"this passage is already kept, as {name}" if what.before else f"kept as {name}{when}"
                )
            case Anew() if self._advisor is not None:
                question = self._question(take, what.passage)
                self._chapters.again(question)
                self._advisor.ask(question)

    def _question(self, take: Take, passage: Passage) -> Question:
        return question_of(take, passage, take.passages.index(passage) + 1, take.players[-1])
