"""A pass over many files: which are meant, in what order they are told, what fails, and that one bad file never
stops the rest.
"""

from __future__ import annotations

import csv
import errno
import io
import json
import os
import re
import shutil
import signal
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from livepedal import __version__, check_file, cli
from livepedal.advice.summary import FailOn, FileSummary
from livepedal.cli import files, many, writers
from livepedal.cli.many import Done, Judge

from .terminals import Terminal
from .test_check import AUDIBLE, EASY, HARD, RECORDINGS, run

VIRTUOSO = str(RECORDINGS / "14-engine-bells.mid")
Told = Callable[..., tuple[int, str, str]]


@pytest.fixture
def told(capsys: pytest.CaptureFixture[str]) -> Told:
    """Runs a command in this process: its exit code, what it said, and what it complained of."""

    def do(*arguments: str) -> tuple[int, str, str]:
        return cli.main(arguments), *capsys.readouterr()

    return do


@pytest.fixture
def cues(tmp_path: Path) -> Path:
    """A folder as it comes: cues, a folder in it, a file that is broken, one empty, one that is no MIDI file."""
    folder = tmp_path / "cues"
    (folder / "second reel").mkdir(parents=True)
    shutil.copy(EASY, folder / "a.mid")
    shutil.copy(HARD, folder / "b.MID")
    (folder / "broken.mid").write_bytes(Path(EASY).read_bytes()[:30])
    (folder / "empty.mid").write_bytes(b"")
    (folder / "letter.mid").write_text("Dear ferryman,")
    (folder / "notes.txt").write_text("none")
    (folder / "._a.mid").write_bytes(b"\0\5\x16\7")  # AppleDouble (RFC 1740), as archives carry them
    shutil.copy(VIRTUOSO, folder / "second reel" / "c.midi")
    return folder


def test_folders_with_what_is_in_them_and_patterns_and_each_file_once(
    cues: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(cues)
    everything = ["a.mid", "b.MID", "broken.mid", "empty.mid", "letter.mid", "second reel/c.midi"]
    inside = [os.path.join(".", *name.split("/")) for name in everything]
    assert files.named(["."]) == inside
    assert files.named(["*.[mM]*", "a.mid"]) == everything[:5]
    assert files.named(["**/c.*"]) == [os.path.join("second reel", "c.midi")]
    assert files.named(["b.MID", "a.mid", "b.MID"]) == ["b.MID", "a.mid"]
    assert files.named(["gone.mid", "gone*.mid", "-"]) == ["gone.mid", "gone*.mid", "-"]
    Path("a[1].mid").write_bytes(b"")
    assert files.named(["a[1].mid"]) == ["a[1].mid"]  # a file's own name is no pattern


def test_a_folder_that_cannot_be_looked_into_is_not_passed_over(
    cues: Path, monkeypatch: pytest.MonkeyPatch, told: Told
) -> None:
    closed, looked = str(cues / "second reel"), os.scandir

    def scandir(folder: str = ".") -> object:
        if folder == closed:
            raise PermissionError(errno.EACCES, "Permission denied", folder)
        return looked(folder)

    monkeypatch.setattr(os, "scandir", scandir)
    code, said, _ = told("check", str(cues))
    assert code == 2
    (row,) = (row for row in said.splitlines() if row.startswith(closed))
    assert "cannot be read (Permission denied)" in row


@pytest.mark.slow
def test_one_row_each_and_a_bad_file_never_stops_the_rest(cues: Path) -> None:
    done = run("check", str(cues))
    assert done.returncode == 2
    rows = [row for row in done.stdout.splitlines() if row.startswith(str(cues))]
    names = ["a.mid", "b.MID", "broken.mid", "empty.mid", "letter.mid", "c.midi"]
    assert all(name in row for name, row in zip(names, rows, strict=True))
    told = ["● easy", "■ unplayable", "not judged", "not judged", "not judged", "▲ virtuoso"]
    assert all(word in row for word, row in zip(told, rows, strict=True))
    assert "bar 1, beat 1½" in rows[1]  # the first of recording 03's troubles: recordings/README.md
    assert "is empty" in rows[3]
    assert "is neither a MIDI file" in rows[4]
    assert done.stderr == ""  # each has its row, and is not told twice
    assert "3 parts in 3 files" in done.stdout
    assert "3 files could not be judged" in done.stdout


def test_what_was_left_out_is_said_before_a_missing_tempo(tmp_path: Path, told: Told) -> None:
    data = (RECORDINGS / "exports" / "shared-track.mid").read_bytes()
    assert b"\xff\x51\x03" in data
    # Set Tempo becomes a Sequence-Specific event of the same length (SMF 1.0, "Meta-Events").
    (tmp_path / "untimed.mid").write_bytes(data.replace(b"\xff\x51\x03", b"\xff\x7f\x03"))
    _, said, _ = told("check", str(tmp_path), EASY)
    (row,) = (row for row in said.splitlines() if "untimed.mid " in row)
    assert " left out" in row
    _, said, _ = told("check", str(tmp_path / "untimed.mid"))
    assert "names no tempo" in said


def test_what_could_be_read_only_in_part_is_said_first(tmp_path: Path, told: Told) -> None:
    (tmp_path / "cut.mid").write_bytes(Path(HARD).read_bytes()[:-200])
    _, said, _ = told("check", str(tmp_path), EASY)
    (row,) = (row for row in said.splitlines() if "cut.mid " in row)
    assert "partly read: track 2 breaks off" in row


@pytest.mark.slow
def test_the_table_fits_80_columns_on_a_terminal(cues: Path) -> None:
    long = "an arrival at the upper landing stage, in fog, with strings, the composer's own v12.mid"
    shutil.copy(AUDIBLE, cues / long)
    with Terminal("check", "--remedies", str(cues), columns=80, rows=40) as terminal:
        assert terminal.end() == 2
        shown = terminal.shown()
    rows = shown.splitlines()
    first = next(n for n, row in enumerate(rows) if row.startswith("file"))
    assert rows[first].split() == ["file", "verdict", "worst", "finding", "playable", "at"]
    assert rows[first - 1].startswith("In ")
    # Where there is too little room for remarks they stand underneath, whole words of them.
    body = [row for row in rows[first + 1 :] if not row.startswith("    ")][:7]
    assert any(row.startswith("    worst of 4 findings: G♮4 comes too soon for the pedal") for row in rows)
    assert ["easy" in body[0], "v12.mid" in body[1], "unplayable" in body[2]] == [True] * 3
    assert "◆ playable ~" in body[1]
    assert "♩ = 56 (56%)" in body[2]  # the fastest tempo of the whole, as the report has it
    assert sum("not judged" in row for row in body) == 3
    assert "livepedal:" not in shown  # the row has said it


def test_a_file_whose_given_spelling_alone_is_in_the_way_says_so(told: Told) -> None:
    revised = str(RECORDINGS / "05-paddle-wheel-revised.mid")
    _, out, _ = told("check", "--spell", "1-2: C♭ major", revised, EASY)
    row = next(row for row in out.splitlines() if "revised" in row)
    assert "as asked for (playable in another spelling): A♮4 comes too soon" in row
    assert "another spelling" not in told("check", revised, EASY)[1]


@pytest.mark.slow
@pytest.mark.parametrize("form", ["--jsonl", "--full", "--plain"])
def test_jobs_change_neither_order_nor_a_byte(form: str, cues: Path, told: Told) -> None:
    code, said, complaints = told("check", form, str(cues))
    assert code == 2
    again = told("check", form, "--jobs", "2", str(cues))

    def timeless(text: str) -> str:
        return re.sub(r'"work_seconds": [\d.]+', "", text)

    assert (again[0], timeless(again[1]), again[2]) == (code, timeless(said), complaints)


@pytest.mark.slow
def test_json_lines_are_the_document_line_by_line(cues: Path, told: Told) -> None:
    whole = json.loads(told("check", "--json", str(cues))[1])
    lines = [json.loads(line) for line in told("check", "--jsonl", str(cues))[1].splitlines()]
    head = {key: whole[key] for key in ("format", "version", "harp", "player")}
    for line in lines:
        # Nobody's own figures here, and reading an empty file takes no time to speak of.
        assert line.pop("figures") == {"version": __version__, "changed": {}}
        assert 0 <= line.pop("work_seconds") < 60
    assert lines == [head | file for file in whole["files"]]
    assert sum("error" in line for line in lines) == 3


@pytest.mark.slow
def test_csv_has_a_row_for_each_finding_and_one_for_what_could_not_be_judged(cues: Path, told: Told) -> None:
    whole = json.loads(told("check", "--json", str(cues))[1])
    rows = list(csv.DictReader(io.StringIO(told("check", "--csv", str(cues))[1])))
    found = [
        (file["path"], finding["kind"], str(finding["bar"]), float(finding["seconds"]), str(finding["note"]))
        for file in whole["files"]
        for part in file.get("parts", ())
        for finding in part["findings"]
    ]
    told_of = [row for row in rows if not row["error"]]
    assert sorted(found) == sorted(
        (row["path"], row["kind"], row["bar"], float(row["seconds"]), row["note"]) for row in told_of
    )
    assert [row["error"] for row in rows if row["error"]] == [
        file["error"] for file in whole["files"] if "error" in file
    ]


def test_a_name_is_no_formula_in_a_spreadsheet(
    tmp_path: Path, told: Told, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(HARD, "=cmd.mid")
    rows = list(csv.DictReader(io.StringIO(told("check", "--csv", "=cmd.mid")[1])))
    assert {row["path"] for row in rows} == {"'=cmd.mid"}


def test_a_line_says_which_figures_are_ones_own(tmp_path: Path, told: Told) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text("[players.working]\nflick = 0.14\n")
    line = json.loads(told("check", "--jsonl", "--figures", str(mine), EASY)[1])
    assert set(line["figures"]["changed"]) == {"players.working.flick"}


@pytest.mark.parametrize(
    ("file", "codes"),
    # without --fail-on, unplayable, virtuoso, audible
    [(EASY, (0, 0, 0, 0)), (AUDIBLE, (0, 0, 0, 1)), (VIRTUOSO, (1, 0, 1, 1)), (HARD, (1, 1, 1, 1))],
)
def test_what_fails(file: str, codes: tuple[int, ...]) -> None:
    judged = FileSummary.of(check_file(file).files[0])
    asked = (None, FailOn.UNPLAYABLE, FailOn.VIRTUOSO, FailOn.AUDIBLE)
    assert tuple(judged.exit_code(fail_on) for fail_on in asked) == codes


def test_quiet_is_silent_when_all_is_well_and_else_tells_what_fails(told: Told) -> None:
    assert told("check", "--quiet", EASY, AUDIBLE) == (0, "", "")
    code, said, _ = told("check", "--quiet", "--fail-on", "audible", EASY, AUDIBLE, "gone*.mid")
    assert code == 2
    assert [Path(row.split("  ")[0]).name for row in said.splitlines()] == ["12-moored.mid", "gone*.mid"]
    (line,) = told("check", "--quiet", "--jsonl", EASY, HARD)[1].splitlines()
    assert json.loads(line)["verdict"] == "unplayable"


@pytest.mark.parametrize(
    ("arguments", "taught"),
    [
        (["--fail-on", "easy"], "unplayable, virtuoso, audible"),
        (["--jobs", "-1"], "--jobs"),
        (["--json", "--quiet"], "--jsonl"),
        (["--json", "--jsonl"], "--json"),
    ],
)
def test_wrong_options_teach(arguments: list[str], taught: str, told: Told) -> None:
    code, said, complaint = told("check", *arguments, EASY)
    assert (code, said) == (2, "")
    (sentence,) = complaint.splitlines()
    assert taught in sentence


class Fragile(Judge):
    """Judges as others do, but some names are the end of its process, and one waits for a file beside it."""

    def __call__(self, path: str, data: bytes | None = None, *more: object) -> Done:
        if "killer" in path:
            os.kill(os.getpid(), signal.SIGKILL)
        end = time.monotonic() + 60
        while "slow" in path and not Path(path).with_name("others").exists() and time.monotonic() < end:
            time.sleep(0.01)
        return Judge.__call__(self, path, data)


@pytest.fixture
def fragile() -> Judge:
    from livepedal.cli.parsing import parser_of_all
    from livepedal.cli.request import Request

    return Fragile(Request(parser_of_all().parse_args(["check", EASY])))


def test_a_slow_file_does_not_hold_up_those_after_it(fragile: Judge, tmp_path: Path) -> None:
    """All the others are done, and told of, while the first is being judged."""
    most: list[tuple[int, int]] = []
    slow = str(tmp_path / "slow.mid")

    def told(done: int, total: int) -> None:
        most.append((done, total))
        if done == 9:
            (tmp_path / "others").touch()

    for done in many.judged_by_processes([slow, *(f"{n}.mid" for n in range(9))], fragile, 2, told):
        first = done.summary.path
        break
    assert first == slow
    assert (tmp_path / "others").exists()
    assert max(most) == (9, 10)


@pytest.mark.slow
def test_a_killed_process_is_a_report_on_its_file_alone(fragile: Judge) -> None:
    paths = [EASY, "killer.mid", HARD, VIRTUOSO, "killer 2.mid", AUDIBLE]
    done = list(many.judged_by_processes(paths, fragile, 2))
    assert [one.summary.path for one in done] == paths
    errors = [one.summary.error for one in done]
    assert [error is None for error in errors] == [True, False, True, True, False, True]
    assert "killed" in str(errors[1])


def test_a_fault_in_livepedal_is_told_of_its_file_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    from livepedal.cli.parsing import parser_of_all
    from livepedal.cli.request import Request

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a string snapped")

    monkeypatch.setattr(many, "report_on", broken)
    request = Request(parser_of_all().parse_args(["check", EASY]))
    done = Judge(request, writers.json_text)(EASY)
    assert "ZeroDivisionError: a string snapped" in str(done.error)
    assert json.loads(done.text)["error"] == str(done.error)
    with pytest.raises(ZeroDivisionError):
        Judge(request, debug=True)(EASY)


@pytest.mark.slow
def test_ctrl_c_ends_all_processes(cues: Path) -> None:
    for number in range(300):
        shutil.copy(RECORDINGS / "11-weir.mid", cues / f"x{number:03}.mid")
    with Terminal("check", "--jobs", "2", str(cues), columns=80, rows=40) as terminal:
        terminal.until("x00")
        terminal.type(b"\x03")
        assert terminal.end() == 130
        assert "Traceback" not in terminal.shown()
