"""What is said of a file that a session saved: the command that checks it as it was judged."""

from __future__ import annotations

import shlex
from dataclasses import replace
from pathlib import Path

from livepedal.cli.main import _parser
from livepedal.cli.options import check_command, remedies_command
from livepedal.cli.sessions import saved_lines
from livepedal.harp import Setting
from livepedal.live.recover import Written
from livepedal.live.saving import Saved
from livepedal.sources.journal import Header
from livepedal.views.lines import plain_text

SAVED = Saved(b"", 1, Setting((None,) * 7), 1, 7, "working")
HEADER = Header("2026-11-01T12:00:00+01:00", "working", "47")


def command(saved: Saved, header: Header) -> list[str]:
    first, second = map(plain_text, saved_lines(Written(Path("a b.mid"), saved, 1), header))
    assert first == "Saved a b.mid (take 1: 7 notes, 1 finding)"
    return shlex.split(second)


def test_nothing_is_named_that_goes_without_saying() -> None:
    assert command(SAVED, HEADER) == ["livepedal", "check", "a b.mid"]


def test_all_that_a_verdict_hangs_on_is_named() -> None:
    saved = replace(SAVED, player="virtuoso", first_bar=0, start="D♭ C♮ B♭ | E♭ F♮ G♮ A♭")
    header = replace(HEADER, harp="40", figures="/f.toml", only=("pedals", "hands"), middle_c="C3")
    asked = _parser().parse_args(command(saved, header)[1:])
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
    parser = _parser()
    typed = shlex.split(
        "check --player virtuoso --harp 40 --figures f.toml --start 'Eb major' --only pedals --only hands"
        " --middle-c C3 --track 2 --track=-drone --merge --channel 3 --transpose -12 --ignore-below C2"
        " --first-bar 0 --spell '3: Fb' --spell-file s.txt --as-written --from 4 a.mid"
    )
    asked = vars(parser.parse_args(typed))
    told = {"files", "command", "run", "debug", "plain"} | {
        *("remedies", "all", "sheet", "json", "jsonl", "full", "jobs", "fail_on", "quiet"),
        *("marked", "page", "force"),
    }
    nothing = vars(parser.parse_args(["check", "a.mid"]))
    assert {name for name, value in asked.items() if value == nothing[name]} <= told
    again = vars(parser.parse_args(shlex.split(check_command("a.mid", asked))[1:]))
    assert again == asked


def test_nothing_is_named_that_is_as_it_is_anyway() -> None:
    assert check_command("a b.mid", vars(_parser().parse_args(["check", "--all", "x"]))) == (
        "livepedal check 'a b.mid'"
    )


def test_a_new_file_is_judged_as_the_one_that_it_is_made_of() -> None:
    """But it has only the tracks that were chosen, transposed already."""
    options = _parser().parse_args(
        shlex.split("share --start Eb --player relaxed --track 2 --transpose 12 --force a.mid -o b.mid")
    )
    command = remedies_command("b c.mid", vars(options))
    assert command == "livepedal check --remedies --player relaxed --start Eb 'b c.mid'"
