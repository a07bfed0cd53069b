"""A score is judged as it is printed, beside the best spelling."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from livepedal.advice.check import check_file
from livepedal.advice.report import CheckedPart
from livepedal.advice.spelling.given import AskedSpelling
from livepedal.advice.spelling.requests import parse_request
from livepedal.cli import main
from livepedal.model.findings import Outcome
from livepedal.views import json_view
from tests.sources.scores.making import note, notes, score


def judged(data: bytes, **options: bool) -> CheckedPart:
    (file,) = check_file(data, name="ferry.musicxml", **options).files  # type: ignore[arg-type]
    return file.parts[0]


# C♯ beside D natural needs no change, D♭ beside D natural one for each note (Berlioz, Grand traité, p. 86: enharmonic strings).
AS_D_FLAT = score('<sound tempo="160"/>' + "".join(notes("D5 Db5", 0.25) for _ in range(8)))
AS_C_SHARP = score('<sound tempo="160"/>' + "".join(notes("D5 C#5", 0.25) for _ in range(8)))


def test_a_printed_spelling_that_costs_something_is_told_with_the_better_string() -> None:
    part = judged(AS_D_FLAT)
    assert part.outcome is Outcome.CANNOT
    assert part.spelling is not None
    assert part.spelling.given.unplayable > 0
    assert part.spelling.best.unplayable == part.spelling.best.audible == 0
    assert "In bar 1, D♭ is better played as C♯" in part.spelling.remarks


def test_a_printed_spelling_that_costs_nothing_is_kept() -> None:
    part = judged(AS_C_SHARP)
    assert part.outcome is Outcome.PLAYS
    assert part.spelling is not None
    assert part.spelling.remarks == ()
    names = {spelling.name for _, row in part.spelled for spelling in row if spelling is not None}
    assert names == {"D♮5", "C♯5"}


def test_double_sharps_and_flats_are_put_on_the_strings_that_play_them() -> None:
    part = judged(score(note("F##4", 4)))
    assert part.spelling is not None
    assert part.spelling.remarks == ("F𝄪 cannot be set by a pedal, so it is played on G♮ (1 note, bar 1)",)


def test_what_is_asked_for_goes_before_print_and_the_rest_stays_as_printed() -> None:
    (file,) = check_file(
        score(notes("C#4 F#4 C#4 F#4")), name="ferry.musicxml", spelling=AskedSpelling((parse_request("all: Db"),))
    ).files
    names = {spelling.name for _, row in file.parts[0].spelled for spelling in row if spelling is not None}
    assert names == {"D♭4", "F♯4"}


def told(tmp_path: Path, capsys: pytest.CaptureFixture[str], *command: str) -> str:
    """What a command says of the score in D♭."""
    path = tmp_path / "ferry.musicxml"
    path.write_bytes(AS_D_FLAT)
    main([word.replace("FILE", str(path)) for word in command])
    return capsys.readouterr().out


def test_replay_and_compare_judge_a_score_as_it_is_printed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    replayed = told(tmp_path, capsys, "replay", "--plain", "--speed", "1000", "FILE")
    assert "(as printed)" in replayed
    assert "UNPLAYABLE" in replayed
    compared = told(tmp_path, capsys, "compare", "--json", "FILE", "FILE")
    assert json.loads(compared)["parts"][0]["before"]["verdict"] == "unplayable"


def test_other_commands_say_that_they_take_the_best_spelling(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "--as-written shows the one that the score prints" in told(tmp_path, capsys, "spell", "FILE")
    shared = told(tmp_path, capsys, "share", "-o", str(tmp_path / "two.mid"), "--double", "FILE")
    assert "none of the score's spelling and signs" in " ".join(shared.split())


def test_the_json_names_bars_as_they_are_printed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "ferry.musicxml"
    again = '<barline location="right"><repeat direction="backward"/></barline>'
    path.write_bytes(score(notes("C4 D4 E4 F4"), notes("F#4 G4 F4 F#4") + again, numbers=("7", "8a")))
    main(["check", "--json", "--only", "pedals", str(path)])
    document = json.loads(capsys.readouterr().out)
    jsonschema.Draft202012Validator(json.loads(json_view.schema())).validate(document)
    changes = document["files"][0]["parts"][0]["changes"]
    names = {(change["bar"], change["bar_name"]) for change in changes}
    assert {(8, "8a (1st time)"), (10, "8a (2nd time)")} <= names
