"""The notation of a score on the page. Verovio engraves it; what is asked here is that our marks are in it, at their places."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest

from livepedal.advice.check import check_file
from livepedal.cli import main
from livepedal.views.page import engraving
from tests.sources.scores.making import attributes, note, notes, score, whole
from tests.sources.scores.test_marked import FERRY

verovio = pytest.importorskip("verovio")


def systems(data: bytes) -> tuple[str, ...]:
    (file,) = check_file(data, name="ferry.musicxml", only=("pedals",)).files
    return engraving.systems_of(data, file, 0, "p1")


def test_pedal_changes_findings_and_the_setting_are_engraved() -> None:
    drawn = "".join(systems(FERRY))
    assert "D♮ C♮ B♮ E♮ F♮ G♮ A♮" in drawn
    assert ">F♯<" in drawn
    assert re.search(r'<a href="#p1-f1"><g id="[^"]*" class="dir">', drawn)
    coloured = re.findall(r'class="note" color="#B3261D"', drawn)
    assert 1 <= len(coloured) <= 8  # of the eight notes that ask too much of the D pedal
    assert 'aria-label="bars 1 to ' in drawn


def test_systems_in_which_the_harp_rests_and_other_parts_are_left_out() -> None:
    rests = [note("rest", 4)] * 40
    bars = [notes("C4 D4 E4 F4"), *rests, notes("G4 A4 B4 C5")]
    listed = "".join(
        f'<score-part id="P{number}"><part-name>{name}</part-name></score-part>'
        for number, name in ((1, "Oboe"), (2, "Harp"))
    )
    parts = "".join(
        f'<part id="P{number}">'
        + "".join(
            f'<measure number="{bar}">{attributes() if bar == 1 else ""}{content}</measure>'
            for bar, content in enumerate(of_bars, 1)
        )
        + "</part>"
        for number, of_bars in ((1, [notes("C6 D6 E6 F6")] * 42), (2, bars))
    )
    drawn = systems(whole(parts, listed))
    assert len(drawn) == 2
    assert "".join(drawn).count('class="note"') == 8
    assert 'aria-label="bars 1 to ' in drawn[0]
    assert "42" in re.findall(r'aria-label="([^"]*)"', drawn[1])[0]


def test_the_setting_stands_in_the_first_system_that_is_drawn() -> None:
    drawn = systems(score(*[note("rest", 4)] * 30, notes("F#4 G4 A4 B4")))
    assert len(drawn) == 1
    assert "B♮ F♯ G♮ A♮" in drawn[0]


def test_names_from_the_score_do_nothing_on_the_page(tmp_path: Path) -> None:
    evil = FERRY.replace(b'<measure number="2">', b"<measure number='2'>").replace(
        b"<rehearsal>A<", b"<rehearsal>&lt;script&gt;alert(1)&lt;/script&gt;<"
    )
    drawn = "".join(systems(evil))
    assert "<script" not in drawn


def page(tmp_path: Path) -> tuple[str, Path]:
    source, out = tmp_path / "ferry.musicxml", tmp_path / "ferry.html"
    source.write_bytes(FERRY)
    main(["check", "--plain", "--only", "pedals", "--page", str(out), str(source)])
    return out.read_text(encoding="utf-8"), out


def test_the_page_has_the_notation_and_is_the_same_whenever_it_is_made(tmp_path: Path) -> None:
    text, out = page(tmp_path)
    assert text.count('<svg role="group" aria-label="bar') >= 1
    out.unlink()
    assert page(tmp_path)[0] == text


def test_without_verovio_the_page_has_its_timeline_and_one_sentence_says_how(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    find = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name, *rest: None if name == "verovio" else find(name, *rest)
    )
    text, _ = page(tmp_path)
    assert "notation" not in text.partition("<body>")[2]
    assert "pip install 'livepedal[score]'" in capsys.readouterr().out


@pytest.mark.slow
def test_a_score_that_cannot_be_engraved_has_its_timeline() -> None:
    assert systems(score(*[note("C4", 4)] * (engraving.MOST_BARS + 1))) == ()


def test_a_timewise_score_is_engraved_as_well() -> None:
    timewise = (
        '<score-timewise><part-list><score-part id="P1"><part-name>Harp</part-name></score-part></part-list>'
        f'<measure number="1"><part id="P1">{attributes()}{notes("C4 D4 E4 F4")}</part></measure></score-timewise>'
    )
    (drawn,) = systems(timewise.encode())
    assert drawn.count('class="note"') == 4
    partwise = systems(score(notes("C4 D4 E4 F4")))
    shape = re.compile(r' d="[^"]*"')  # ids are not the same
    assert shape.findall(drawn) == shape.findall("".join(partwise))


def test_a_score_in_utf_16_is_engraved_as_well() -> None:
    data = FERRY.decode().replace("UTF-8", "UTF-16").encode("utf-16")
    assert len(systems(data)) == len(systems(FERRY))


def test_a_crash_of_the_engraver_costs_nothing_but_the_notation(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    # Verovio 6.4.1 has been seen to crash on a damaged score (tests/sources/scores/damaging.py).
    monkeypatch.setattr(engraving, "_ENGRAVE", "import os; os.abort()")
    text, _ = page(tmp_path)
    assert 'class="notation"' not in text
    assert "could not be engraved" in capsys.readouterr().out
