"""The dashboard as a reader sees it: what stands where, at which size, in which signs."""

from __future__ import annotations

import itertools
import re

import pytest
from rich.cells import cell_len
from rich.color import Color

from livepedal.harp import Pedal
from livepedal.model.findings import Finding, Passage, PedalView, PlayerCount, Snapshot, Verdict
from livepedal.views.dashboard import COLUMNS, ROWS, Scene, dashboard
from livepedal.views.lines import STYLES, badge_of, tone_of
from livepedal.views.signs import ASCII, PLAIN

from .making import SECOND, finding, scene, snapshot


def rows(made: Scene | None = None, width: int = COLUMNS, height: int = ROWS) -> list[str]:
    return dashboard(made or scene(), width, height).plain.split("\n")


def column(lines: list[str], pedal: Pedal) -> dict[str, str]:
    """One pedal's column: all have the same width; labels stand before them, a gap between the feet."""
    width = (len(lines[0]) - 7 - 3) // 7
    start = 7 + pedal * width + (3 if pedal >= Pedal.E else 0)
    top = next(n for n, one in enumerate(lines) if "left foot" in one and "right foot" in one) + 1
    names = ("name", "♭", "♮", "♯", "string", "moved")
    return {name: lines[top + n][start : start + width].strip(" ") for n, name in enumerate(names)}


@pytest.mark.parametrize("size", [(80, 24), (81, 25), (120, 40), (200, 60)])
def test_it_fills_its_size_exactly(size: tuple[int, int]) -> None:
    lines = rows(None, *size)
    assert len(lines) == size[1]
    assert {cell_len(one) for one in lines} == {size[0]}


def test_the_passage_has_its_verdict_as_word_and_shape() -> None:
    shapes = set()
    for verdict in Verdict:
        passage = Passage(0, 3 * SECOND, verdict, False, 7, open=True)
        (band,) = [
            one for one in rows(scene(snapshot=snapshot(passage=passage))) if verdict.word.upper() in one
        ]
        assert "so far 7 attacks" in band
        shapes.add(band.split()[0])
    assert len(shapes) == len(Verdict)


def test_a_passage_that_is_over_says_so() -> None:
    over = Passage(0, 3 * SECOND, Verdict.EASY, False, 7)
    assert any(
        "EASY" in one and "passage over: bars 1 to 2" in one
        for one in rows(scene(snapshot=snapshot(passage=over)))
    )


def test_before_the_first_note_it_waits() -> None:
    silent = Snapshot(0, "working", tuple(PedalView(p, (), 0) for p in Pedal), (), None, (), (), 0, ())
    lines = rows(scene(snapshot=silent))
    assert any("waiting for the first note" in one for one in lines)
    assert len(lines) == ROWS


def test_pedals_stand_in_their_order_by_foot() -> None:
    line = next(one for one in rows() if "E♮" in one and "F♮" in one)
    assert re.sub(r"[ ♭♮♯/]", "", line) == "DCB┃EFGA"


def test_a_certain_position_is_drawn_solid_where_the_diagram_has_it() -> None:
    lines = rows()
    assert column(lines, Pedal.B)["♯"] == "███"
    assert "█" in column(lines, Pedal.E)["♮"]
    assert column(lines, Pedal.A)["♭"] == "███"
    assert column(lines, Pedal.A)["♯"] == ""


def test_positions_that_differ_between_readings_are_all_shown() -> None:
    pedal = column(rows(), Pedal.C)
    assert pedal["name"] == "C♭/♮"
    assert pedal["♭"] == "▒▒▒"
    assert "▒▒▒" in pedal["♮"]


def test_each_pedal_says_whether_its_strings_are_free() -> None:
    lines = rows()
    assert column(lines, Pedal.D)["string"] == "not used"
    assert column(lines, Pedal.G)["string"] == "HELD"
    assert column(lines, Pedal.C)["string"] == "free 0.4s"  # since 2.6 s, and it is 3 s


def test_the_last_change_is_shown() -> None:
    assert column(rows(), Pedal.A)["moved"] == "♮→♭ 0.6s"
    assert column(rows(None, 120, 40), Pedal.A)["moved"] == "♮→♭ 0.6s ago"


def test_notes_have_their_spelling_and_their_finding() -> None:
    lines = rows()
    at = next(n for n, one in enumerate(lines) if "just played" in one)
    newest, before = lines[at + 1 : at + 3]
    assert newest.split()[0] == "▲"
    assert "D♮3  G♯4" in newest
    assert "B♯3 or C♮4" in before
    assert "▲" not in before


def test_what_went_wrong_is_told_in_words() -> None:
    said = "\n".join(rows())
    after = said[said.index("what went wrong") :]
    assert "bar 2, beat 3, 3.00 s" in after
    assert "0.50 s needed, 0.21 s there" in after
    assert "G♯4/A♭4 comes too soon" in after
    assert "as A♭: A is in use" in after


def test_more_rows_tell_more_findings_the_newest_first() -> None:
    many = tuple(finding(n, us=n * SECOND) for n in range(1, 21))
    made = scene(snapshot=snapshot(findings=many))

    def told(lines: list[str]) -> list[float]:
        return [float(m[1]) for one in lines if (m := re.search(r"▲ virtuoso .*?, (\d+\.\d\d) s ", one))]

    few, more = told(rows(made)), told(rows(made, 120, 40))
    assert few == sorted(few, reverse=True)
    assert few[0] == 20.0
    assert len(more) > len(few) >= 1


def test_all_players_are_counted_and_the_chosen_one_is_marked() -> None:
    line = next(one for one in rows() if "relaxed" in one)
    assert re.search(r"of 7 attacks: +relaxed 3\+1~ +▸ working 1 +virtuoso 0 ", line)
    assert "~ audible" in line


def test_big_numbers_do_not_break_the_screen() -> None:
    counts = tuple(PlayerCount(name, 123_456, 65_432) for name in ("relaxed", "working", "virtuoso"))
    made = scene(snapshot=snapshot(counts=counts, attacks=1_000_000, us=10**11), end=10**12, speed=0.123456)
    assert {cell_len(one) for one in rows(made)} == {COLUMNS}


def test_where_nobody_knows_the_bars_times_stand_alone() -> None:
    for over in (False, True):
        passage = Passage(0, 3 * SECOND, Verdict.EASY, False, 7, open=not over)
        said = "\n".join(rows(scene(place=lambda us: None, snapshot=snapshot(passage=passage))))
        assert "bar " not in said
        assert "3.00 s" in said


def test_small_print_stands_above_the_keys() -> None:
    lines = rows(scene(details="12 messages"))
    assert "12 messages" in lines[-2]
    assert len(lines) == ROWS


@pytest.mark.parametrize("title", ["渡し船のハープ" * 12, "x" * 500, "\x1b[2J[red]\u202e\n", ""])
def test_any_title_is_cut_to_fit_and_cannot_act(title: str) -> None:
    text = dashboard(scene(title=title), COLUMNS, ROWS)
    lines = text.plain.split("\n")
    assert {cell_len(one) for one in lines} == {COLUMNS}
    assert "bar 2, beat 3" in lines[0]
    assert not set(text.plain) & set("\x1b\u202e")


def test_time_speed_and_state_are_shown() -> None:
    head = rows(scene(speed=2, state="paused"))[0]
    assert "3.00 s of 6.00 s" in head
    assert "×2" in head
    assert "PAUSED" in head
    assert rows()[1].count("━") == COLUMNS // 2


def test_ascii_terminals_see_the_same_in_ascii() -> None:
    lines = rows(scene(signs=ASCII))
    said = "\n".join(lines)
    assert said.isascii()
    assert {len(one) for one in lines} == {COLUMNS}
    assert "G#" in said
    assert "VIRTUOSO" in said
    assert "B#3 or Cn4" in said


def test_without_box_characters() -> None:
    said = "\n".join(rows(scene(signs=PLAIN)))
    assert not any("\u2500" <= character <= "\u25ff" for character in said)


@pytest.mark.parametrize("size", [(79, 24), (80, 23), (40, 10), (10, 2), (1, 1)])
def test_a_small_window_says_what_it_needs(size: tuple[int, int]) -> None:
    lines = rows(None, *size)
    assert len(lines) == size[1]
    assert all(cell_len(one) == size[0] for one in lines)
    if size[0] >= 40:
        assert any("needs 80x24" in one for one in lines)
        assert any("virtuoso" in one for one in lines)


@pytest.mark.parametrize(
    "broken",
    [
        finding(reasons=(), pedal=None, start=None, goal=None, needed=None, available=None),
        finding(us=10**12),
        finding(audible=True),
    ],
)
def test_findings_with_gaps_are_drawn(broken: Finding) -> None:
    assert {cell_len(one) for one in rows(scene(snapshot=snapshot(findings=(broken,))))} == {COLUMNS}


# Colour-vision deficiency of severity 1.0 as matrices on linear RGB: G. Machado, M. Oliveira, L. Fernandes,
# "A Physiologically-based Model for Simulation of Color Vision Deficiency", 2009 (the figures from memory).
SIGHT = {
    "usual": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.01182, 0.04294, 0.968881),
    ),
    "tritanopia": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.3039),
    ),
}


def lab(name: str, sight: tuple[tuple[float, ...], ...]) -> tuple[float, float, float]:
    """CIE L*a*b* (D65) of a colour as it is seen: sRGB by IEC 61966-2-1."""
    levels = [level / 255 for level in Color.parse(name).get_truecolor()]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in levels]
    r, g, b = (min(1, max(0, sum(k * v for k, v in zip(row, linear, strict=True)))) for row in sight)
    xyz = (
        (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505,
        0.2126 * r + 0.7152 * g + 0.0722 * b,
        (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089,
    )
    x, y, z = (t ** (1 / 3) if t > 0.008856 else 7.787 * t + 16 / 116 for t in xyz)
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


@pytest.mark.parametrize("sight", SIGHT)
@pytest.mark.parametrize("tone", [tone_of, badge_of])
def test_colours_of_verdicts_keep_apart_for_colour_blind_readers(sight: str, tone) -> None:
    names = [STYLES[tone(verdict)].split()[-1] for verdict in Verdict]
    seen = [lab(name, SIGHT[sight]) for name in names]
    nearest = min(
        sum((p - q) ** 2 for p, q in zip(a, b, strict=True)) ** 0.5
        for a, b in itertools.combinations(seen, 2)
    )
    # A difference of 2.3 in CIE 1976 L*a*b* is just noticeable (from memory); these stand far above it.
    assert nearest > 15
