"""What is said of a spelling beside another is true, whichever is the cheaper one: no outside is needed for that."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livepedal.advice.judging.basis import Basis
from livepedal.advice.spelling.departures import Departure
from livepedal.advice.spelling.given import Compared, Cost, Outlook
from livepedal.advice.spelling.keys import Proposal, Rewriting
from livepedal.advice.spelling.sheet import Sheet, make_sheet
from livepedal.model.findings import Verdict
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from livepedal.views.lines import plain_text
from livepedal.views.report.compared import compared_lines, saved
from livepedal.views.report.look import Look
from livepedal.views.report.sheet import sheet_lines
from livepedal.views.signs import signs_for
from tests.advice.changed import BUILTIN, HARP, part_of
from tests.advice.making_midi import midi

LOOK = Look(signs_for("utf-8"))
CANNOT = Verdict.UNPLAYABLE


def compared(given: Outlook, best: Outlook, notes: int = 7, doubled: int = 0) -> str:
    made = Compared("as asked for", given, best, notes, (), doubled)
    return "\n".join(plain_text(row) for row in compared_lines(made, LOOK))


def test_a_given_spelling_that_is_cheaper_is_called_the_better_one() -> None:
    text = compared(Outlook(6, 0, 8, verdict=CANNOT), Outlook(6, 0, 12, verdict=CANNOT))
    assert "8 instead of 12 pedal changes" in text
    assert "better than the spelling that livepedal found" in text
    assert "no other spelling is better" not in text
    assert not any(row.split()[:1] == ["best"] for row in text.splitlines())


def test_a_given_spelling_that_is_dearer_says_what_would_be_saved() -> None:
    text = compared(Outlook(6, 0, 12, verdict=CANNOT), Outlook(6, 0, 8, verdict=CANNOT))
    assert "The best spelling has 8 instead of 12 pedal changes" in text


def test_the_same_cost_gains_nothing() -> None:
    same = Outlook(6, 0, 8, verdict=CANNOT)
    assert "no other spelling is better" in compared(same, same)


def test_numbers_of_a_bounded_search_are_not_called_the_best() -> None:
    exact, bounded = Outlook(6, 0, 8, verdict=CANNOT), Outlook(6, 0, 8, bounded=True, verdict=CANNOT)
    text = compared(exact, bounded)
    assert "no other spelling is better" not in text
    assert "no better spelling was found" in text
    assert any(row.split()[:2] == ["best", "found"] for row in text.splitlines())
    assert "not every spelling was tried" in text
    assert "not every pedalling of the given spelling was tried" in compared(bounded, exact)
    assert "was tried" not in compared(exact, exact)


def test_double_accidentals_are_not_called_spelled_as_asked_for() -> None:
    same = Outlook(6, 0, 8, verdict=CANNOT)
    assert "5 notes spelled as asked for, 2 played on another string" in compared(same, same, doubled=2)
    assert "2 notes played on another string" in compared(same, same, 2, 2)
    assert "another string" not in compared(same, same).replace("another spelling", "")


def test_where_nothing_is_asked_for_nothing_is_compared() -> None:
    same = Outlook(6, 0, 8, verdict=CANNOT)
    text = compared(same, same, 0)
    assert "so livepedal chooses the spelling" in text
    assert "as asked for" not in text


def test_what_tight_means_is_said_where_it_is_counted() -> None:
    meaning = "a relaxed player would not have time"
    assert meaning in compared(Outlook(6, 0, 8, 1, verdict=CANNOT), Outlook(6, 0, 8, 0, verdict=CANNOT))
    assert meaning not in compared(Outlook(6, 0, 9, verdict=CANNOT), Outlook(6, 0, 8, verdict=CANNOT))


def test_what_cannot_be_played_comes_first_then_what_is_heard_then_what_is_tight() -> None:
    costs = [Cost(0, 0, 9, 0), Cost(0, 0, 1, 1), Cost(0, 1, 0, 0), Cost(1, 0, 0, 0)]
    assert sorted(set(costs), key=lambda cost: cost.order) == costs
    assert (
        saved(costs[1], costs[0])
        == "0 instead of 1 tight change, at the cost of 9 instead of 1 pedal change"
    )


@pytest.fixture(scope="module")
def sheet() -> Sheet:
    part = part_of("03-paddle-wheel.mid")
    return make_sheet(part, Basis(BUILTIN, HARP))


def told(sheet: Sheet) -> str:
    return "\n".join(plain_text(row) for row in sheet_lines(sheet, "F", LOOK))


@pytest.mark.parametrize(
    ("plain", "says"),
    [
        (Cost(6, 0, 8), "Ordinary spelling takes less: 8 instead of 12 pedal changes"),
        (Cost(6, 0, 12), "Ordinary spelling takes no more"),
        (Cost(6, 0, 15), "Compared with ordinary spelling throughout, the spelling above has 12 instead of 15 pedal changes."),
    ],
)
def test_the_sheet_says_which_is_cheaper(sheet: Sheet, plain: Cost, says: str) -> None:
    assert sheet.departures or pytest.skip("no departures any more")
    text = told(replace(sheet, plain=plain, cost=Cost(6, 0, 12), proposal=None))
    assert says in text
    assert ("Ordinary spelling takes no more" in text) is (plain.changes == 12)


@pytest.mark.parametrize(
    ("names", "doubles", "says"),
    [
        ((("B♮", "C♭", 2),), (), "The flats are for the sound"),
        ((("C♭", "B♮", 6),), (), None),  # a flat lost
        ((("G♭", "F♯", 1), ("B♮", "C♭", 2)), (), "Flats that replace another name are for the sound"),
        ((("B𝄫", "A♮", 2),), ("B𝄫",), None),  # no pedal makes it
        ((("F𝄪", "G♮", 2), ("B♮", "C♭", 2)), ("F𝄪",), "The flats are for the sound"),
        ((("C𝄫", "B♭", 2),), ("C𝄫",), None),
    ],
)
def test_flats_are_for_the_sound_only_where_there_are_any(
    sheet: Sheet, names: tuple[tuple[str, str, int], ...], doubles: tuple[str, ...], says: str | None
) -> None:
    same, departures = Cost(0, 0, 10), (Departure(1, 2, names, doubles),)
    text = told(replace(sheet, plain=same, cost=same, proposal=None, departures=departures))
    assert "Ordinary spelling takes no more." in text
    assert "for the sound" not in text if says is None else says in text


def test_another_key_that_the_sheet_itself_outdoes_is_said_to_be_so(sheet: Sheet) -> None:
    """As on a real part: in another key eleven attacks fail instead of twelve, and note by note none."""
    plain, after, free = Cost(12, 2, 46), Cost(11, 2, 51), Cost(0, 0, 45)
    proposal = Proposal((Rewriting(1, 4, 5, False),), plain, after)
    text = told(replace(sheet, plain=plain, proposal=proposal, cost=free))
    assert "Another written key saves work, but less than the spelling above" in text
    text = told(replace(sheet, plain=plain, proposal=proposal, cost=after))
    assert "Another written key saves work\n" in text
    assert "less than the spelling above" not in text


def test_a_bounded_search_is_said_at_the_top(sheet: Sheet) -> None:
    cheap = replace(sheet, plain=Cost(6, 0, 8), cost=Cost(6, 0, 12))
    bounded = replace(
        sheet, plain=None, report=replace(sheet.report, plan=replace(sheet.report.plan, bounded=3))
    )
    exact = replace(
        sheet, plain=None, report=replace(sheet.report, plan=replace(sheet.report.plan, bounded=0))
    )
    for one, expected in ((cheap, True), (bounded, True), (exact, False)):
        assert ("not every" in told(one).split("Set before the start")[0]) is expected


def test_costs_of_bounded_searches_say_so(sheet: Sheet) -> None:
    assert sheet.departures or pytest.skip("no departures any more")
    said = "not every ordinary spelling was tried"
    for bounded in (True, False):
        plain = Cost(6, 0, 15, bounded=bounded)
        assert (said in told(replace(sheet, plain=plain, cost=Cost(6, 0, 12), proposal=None))) is bounded


def test_the_sheet_says_what_its_signs_mean(sheet: Sheet) -> None:
    """A change has the sign that `check` gives it, and each sign that is there is explained, and no other."""
    plan = sheet.report.plan
    kinds = {"*": {"possible": False}, "~": {"audible": True}, "!": {"tight": True}}
    for sign, kind in kinds.items():
        changes = tuple(
            replace(change, **{"possible": True, "audible": False, "tight": False, **kind})  # type: ignore[arg-type]
            for change in plan.changes
        )
        bars = tuple(
            replace(bar, changes=tuple(replace(item, change=changes[0]) for item in bar.changes))
            for bar in sheet.bars
        )
        made = replace(plan, changes=changes)
        text = told(replace(sheet, bars=bars, report=replace(sheet.report, plan=made)))
        name = f"{changes[0].pedal.letter}{changes[0].goal.sign}{sign}"
        assert name in text
        explained = {
            row.split()[0] for row in text.splitlines() if row.strip()[:2] in {f"{s} " for s in "*~!?"}
        }
        assert explained == {sign}
    both = replace(plan, changes=(replace(plan.changes[0], possible=True, audible=True, tight=True),))
    assert "; 1 of them also tight" in told(replace(sheet, report=replace(sheet.report, plan=both)))


def test_a_note_that_the_plan_leaves_out_is_explained() -> None:
    """G♯7 lies on a string without a pedal, which is not tuned up (instruments.py), so no string gives it."""
    song = read_song(midi(("Harp", [(0, 1, (24,)), (4, 1, (104,))])), name="test")
    (part,) = choose_parts(song)
    text = told(make_sheet(part, Basis(BUILTIN, HARP)))
    assert "A♭7?" in text
    assert "? left out: this harp has no string for it" in text
