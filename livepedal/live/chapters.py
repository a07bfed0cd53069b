"""The history of a session or a replay, with the advice on each passage as it comes in.

Passages are told by whoever judges, advice by a thread of its own (advisor.py), always after its passage.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from livepedal.harp import Setting
from livepedal.live.advising import Advice
from livepedal.model.findings import Finding, Passage
from livepedal.music.timemap import Place
from livepedal.views.dashboard.history import Chapter, History, nowhere


class Chapters:
    """A history, and which of its passages advice is still to come on."""

    def __init__(self) -> None:
        self.history = History()
        self._lock = threading.Lock()
        self._chapter_of: dict[tuple[int, int], int] = {}  # by take and passage

    def found(self, finding: Finding) -> None:
        """A finding, whose attack is over."""
        self.history.found(finding)

    def over(
        self,
        passage: Passage,
        place: Callable[[int], Place | None] = nowhere,
        *,
        take: int = 1,
        entry: Setting | None = None,
        player: str = "",
        asked: tuple[int, int] | None = None,
        set_within: bool = False,
    ) -> Chapter:
        """A passage that is over. asked: the take and the number of the passage that advice will name, None where
        none is to come; set_within: the pedals were set by hand in the middle of it.
        """
        with self._lock:
            chapter = self.history.over(
                passage,
                place,
                take,
                entry,
                player=player,
                sought=asked is not None,
                set_within=set_within,
            )
            if asked is not None:
                self._chapter_of[asked] = chapter.number
            return chapter

    def advised(self, advice: Advice) -> None:
        """Advice has come."""
        with self._lock:
            chapter = self._chapter_of.get((advice.take, advice.passage_number))
            if chapter is None:
                return
            if advice.planned is not None:
                planned = advice.planned
                self.history.planned(chapter, planned.set_before, planned.passage, planned.too_much)
            self.history.advise(chapter, advice.mend, advice.spelled, sought=not advice.last)
            if advice.last:
                del self._chapter_of[advice.take, advice.passage_number]

    def given_up(self, take: int, number: int) -> None:
        """No more will come of this passage."""
        with self._lock:
            chapter = self._chapter_of.pop((take, number), None)
            if chapter is not None:
                self.history.sought(chapter, False)
