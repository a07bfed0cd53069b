"""Advice that comes in while the history is looked at."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livepedal.advice.judging.basis import Basis
from livepedal.harp import Figures, Setting
from livepedal.live.advising import Advice, Planned
from livepedal.live.chapters import MOST_CHAPTERS, MOST_FINDINGS, Chapters
from livepedal.live.question import Question
from livepedal.model.findings import Passage, Verdict
from livepedal.music.timemap import TimeMap
from livepedal.views.dashboard.canvas import Canvas
from livepedal.views.dashboard.history import Chapter, mend_rows, setting_rows, spelled_rows
from livepedal.views.lines import Line, plain_text
from livepedal.views.signs import FULL
from tests.views.making import SECOND, finding

PASSAGE = Passage(0, 4 * SECOND, 4 * SECOND, Verdict.PLAYABLE, False, 7)
SETTING = Setting.parse("Db C Bb Eb F G A")
TEMPO = Advice(1, 1, "working", "passage 1, bars 1 and 2", mend="playable at ♩ = 84")
FIGURES = Figures.builtin()
ASKED = Question(
    1, 1, PASSAGE, (), TimeMap.steady(), True, Basis(FIGURES, FIGURES.instrument("47")), "C4"
)  # fmt: skip

FAULTY = replace(ASKED, findings=(finding(),))


def text(rows: list[Line]) -> str:
    return "\n".join(plain_text(one) for one in rows)


def shown(chapter: Chapter) -> str:
    canvas = Canvas(FULL, 80)
    return text([*mend_rows(canvas, chapter), *spelled_rows(canvas, chapter), *setting_rows(canvas, chapter)])


def test_what_is_known_is_shown_and_what_is_being_worked_out_is_said() -> None:
    chapters = Chapters()
    chapters.over(FAULTY, sought=True)
    assert "working out a remedy" in shown(chapters.chapters[0])
    chapters.advised(TEMPO)
    said = shown(chapters.chapters[0])
    assert "→ working player: playable at ♩ = 84" in said
    assert "working out" not in said
    planned = Planned(str(SETTING))
    chapters.advised(replace(TEMPO, mend="", spelled=f"for this passage alone, set {SETTING}", planned=planned))
    chapters.advised(replace(TEMPO, mend="or leave out C4", last=True, planned=planned))
    (chapter,) = chapters.chapters
    assert chapter.mend == "playable at ♩ = 84; or leave out C4"
    assert chapter.spelled == f"for this passage alone, set {SETTING}"
    assert f"set before it: {SETTING}" in shown(chapter)
    assert chapter.planned
    assert not chapter.sought
    # What comes later, of another run or for the second time, changes nothing.
    chapters.advised(replace(TEMPO, mend="late", last=True))
    chapters.advised(replace(TEMPO, mend="of another take", take=2))
    assert chapters.chapters == (chapter,)


@pytest.mark.parametrize("audible", [False, True])
def test_where_nothing_was_found_it_says_so_but_an_audible_change_needs_nothing(audible: bool) -> None:
    chapters = Chapters()
    chapters.over(replace(ASKED, findings=(finding(audible=audible),)), sought=True)
    planned = Planned(str(SETTING))
    chapters.advised(Advice(1, 1, "working", spelled="best spelled from here", planned=planned, last=True))
    assert ("no remedy was found" in shown(chapters.chapters[0])) is not audible


def test_a_passage_that_is_given_up_is_not_waited_for() -> None:
    chapters = Chapters()
    chapters.over(FAULTY, sought=True)
    chapters.given_up(replace(ASKED, number=2))
    chapters.given_up(replace(ASKED, basis=replace(ASKED.basis, player="relaxed")))
    assert "working out" in shown(chapters.chapters[0])
    chapters.given_up(ASKED)
    assert "working out" not in shown(chapters.chapters[0])


def test_a_setting_that_was_typed_in_is_not_claimed_for_the_start() -> None:
    chapters = Chapters()
    chapters.over(replace(FAULTY, set_within=True))
    said = shown(chapters.chapters[0])
    assert "set before it" not in said
    assert "set the pedals by hand in this passage" in said


def test_chapters_and_their_findings_are_bounded() -> None:
    chapters = Chapters()
    found = tuple(finding(number, us=SECOND) for number in range(MOST_FINDINGS + 7))
    later = replace(PASSAGE, start=5 * SECOND, last=6 * SECOND, end=6 * SECOND)
    chapters.over(replace(ASKED, findings=found))
    chapters.over(replace(ASKED, number=2, passage=later))
    first, second = chapters.chapters
    assert (len(first.findings), first.more, first.number) == (MOST_FINDINGS, 7, 1)
    assert (second.findings, second.more) == ((), 0)
    for number in range(MOST_CHAPTERS + 10):
        chapters.over(replace(ASKED, number=3 + number))
    assert len(chapters.chapters) == MOST_CHAPTERS


def test_advice_for_another_player_is_no_advice_for_this_one() -> None:
    """What was being worked out when somebody chose another player comes too late."""
    chapters = Chapters()
    chapters.over(FAULTY, sought=True)
    chapters.over(replace(ASKED, basis=replace(ASKED.basis, player="virtuoso")), sought=True)
    chapters.advised(replace(TEMPO, last=True))
    chapters.given_up(ASKED)
    (chapter,) = chapters.chapters
    assert chapter.mends is None
    assert "working it out again for the virtuoso player" in shown(chapter)
    planned = Planned(str(SETTING), findings=(finding(player="virtuoso"),))
    chapters.advised(Advice(1, 1, "virtuoso", mend="playable at ♩ = 92", planned=planned, last=True))
    (chapter,) = chapters.chapters
    assert {one.player for one in chapter.findings} == {"virtuoso"}
    assert "virtuoso player: playable at ♩ = 92" in shown(chapter)
