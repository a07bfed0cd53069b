"""What Windows does otherwise, with stand-ins: it cannot be had in the tests."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from livepedal.sources.journal import Header, Heard, JournalWriter, read_journal


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
