"""`check --page`: where the page goes, and where it does not."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest

from livepedal import cli

from .test_check import EASY, HARD


def run(*arguments: str) -> int:
    return cli.main(["check", "--only", "pedals", *arguments])


def test_the_page_is_written_beside_the_report(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "out.html"
    assert run(HARD, "--page", str(target)) == 1
    assert "UNPLAYABLE" in capsys.readouterr().out
    assert target.read_bytes().startswith(b"<!DOCTYPE html>")
    assert [one.name for one in tmp_path.iterdir()] == ["out.html"]


def test_a_file_that_is_there_is_replaced_only_when_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "out.html"
    target.write_text("mine")
    assert run(EASY, "--page", str(target)) == 2
    told = capsys.readouterr()
    assert told.out == ""  # before anything is judged
    assert "already exists" in told.err
    assert "--page" in told.err
    assert target.read_text() == "mine"
    assert run(EASY, "--page", str(target), "--force") == 0
    assert "easy" in target.read_text(encoding="utf-8")


def test_what_is_judged_is_never_replaced(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    copy = tmp_path / "copy.mid"
    copy.write_bytes(Path(EASY).read_bytes())
    assert run(str(copy), "--page", str(copy), "--force") == 2
    assert "is the file being read" in capsys.readouterr().err
    assert copy.read_bytes() == Path(EASY).read_bytes()


def test_a_page_is_of_one_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(EASY, HARD, "--page", str(tmp_path / "out.html")) == 2
    assert "give one file to judge" in capsys.readouterr().err


def test_there_is_no_page_of_what_cannot_be_judged(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = tmp_path / "bad.mid"
    bad.write_bytes(b"no music")
    assert run(str(bad), "--page", str(tmp_path / "out.html")) == 2
    assert not (tmp_path / "out.html").exists()
    assert capsys.readouterr().err.count("\n") == 1


def test_a_place_that_cannot_be_written_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(EASY, "--page", str(tmp_path / "nowhere" / "out.html")) == 2
    told = capsys.readouterr().err
    assert "cannot be written" in told
    assert told.count("\n") == 1


def test_json_stays_json_and_standard_input_has_a_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import json

    class Piped:
        buffer = io.BytesIO(Path(EASY).read_bytes())

        @staticmethod
        def isatty() -> bool:
            return False

    monkeypatch.setattr(sys, "stdin", Piped)
    target = tmp_path / "out.html"
    assert run("-", "--json", "--page", str(target)) == 0
    assert json.loads(capsys.readouterr().out)["format"] == "livepedal-check"
    assert "<h1>standard input</h1>" in target.read_text(encoding="utf-8")


def test_a_pedal_sheet_is_the_setting_and_the_changes_alone(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["check", "--sheet", "--plain", "paddle-wheel-half"]) == 0
    said = capsys.readouterr().out
    assert "Set before the start" in said
    assert "bar  " in said or "bar 1" in said
    for other in ("Worth knowing", "worst first", "attacks"):
        assert other not in said
