"""What is said of a spelling beside another is true, whichever is the cheaper one: no outside is needed for that."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livepedal.advice.given import Compared, Cost, Outlook
from livepedal.advice.sheet import Sheet, make_sheet
from livepedal.model.findings import Outcome, Verdict
from livepedal.views.compared import compared_lines, saved
from livepedal.views.lines import plain_text
from livepedal.views.look import Look
from livepedal.views.sheet import sheet_lines
from livepedal.views.signs import signs_for
from tests.advice.changed import BUILTIN, HARP, part_of

LOOK = Look(signs_for("utf-8"))
CANNOT = Verdict.UNPLAYABLE, Outcome.CANNOT


def compared(given: Outlook, best: Outlook) -> str:
    return "\n".join(
        plain_text(row) for row in compared_lines(Compared("as asked for", given, best, 7, ()), LOOK)
    )


def test_a_given_spelling_that_is_cheaper_is_called_the_better_one() -> None:
    text = compared(Outlook(*CANNOT, 6, 0, 8), Outlook(*CANNOT, 6, 0, 12))
    assert "8 pedal changes instead of 12" in text
    assert "this spelling is the better one" in text
    assert "nothing would be gained" not in text
    assert not any(row.split()[:1] == ["best"] for row in text.splitlines())


def test_a_given_spelling_that_is_dearer_says_what_would_be_saved() -> None:
    text = compared(Outlook(*CANNOT, 6, 0, 12), Outlook(*CANNOT, 6, 0, 8))
    assert "left free, there would be 8 pedal changes instead of 12" in text


def test_the_same_cost_gains_nothing() -> None:
    same = Outlook(*CANNOT, 6, 0, 8)
    assert "nothing would be gained" in compared(same, same)


def test_what_cannot_be_played_comes_first_then_what_is_heard_then_what_is_tight() -> None:
    costs = [Cost(0, 0, 9, 0), Cost(0, 0, 1, 1), Cost(0, 1, 0, 0), Cost(1, 0, 0, 0)]
    assert sorted(set(costs), key=lambda cost: cost.order) == costs
    assert (
        saved(costs[1], costs[0])
        == "no tight changes instead of 1, at the cost of 9 pedal changes instead of 1"
    )


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    part = part_of("03-paddle-wheel.mid")
    return make_sheet(part, (), BUILTIN, HARP, "working")


def told(sheet: Sheet) -> str:
    return "\n".join(plain_text(row) for row in sheet_lines(sheet, "F", LOOK))


@pytest.mark.parametrize(
    ("plain", "says"),
    [
        (Cost(6, 0, 8), "Ordinary spelling costs less: 8 pedal changes instead of 12"),
        (Cost(6, 0, 12), "Ordinary spelling costs no more"),
        (Cost(6, 0, 15), "Written in its ordinary spelling throughout it takes 15 pedal changes"),
    ],
)
def test_the_sheet_says_which_is_cheaper(sheet: Sheet, plain: Cost, says: str) -> None:
    assert sheet.departures or pytest.skip("no departures any more")
    text = told(replace(sheet, plain=plain, cost=Cost(6, 0, 12), proposal=None))
    assert says in text
    assert ("Ordinary spelling costs no more" in text) is (plain.changes == 12)


def test_a_bounded_search_is_said_at_the_top(sheet: Sheet) -> None:
    cheap = replace(sheet, plain=Cost(6, 0, 8), cost=Cost(6, 0, 12))
    bounded = replace(
        sheet, plain=None, report=replace(sheet.report, plan=replace(sheet.report.plan, bounded=3))
    )
    exact = replace(
        sheet, plain=None, report=replace(sheet.report, plan=replace(sheet.report.plan, bounded=0))
    )
    for one, expected in ((cheap, True), (bounded, True), (exact, False)):
        assert (
            "search for this spelling was bounded" in told(one).split("Set before the start")[0]
        ) is expected
