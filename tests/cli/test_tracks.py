"""`livepedal tracks`: what would be judged and why, on the terminal and as JSON."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

import mido
import pytest

from livepedal import cli
from tests.advice.making_midi import midi

from .terminals import Terminal
from .test_check import RECORDINGS, band  # noqa: F401 (a fixture)

EXPORT = str(RECORDINGS / "15-cue-export.mid")
TWO = str(RECORDINGS / "08-two-banks.mid")


def test_the_untidy_export(capsys: pytest.CaptureFixture[str]) -> None:
    # recordings/README.md, 15: one track is the harp's, and keyswitches 12, 13 and 14 are no notes of it.
    assert cli.main(["tracks", "--json", EXPORT]) == 0
    said = json.loads(capsys.readouterr().out)
    judged = [one for one in said["tracks"] if one["part"] is not None]
    assert [(one["number"], one["why"], one["program"]) for one in judged] == [(4, "its name says harp", 46)]
    assert "keyswitches" in judged[0]["hints"][0]
    assert said["tracks"][4]["why"] == "drums on channel 10"


def test_what_tracks_says_is_what_check_does(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in (
        [TWO],
        [TWO, "--merge"],
        [TWO, "--track", "3"],
        [EXPORT, "--track", "3", "--transpose", "12"],
    ):
        cli.main(["tracks", "--json", *arguments])
        listed = json.loads(capsys.readouterr().out)["tracks"]
        cli.main(["check", "--json", *arguments])
        parts = json.loads(capsys.readouterr().out)["files"][0]["parts"]
        assert {(one["part"], one["number"]) for one in listed if one["part"]} == {
            (number, track["number"]) for number, part in enumerate(parts, 1) for track in part["tracks"]
        }


@pytest.mark.parametrize("arguments", [[], ["--track", "5"], ["--track", "4"], ["--channel", "10"]])
def test_drums_that_are_judged_are_not_said_to_be_left_out(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    cli.main(["tracks", "--json", EXPORT, *arguments])
    listed = json.loads(capsys.readouterr().out)
    kit = listed["tracks"][4]
    cli.main(["check", "--json", EXPORT, *arguments])
    (file,) = json.loads(capsys.readouterr().out)["files"]
    assert file["remarks"] == listed["remarks"]
    assert (kit["part"] is None) is any("drums" in remark for remark in file["remarks"])


def test_nobody_can_tell(band: Path, capsys: pytest.CaptureFixture[str]) -> None:  # noqa: F811
    assert cli.main(["tracks", str(band)]) == 2
    said = capsys.readouterr().out
    assert "--track NUMBER_OR_NAME" in said
    assert "Strings" in said
    assert "\x1b" not in said


@pytest.mark.parametrize(
    ("arguments", "taught"),
    [
        (["--channel", "17"], "1 to 16"),
        (["--transpose", "99"], "semitones"),
        (["--ignore-below", "H2"], "C2"),
        (["--ignore-below", "G9", "--middle-c", "C3"], "127"),
    ],
)
def test_wrong_options_teach(arguments: list[str], taught: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["tracks", *arguments, TWO]) == 2
    (sentence,) = capsys.readouterr().err.splitlines()
    assert taught in sentence


def test_notes_by_name_follow_middle_c(capsys: pytest.CaptureFixture[str]) -> None:
    def judged(*arguments: str) -> int:
        cli.main(["tracks", "--json", EXPORT, *arguments])
        return sum(one["judged"] for one in json.loads(capsys.readouterr().out)["tracks"])

    by_number = judged("--ignore-below", "66")
    assert judged() > by_number > 0
    assert judged("--ignore-below", "F#4") == judged("--ignore-below", "f♯3", "--middle-c", "C3") == by_number


def test_it_fits_80_columns() -> None:
    with Terminal("tracks", EXPORT, columns=80, rows=24) as terminal:
        assert terminal.end() == 0
        shown = terminal.shown()
    assert "yes: its name says harp" in shown
    assert "Harfe · Fähre" in shown


@pytest.mark.parametrize(
    ("low", "said"),
    [
        ((24,), "1 note up to C1 lies far below the others; if it is a keyswitch: --ignore-below 25"),
        ((24, 26), "2 notes up to D1 lie far below the others; if they are keyswitches: --ignore-below 27"),
    ],
)
def test_a_keyswitch_or_several(
    low: tuple[int, ...], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # Common practice, no source: keyswitches lie far below the music; that is grammar for one and for two.
    notes = [(float(n), 0.5, (pitch,)) for n, pitch in enumerate((*low, 60, 64, 67))]
    path = tmp_path / "cue.mid"
    path.write_bytes(midi(("Harp", notes)))
    cli.main(["tracks", "--json", str(path)])
    hints = [hint for one in json.loads(capsys.readouterr().out)["tracks"] for hint in one["hints"]]
    assert said in hints


EXPORTS = RECORDINGS / "exports"


def test_exports_of_an_orchestra_and_a_sketch(capsys: pytest.CaptureFixture[str]) -> None:
    """recordings/make_recordings.py: each has the same 28 notes for the harp, the shared track three more."""
    for name, judged, code in (
        ("shared-track", [(3, 31)], 0),
        ("timpani-as-harp", [(4, 28)], 0),
        ("sketch", [(2, 10), (3, 28)], 0),
        ("cut-off", [(2, 10), (3, 23)], 2),
    ):
        path = str(EXPORTS / f"{name}.mid")
        assert cli.main(["tracks", "--json", path]) == 0
        tracks = json.loads(capsys.readouterr().out)["tracks"]
        assert [(one["number"], one["judged"]) for one in tracks if one["part"]] == judged, name
        assert cli.main(["check", "--plain", path]) == code, name
        capsys.readouterr()


def test_the_last_line_of_the_error_is_the_command_to_type(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "score to be.mid"
    score = mido.MidiFile(EXPORTS / "sketch.mid")
    score.tracks.append(mido.MidiTrack([mido.Message("program_change", program=73, channel=1)]))
    score.tracks[-1] += [
        mido.Message("note_on", note=80, channel=1),
        mido.Message("note_off", note=80, channel=1, time=9),
    ]
    score.save(path)
    assert cli.main(["check", "--plain", str(path)]) == 2
    last = capsys.readouterr().err.splitlines()[-1].strip()
    assert shlex.split(last) == ["livepedal", "check", "--plain", str(path), "--track", "3"]
    assert cli.main(shlex.split(last)[1:]) == 0
    # All but drums, and one program of all there are.
    assert cli.main(["check", "--plain", "--merge", str(path)]) == 0
    assert "39 notes" in capsys.readouterr().out
    assert cli.main(["check", "--plain", "--program", "73", str(path)]) == 0
    assert " 1 note " in capsys.readouterr().out
    assert cli.main(["check", "--program", "128", str(path)]) == 2
    assert "0 to 127" in capsys.readouterr().err
