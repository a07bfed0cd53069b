"""The JSON Schema that comes with the package, against what is written; jsonschema is the judge of that."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator, ValidationError

from livepedal import cli
from livepedal.advice.remedies.remedy import RemedyKind
from livepedal.harp import Pedal, Position
from livepedal.model.findings import Constraint, Kind, Layer, Verdict
from livepedal.views import json_view
from tests.places import EVERY_RECORDING

RECORDINGS = EVERY_RECORDING
SCHEMA = json.loads(json_view.schema())
VALIDATOR = Draft202012Validator(SCHEMA)
HARD = next(str(path) for path in RECORDINGS if "03" in path.name)
MOORED = next(str(path) for path in RECORDINGS if "12" in path.name)

Written = Callable[..., str]


@pytest.fixture
def written(capsys: pytest.CaptureFixture[str]) -> Written:
    def do(*arguments: str) -> str:
        cli.main(["check", *arguments])
        return capsys.readouterr().out

    return do


def test_the_schema_is_one_by_its_own_standard_and_the_command_writes_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert cli.main(["schema"]) == 0
    said = capsys.readouterr().out
    assert json.loads(said) == SCHEMA
    assert said.isascii()  # for any terminal


@pytest.mark.slow
@pytest.mark.parametrize(
    "options",
    [
        (),
        ("--remedies",),
        ("--player", "virtuoso", "--harp", "40", "--first-bar", "-3"),
        ("--player", "relaxed", "--start", "Cb major", "--only", "strings", "--merge"),
        ("--spell", "1-: Fb major", "--only", "pedals"),
        ("--as-written", "--remedies", "--start", "D# C# B# | E# F# G# A#"),
        ("--from", "2", "--middle-c", "C3"),
    ],
    ids=" ".join,
)
def test_every_recording_under_odd_options(options: tuple[str, ...], written: Written) -> None:
    # Some options make much trouble, and every trouble takes its search: then three recordings do.
    files = RECORDINGS[::7] if "--start" in options else RECORDINGS
    VALIDATOR.validate(json.loads(written("--json", *options, *map(str, files), "missing.mid")))
    for line in written("--jsonl", *options, HARD, MOORED, "missing.mid").splitlines():
        VALIDATOR.validate(json.loads(line))


def test_figures_of_ones_own(written: Written, tmp_path: Path) -> None:
    mine = tmp_path / "figures.toml"
    mine.write_text('[players.mira]\nbased_on = "working"\nflick = 0.14\n')
    said = json.loads(written("--json", "--figures", str(mine), "--player", "mira", HARD))
    VALIDATOR.validate(said)
    assert "mira" in said["files"][0]["parts"][0]["counts"]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("kind", [kind.value for kind in Kind]),
        ("layer", [layer.value for layer in Layer]),
        ("constraint", [one.value for one in Constraint]),
        ("verdict", [verdict.word for verdict in Verdict]),
        ("letter", [pedal.letter for pedal in Pedal]),
        ("position", [position.word for position in Position]),
    ],
)
def test_the_words_are_those_of_the_code(name: str, words: list[str]) -> None:
    assert SCHEMA["$defs"][name]["enum"] == words


def test_so_are_the_kinds_of_remedies() -> None:
    assert SCHEMA["$defs"]["remedy"]["properties"]["kind"]["enum"] == [kind.value for kind in RemedyKind]


def objects(value: Any) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        yield value
        value = list(value.values())
    if isinstance(value, list):
        for one in value:
            yield from objects(one)


@pytest.mark.slow
def test_nothing_may_be_added_and_nothing_may_be_missing(written: Written) -> None:
    # Optional, or named by whoever wrote the figures:
    free = {
        "remedies",
        "tempo",
        "hard",
        "spelling",
        "load",
        "relaxed",
        "working",
        "virtuoso",
        *(one.value for one in Layer),
    }
    said = json.loads(written("--json", "--remedies", HARD, MOORED, "missing.mid"))
    VALIDATOR.validate(said)
    number = len(list(objects(said)))
    assert number > 50
    for at in range(number):
        wrong = copy.deepcopy(said)
        one = list(objects(wrong))[at]
        one["surplus"] = 1
        with pytest.raises(ValidationError):
            VALIDATOR.validate(wrong)
        del one["surplus"]
        key = next((key for key in sorted(one) if key not in free), None)
        if key is not None:
            del one[key]
            with pytest.raises(ValidationError):
                VALIDATOR.validate(wrong)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("command", "arguments"),
    [
        ("tracks", ("15-cue-export",)),
        ("compare", ("03-paddle-wheel", "05-paddle-wheel-revised")),
        ("spell", ("06-three-lanterns",)),
        ("spell", ("03-paddle-wheel",)),
        ("share", ("03-paddle-wheel",)),
        ("share", ("01-slack-water",)),
        ("combine", ("08-two-banks",)),
    ],
)
def test_the_other_commands_write_what_their_schemas_say(
    command: str, arguments: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["schema", command]) == 0
    schema = json.loads(capsys.readouterr().out)
    Draft202012Validator.check_schema(schema)
    files = [str(path) for name in arguments for path in RECORDINGS if path.stem == name]
    out = ["-o", str(tmp_path / "two.mid")] if command in ("share", "combine") else []
    assert cli.main([command, "--json", *out, *files]) in (0, 1)
    said = json.loads(capsys.readouterr().out)
    Draft202012Validator(schema).validate(said)
    assert len(list(objects(said))) > 2
    said["surplus"] = 1
    with pytest.raises(ValidationError):
        Draft202012Validator(schema).validate(said)
