"""The third stage of a session: what is settled, in words, and into the history of passages.

Runs in the judge's thread, since it looks at takes; a fault in it is the judge's to note, and stops nothing else.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from livepedal.live.advisor import Advisor
from livepedal.live.chapters import Chapters
from livepedal.live.session import News
from livepedal.model.findings import Finding, Passage
from livepedal.views.dashboard.history import nowhere
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
    ) -> None:
        """Args:
        line: takes a line of text about the music.
        say: takes a sentence about the session.
        """
        self._chapters, self._advisor = chapters, advisor
        self._signs, self._middle_c = signs, middle_c
        self._line, self._say = line, say

    def __call__(self, news: News) -> None:
        what, take = news.what, news.take
        time_map = take.time_map if take.musical else None
        match what:
            case str():
                self._say(what)
            case Finding():
                self._chapters.found(what)
                self._line(finding_line(what, time_map, self._signs, self._middle_c))
            case Passage():
                asked = None
                if self._advisor is not None and what in take.passages:
                    asked = take.number, take.passages.index(what) + 1
                self._chapters.over(
                    what,
                    nowhere if time_map is None else lru_cache(maxsize=256)(time_map.place),
                    take=take.number,
                    entry=take.monitor.entry,
                    player=take.players[-1],
                    asked=asked,
                )
                if self._advisor is not None:
                    self._advisor.over(take, what, take.players[-1])
                self._line(passage_line(what, time_map, self._signs))
