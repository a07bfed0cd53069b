"""The page as text: it holds what the report says, its links lead somewhere, and nothing in it acts or is fetched.

What a browser makes of it is tested in tests/browser/. The HTML is read with Python's own parser.
"""

from __future__ import annotations

import base64
import hashlib
import io
import os
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import mido
import pytest

from livepedal import check_file
from livepedal.advice.judging.basis import Basis
from livepedal.advice.report import FileReport, Report
from livepedal.errors import LivepedalError
from livepedal.harp import Figures, Pedal
from livepedal.model.findings import Verdict
from livepedal.views import page, words
from tests.places import RECORDINGS
from tests.views import making

ALL = sorted(RECORDINGS.glob("*.mid"))
FIGURES = Figures.builtin()
VOID = {"meta", "br", "hr", "img", "input", "link", "path", "circle", "rect", "use"}


@dataclass
class Element:
    tag: str
    attributes: dict[str, str]
    inside: list[Element] = field(default_factory=list)
    text: str = ""

    def walk(self) -> Iterator[Element]:
        yield self
        for one in self.inside:
            yield from one.walk()

    def all(self, tag: str, css_class: str | None = None) -> list[Element]:
        return [
            one
            for one in self.walk()
            if one.tag == tag and (css_class is None or css_class in one.attributes.get("class", "").split())
        ]

    @property
    def said(self) -> str:
        return " ".join((self.text + " " + " ".join(one.said for one in self.inside)).split())


class Reader(HTMLParser):
    """Builds the tree, and insists that every element is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.root = Element("", {})
        self.open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert len({name for name, _ in attrs}) == len(attrs), f"{tag} has an attribute twice"
        one = Element(tag, {name: value or "" for name, value in attrs})
        self.open[-1].inside.append(one)
        if tag not in VOID:
            self.open.append(one)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.open[-1].inside.append(Element(tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop().tag == tag

    def handle_data(self, data: str) -> None:
        self.open[-1].text += data


def read(data: bytes) -> Element:
    reader = Reader()
    reader.feed(data.decode("utf-8"))
    reader.close()
    assert reader.open == [reader.root]
    return reader.root


def page_bytes(report: Report, middle_c: str = "C4") -> bytes:
    return page.to_bytes(report.files[0], Basis(FIGURES, report.instrument, report.player.name), middle_c)


@cache
def judged(path: Path) -> Report:
    return check_file(path, only=("pedals",), remedies="paddle-wheel." in path.name)


@cache
def tree(path: Path) -> Element:
    return read(page_bytes(judged(path)))


def recording(name: str) -> Path:
    (path,) = RECORDINGS.glob(f"*-{name}.mid")
    return path


def changed(path: Path, **changes: Any) -> Report:
    """A recording's report with its part changed."""
    report = judged(path)
    part = replace(report.files[0].parts[0], **changes)
    return replace(report, files=(replace(report.files[0], parts=(part,)),))


def drawn_from(bars: list[tuple[int, list[tuple[int, int, int]]]], per_quarter: int = 480) -> Report:
    """A part made from (numerator of its first metre, notes as (start tick, length, pitch))."""
    file = mido.MidiFile(ticks_per_beat=per_quarter)
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name="Harp"))
    timed: list[tuple[int, mido.Message | mido.MetaMessage]] = []
    for numerator, notes in bars:
        timed.append((0, mido.MetaMessage("time_signature", numerator=numerator, denominator=4)))
        for start, length, pitch in notes:
            timed.append((start, mido.Message("note_on", note=pitch, velocity=64)))
            timed.append((start + length, mido.Message("note_off", note=pitch)))
    now = 0
    for tick, message in sorted(timed, key=lambda one: one[0]):
        track.append(message.copy(time=tick - now))
        now = tick
    file.tracks.append(track)
    data = io.BytesIO()
    file.save(file=data)
    return check_file(data.getvalue(), name="made.mid", only=("pedals", "strings"))


# -- it holds what the report says


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_every_note_is_drawn_in_the_shape_of_its_verdict(path: Path) -> None:
    starts = Counter[str]()
    for one in tree(path).all("path"):
        if one.attributes.get("class") in {verdict.word for verdict in Verdict}:
            starts[one.attributes["class"]] += one.attributes["d"].count("M")
    expected = Counter[str]()
    for part in judged(path).files[0].parts:
        worse = {graded.us: graded.verdict for graded in part.graded}
        for attack in part.music:
            expected[worse.get(attack.us, Verdict.EASY).word] += len(attack.notes)
        assert max(worse.values(), default=Verdict.EASY) is part.verdict
    assert starts == expected


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_every_change_is_marked_and_the_lanes_end_where_the_plan_does(path: Path) -> None:
    root = tree(path)
    marks = [one.attributes["aria-label"] for one in root.all("g", "change")]
    expected = []
    for part in judged(path).files[0].parts:
        for change in part.plan.changes:
            letter = change.pedal.letter
            expected.append(
                f"{letter}{change.start.sign}→{letter}{change.goal.sign}, {change.foot.value} foot, "
            )
            expected[-1] += words.beside(change, part.told_at(change)) + words.when(part.place_of(change), change.us)
    assert len(marks) == len(expected)
    for text in expected:
        assert any(mark.startswith(text) for mark in marks)
    # The lanes: up is flat, as the pedals are; followed through to the end by reading the drawing alone.
    for number, part in enumerate(judged(path).files[0].parts):
        music = root.all("section", "music")[number]
        bars = music.all("svg", "bar")
        lanes = [float(y) - 4 for y in music.all("text", "pedal")[0].attributes["y"].split()]
        standing = list(part.plan.setting.positions)
        for change in part.plan.changes:
            standing[change.pedal] = change.goal
        (path_of,) = [one for one in bars[-1].all("path") if one.attributes.get("class") == "pedals"]
        ends = [
            float(re.split(r"[MHV ]", line)[-2]) if "V" in line else float(line.split("H")[0].split(" ")[1])
            for line in path_of.attributes["d"].split("M")[1:]
        ]
        used = [pedal for pedal in Pedal if standing[pedal] is not None]
        assert len(ends) == len(used)
        for pedal, y in zip(used, ends, strict=True):
            position = standing[pedal]
            assert position is not None
            assert (y > lanes[pedal]) - (y < lanes[pedal]) == int(position), pedal


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_findings_are_listed_in_the_words_of_the_report_and_linked_both_ways(path: Path) -> None:
    root = tree(path)
    ids = Counter(one.attributes["id"] for one in root.walk() if "id" in one.attributes)
    assert set(ids.values()) <= {1}
    for one in root.walk():
        for name in ("href", "aria-labelledby"):
            if name in one.attributes:
                assert set(one.attributes[name].removeprefix("#").split()) <= set(ids), one
    for number, part in enumerate(judged(path).files[0].parts, 1):
        items = [one for one in root.all("li") if one.attributes.get("id", "").startswith(f"p{number}-f")]
        assert len(items) == len(part.groups)
        flags = root.all("section", "music")[number - 1].all("a", "finding")
        assert len(flags) == len(part.findings)
        marks = {one.attributes["id"]: one.attributes for one in flags if "id" in one.attributes}
        for group, one in zip(part.groups, items, strict=True):
            listed = one.said.replace("\xa0", " ")
            assert words.what(group.worst, "C4") in listed
            assert words.spread(group, part.place) in listed
            assert ("audible" if group.worst.audible else group.worst.verdict.word) in listed
        for one in items:
            (place,) = [a.attributes["href"] for a in one.all("a") if "-m" in a.attributes["href"]]
            assert marks[place[1:]]["href"] == f"#{one.attributes['id']}"


def test_remedies_stand_with_the_first_finding_of_their_place_and_the_others_lead_there() -> None:
    root = tree(recording("paddle-wheel"))
    items = [one for one in root.all("li") if one.attributes.get("id", "").startswith("p1-f")]
    ways = [one.all("ol", "ways") for one in items]
    assert [len(one) for one in ways] == [1, 0, 0, 0]
    # The tempo is the one that the terminal's report gives: bars 1 to 4 at 65 instead of 100.
    assert "♩ = 56 instead of 100" in ways[0][0].said
    for one in items[1:]:
        assert [a.attributes["href"] for a in one.all("a", "shared")] == ["#p1-f1"]


def test_without_remedies_the_page_says_how_to_get_them() -> None:
    report = check_file(recording("paddle-wheel"), only=("pedals",))
    assert "--remedies" in read(page_bytes(report)).said
    assert "--remedies" not in tree(recording("paddle-wheel")).said


def test_the_starting_diagram_has_the_strokes_of_the_setting() -> None:
    root = tree(recording("slack-water"))
    # recordings/README.md, 01: every note is of E♭ major, and no pedal moves.
    (figure,) = root.all("figure", "diagram")
    assert figure.all("svg")[0].attributes["aria-label"] == "Set before the start: D♮ C♮ B♭ | E♭ F♮ G♮ A♭"
    strokes = [one.attributes["d"] for one in figure.all("path", "stroke")]
    tops = [int(re.fullmatch(r"M\d+ (\d+)v18", one)[1]) for one in strokes]  # type: ignore[index]
    middle = 44 - 9
    signs = [(top > middle) - (top < middle) for top in tops]
    assert signs == [0, 0, -1, -1, 0, 0, -1]


def test_audible_tight_and_impossible_changes_have_a_sign_and_a_word() -> None:
    for name, kind, word in (
        ("moored", "audible", "Audible"),
        ("paddle-wheel-half", "tight", "Tight"),
        ("paddle-wheel", "impossible", "no time"),
    ):
        marks = [one for one in tree(recording(name)).all("g", "change") if kind in one.attributes["class"]]
        assert marks
        for one in marks:
            assert word in one.attributes["aria-label"]
            assert one.all("text", "flag")[0].text in {"~", "!", "✕"}
            assert one.attributes["tabindex"] == "0"


def test_the_tightest_gap_of_a_bar_stands_under_it_where_there_is_one() -> None:
    # recordings/README.md, 05: "a note of the harmony between G and G♯ leaves 0.255 s: 0.17 s will do".
    cells = tree(recording("paddle-wheel-revised")).all("g", "cell")
    assert {one.said for one in cells} == {"0.26 s"}
    assert all("needs 0.17 s" in one.attributes["aria-label"] for one in cells)
    assert not tree(recording("slack-water")).all("g", "cell")  # 01: no pedal moves


def test_the_note_of_a_finding_is_named_where_there_is_room() -> None:
    root = tree(recording("paddle-wheel"))
    named = {note.text for note in root.all("text", "note")}
    # The report names the same: bar 1 has G4, bar 2 A4.
    assert {"G♮4", "A♮4"} <= named


def test_a_pedal_sheet_has_the_setting_and_each_change_by_bar_and_nothing_else() -> None:
    report = judged(recording("paddle-wheel-half"))
    root = read(
        page.to_bytes(report.files[0], Basis(FIGURES, report.instrument, report.player.name), sheet=True)
    )
    (part,) = report.files[0].parts
    assert not root.all("svg", "bar")
    assert not root.all("section", "findings")
    assert root.all("figure", "diagram")
    (listed,) = root.all("ul", "pedal-sheet")
    found = []
    for row in listed.all("li"):
        (bar,) = [one.text for one in row.all("span", "number")]
        changes = [one.text for one in row.all("b")]
        found += [
            (int(bar), change, beat.text) for change, beat in zip(changes, row.all("small"), strict=True)
        ]
    assert found == [
        (part.place_of(one).bar, words.change_name(one), words.beside(one, part.told_at(one)) + words.beat(part.place_of(one).beat))
        for one in part.plan.changes
    ]


def test_octaves_are_named_as_asked() -> None:
    report = judged(recording("slack-water"))
    as_c3 = read(page_bytes(report, "C3"))
    (as_c4,) = tree(recording("slack-water")).all("text", "C")
    (names,) = as_c3.all("text", "C")
    assert "Middle C is C3" in as_c3.said
    assert names.text == re.sub(r"\d", lambda digit: str(int(digit[0]) - 1), as_c4.text)


# -- the drawing


def test_bars_are_equally_wide_whatever_the_tempo_and_wider_only_where_attacks_are_many() -> None:
    quarters = [(1920 * bar + 480 * n, 400, 60 + n) for bar in range(3) for n in range(4)]
    bars = read(page_bytes(drawn_from([(4, quarters)]))).all("svg", "bar")
    assert [one.attributes["width"] for one in bars] == ["138"] * 3
    # Two and the gutter (58) fit a telephone of 360 with its margins (24).
    assert 2 * 138 + 58 + 24 <= 360
    fast = [(60 * n, 50, 60 + n % 5) for n in range(32)]
    (bar,) = read(page_bytes(drawn_from([(4, fast)]))).all("svg", "bar")
    assert 138 < int(bar.attributes["width"]) <= 232


def test_silent_bars_are_one_rest_and_end_at_a_mark() -> None:
    report = drawn_from([(4, [(0, 480, 60), (1920 * 9, 480, 64)])])
    labels = [one.attributes["aria-label"] for one in read(page_bytes(report)).all("svg", "bar")]
    assert [label.split(":")[0] for label in labels] == ["bar 1", "bars 2 to 9, rest", "bar 10"]


def test_a_long_bar_goes_on_in_a_second_drawing_and_none_is_wider_than_a_telephone() -> None:
    # 16 quarters of 0.5 s in demisemiquavers.
    notes = [(60 * n, 55, 60 + n % 5) for n in range(128)]
    root = read(page_bytes(drawn_from([(16, notes)])))
    bars = root.all("svg", "bar")
    assert len(bars) > 1
    assert all("continued" in one.attributes["aria-label"] for one in bars[1:])
    assert all(float(one.attributes["width"]) <= 232 for one in bars)
    heads = sum(
        one.attributes["d"].count("M") for one in root.all("path", "easy") + root.all("path", "playable")
    )
    heads += sum(
        one.attributes["d"].count("M")
        for one in root.all("path", "virtuoso") + root.all("path", "unplayable")
    )
    assert heads == 128


def test_notes_that_no_string_gives_are_drawn_at_the_edge() -> None:
    root = read(page_bytes(drawn_from([(4, [(0, 480, 60), (480, 480, 108)])])))
    (flag,) = root.all("a", "finding")
    assert "this harp has no string for it" in flag.attributes["aria-label"]
    assert flag.all("circle", "ring")


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_everything_lies_within_its_drawing(path: Path) -> None:
    for bar in tree(path).all("svg", "bar"):
        width, height = float(bar.attributes["width"]), float(bar.attributes["height"])
        for one in bar.all("path"):
            if one.attributes.get("class") in {"tails", "pedals", "beats"}:
                for x, y in re.findall(r"M([-\d.]+) ([-\d.]+)", one.attributes["d"]):
                    assert 0 <= float(x) <= width
                    assert 0 <= float(y) <= height
        for one in bar.all("circle"):
            assert 0 <= float(one.attributes["cx"]) <= width
            assert 0 <= float(one.attributes["cy"]) <= height


# -- nothing acts, nothing is fetched

NASTY = "<script>alert(1)</script>\x1b[2J\"'&{{ 7*7 }}</style>\u202e\0\x07"


def test_names_are_escaped_and_made_harmless() -> None:
    made = making.part(
        name=NASTY,
        remarks=(f"oddity {NASTY}",),
        advice=None,
    )
    # A path as it could be on a system with few rules about names.
    file = FileReport(f"C <b>{NASTY}", (made,), remarks=(NASTY,))
    data = page_bytes(making.report(file))
    root = read(data)
    assert len(root.all("script")) == 1
    of_sheet = [one for listed in root.all("ul", "pedal-sheet") for one in listed.all("b")]
    assert all(one.text in LEGEND for one in root.all("b") if one not in of_sheet)
    text = data.decode("utf-8")
    assert "49" not in root.all("h2")[0].said
    assert "<script>alert(1)" in root.all("h2")[0].said  # as text
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f\u202a-\u202e\u2066-\u2069]", text)


LEGEND = {
    *(v.word for v in Verdict),
    "flat",
    "natural",
    "sharp",
    "pedal change",
    "tight",
    "audible",
    "no time",
    "shortest",
}


def test_marks_of_the_file_are_escaped() -> None:
    file = mido.MidiFile()
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name="<script>Harp"))
    track.append(mido.MetaMessage("marker", text="</svg><i>\x1b"))
    track += [mido.Message("note_on", note=64, velocity=64), mido.Message("note_off", note=64, time=4800)]
    file.tracks.append(track)
    data = io.BytesIO()
    file.save(file=data)
    root = read(page_bytes(check_file(data.getvalue(), name="a.mid", only=("pedals",))))
    assert not root.all("i")
    (mark,) = root.all("tspan", "mark")
    assert mark.text.startswith("</svg")
    assert len(root.all("script")) == 1


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_nothing_is_fetched_and_no_other_script_would_run(path: Path) -> None:
    data = page_bytes(judged(path))
    root = read(data)
    for one in root.walk():
        assert not {"src", "srcset", "action", "data", "poster", "xlink:href"} & set(one.attributes)
        assert not [name for name in one.attributes if name.startswith("on")]
        if "href" in one.attributes:
            assert one.attributes["href"].startswith("#")
        assert one.tag not in {"link", "iframe", "object", "embed", "img", "base", "form"}
    assert b"http:" not in data
    assert b"https:" not in data
    assert b"url(" not in data
    assert b"@import" not in data
    (policy,) = [one.attributes["content"] for one in root.all("meta") if "http-equiv" in one.attributes]
    assert policy.startswith("default-src 'none'")
    (script,) = root.all("script")
    digest = base64.b64encode(hashlib.sha256(script.text.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in policy


def test_the_page_is_the_same_bytes_each_time_and_names_no_folder() -> None:
    report = judged(recording("paddle-wheel"))
    assert page_bytes(report) == page_bytes(report)
    assert str(RECORDINGS).encode() not in page_bytes(report)


def test_a_report_made_by_hand_without_music_is_a_page_too() -> None:
    root = read(page_bytes(making.report()))
    assert "There are no notes here." in root.said
    assert not [
        one
        for one in root.all("a")
        if "-m" in one.attributes["href"] and one.attributes["href"] != "#p1-music"
    ]
    # Its setting leaves A open: a pedal that is not used is a point, and said to be one.
    assert "·: not used" in root.said


def test_a_bounded_search_for_the_changes_is_told_on_the_page() -> None:
    made = making.part()
    for bounded in (0, 3):
        part = replace(made, plan=replace(made.plan, bounded=bounded))
        told = read(page_bytes(making.report(FileReport("a.mid", (part,))))).said
        assert ("Remark: A better way may exist" in told) == bool(bounded)


def test_a_file_that_could_not_be_judged_has_no_page() -> None:
    with pytest.raises(LivepedalError, match="not a MIDI file"):
        page.to_bytes(
            FileReport("x.mid", error="x.mid: not a MIDI file."),
            Basis(FIGURES, FIGURES.instrument("47")),
        )


def test_the_templates_are_loaded_only_for_a_page() -> None:
    code = (
        "import sys; from livepedal import cli;"
        f"cli.main(['check', '--only', 'pedals', {str(ALL[0])!r}]); sys.exit('jinja2' in sys.modules)"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        check=False,
    )
    assert run.returncode == 0, run.stderr
