"""The dashboard as a reader sees it: what stands where, at which size, in which signs."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

import pytest
from rich.cells import cell_len
from rich.color import Color

from livepedal.errors import LivepedalError
from livepedal.harp import Pedal, Position, Setting
from livepedal.model.findings import Finding, Passage, PlayerCount, Verdict
from livepedal.model.snapshot import ChangeView, NoteView, PedalView, Snapshot
from livepedal.views.dashboard.desk import Act, Desk, Panel, all_keys
from livepedal.views.dashboard.history import Chapter
from livepedal.views.dashboard.large import large, largest
from livepedal.views.dashboard.screen import Scene, dashboard_lines
from livepedal.views.lines import badge_of, segments, tone_of
from livepedal.views.signs import ASCII, FULL, PLAIN, Signs
from tests.views.making import SECOND, STEADY, finding, scene, snapshot, spelling

COLUMNS, ROWS = 80, 24


def rows(made: Scene | None = None, width: int = COLUMNS, height: int = ROWS) -> list[str]:
    lines = dashboard_lines(made or scene(), width, height)
    return ["".join(piece.text for piece in segments(line)) for line in lines]


def column(lines: list[str], pedal: Pedal, *, diagram: bool = False) -> dict[str, str]:
    """One pedal's column: all have the same width; labels stand before them, a gap between the feet."""
    width = (len(lines[0]) - 7 - 3) // 7
    start = 7 + pedal * width + (3 if pedal >= Pedal.E else 0)
    top = next(n for n, one in enumerate(lines) if "left foot" in one and "right foot" in one) + 1
    names = ["name", "time", "string", "moved"]
    if diagram:
        names[1:1] = ["♭", "♮", "♯"]
    return {name: lines[top + n][start : start + width].strip(" ") for n, name in enumerate(names)}


def section(lines: list[str], title: str) -> list[str]:
    """The rows under a line with this title, up to the next line."""
    at = next(n for n, one in enumerate(lines) if one.startswith("──") and title in one) + 1
    end = next((n for n in range(at, len(lines)) if lines[n].startswith("──")), len(lines))
    return lines[at:end]


@pytest.mark.parametrize("size", [(80, 24), (81, 25), (120, 40), (200, 60)])
def test_it_fills_its_size_exactly(size: tuple[int, int]) -> None:
    lines = rows(None, *size)
    assert len(lines) == size[1]
    assert {cell_len(one) for one in lines} == {size[0]}


def test_the_passage_has_its_verdict_as_word_and_shape() -> None:
    pictures = set()
    for verdict in Verdict:
        passage = Passage(0, 3 * SECOND, 3 * SECOND, verdict, False, 7, open=True)
        band = rows(scene(snapshot=snapshot(passage=passage)))[1:4]
        assert f"{verdict.word.upper()} so far" in band[0]
        assert "from bar 1, 7 attacks" in band[1]
        # Shape and letters are made of blocks, three rows of them.
        assert all(set(one[2:8]) <= set(" ▀▄█") for one in band)
        pictures |= {tuple(one[2:8] for one in band), tuple(one[10:45] for one in band)}
    assert len(pictures) == 2 * len(Verdict)


@pytest.mark.parametrize("signs", [FULL, PLAIN, ASCII], ids=["full", "plain", "ascii"])
def test_large_words_fill_what_room_there_is(signs: Signs) -> None:
    """Each word has rows of one width, in as many of them as every other, and is within the room."""
    before = 0
    for columns, rows_ in ((50, 5), (116, 10), (196, 20)):
        size = largest(signs, columns, rows_)
        pictures = [large(verdict, signs, size) for verdict in Verdict]
        assert {len(picture) for picture in pictures} == {size.rows(signs)}
        assert size.rows(signs) <= rows_
        assert max(len({len(row) for row in picture}) for picture in pictures) == 1
        assert max(len(picture[0]) for picture in pictures) == size.columns <= columns
        assert size.columns * size.rows(signs) > before
        before = size.columns * size.rows(signs)
        assert signs.blocks or {c for picture in pictures for row in picture for c in row} == {" ", "#"}


@pytest.mark.parametrize("signs", [FULL, ASCII], ids=["full", "ascii"])
@pytest.mark.parametrize("size", [(60, 20), (66, 21), (80, 23), (80, 24), (120, 40), (200, 24), (200, 60)])
def test_word_finding_and_pedals_are_there_in_every_size(size: tuple[int, int], signs: Signs) -> None:
    lines = rows(scene(signs=signs), *size)
    assert len(lines) == size[1]
    assert {cell_len(one) for one in lines} == {size[0]}
    said = "\n".join(lines)
    assert any(
        one.startswith("  ██████" if signs.blocks else "  ######") for one in lines
    )  # the triangle's foot
    assert "VIRTUOSO so far" in said
    assert signs.write("G♯4/A♭4 comes too soon for the pedal G♮→G♯") in said
    assert "stands" in said
    assert "h passages" in lines[-1]
    assert "q quit" in lines[-1]
    assert ("struck next" in said) == (size[0] >= 67)
    if size == (200, 60):  # the word is three times as high as at 80x24, and more
        assert next(n for n, one in enumerate(lines) if "what went wrong" in one) > 3 * 5


def test_an_audible_passage_says_so() -> None:
    passage = Passage(0, 3 * SECOND, 3 * SECOND, Verdict.PLAYABLE, True, 7, open=True)
    assert "PLAYABLE so far, audible" in rows(scene(snapshot=snapshot(passage=passage)))[1]


def test_the_last_attack_has_its_own_verdict() -> None:
    assert "last: ● easy" in rows(scene(snapshot=snapshot(latest=Verdict.EASY)))[3]


def test_a_passage_that_is_over_says_so() -> None:
    over = Passage(0, 3 * SECOND, 3 * SECOND, Verdict.EASY, False, 7)
    band = rows(scene(snapshot=snapshot(passage=over)))[1:4]
    assert "passage over: EASY" in band[0]
    assert "bars 1 and 2" in band[1]
    assert "7 attacks" in band[2]


def test_a_closed_passage_shows_the_best_way_out() -> None:
    over = Passage(0, 3 * SECOND, 3 * SECOND, Verdict.UNPLAYABLE, False, 7)
    chapter = Chapter(1, over, (finding(),), place=STEADY.place, mends=("up to ♩ = 84", "G♭ for F♯"))
    made = scene(snapshot=snapshot(passage=over), chapters=(chapter,))
    assert section(rows(made), "what went wrong")[0].startswith(" → up to ♩ = 84")
    running = scene(snapshot=snapshot(passage=over), chapters=(replace(chapter, mends=None),))
    assert "→" not in section(rows(running), "what went wrong")[0]


def test_before_the_first_note_it_waits() -> None:
    silent = Snapshot(0, "working", tuple(PedalView(p, ()) for p in Pedal), (), None, (), (), 0, ())
    lines = rows(scene(snapshot=silent))
    assert any("waiting for the first note" in one for one in lines)
    assert len(lines) == ROWS


def test_pedals_stand_in_their_order_by_foot() -> None:
    line = next(one for one in rows() if "E♮" in one and "F♮" in one and "┃" in one)
    assert re.sub(r"stands|[ ♭♮♯/]", "", line) == "DCB┃EFGA"


def test_the_diagram_is_drawn_where_there_is_room() -> None:
    lines = rows(None, 120, 40)
    assert column(lines, Pedal.B, diagram=True)["♯"] == "███"
    assert "█" in column(lines, Pedal.E, diagram=True)["♮"]
    assert column(lines, Pedal.A, diagram=True)["♭"] == "███"
    assert column(lines, Pedal.A, diagram=True)["♯"] == ""
    pedal = column(lines, Pedal.C, diagram=True)
    assert pedal["♭"] == "▒▒▒"
    assert "▒▒▒" in pedal["♮"]


def test_positions_that_differ_between_readings_are_all_shown() -> None:
    assert column(rows(), Pedal.C)["name"] == "C♭/♮"
    assert column(rows(), Pedal.B)["name"] == "B♯"
    three = replace(snapshot().pedals[Pedal.C], positions=tuple(Position))
    pedals = tuple(three if view.pedal is Pedal.C else view for view in snapshot().pedals)
    assert column(rows(scene(snapshot=snapshot(pedals=pedals))), Pedal.C)["name"] == "C♭/♮/♯"


def test_each_pedal_says_what_ties_it_up() -> None:
    lines = rows()
    assert column(lines, Pedal.D)["string"] == "not used"
    assert column(lines, Pedal.G)["string"] == "by G♯4"
    assert set(column(lines, Pedal.G)["time"]) == {"─"}
    assert column(lines, Pedal.C)["string"] == "free"
    assert set(column(lines, Pedal.C)["time"]) == {"█"}
    # F could move in 0.06 s of the 0.17 s that a change needs, and E when its foot is through with others.
    assert column(lines, Pedal.F)["string"] == "in 0.1s"
    assert column(lines, Pedal.F)["time"] == "▒▒▒▒▒░░░"
    assert column(lines, Pedal.E)["string"] == "foot 0.4s"
    assert set(column(lines, Pedal.E)["time"]) == {"░"}


def test_the_last_change_is_shown_with_the_time_it_had() -> None:
    assert column(rows(), Pedal.A)["moved"] == "♮→♭ 0.30s"
    short = ChangeView(2_400_000, Pedal.A, Position.NATURAL, Position.FLAT, 170_000, 90_000)
    pedals = tuple(replace(v, changed=short) if v.pedal is Pedal.A else v for v in snapshot().pedals)
    assert column(rows(scene(snapshot=snapshot(pedals=pedals))), Pedal.A)["moved"] == "♮→♭ 0.09!"


def test_what_could_be_struck_next_has_shape_word_and_string() -> None:
    names, bars, struck = (one[7:79] for one in section(rows(), "what could be struck next"))

    def cell(pitch_class: int) -> tuple[str, str, str]:
        at = 6 * pitch_class
        return names[at : at + 6].strip(), bars[at : at + 6].strip(), struck[at : at + 6].strip()

    assert cell(0) == ("B♯", "█████", "now")
    assert cell(6) == ("→F♯", "▒▒▒░░", "0.3s")
    assert cell(8) == ("A♭", "~~~~~", "~G♯4")  # not while it is held, but sliding now
    assert cell(9) == ("A♮", "─────", "G♯4")
    assert cell(10) == ("→B♭", "▒▒~~~", "~0.7s")  # its pedal has to get there first


def test_the_river_has_notes_findings_and_changes() -> None:
    rule = next(one for one in rows() if "the last few seconds" in one)
    *notes, left, right, _ = section(rows(), "the last few seconds")
    newest = max(one.find("G♯") for one in notes)
    assert newest == 78  # now is at the right
    assert rule[newest] == "▲"
    assert rule.count("▲") == 1
    assert [one.index("D♮") for one in notes if "D♮" in one] == [newest]  # one chord, one column
    assert right.startswith("right")
    assert "A♭" in right
    assert "♭" not in left
    # Half a second is six columns.
    assert [one.index("C♮") for one in notes if "C♮" in one] == [newest - 6]


def test_a_crowded_river_keeps_every_name_apart() -> None:
    notes = tuple(NoteView(n * 20_000, 60 + n % 12, (spelling("G", Position.SHARP, 4),)) for n in range(60))
    lines = section(
        rows(scene(snapshot=snapshot(us=1_180_000, notes=notes, changes=()))), "the last few seconds"
    )[:3]
    merged = "".join(max(column) for column in zip(*lines, strict=True))[7:]
    assert len(re.findall("G♯", merged)) >= 24
    assert not re.search("G♯G", merged)


def test_large_chords_are_counted_in_the_middle() -> None:
    notes = tuple(NoteView(0, p, (spelling("G", Position.SHARP, 4),)) for p in range(60, 68))
    lines = section(rows(scene(snapshot=snapshot(us=0, notes=notes, changes=()))), "the last few seconds")[:3]
    assert [one.split()[-1] for one in lines] == ["G♯", "+6", "G♯"]


def test_what_went_wrong_is_told_in_words() -> None:
    said = "\n".join(section(rows(None, 80, 30), "what went wrong"))
    assert "bar 2, beat 3, 3.00 s" in said
    assert "0.50 s needed, 0.21 s available" in said
    assert "G♯4/A♭4 comes too soon" in said
    assert "as A♭: A is in use" in said


def test_a_new_passage_does_not_show_the_troubles_of_the_last_one() -> None:
    passage = Passage(4 * SECOND, 5 * SECOND, 5 * SECOND, Verdict.EASY, False, 7, open=True)
    said = section(rows(scene(snapshot=snapshot(passage=passage))), "what went wrong")
    assert said[0].strip() == "nothing for the working player"


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
    assert re.search(r"cannot play, audible~: relaxed 3\+1~ ▸working 1 virtuoso 0 ", line)


def test_big_numbers_do_not_break_the_screen() -> None:
    counts = tuple(PlayerCount(name, 123_456, 65_432) for name in ("relaxed", "working", "virtuoso"))
    made = scene(snapshot=snapshot(counts=counts, attacks=1_000_000, us=10**11), end=10**12, speed=0.123456)
    assert {cell_len(one) for one in rows(made)} == {COLUMNS}


def test_where_nobody_knows_the_bars_times_stand_alone() -> None:
    for over in (False, True):
        passage = Passage(0, 3 * SECOND, 3 * SECOND, Verdict.EASY, False, 7, open=not over)
        said = "\n".join(rows(scene(place=lambda us: None, snapshot=snapshot(passage=passage))))
        assert "bar " not in said
        assert "3.00 s" in said
        assert "from 0.00 s" in said or "0.00 s to 3.00 s" in said


def test_what_was_just_said_stands_in_the_place_of_the_keys() -> None:
    assert "q quit" in rows()[-1]
    lines = rows(scene(details="saved tide.mid"))
    assert "saved tide.mid" in lines[-1]
    assert len(lines) == ROWS


@pytest.mark.parametrize("title", ["渡し船のハープ" * 12, "x" * 500, "\x1b[2J[red]\u202e\n", ""])
def test_any_title_is_cut_to_fit_and_cannot_act(title: str) -> None:
    lines = rows(scene(title=title))
    assert {cell_len(one) for one in lines} == {COLUMNS}
    assert "bar 2, beat 3" in lines[0]
    assert not set("".join(lines)) & set("\x1b\u202e")


def test_time_speed_and_state_are_shown() -> None:
    head = rows(scene(speed=2, state="paused"))[0]
    assert "0:03 of 0:06" in head
    assert "×2" in head
    assert "PAUSED" in head


def test_ascii_terminals_see_the_same_in_ascii() -> None:
    lines = rows(scene(signs=ASCII))
    said = "\n".join(lines)
    assert said.isascii()
    assert {len(one) for one in lines} == {COLUMNS}
    assert "G#" in said
    assert "VIRTUOSO so far" in said
    assert "Cb/n" in said


def test_without_box_characters() -> None:
    said = "\n".join(rows(scene(signs=PLAIN)))
    assert not any("\u2500" <= character <= "\u25ff" for character in said)


@pytest.mark.parametrize("size", [(59, 20), (60, 19), (40, 10), (10, 2), (1, 1)])
def test_a_small_window_says_what_it_needs(size: tuple[int, int]) -> None:
    lines = rows(None, *size)
    assert len(lines) == size[1]
    assert all(cell_len(one) == size[0] for one in lines)
    if size[0] >= 40:
        assert any("needs 60x20" in one for one in lines)
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
    names = [tone(verdict).value.split()[-1] for verdict in Verdict]
    seen = [lab(name, SIGHT[sight]) for name in names]
    nearest = min(
        sum((p - q) ** 2 for p, q in zip(a, b, strict=True)) ** 0.5
        for a, b in itertools.combinations(seen, 2)
    )
    # A difference of 2.3 in CIE 1976 L*a*b* is just noticeable (from memory); these stand far above it.
    assert nearest > 15


def test_what_could_be_struck_next_is_for_the_feet_at_every_size() -> None:
    for size in ((80, 24), (120, 40), (200, 60)):
        assert any("could be struck next (pedals only)" in row for row in rows(None, *size))


def test_a_pedal_that_was_used_and_is_free_stands_where_it_last_stood() -> None:
    """The readings forget where a pedal stands that could be anywhere in time; that is not "not used"."""
    pedals = tuple(PedalView(pedal, (Position.SHARP,) if pedal is Pedal.F else ()) for pedal in Pedal)
    cells = column(rows(scene(snapshot=snapshot(pedals=pedals))), Pedal.F)
    assert cells["name"] == "F♯"
    assert cells["string"] == "free"
    assert column(rows(scene(snapshot=snapshot(pedals=pedals))), Pedal.E)["string"] == "not used"
    drawn = column(rows(scene(snapshot=snapshot(pedals=pedals)), 160, 40), Pedal.F, diagram=True)
    assert drawn["name"] == "F♯"


def test_a_long_complaint_is_told_in_full() -> None:
    with pytest.raises(LivepedalError) as caught:
        Setting.parse("no such setting")
    said = " ".join(
        row.strip() for row in rows(scene(desk=Desk(Panel.PEDALS, typed="no", complaint=str(caught.value))))
    )
    assert str(caught.value) in said


def test_all_keys_stand_in_the_smallest_window_and_only_those_that_work() -> None:
    made = scene(desk=Desk(Panel.KEYS), acts=tuple(Act))
    shown = [row.split()[0] for row in rows(made, 60, 20) if row.strip()]
    there = dict(all_keys(tuple(Act), advice=False, beside=False))
    assert list(there) == shown[shown.index("space") : shown.index("q") + 1]
    assert "Return" not in there
    assert there["Esc"] == "back"
    assert "advice" in dict(all_keys(tuple(Act), advice=True, beside=True))["Esc"]
    assert "k" not in [key for key, _ in all_keys((Act.PAUSE,), advice=False, beside=False)]
