"""The closed passages of a session or a replay, with the advice on each as it comes in.

The judge brings passages, a thread of its own brings advice (advisor.py), always after its passage. Memory is bounded:
the last passages are kept, and the first findings of each.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, field, replace
from fractions import Fraction

from livepedal.advice.remedies.remedy import RemedyKind
from livepedal.live.advising import Advice, Planned
from livepedal.live.question import Question
from livepedal.views.dashboard.history import Chapter, nowhere

MOST_CHAPTERS = 500
MOST_FINDINGS = 100  # of one passage


@dataclass(slots=True)
class PastPassage:
    """A closed passage.

    Attributes:
        chapter: what the history shows of it.
        question: as advice is asked for on it.
        told: the advice that is told together with the passage.
        ratio: the tempo that would mend it, as a share of the tempo as played.
        done: whether no more advice will come.
    """

    chapter: Chapter
    question: Question
    told: list[str] = field(default_factory=list)
    ratio: Fraction | None = None
    done: bool = False


class Chapters:
    """The passages so far, added in order of time."""

    def __init__(self) -> None:
        self._passages: dict[tuple[int, int], PastPassage] = {}  # by take and number in it
        self._lock = threading.Lock()
        self._number = 1  # of the next passage

    @property
    def chapters(self) -> tuple[Chapter, ...]:
        """The last passages, as the history shows them."""
        with self._lock:
            return tuple(past.chapter for past in self._passages.values())

    def numbered(self, number: int) -> PastPassage | None:
        """The passage of this number in the history."""
        with self._lock:
            return next((past for past in self._passages.values() if past.chapter.number == number), None)

    def over(self, question: Question, *, sought: bool = False) -> PastPassage | None:
        """Add a passage that is over; None where it is known already.

        Then it is looked at again, for another player. sought: whether advice is asked for.
        """
        with self._lock:
            known = self._passages.get((question.take, question.number))
            if known is not None:
                if sought:
                    known.chapter = _anew(known.chapter, question.basis.player)
                return None
            past = self._passages[question.take, question.number] = self._closed(question, sought)
            if len(self._passages) > MOST_CHAPTERS:
                del self._passages[next(iter(self._passages))]
            self._number += 1
        return past

    def _closed(self, question: Question, sought: bool) -> PastPassage:
        passage, player = question.passage, question.basis.player
        findings = question.findings
        chapter = Chapter(
            self._number,
            passage,
            findings[:MOST_FINDINGS],
            len(findings[MOST_FINDINGS:]),
            question.time_map.told if question.bars else nowhere,
            question.take,
            player,
            anew=sought and any(finding.player != player for finding in findings),
            sought=sought,
            entry=str(question.entry or ""),
            set_within=question.set_within,
        )
        return PastPassage(chapter, question)

    def advised(self, advice: Advice) -> PastPassage | None:
        """Add advice; the passage that it is on."""
        with self._lock:
            if past := self._passages.get((advice.take, advice.passage_number)):
                for remedy in advice.remedies:
                    if remedy.kind is RemedyKind.TEMPO and remedy.ratio is not None:
                        past.ratio = remedy.ratio
                if past.chapter.sought and advice.player == past.chapter.player:
                    past.chapter = _advised(past.chapter, advice)
            return past

    def given_up(self, question: Question) -> None:
        """No more advice will come on this."""
        with self._lock:
            if past := self._passages.get((question.take, question.number)):
                past.done = True
                if past.chapter.player == question.basis.player:
                    past.chapter = replace(past.chapter, sought=False)

    def wait_no_more(self) -> None:
        """Take all advice as given that will come."""
        with self._lock:
            for past in self._passages.values():
                past.done = True


def _anew(chapter: Chapter, player: str) -> Chapter:
    """The chapter, of which nothing is known yet for another player."""
    return replace(
        chapter,
        player=player,
        anew=True,
        sought=True,
        mends=None,
        remedied=False,
        spelled="",
        worth=(),
        planned=False,
    )


def _advised(chapter: Chapter, advice: Advice) -> Chapter:
    """The chapter with this advice."""
    if advice.planned is not None:
        chapter = _planned(chapter, advice.planned)
    return replace(
        chapter,
        mends=(*(chapter.mends or ()), *((advice.mend,) if advice.mend else ())),
        spelled=advice.spelled or chapter.spelled,
        sought=not advice.last,
        remedied=chapter.remedied or bool(advice.remedies),
    )


def _planned(chapter: Chapter, planned: Planned) -> Chapter:
    """The chapter with all that its pedal changes tell."""
    findings, more = chapter.findings, chapter.more
    if chapter.anew:
        findings, more = planned.findings[:MOST_FINDINGS], len(planned.findings[MOST_FINDINGS:])
    return replace(
        chapter,
        entry=planned.set_before,
        findings=findings,
        more=more,
        anew=False,
        worth=planned.worth,
        planned=True,
    )
