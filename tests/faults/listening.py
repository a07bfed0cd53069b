"""`livepedal listen` in a process of its own, at ports that the tests play (standin/rtmidi.py)."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from livepedal.music.song import read_song
from livepedal.sources.journal import Heard, Journal, read_journal
from tests.places import ROOT

PATIENCE = 180.0  # seconds; what takes so long has failed, on a busy machine too


def stream(path: Path, notes: int, first: int = 20, gap: int = 20) -> Path:
    """A file of so many notes, each `gap` ms long and `gap` ms after the one before; then nothing for long."""
    lines = []
    for number in range(notes):
        pitch = 55 + number * 7 % 25
        lines += [f"{gap if number else first} 90{pitch:02x}40", f"{gap} 80{pitch:02x}40"]
    path.write_text("\n".join(lines) + "\n")
    return path


def environment(tmp_path: Path, name: str = "log", **more: str) -> dict[str, str]:
    """For a `listen` that hears tmp_path/stream; what it was sent is noted in tmp_path/`name`."""
    kept = {
        key: value for key, value in os.environ.items() if key not in ("PYTHONUNBUFFERED", "XDG_STATE_HOME")
    }
    return {
        **kept,
        "PYTHONPATH": os.pathsep.join((str(Path(__file__).parent / "standin"), str(ROOT))),
        "PYTHONIOENCODING": "utf-8",
        "STREAM": str(tmp_path / "stream"),
        "LOG": str(tmp_path / name),
        "XDG_CONFIG_HOME": str(tmp_path / "config"),
        "HOME": str(tmp_path / "home"),
        **more,
    }


def listen(*arguments: str, env: dict[str, str], **more) -> subprocess.Popen[str]:
    more.setdefault("stdout", subprocess.PIPE)
    more.setdefault("stderr", subprocess.PIPE)
    return subprocess.Popen(
        [sys.executable, "-m", "livepedal", "listen", "--plain", *arguments],
        stdin=subprocess.DEVNULL,
        env=env,
        text=True,
        encoding="utf-8",
        **more,
    )


def until(true: Callable[[], object], what: str) -> None:
    end = time.monotonic() + PATIENCE
    while not true():
        assert time.monotonic() < end, f"waited in vain for {what}"
        time.sleep(0.02)


def sent(log: Path) -> list[str]:
    """What was handed over, in hexadecimal."""
    return log.read_text().split() if log.exists() else []


def journals(folder: Path) -> Iterator[Journal]:
    for path in sorted(folder.glob("*.journal")):
        yield read_journal(path)


def notes_in(path: Path) -> int:
    """The notes of a file, those that came late included: a busy machine may stand still."""
    return sum(track.notes for track in read_song(path).tracks)


def heard(journal: Journal) -> list[str]:
    return [record.data.hex() for record in journal.records if isinstance(record, Heard)]
