"""livepedal.toml: what a project sets once and for all, and what is typed counts more."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from livepedal import cli

from .test_check import HARD, TWO


@pytest.fixture
def exports(tmp_path: Path) -> Path:
    """A folder of exports inside a project."""
    folder = tmp_path / "play" / "exports" / "reel 1"
    folder.mkdir(parents=True)
    shutil.copy(HARD, folder / "cue 1.mid")
    return folder


def sets(exports: Path, text: str) -> Path:
    file = exports.parents[1] / "livepedal.toml"
    file.write_text(text, encoding="utf-8")
    return file


def judged(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict:
    cli.main(["check", "--json", "--only", "pedals", *arguments])
    return json.loads(capsys.readouterr().out)


def test_it_is_found_above_and_what_is_typed_counts_more(
    exports: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sets(exports, 'player = "virtuoso"\nfirst-bar = 7\nharp = 46\n')
    said = judged(capsys, str(exports))
    assert (said["player"], said["harp"]) == ("virtuoso", "46")
    assert said["files"][0]["parts"][0]["findings"][0]["bar"] == 7
    assert judged(capsys, "--player", "relaxed", str(exports))["player"] == "relaxed"
    # A pattern, and a file by its own name.
    assert judged(capsys, str(exports / "*.mid"))["player"] == "virtuoso"
    assert judged(capsys, str(exports / "cue 1.mid"))["player"] == "virtuoso"


def test_tracks_by_patterns_of_file_names(exports: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copy(TWO, exports / "two.mid")
    whole = judged(capsys, str(exports / "two.mid"))["files"][0]["parts"]
    assert len(whole) == 2
    number = whole[1]["tracks"][0]["number"]
    sets(exports, f'[tracks]\n"t*.mid" = {number}\n"*" = "no such track"\n')
    (part,) = judged(capsys, str(exports / "two.mid"))["files"][0]["parts"]
    assert part["tracks"][0]["number"] == number
    assert "no such track" in judged(capsys, str(exports / "cue 1.mid"))["files"][0]["error"]
    capsys.readouterr()
    other = str(whole[0]["tracks"][0]["number"])
    (part,) = judged(capsys, "--track", other, str(exports / "two.mid"))["files"][0]["parts"]
    assert str(part["tracks"][0]["number"]) == other


@pytest.mark.parametrize(
    ("text", "taught"),
    [
        ('plyer = "virtuoso"', "did you mean player?"),
        ("first_bar = 3", "did you mean first-bar?"),
        ("colour = 3", "the options are player, harp"),
        ('first-bar = "3"', "first-bar takes a whole number"),
        ("merge = 1", "merge takes true or false"),
        ('tracks = "Harp"', "[tracks] takes patterns"),
        ('[tracks]\n"*" = [1.5]', "[tracks] takes patterns"),
        ("player =", "is not valid TOML: "),
        (f"first-bar = {'9' * 5000}", "a number in it is out of range"),
        (f"x = {'[' * 20000}", "is not valid TOML: "),
        ('player = "nobody"', "nobody"),
        ("harp = 12", "livepedal.toml: harp: "),
        ('start = "H major"', "livepedal.toml: start: "),
        ("transpose = 99", "livepedal.toml: transpose 99 is more than five octaves"),
        ('player = "nobody"', "livepedal.toml: player: there is no player"),
    ],
)
def test_what_is_wrong_in_it_is_told_in_a_sentence(
    text: str, taught: str, exports: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sets(exports, text)
    for command in ("check", "watch"):
        assert cli.main([command, str(exports)]) == 2
        (sentence,) = capsys.readouterr().err.splitlines()
        assert taught in sentence
        assert "livepedal.toml" in sentence


def test_a_value_that_only_check_takes_is_named_as_it_stands_in_the_file(
    exports: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sets(exports, 'fail-on = "easy"\n')
    assert cli.main(["check", str(exports)]) == 2
    assert "livepedal.toml: fail-on does not know 'easy'" in capsys.readouterr().err


def test_show_defaults_is_toml_that_says_where_it_comes_from(
    exports: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import tomllib

    text = 'player = "relaxed"\nmiddle-c = "C3"\n[tracks]\n"*cue*" = ["Harp", 3]\n'
    file = sets(exports, text)
    assert cli.main(["check", "--show-defaults", str(exports)]) == 0
    said = capsys.readouterr().out
    assert str(file) in said
    assert tomllib.loads(said) == {
        "player": "relaxed",
        "middle-c": "C3",
        "tracks": {"*cue*": ["Harp", "3"]},
    }
    monkeypatch.chdir(exports)
    assert cli.main(["listen", "--show-defaults"]) == 0
    assert 'middle-c = "C3"' in capsys.readouterr().out
    file.unlink()
    assert cli.main(["check", "--show-defaults", "cue 1.mid"]) == 0
    assert "there is no livepedal.toml" in capsys.readouterr().out
