"""What every key does, on every page."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livepedal.model.findings import Passage, Verdict
from livepedal.views.dashboard.canvas import Canvas
from livepedal.views.dashboard.desk import (
    Act,
    Desk,
    Panel,
    Wish,
    help_line,
    keys_in,
    press,
    unheard,
    wishes_in,
)
from livepedal.views.dashboard.history import (
    Chapter,
    draw_passage,
    draw_passages,
    finding_rows,
)
from livepedal.views.lines import Line, Tone, plain_text
from livepedal.views.signs import FULL
from livepedal.views.widths import cells, folded
from tests.views.making import SECOND, STEADY, finding

ALL = tuple(Act)
CHAPTERS = tuple(
    Chapter(
        n,
        Passage(n * SECOND, (n + 1) * SECOND, (n + 1) * SECOND, Verdict.EASY, False, 3),
        (finding(n, us=n * SECOND),) * 2,
    )
    for n in range(1, 6)
)


def after(keys: str, desk: Desk | None = None, acts: tuple[Act, ...] = ALL) -> tuple[Desk, list[Wish]]:
    desk = desk or Desk()
    wishes = []
    for key in keys_in(keys):
        desk, wish = press(desk, key, CHAPTERS, acts)
        wishes += [wish] if wish else []
    return desk, wishes


@pytest.mark.parametrize(
    ("key", "act"),
    [
        (" ", Act.PAUSE),
        ("k", Act.KEEP),
        ("p", Act.PLAYER),
        ("a", Act.AGAIN),
        ("t", Act.TAP),
        ("r", Act.AFRESH),
        ("q", Act.QUIT),
        ("K", Act.KEEP),
        ("Q", Act.QUIT),
        ("\x03", Act.QUIT),
    ],
)
def test_keys_that_ask_for_something(key: str, act: Act) -> None:
    desk, wishes = after(key)
    assert wishes == [Wish(act)]
    assert desk == Desk()
    if act is not Act.QUIT:
        assert after(key, acts=(Act.QUIT,))[1] == []  # what nobody grants is not asked for


def test_a_setting_is_typed_and_checked() -> None:
    desk, wishes = after("sEb major")
    assert (desk.page, desk.typed, wishes) == (Panel.PEDALS, "Eb major", [])
    desk, wishes = after("\r", desk)
    assert desk == Desk()
    assert wishes == [Wish(Act.PEDALS, "D♮ C♮ B♭ | E♭ F♮ G♮ A♭")]
    # Keys are letters here: q does not quit, k keeps nothing.
    desk, wishes = after("sqk")
    assert desk.typed == "qk"
    assert not wishes
    desk, wishes = after("\r", desk)
    assert not wishes
    assert desk.page is Panel.PEDALS
    assert "qk" in desk.complaint
    desk, _ = after("\x7f\x7f", desk)
    assert (desk.typed, desk.complaint) == ("", "")
    assert after("\r", desk)[0] == Desk()
    assert after("sDb\x1b")[0] == Desk()
    assert len(after("s" + "x" * 500)[0].typed) < 100


def test_a_key_to_stay_in_is_typed() -> None:
    assert after("sstay eb\r") == (Desk(), [Wish(Act.STAY, "E♭ major")])
    assert after("sStay\r") == (Desk(), [Wish(Act.STAY)])
    desk, wishes = after("sstay where\r")
    for typed in ("stay eb", "s stay eb"):  # as a whole line
        assert wishes_in(typed, tuple(Act)) == ([Wish(Act.STAY, "E♭ major")], "")
    assert (desk.complaint, wishes) == ("'where' is not the name of a key; write it as E♭ major, Eb or F# minor.", [])


def test_the_passage_that_is_chosen_is_heard_again() -> None:
    assert after("h\x1b[Aa")[1] == [Wish(Act.AGAIN, "4")]
    assert after("h\ra")[1] == [Wish(Act.AGAIN, "5")]
    assert "--output" in unheard(Desk(), "a", (Act.QUIT,))


def test_passages_are_chosen_and_opened() -> None:
    desk, _ = after("h")
    assert (desk.page, desk.chosen) == (Panel.PASSAGES, 5)
    assert after("\x1b[A\x1b[A", desk)[0].chosen == 3
    assert after("\x1bOA", desk)[0].chosen == 4
    assert after("\x1b[B", desk)[0].chosen == 5
    assert after("\x1b[H", desk)[0].chosen == 1
    assert after("\xe0H", desk)[0].chosen == 4  # as Windows says it
    opened_one, _ = after("\x1b[A\r", desk)
    assert (opened_one.page, opened_one.chosen, opened_one.top) == (Panel.PASSAGE, 4, 0)
    assert after("\x1b[B\x1b[B\x1b[B\x1b[B", opened_one)[0].top == 1  # its two findings are of one kind, on one note
    assert after("\x1b", opened_one)[0].page is Panel.PASSAGES
    assert after("\x1b\x1b", opened_one)[0].page is Panel.NOW
    assert after("h", desk)[0] == Desk()
    assert after("hq")[1] == [Wish(Act.QUIT)]
    assert press(Desk(Panel.PASSAGES), "\r", (), ALL) == (Desk(Panel.PASSAGES), None)
    assert press(Desk(), "h", (), ALL)[0].page is Panel.PASSAGES


def test_the_input_page() -> None:
    assert after("i")[0].page is Panel.INPUT
    assert after("ii")[0] == Desk()
    assert after("i\x1b")[0] == Desk()


def test_sequences_that_mean_nothing_do_nothing() -> None:
    for sequence in ("\x1b[15~", "\x1b[1;5C", "\x1bOP", "x", "\0", "é"):
        assert after(sequence) == (Desk(), [])


@pytest.mark.parametrize("page", list(Panel))
def test_help_fits_80_columns(page: Panel) -> None:
    assert len(help_line(Desk(page), ALL, 79)) <= 79
    assert len(help_line(Desk(page), ALL, 119)) <= 119
    assert len(shortest := help_line(Desk(page), ALL, 59)) <= 59
    assert page is Panel.PEDALS or "q quit" in shortest


def drawn(width: int, chapter: Chapter, top: int, rows: int) -> str:
    canvas = Canvas(FULL, width)
    draw_passage(canvas, chapter, top, rows)
    assert len(canvas.lines) <= rows
    return "\n".join(plain_text(one) for one in canvas.lines)


@pytest.mark.parametrize("text", ["竪琴" * 20, "竪琴 の ため の 新しい 曲 " * 6, "A♭4 comes too soon " * 9])
def test_rows_are_as_wide_as_they_look(text: str) -> None:
    made = folded(text, 20, 0, 2)
    assert all(cells(row) <= 20 for row in made)
    assert "".join("".join(made).split()) == "".join(text.split())


def test_an_opened_passage_tells_remedies_and_reasons() -> None:
    findings = (finding(1, us=SECOND), finding(2, us=2 * SECOND))
    chapter = Chapter(
        3, Passage(0, 3 * SECOND, 3 * SECOND, Verdict.VIRTUOSO, False, 9), findings, place=STEADY.place
    )
    said = drawn(80, chapter, 0, 30)
    assert "passage 3: bars 1 and 2" in said
    assert "only a virtuoso can play it" in said
    assert said.count("comes too soon") == 1  # told as one, as the report of check does
    assert "bars 1 and 2, 2 attacks" in said
    assert "as A♭: A is in use" in said
    assert " → " not in said  # nobody has looked for remedies yet
    assert "→ up to ♩ = 84" in drawn(80, replace(chapter, mends=("up to ♩ = 84",)), 0, 30)
    assert "no remedy was found" in drawn(80, replace(chapter, mends=()), 0, 30)
    # What the working player met is no trouble of the virtuoso, who was chosen then.
    both = drawn(80, replace(chapter, mends=(), player="virtuoso"), 0, 30)
    assert ", for the virtuoso player" in both
    assert both.count("(for the working player)") == 1
    assert "no remedy was found" not in both
    other = replace(chapter, findings=(finding(1, us=SECOND), replace(finding(2, us=2 * SECOND), note=70)))
    assert "more below" in drawn(80, other, 0, 8)
    second = drawn(80, other, 2, 8)
    assert "2.00 s" in second
    assert "1.00 s" not in second


def test_the_chosen_passage_is_in_sight() -> None:
    chapters = tuple(Chapter(n, CHAPTERS[0].passage, ()) for n in range(1, 101))
    for chosen in (1, 50, 100):
        canvas = Canvas(FULL, 80)
        draw_passages(canvas, chapters, chosen, 15)
        (line,) = [plain_text(one) for one in canvas.lines if "▸" in plain_text(one)]
        assert line.split()[1] == str(chosen)
        assert len(canvas.lines) == 15


def test_a_key_that_does_nothing_says_why() -> None:
    replay = (Act.PAUSE, Act.PEDALS, Act.PLAYER, Act.AFRESH, Act.QUIT)
    assert unheard(Desk(), "k", replay) == "keeping works only in livepedal listen; this is already a file"
    assert "tapping works only in livepedal listen" in unheard(Desk(), "t", replay)
    assert unheard(Desk(), "x", replay) == "x does nothing; ? shows the keys"
    for key in (" ", "s", "p", "r", "h", "i", "?", "q", "up", "\x1b", "\r", ""):
        assert unheard(Desk(), key, replay) == ""
    assert unheard(Desk(Panel.PEDALS), "k", replay) == ""  # there it is a letter
    assert unheard(Desk(), "k", tuple(Act)) == ""


def test_whose_findings_are_not_the_players_is_said() -> None:
    canvas = Canvas(FULL, 80)
    mine, others = (
        "".join(text for line in finding_rows(canvas, finding(), STEADY.place, player) for text, _ in line)
        for player in ("working", "virtuoso")
    )
    assert "player" not in mine
    assert "(for the working player)" in others


def test_rows_that_are_left_out_leave_a_sign() -> None:
    canvas = Canvas(FULL, 30)
    rows: list[Line] = [(("one; two", Tone.PLAIN),), (("a long row of thirty columns..", Tone.PLAIN),), ()]
    assert canvas.clipped(rows, 3) == rows
    assert canvas.clipped(rows, 1) == [(("one …", Tone.PLAIN),)]  # whole clauses, if it can be
    assert canvas.clipped(rows, 2)[1] == (("a long row of thirty …", Tone.PLAIN),)
    assert canvas.clipped(rows, 0) == []
