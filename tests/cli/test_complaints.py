"""What was asked for wrongly is said in one sentence for somebody who writes music, and nothing is said twice."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from livepedal import cli
from tests.places import RECORDINGS

SLACK = RECORDINGS / "01-slack-water.mid"


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    return cli.main(arguments), *capsys.readouterr()


@pytest.mark.parametrize("option", [("--ignore-below", "C9"), ("--transpose", "60")])
def test_options_that_leave_no_note_are_no_easy_music(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, option: tuple[str, str]
) -> None:
    import mido

    file = mido.MidiFile()
    track = mido.MidiTrack([mido.Message("program_change", program=46)])
    track += [mido.Message("note_on", note=100, velocity=64), mido.Message("note_off", note=100, time=480)]
    file.tracks.append(track)
    file.save(tmp_path / "high.mid")
    code, out, err = run(capsys, "check", str(tmp_path / "high.mid"), *option)
    assert code == 2
    assert out == ""
    assert len(err.splitlines()) == 1
    assert "no notes are left of 1 note;" in err
    assert option[0] in err


def test_of_two_harps_the_one_that_nothing_is_left_of_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    from livepedal.music.choosing import Wanted
    from livepedal.music.parts import choose_parts
    from livepedal.music.song import read_song

    song = read_song(RECORDINGS / "08-two-banks.mid")
    lowest = [
        min(e.pitch for e in part.events if hasattr(e, "velocity")) for part in choose_parts(song, Wanted())
    ]
    highest = [
        max(e.pitch for e in part.events if hasattr(e, "velocity")) for part in choose_parts(song, Wanted())
    ]
    assert lowest[0] != lowest[1] or highest[0] != highest[1]
    between = 1 + min(highest)
    parts = choose_parts(song, Wanted(ignore_below=between))
    assert len(parts) == 1
    assert any("is not judged: no notes are left" in remark for remark in parts[0].remarks)


def test_quietly_a_file_that_breaks_off_is_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "torn.mid").write_bytes(SLACK.read_bytes()[:-60])
    code, out, err = run(capsys, "check", "--quiet", str(tmp_path / "torn.mid"))
    assert code == 2
    assert err == ""
    (row,) = out.splitlines()
    assert "partly read" in row
    assert run(capsys, "check", "--quiet", str(SLACK))[1] == ""


@pytest.mark.parametrize("command", ["spell", "share", "compare", "replay"])
def test_every_command_tells_of_a_file_that_breaks_off(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, command: str
) -> None:
    torn = tmp_path / "torn.mid"
    torn.write_bytes(SLACK.read_bytes()[:-60])
    more = {
        "share": ["-o", str(tmp_path / "two.mid")],
        "compare": [str(SLACK)],
        "replay": ["--plain", "--speed", "1000"],
    }
    code, out, err = run(capsys, command, str(torn), *more.get(command, ()))
    assert code == 2
    assert "breaks off" in err
    assert "helped, and" not in out


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["check", "--first-bar", "x", "a.mid"], "--first-bar takes a whole number, not 'x'"),
        (["check", "--transpose", "1.5", "a.mid"], "--transpose takes a whole number, not '1.5'"),
        (["check", "--channel"], "--channel needs a value after it"),
        (["check"], "give a MIDI file"),
        (["listen", "--tempo", "fast"], "--tempo takes a number, not 'fast'"),
        (["compare"], "give two files, BEFORE and AFTER"),
        (["watch"], "give FOLDER"),
        (["share", str(SLACK.parent), "-o", "new.mid"], "is a folder; name a file in it."),
        (["check", str(SLACK), "--accept", str(SLACK.parent)], "cannot be read (Is a directory)"),
        (["check", "--foo", "a.mid"], "there is no option --foo here"),
        (["check", "--remedy", "a.mid"], "did you mean --remedies? See livepedal check --help."),
        (["explain", "audibel"], "did you mean audible?\n"),
        (["check", "--json", "--jsonl", "a.mid"], "--jsonl and --json cannot be used together"),
        ([], "give a command, such as livepedal check FILE"),
        (["a.mid"], "to judge a file: livepedal check a.mid"),
        (["a.kar"], "to judge a file: livepedal check a.kar"),
        (["a b.MID"], "to judge a file: livepedal check 'a b.MID'"),
        (["jugde"], "there is no command 'jugde'"),
        (["chek", "a"], "did you mean check? See livepedal --help."),
        (["share", "a.mid"], "give the new file with -o OUT.mid"),
        (["compare", "a.mid"], "give AFTER"),
        (["check", "a.mid", "--json=yes"], "--json takes no value"),
        (["check", ""], "is empty; write it out"),
        (["check", "a.mid", "--page="], "is empty; write it out"),
        (["listen", "--only", "pedals,"], "no layer ''"),
        (["listen", "--track", "1"], "there is no option --track here; see livepedal listen --help."),
        (["recover", "--list", "--delete"], "cannot be used together"),
        (["listen", "--channel", "17"], "no MIDI channel 17; give --channel a number from 1 to 16"),
        (["listen", "--meter", "3/5"], "'3/5' is not understood; give it as 3/4 or 6/8"),
        (["listen", "--tempo", "7"], "give 10 to 500 crotchets a minute"),
        (["listen", "--tempo", "1e-310"], "give 10 to 500 crotchets a minute"),
        (["listen", "--rest", "0"], "give 0.1 to 3600 seconds"),
        (["listen", "--only", "feet"], "no layer 'feet'; the layers are pedals, hands, strings, load"),
    ],
)
def test_the_command_line_is_told_in_words(
    capsys: pytest.CaptureFixture[str], arguments: list[str], says: str
) -> None:
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert says in err
    assert "argument" not in err
    assert "int value" not in err
    assert len(err.splitlines()) == 1


@pytest.mark.parametrize("command", [("check", str(SLACK)), ("listen",)])
@pytest.mark.parametrize("channel", ["0", "17"])
def test_there_are_sixteen_channels(
    capsys: pytest.CaptureFixture[str], command: tuple[str, ...], channel: str
) -> None:
    code, out, err = run(capsys, *command, "--channel", channel)
    assert (code, out) == (2, "")
    assert err == f"livepedal: There is no MIDI channel {channel}; give --channel a number from 1 to 16.\n"


@pytest.mark.parametrize("options", [("--from", "3"), ("--start", "Ab major"), ("--middle-c", "C3")])
def test_what_would_mend_it_is_asked_with_the_same_options(
    capsys: pytest.CaptureFixture[str], options: tuple[str, ...]
) -> None:
    wheel = str(SLACK.with_name("03-paddle-wheel.mid"))
    hint = "What would make it playable: "
    assert f"{hint}livepedal check --remedies {wheel}" in run(capsys, "check", wheel)[1]
    assert f"{hint}the same command with --remedies" in run(capsys, "check", wheel, *options)[1]


def test_a_layer_that_is_judged_alone_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert "Only the hands layer was judged." in run(capsys, "check", str(SLACK), "--only", "hands")[1]
    assert " judged." not in run(capsys, "check", str(SLACK))[1]


def test_two_new_files_are_not_given_one_name(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    new = tmp_path / "new"
    code, _, err = run(capsys, "check", str(SLACK), "--marked", str(new), "--page", str(new))
    assert code == 2
    assert "--marked and --page name the same file" in err
    assert not new.exists()


def test_a_file_that_is_not_there_is_one_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "check", "missing.mid")
    assert (code, out) == (2, "")
    assert err == "livepedal: missing.mid: there is no such file; check its name and folder.\n"


def test_a_bad_file_among_many_is_told_once(tmp_path: Path) -> None:
    (tmp_path / "good.mid").write_bytes(SLACK.read_bytes())
    (tmp_path / "letter.mid").write_text("Dear ferryman,")
    done = subprocess.run(
        [sys.executable, "-m", "livepedal", "check", str(tmp_path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 2
    assert done.stdout.count("letter.mid") == 1


def test_a_file_that_begins_with_a_dash(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "-x.mid").write_bytes(SLACK.read_bytes())
    monkeypatch.chdir(tmp_path)
    code, _, err = run(capsys, "check", "-x.mid")
    assert (code, err) == (2, "livepedal: for the file of this name, type ./-x.mid; see livepedal check --help.\n")
    assert run(capsys, "check", "./-x.mid")[0] == 0


@pytest.mark.skipif(sys.platform == "win32", reason="Windows keeps the folder that somebody is in")
def test_a_folder_that_is_gone(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "gone").mkdir()
    os.chdir("gone")
    (tmp_path / "gone").rmdir()
    code, out, err = run(capsys, "check", str(SLACK))
    assert (code, out) == (2, "")
    assert err.startswith("livepedal: The folder that you are in does not exist any more;")


def test_help_names_what_middle_c_may_be_called(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run(capsys, "check", "--help")
    assert "C4 (default), C3 or C5" in " ".join(out.split())
    assert run(capsys, "check", "--middle-c", "C5", str(SLACK))[0] == 0
