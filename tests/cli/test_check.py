"""`livepedal check` as a process: exit codes, what goes where, and that faults are one sentence."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import mido
import pytest

from livepedal import cli
from livepedal.cli import output
from livepedal.harp import Setting
from tests.places import RECORDINGS

from .terminals import Terminal

EASY = str(RECORDINGS / "01-slack-water.mid")
HARD = str(RECORDINGS / "03-paddle-wheel.mid")
TWO = str(RECORDINGS / "08-two-banks.mid")
AUDIBLE = str(RECORDINGS / "12-moored.mid")


def run(*arguments: str, **more) -> subprocess.CompletedProcess[str]:
    more.setdefault("env", {**os.environ, "PYTHONIOENCODING": "utf-8"})
    return subprocess.run(
        [sys.executable, "-m", "livepedal", *arguments],
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        **more,
    )


@pytest.fixture
def band(tmp_path: Path) -> Path:
    """A file with two tracks, neither of which is a harp's, and names that would act if they were let."""
    file = mido.MidiFile()
    for name, program in (("Flute\x1b[2J [bold]", 73), ("Strings", 48)):
        track = mido.MidiTrack()
        track.append(mido.MetaMessage("track_name", name=name))
        track.append(mido.Message("program_change", program=program))
        track += [mido.Message("note_on", note=64, velocity=64), mido.Message("note_off", note=64, time=480)]
        file.tracks.append(track)
    file.save(tmp_path / "band.mid")
    return tmp_path / "band.mid"


@pytest.mark.parametrize(
    ("files", "code"),
    [
        ([EASY], 0),
        ([AUDIBLE], 0),
        ([HARD], 1),
        ([HARD, EASY], 1),
        (["missing.mid", EASY], 2),
        ([HARD, "missing.mid"], 2),
    ],
)
def test_exit_codes(files: list[str], code: int) -> None:
    assert run("check", *files).returncode == code


def test_what_cannot_be_judged_is_one_sentence_and_the_rest_is_judged_all_the_same() -> None:
    done = run("check", "missing.mid", EASY)
    assert done.stderr == ""  # the row says it, once
    (row,) = [row for row in done.stdout.splitlines() if row.startswith("missing.mid")]
    assert "not judged" in row
    assert "easy" in done.stdout
    assert "1 file could not be judged" in done.stdout
    full = run("check", "--full", "missing.mid", EASY)
    assert full.stderr.startswith("livepedal: missing.mid")
    assert len(full.stderr.splitlines()) == 1
    assert "EASY" in full.stdout


def test_standard_input() -> None:
    data = Path(HARD).read_bytes()
    done = subprocess.run(
        [sys.executable, "-m", "livepedal", "check", "-"],
        input=data,
        capture_output=True,
        timeout=60,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )
    assert done.returncode == 1
    assert "UNPLAYABLE" in done.stdout.decode()


def test_nothing_on_standard_input() -> None:
    done = run("check", "-", stdin=subprocess.DEVNULL)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1


def test_a_folder_stands_for_the_midi_files_in_it(tmp_path: Path) -> None:
    for name in ("b.mid", "a.MID", "notes.txt"):
        (tmp_path / name).write_bytes(Path(EASY).read_bytes())
    done = run("check", str(tmp_path))
    assert done.returncode == 0
    assert done.stdout.index("a.MID") < done.stdout.index("b.mid")
    assert "notes.txt" not in done.stdout


def test_a_folder_without_any_says_so(tmp_path: Path) -> None:
    done = run("check", str(tmp_path))
    assert done.returncode == 2
    assert "no MIDI files" in done.stderr


def test_without_a_harp_track_the_tracks_are_listed_and_the_option_named(band: Path) -> None:
    done = run("check", str(band))
    assert done.returncode == 2
    assert "--track" in done.stderr.splitlines()[0]
    rows = [one.split() for one in done.stderr.splitlines()[2:4]]
    assert [row[0] for row in rows] == ["1", "2"]
    assert [row[-2:] for row in rows] == [["73", "1"], ["48", "1"]]
    assert "\x1b" not in done.stderr
    assert "[bold]" in done.stderr


@pytest.mark.parametrize("track", ["2", "strings"])
def test_a_track_can_be_chosen_by_number_or_name(band: Path, track: str) -> None:
    done = run("check", "--json", "--track", track, str(band))
    (part,) = json.loads(done.stdout)["files"][0]["parts"]
    assert [one["number"] for one in part["tracks"]] == [2]


@pytest.mark.slow
def test_json_holds_what_could_not_be_judged_and_is_the_same_twice() -> None:
    first, second = run("check", "--json", HARD, "missing.mid"), run("check", "--json", HARD, "missing.mid")
    assert first.returncode == 2
    assert first.stdout == second.stdout
    judged, failed = json.loads(first.stdout)["files"]
    assert judged["verdict"] == "unplayable"
    assert set(failed) == {"path", "error"}
    assert "missing.mid" in failed["error"]


def test_options_reach_the_model() -> None:
    said = json.loads(run("check", "--json", "--player", "virtuoso", "--harp", "40", "--merge", TWO).stdout)
    assert (said["player"], said["harp"]) == ("virtuoso", "40")
    assert len(said["files"][0]["parts"]) == 1
    first = json.loads(run("check", "--json", "--first-bar", "11", "--only", "pedals", HARD).stdout)
    finding = first["files"][0]["parts"][0]["findings"][0]
    assert finding["bar"] >= 11
    assert finding["layer"] == "pedals"


def test_a_start_setting_is_kept() -> None:
    said = json.loads(run("check", "--json", "--start", "Cb major", EASY).stdout)
    setting = said["files"][0]["parts"][0]["setting"]
    assert set(setting.values()) == {"flat"}
    assert said["files"][0]["parts"][0]["changes"]


@pytest.mark.parametrize(
    ("arguments", "taught"),
    [
        (["--player", "goddess"], ["relaxed", "working", "virtuoso"]),
        (["--harp", "48"], ["47"]),
        (["--only", "feet"], ["pedals"]),
        (["--start", "H major"], ["E♭ major"]),
        (["--start", "Fb major"], ["E major"]),
        (["--middle-c", "D4"], ["C4", "C3"]),
        (["--figures", "none.toml"], ["none.toml"]),
        (["--first-bar", "one"], ["--first-bar"]),
        (["--nonsense"], ["--help"]),
    ],
)
def test_wrong_options_teach_in_one_sentence(arguments: list[str], taught: list[str]) -> None:
    done = run("check", *arguments, EASY)
    assert done.returncode == 2
    assert done.stdout == ""
    (sentence,) = done.stderr.splitlines()
    assert sentence.startswith("livepedal: ")
    assert all(word in sentence for word in taught)


@pytest.mark.parametrize("arguments", [[], ["judge"], ["check"]])
def test_half_a_command_is_answered_in_one_sentence(arguments: list[str]) -> None:
    done = run(*arguments)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert "--help" in done.stderr


def test_version_and_help() -> None:
    from livepedal import __version__

    assert run("--version").stdout == f"livepedal {__version__}\n"
    said = run("check", "--help").stdout
    for option in (
        "--player",
        "--harp",
        "--figures",
        "--first-bar",
        "--track",
        "--merge",
        "--start",
        "--only",
        "--json",
    ):
        assert option in said


def test_a_closed_pipe_ends_it_quietly() -> None:
    command = [sys.executable, "-m", "livepedal", "check", "--full", str(RECORDINGS)]
    process = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )
    assert process.stdout is not None
    assert process.stderr is not None
    assert b"Judged" in process.stdout.readline()
    process.stdout.close()
    assert process.stderr.read() == b""
    process.stderr.close()
    assert process.wait(timeout=60) == 141  # 128 + SIGPIPE, as any other command that a pipe ends


def test_what_should_not_happen_is_one_sentence_unless_asked(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(text: str) -> Setting:
        raise ZeroDivisionError("a string\x1b[2J snapped")

    monkeypatch.setattr(Setting, "parse", broken)
    assert cli.main(["check", "--start", "x", EASY]) == 2
    (sentence,) = capsys.readouterr().err.splitlines()
    assert sentence.startswith("livepedal: something went wrong")
    assert "ZeroDivisionError" in sentence
    assert "--debug" in sentence
    assert "\x1b" not in sentence
    with pytest.raises(ZeroDivisionError):
        cli.main(["check", "--debug", "--start", "x", EASY])


@pytest.mark.slow
def test_plain_text_in_pipes_and_ascii_where_nothing_else_is_possible() -> None:
    assert "\x1b" not in run("check", HARD).stdout
    done = subprocess.run(
        [sys.executable, "-m", "livepedal", "check", HARD],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        timeout=60,
    )
    assert done.stdout.isascii()
    assert b"Gn4 comes too soon for the pedal G#->Gn" in done.stdout


def test_a_name_that_is_no_text_is_told_without_acting(tmp_path: Path) -> None:
    path = os.path.join(os.fsencode(tmp_path), b"f\xe4hre\x1b[2J.mid")
    try:
        with open(path, "wb") as file:
            file.write(Path(EASY).read_bytes())
    except OSError:
        pytest.skip("this file system wants names in UTF-8")
    for option in ("--plain", "--json"):
        done = run("check", option, os.fsdecode(path))
        assert done.returncode == 0
        assert "\x1b" not in done.stdout + done.stderr


def test_colour_on_a_terminal_and_none_with_plain() -> None:
    with Terminal("check", HARD, columns=100, rows=50) as terminal:
        assert terminal.end() == 1
        assert b"\x1b[" in terminal.raw
        assert "UNPLAYABLE" in terminal.shown()
        assert b"progress" not in terminal.raw
    with Terminal("check", "--plain", HARD, columns=100, rows=50) as terminal:
        assert terminal.end() == 1
        assert b"\x1b" not in terminal.raw


def test_progress_is_shown_on_a_terminal_once_the_work_is_long(monkeypatch: pytest.MonkeyPatch) -> None:
    class Screen:
        written = ""
        encoding = "utf-8"

        def isatty(self) -> bool:
            return True

        def write(self, text: str) -> int:
            Screen.written += text
            return len(text)

        def flush(self) -> None:
            pass

    now = [0.0]
    monkeypatch.setattr(output.sys, "stderr", Screen())
    monkeypatch.setattr(output.time, "monotonic", lambda: now[0])
    monkeypatch.setenv("TERM", "xterm-256color")
    progress = output.ProgressBar("a[bold]b.mid", "planning")
    now[0] = 0.9
    progress(10, 100)
    assert Screen.written == ""
    now[0] = 1.1
    progress(20, 100)
    assert "planning" not in Screen.written
    progress(100, 100)
    progress.close()
    assert "a[bold]b.mid" in Screen.written
    assert "planning" in Screen.written


def test_a_file_that_breaks_off_does_not_pass_for_the_whole(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "broken.mid"
    path.write_bytes((RECORDINGS / "10-hawsers.mid").read_bytes()[:200])
    assert cli.main(["check", str(path)]) == 2
    said = " ".join(capsys.readouterr().out.split())
    assert said.endswith("1 file breaks off and was only partly read.")
