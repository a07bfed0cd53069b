"""`livepedal watch` in a real terminal: exports are judged as they come, half-written ones not before they are
whole.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from livepedal import cli
from livepedal.cli import many, watching
from livepedal.cli.parsing import parser_of_all
from livepedal.cli.request import Request

from .terminals import PATIENCE, Terminal
from .test_check import AUDIBLE, EASY, HARD, RECORDINGS

REVISED = str(RECORDINGS / "05-paddle-wheel-revised.mid")


@pytest.mark.slow
def test_each_export_as_it_is_written(tmp_path: Path) -> None:
    folder = tmp_path / "bounce"
    (folder / "old").mkdir(parents=True)
    shutil.copy(HARD, folder / "wheel.mid")
    shutil.copy(EASY, folder / "old" / "water.mid")
    with Terminal("watch", str(folder), columns=80, rows=60) as terminal:
        shown = terminal.until("Watching", "Ctrl-C ends")
        assert "■ unplayable" in shown
        assert "water.mid" in shown
        shutil.copy(REVISED, folder / "wheel v2.mid")
        # recordings/README.md: 05 is playable, 03 is not.
        shown = terminal.until("since", "(wheel.mid): better:")
        assert "wheel v2.mid" in shown
        assert "◆ playable" in shown
        data = Path(AUDIBLE).read_bytes()
        with open(folder / "moored.mid", "wb") as file:
            for at in range(0, len(data), 200):  # slower than a whole file has to stand still
                file.write(data[at : at + 200])
                file.flush()
                time.sleep(0.4)
        shown = terminal.until("the first export of this cue")
        (row,) = (row for row in shown.splitlines() if row.startswith("moored.mid"))
        assert "◆ playable ~" in row
        (folder / "letter.mid").write_text("Dear ferryman,")
        (folder / "notes.txt").write_text("no music")
        shown = terminal.until("is neither a MIDI file")
        assert "notes.txt" not in shown
        assert max(map(len, (row.rstrip() for row in shown.splitlines()))) <= 80
        terminal.type(b"\x03")
        assert terminal.end() == 0
        assert "Traceback" not in terminal.shown()


def test_it_ends_when_the_folder_is_gone(tmp_path: Path) -> None:
    folder = tmp_path / "bounce"
    folder.mkdir()
    command = [sys.executable, "-m", "livepedal", "watch", "--plain", str(folder)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        while "Watching" not in process.stdout.readline():
            pass
        folder.rmdir()
        _, complaint = process.communicate(timeout=PATIENCE)
        assert process.returncode == 2
    (sentence,) = complaint.splitlines()
    assert "is gone" in sentence


@pytest.mark.parametrize("folder", ["none", EASY])
def test_what_is_no_folder(folder: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["watch", folder]) == 2
    (sentence,) = capsys.readouterr().err.splitlines()
    assert "not a folder" in sentence


def test_the_first_line_says_what_is_done_first(tmp_path: Path) -> None:
    """Before anything has been judged, which may take long."""
    shutil.copy(EASY, tmp_path / "a.mid")
    shutil.copy(EASY, tmp_path / "b.mid")
    command = [sys.executable, "-m", "livepedal", "watch", "--plain", str(tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            assert process.stdout.readline() == f"First judging the 2 MIDI files already in {tmp_path}.\n"
        finally:
            process.kill()


def test_json_lines_and_a_mere_touch_is_no_export(tmp_path: Path) -> None:
    shutil.copy(EASY, tmp_path / "a.mid")
    command = [sys.executable, "-m", "livepedal", "watch", "--jsonl", "--only", "pedals", str(tmp_path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            first = json.loads(process.stdout.readline())
            assert (first["format"], Path(first["path"]).name) == ("livepedal-check", "a.mid")
            os.utime(tmp_path / "a.mid")
            shutil.copy(EASY, tmp_path / "a.mid")  # written again, as it was
            time.sleep(1.0)
            shutil.copy(HARD, tmp_path / "b.mid")
            assert Path(json.loads(process.stdout.readline())["path"]).name == "b.mid"
        finally:
            process.kill()


class Slow:
    """A worker that is done when it is told so."""

    def __init__(self) -> None:
        self.path, self.over = "", False
        self.begun: list[str] = []

    def begin(self, path: str) -> None:
        self.path, self.over = path, False
        self.begun.append(Path(path).name)

    def done(self) -> object | None:
        if not self.over or not self.path:
            return None
        self.path = ""
        return self

    def close(self) -> None: ...


def test_the_newest_export_is_judged_first(tmp_path: Path) -> None:
    worker = Slow()
    queue = watching._Queue(worker)  # type: ignore[arg-type]
    for number, name in enumerate(("old.mid", "older.mid", "cue.mid", "cue v2.mid")):
        (tmp_path / name).write_bytes(name.encode())
        os.utime(tmp_path / name, (number, 1000 + number))
    os.utime(tmp_path / "older.mid", (0, 10))
    for name in ("old.mid", "older.mid"):
        queue.add(str(tmp_path / name), new=False)
    queue.go_on("folder")
    # Both come while the first is judged; neither waits for what was there before, and the later comes first.
    for name in ("cue.mid", "cue v2.mid", "cue.mid"):
        queue.add(str(tmp_path / name))
    for _ in range(6):
        worker.over = True
        queue.pool.done()
        queue.go_on("folder")
    assert worker.begun == ["old.mid", "cue v2.mid", "cue.mid", "older.mid"]


def test_an_export_that_breaks_off_is_no_version_to_compare_with(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = parser_of_all().parse_args(["watch", "--plain", "--only", "pedals", str(tmp_path)])
    request, path, whole = Request(options), tmp_path / "cue.mid", Path(HARD).read_bytes()
    table = watching._Table(request, options.plain, str(tmp_path), [])
    judge = many.Judge(request, keep=True)
    for data in (whole, whole[:-200], whole):
        path.write_bytes(data)
        done = judge(str(path))
        table.file(done)
        table.news(done, True)
    said = capsys.readouterr().out
    assert said.count("the first export of this cue") == 1
    assert said.count("partly read") == 1
    assert said.count(", since ") == said.count("no bar differs") == 1
