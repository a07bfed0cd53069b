"""What is said of a file that a session saved: the command that checks it as it was judged; and what of a session is in
no file yet.
"""

from __future__ import annotations

import os
import shlex
import time
from dataclasses import replace
from pathlib import Path

import pytest

from livepedal import check_file
from livepedal.cli import main
from livepedal.cli.listening import _announcement, _summary
from livepedal.cli.options import check_command, remedies_command
from livepedal.cli.parsing import parser_of_all
from livepedal.cli.sessions import saved_lines
from livepedal.harp import Setting
from livepedal.live.listen import Listener
from livepedal.live.saving import Saved
from livepedal.live.setup import setup_of
from livepedal.sources.journal import Command, Header, Heard, JournalWriter, Word
from livepedal.sources.text import shell_line
from livepedal.views.lines import plain_text

SAVED = Saved(1, b"", 1, Setting((None,) * 7), 1, 7, "working")
HEADER = Header("2026-11-01T12:00:00+01:00", "working", "47")


def command(saved: Saved, header: Header) -> list[str]:
    first, second = map(plain_text, saved_lines(replace(saved, path=Path("a b.mid")), header))
    assert first == "Saved a b.mid (take 1: 7 notes, 1 attack marked)"
    return shlex.split(second)


def test_nothing_is_named_that_goes_without_saying() -> None:
    assert command(SAVED, HEADER) == ["livepedal", "check", "a b.mid"]


def test_all_that_a_verdict_hangs_on_is_named() -> None:
    saved = replace(SAVED, player="virtuoso", first_bar=0, start="D♭ C♮ B♭ | E♭ F♮ G♮ A♭")
    header = replace(HEADER, harp="40", figures="/f.toml", only=("pedals", "hands"), middle_c="C3")
    asked = parser_of_all().parse_args(command(saved, header)[1:])
    assert (asked.files, asked.player, asked.harp, asked.figures) == (
        ["a b.mid"],
        "virtuoso",
        "40",
        "/f.toml",
    )
    assert (asked.start, asked.only, asked.first_bar) == (saved.start, ["pedals", "hands"], 0)
    assert asked.middle_c == "C3"


def test_every_option_of_check_that_a_verdict_hangs_on_is_named() -> None:
    """Whatever option is added: a command with it says the same once it is asked for by the command that is made."""
    parser = parser_of_all()
    typed = shlex.split(
        "check --player virtuoso --harp 40 --figures f.toml --start 'Eb major' --only pedals --only hands"
        " --middle-c C3 --track 2 --track=-drone --program 25 --merge --channel 3 --transpose -12 --ignore-below C2"
        " --first-bar 0 --spell '3: Fb' --spell-file s.txt --as-written --from 4 a.mid"
    )
    asked = vars(parser.parse_args(typed))
    told = {
        "files",
        "command",
        "run",
        "debug",
        "plain",
        "csv",
        "accept",
        "show_defaults",
        "parser",
        "project",
    } | {
        *("remedies", "all", "sheet", "json", "jsonl", "full", "jobs", "fail_on", "quiet"),
        *("marked", "changes_as", "page", "force", "pedals", "findings", "as_marked"),
    }
    nothing = vars(parser.parse_args(["check", "a.mid"]))
    assert {name for name, value in asked.items() if value == nothing[name]} <= told
    again = vars(parser.parse_args(shlex.split(check_command("a.mid", asked))[1:]))
    assert again == asked


def test_nothing_is_named_that_is_as_it_is_anyway() -> None:
    assert check_command("a b.mid", vars(parser_of_all().parse_args(["check", "--all", "x"]))) == (
        "livepedal check 'a b.mid'"
    )


def test_a_new_file_is_judged_as_the_one_that_it_is_made_of() -> None:
    """But it has only the tracks that were chosen, transposed already."""
    options = parser_of_all().parse_args(
        shlex.split("share --start Eb --player relaxed --track 2 --transpose 12 --force a.mid -o b.mid")
    )
    command = remedies_command("b c.mid", vars(options))
    assert command == "livepedal check --remedies --player relaxed --start Eb 'b c.mid'"


def session(folder: Path, *, outside: bool) -> tuple[Path, list[str]]:
    """A session in which two notes were played while paused, and one outside; its journal, and what is said at the
    end.
    """
    path = folder / "a.journal"
    listener = Listener(setup_of(HEADER), JournalWriter(path, HEADER), folder)
    listener.start()
    receive = listener.receiver(0)
    if outside:
        receive((0x90, 67, 64))
        receive((0x80, 67, 0))
    listener.key(" ")
    while not listener.session.paused:
        time.sleep(0.005)
    for pitch in (60, 64):
        receive((0x90, pitch, 64))
        receive((0x80, pitch, 0))
    listener.end()
    return path, [plain_text(one) for one in _summary(listener, HEADER)]


def test_what_was_played_only_while_paused_can_be_had(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, said = session(tmp_path, outside=False)
    assert (
        said[0]
        == "2 notes were played while paused and are only in the journal; to make a MIDI file of that:"
    )
    command = shlex.split(said[1])
    assert "Nothing was played" not in " ".join(said)

    main(["recover", "--list", str(tmp_path)])
    assert capsys.readouterr().out.endswith(", not saved: 2 notes played while paused\n")
    main(["recover", str(tmp_path)])
    told = capsys.readouterr().out
    assert "nothing to recover except what was played while paused in a session" in told
    assert shlex.join(command) in told
    main(["recover", "--delete", str(tmp_path)])
    assert "kept, because 2 notes played while paused are not in a file yet" in capsys.readouterr().out
    assert path.exists()

    assert command[0] == "livepedal"
    assert main(command[1:]) == 0
    told = capsys.readouterr().out
    assert "(take 1, played while paused: 2 notes, 0 attacks marked)" in told
    (written,) = tmp_path.glob("*.mid")
    assert check_file(written).files[0].parts[0].notes == 2

    main(["recover", "--list", str(tmp_path)])
    assert capsys.readouterr().out.endswith(", saved\n")
    for more in ([], ["--paused"]):
        main(["recover", *more, str(tmp_path)])
        assert capsys.readouterr().out == "There is nothing to recover.\n"
    main(["recover", "--delete", str(tmp_path)])
    assert not path.exists()


def test_what_was_played_while_paused_too_is_told_beside_what_was_saved(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, said = session(tmp_path, outside=True)
    assert any("2 notes were played while paused" in one for one in said)
    main(["recover", "--list", str(tmp_path)])
    assert capsys.readouterr().out.endswith(", saved, but not 2 notes played while paused\n")
    assert main(["recover", "--paused", str(tmp_path)]) == 0
    assert "played while paused: 2 notes" in capsys.readouterr().out
    assert sorted(check_file(one).files[0].parts[0].notes for one in tmp_path.glob("*.mid")) == [1, 2]


def test_the_keys_of_line_mode_are_named_at_its_start(tmp_path: Path) -> None:
    listener = Listener(setup_of(HEADER), JournalWriter(tmp_path / "a", HEADER), tmp_path)
    said = [plain_text(one) for one in _announcement(listener, HEADER, typed=True)]
    (keys,) = (one for one in said if "Return" in one)
    for key in (
        "space pause",
        "k keep",
        "s E♭ major",
        "p next player",
        "t tap",
        "r start again",
        "q quit",
        "Ctrl-C",
    ):
        assert key in keys
    assert "In a setting · means that the pedal is not used." in said
    assert len(_announcement(listener, HEADER, typed=False)) == 2


def test_a_session_without_a_note_was_not_saved(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    writer = JournalWriter(tmp_path / "a.journal", HEADER)
    writer.write(Command(1, Word.END))
    writer.close()
    main(["recover", "--list", str(tmp_path)])
    assert capsys.readouterr().out.endswith(", nothing was played\n")


@pytest.mark.parametrize("how", [[], ["--paused"]])
def test_after_a_crash_what_was_played_while_paused_is_recovered(
    how: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    writer = JournalWriter(tmp_path / "a.journal", HEADER)
    writer.write(Command(1, Word.PAUSE))
    writer.write(Heard(2, 0, bytes((0x90, 60, 64, 64, 64))))
    writer.close()
    assert main(["recover", *how, str(tmp_path)]) == 0
    assert "played while paused: 2 notes" in capsys.readouterr().out
    main(["recover", str(tmp_path)])
    assert capsys.readouterr().out == "There is nothing to recover.\n"


def test_nothing_played_while_paused_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "a.journal"
    writer = JournalWriter(path, HEADER)
    writer.write(Heard(2, 0, bytes((0x90, 60, 64))))
    writer.close()
    assert main(["recover", "--paused", str(path)]) == 2
    assert "nothing was played while paused" in capsys.readouterr().err
    assert os.listdir(tmp_path) == ["a.journal"]


@pytest.mark.parametrize("gone", [{"player": "Robin"}, {"figures": "/nowhere.toml"}, {"harp": "50"}])
def test_a_session_is_recovered_though_what_it_was_judged_by_is_gone(
    gone: dict[str, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The music counts most, and the command that is shown works."""
    writer = JournalWriter(tmp_path / "a.journal", replace(HEADER, **gone))
    writer.write(Heard(2, 0, bytes((0x90, 60, 64))))
    writer.close()
    assert main(["recover", str(tmp_path)]) == 0
    told, _, command = capsys.readouterr().out.splitlines()
    assert "judged for the working player on the 47-string harp, not as in the session" in told
    assert next(iter(gone.values())) in told
    assert main(shlex.split(command)[1:]) == 0


def test_commands_are_written_as_the_shell_of_the_system_takes_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """`cmd.exe` knows no single quotes, and a backslash is no escape there."""
    words = ["livepedal", "check", r"C:\Music\Ferry, bar 1.mid", r"C:\Music\a.mid"]
    with monkeypatch.context() as patch:
        patch.setattr(os, "name", "nt")
        there = shell_line(*words)
    assert there == r'livepedal check "C:\Music\Ferry, bar 1.mid" C:\Music\a.mid'
    assert shlex.split(shell_line(*words)) == words


def test_a_journal_that_is_being_written_is_neither_recovered_nor_deleted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What comes after would be only there."""
    path = tmp_path / "a.journal"
    writer = JournalWriter(path, HEADER)
    writer.write(Heard(0, 0, b"\x90\x3c\x40"))
    before = path.read_bytes()
    for how in ((), ("--delete",), ("--paused",)):
        assert main(["recover", *how, str(path)]) == 2
        (sentence,) = capsys.readouterr().err.splitlines()
        assert "a session is writing this journal now" in sentence
    main(["recover", "--list", str(tmp_path)])
    assert "1 record, being written now" in capsys.readouterr().out
    assert path.read_bytes() == before
    writer.close()
    assert main(["recover", str(path)]) == 0
