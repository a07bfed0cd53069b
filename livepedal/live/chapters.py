"""The passages of a session or a replay that are over, with the advice on each as it comes in.

Passages are told by whoever judges, advice by a thread of its own (advisor.py), always after its passage. A chapter
changes by advice alone. Memory is bounded: of a long session the last passages are kept, of a passage its first
findings.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace

from livepedal.live.advising import Advice, Planned
from livepedal.live.question import Question
from livepedal.model.findings import Finding, Layer
from livepedal.music.timemap import Place
from livepedal.views.dashboard.history import Chapter, nowhere

MOST_CHAPTERS = 500
MOST_FINDINGS = 100  # of one passage


class Chapters:
    """The chapters so far. Fed with what is settled, in order of time."""

    def __init__(self) -> None:
        self.chapters: tuple[Chapter, ...] = ()
        self._lock = threading.Lock()
        self._findings: list[Finding] = []
        self._more = 0

    def found(self, finding: Finding) -> None:
        """A finding, whose attack is over; or a withdrawn one, that was told and is taken back."""
        if finding.withdrawn:
            self._findings = [one for one in self._findings if one.id != finding.id]
        elif len(self._findings) < MOST_FINDINGS:
            self._findings.append(finding)
        else:
            self._more += 1

    def over(
        self,
        question: Question,
        place: Callable[[int], Place | None] = nowhere,
        *,
        sought: bool = False,
    ) -> Chapter:
        """A passage that is over; its findings were told before.

        Args:
            question: the one that there is to be asked about it.
            sought: whether anybody asks it.
        """
        passage, player = question.passage, question.basis.player
        mine = tuple(one for one in self._findings if one.us <= passage.end)
        self._findings = [one for one in self._findings if one.us > passage.end]
        chapter = Chapter(
            self.chapters[-1].number + 1 if self.chapters else 1,
            passage,
            mine,
            self._more,
            place,
            question.take,
            question.number,
            player,
            anew=sought and any(one.player != player for one in mine),
            sought=sought,
            entry=str(question.entry or ""),
            load=Layer.LOAD in question.basis.judged,
            set_within=question.set_within,
        )
        self._more = 0
        with self._lock:
            self.chapters = (*self.chapters, chapter)[-MOST_CHAPTERS:]
        return chapter

    def again(self, question: Question) -> None:
        """A passage is asked about once more, for another player."""

        def fresh(chapter: Chapter) -> Chapter:
            return replace(
                chapter,
                player=question.basis.player,
                anew=True,
                sought=True,
                mends=None,
                remedied=False,
                spelled="",
                worth=(),
                planned=False,
            )

        self._change(question.take, question.number, fresh)

    def advised(self, advice: Advice) -> None:
        """Advice has come."""

        def known(chapter: Chapter) -> Chapter:
            if not chapter.sought or advice.player != chapter.player:
                return chapter
            if advice.planned is not None:
                chapter = _planned(chapter, advice.planned)
            mends = (*(chapter.mends or ()), *((advice.mend,) if advice.mend else ()))
            return replace(
                chapter,
                mends=mends,
                spelled=advice.spelled or chapter.spelled,
                sought=not advice.last,
                remedied=chapter.remedied or bool(advice.remedies),
            )

        self._change(advice.take, advice.passage_number, known)

    def given_up(self, take: int, number: int, player: str) -> None:
        """No more will come of this passage for this player."""
        self._change(take, number, lambda one: replace(one, sought=one.sought and player != one.player))

    def _change(self, take: int, within: int, change: Callable[[Chapter], Chapter]) -> None:
        with self._lock:
            self.chapters = tuple(
                change(one) if (one.take, one.within) == (take, within) else one for one in self.chapters
            )


def _planned(chapter: Chapter, planned: Planned) -> Chapter:
    """With all that the pedal changes tell."""
    findings, more = chapter.findings, chapter.more
    if chapter.anew:
        findings, more = planned.findings[:MOST_FINDINGS], len(planned.findings[MOST_FINDINGS:])
    if planned.too_much is not None and not chapter.too_much:
        findings = tuple(sorted((*findings, planned.too_much), key=lambda finding: finding.us))
    return replace(
        chapter,
        entry=planned.set_before,
        passage=planned.passage,
        findings=findings,
        more=more,
        anew=False,
        worth=planned.worth,
        planned=True,
    )
