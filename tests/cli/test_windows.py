"""What Windows does otherwise, with stand-ins: it cannot be had in the tests."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest

from livepedal.cli import line_mode
from livepedal.sources.journal import Header, Heard, JournalWriter, read_journal


class Keyboard:
    """What is used of the module msvcrt."""

    def __init__(self, typed: str) -> None:
        self.typed: Iterator[str] = iter(typed)
        self.left = len(typed)
        self.shown = ""

    def kbhit(self) -> bool:
        return self.left > 0

    def getwch(self) -> str:
        self.left -= 1
        return next(self.typed)

    def putwch(self, one: str) -> None:
        assert len(one) == 1
        self.shown += one


def windows(monkeypatch: pytest.MonkeyPatch, keyboard: Keyboard, tty: bool) -> line_mode.TypedLines:
    with monkeypatch.context() as patch:  # only for a moment, since pytest asks for the name, too
        patch.setattr(os, "name", "nt")
        patch.setitem(sys.modules, "msvcrt", keyboard)
        patch.setattr(sys, "stdin", SimpleNamespace(isatty=lambda: tty))
        return line_mode.typed_lines()


def test_keys_at_a_console(monkeypatch: pytest.MonkeyPatch) -> None:
    """Taken back, arrows, Return; what is typed is shown."""
    keyboard = Keyboard("kx\bp\r\xe0Hs E♭ major\rq")
    keys = windows(monkeypatch, keyboard, True)
    assert keys.keys_work
    assert keys.wait(5.0) == ["kp"]
    assert keys.wait(5.0) == ["s E♭ major"]
    assert keys.wait(0.05) == []
    assert keyboard.shown == "kx\b \bp\r\ns E♭ major\r\nq"


def test_keys_in_a_pipe_are_not_announced(monkeypatch: pytest.MonkeyPatch) -> None:
    keys = windows(monkeypatch, Keyboard("q\r"), False)
    assert not keys.keys_work
    assert keys.wait(0.0) == []


def test_a_journal_is_opened_for_bytes(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Else each line would end in two bytes, and none would be whole."""
    binary = 1 << 30
    asked: list[int] = []
    real = os.open

    def stand_in(path: str, flags: int, mode: int = 0o777) -> int:
        asked.append(flags & binary)
        return real(path, flags & ~binary, mode)

    monkeypatch.setattr(os, "O_BINARY", binary, raising=False)
    monkeypatch.setattr(os, "open", stand_in)
    writer = JournalWriter(tmp_path / "a.journal", Header("2024-05-01T20:15:00"))
    writer.write(Heard(1, 0, b"\x90\x3c\x40"))
    writer.close()
    assert asked == [binary]
    assert len(read_journal(tmp_path / "a.journal").records) == 1
