"""`check --accept`: what is known does not fail a pass again; what is new does."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import mido
import pytest

from livepedal import cli

from .test_check import AUDIBLE, EASY, HARD


@pytest.fixture
def cues(tmp_path: Path) -> Path:
    folder = tmp_path / "cues"
    folder.mkdir()
    shutil.copy(HARD, folder / "wheel.mid")
    shutil.copy(EASY, folder / "water.mid")
    return folder


def check(cues: Path, *more: str) -> int:
    known = str(cues.parent / "known.json")
    return cli.main(["check", "--only", "pedals", "--accept", known, *more, str(cues)])


def test_what_is_accepted_fails_no_more_and_what_is_new_does(
    cues: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["check", "--only", "pedals", str(cues)]) == 1
    assert check(cues) == 0
    before = (cues.parent / "known.json").read_bytes()
    assert check(cues) == 0
    assert "Nothing new" in capsys.readouterr().out
    monkeypatch.chdir(cues)  # wherever we are
    assert cli.main(["check", "--only", "pedals", "--accept", "../known.json", "."]) == 0
    shutil.copy(HARD, cues / "wheel 2.mid")
    assert check(cues) == 1
    assert "4 of 8 findings new" in capsys.readouterr().out
    assert (cues.parent / "known.json").read_bytes() == before
    assert check(cues, "--force") == 0
    assert check(cues) == 0


def test_bars_put_in_before_it_make_it_no_new_one_and_more_of_it_do(cues: Path) -> None:
    assert check(cues) == 0
    file = mido.MidiFile(HARD)
    for track in file.tracks:
        first = next((m for m in track if m.type == "note_on"), None)
        if first is not None:
            first.time += 4 * file.ticks_per_beat
    file.save(cues / "wheel.mid")
    assert check(cues) == 0
    longer = mido.MidiFile(HARD)
    (harp,) = (track for track in longer.tracks if any(m.type == "note_on" for m in track))
    harp.extend([m.copy() for m in harp if m.type in ("note_on", "note_off")])
    longer.save(cues / "wheel.mid")
    assert check(cues) == 1


def test_an_audible_change_is_new_only_where_it_fails(cues: Path) -> None:
    assert check(cues) == 0
    shutil.copy(AUDIBLE, cues / "moored.mid")
    assert check(cues) == 0
    assert check(cues, "--fail-on", "audible") == 1


def test_nothing_is_accepted_where_something_could_not_be_judged(
    cues: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (cues / "letter.mid").write_text("Dear ferryman,")
    assert check(cues) == 2
    assert not (cues.parent / "known.json").exists()
    assert "not everything could be judged" in capsys.readouterr().out


@pytest.mark.parametrize("text", ["", "[]", "{}", json.dumps({"format": "livepedal-accepted", "version": 2})])
def test_a_file_that_holds_no_such_thing_is_told(
    text: str, cues: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (cues.parent / "known.json").write_text(text)
    assert check(cues) == 2
    (sentence,) = capsys.readouterr().err.splitlines()
    assert "holds no accepted findings" in sentence
    assert (cues.parent / "known.json").read_text() == text
