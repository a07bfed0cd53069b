"""Writing a journal: each record is with the operating system before it is judged."""

from __future__ import annotations

import contextlib
import json
import os
import threading
import zlib
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.sources.journal.reading import read_journal
from livepedal.sources.journal.records import FORMAT, VERSION, Command, Header, Heard, Record
from livepedal.sources.text import clean

# Bytes of a system exclusive message that are written down; nothing is judged by what it holds.
LONGEST_SYSEX = 4096
_MOST_WAITING = 64 * 1024 * 1024  # bytes that wait in memory for room on the disk: two million messages


class JournalWriter:
    """Appends to a journal.

    One thread writes; another may call `sync`.

    problem: why nothing can be written now, or None.

    Attributes:
        waiting: bytes that wait for room.
    """

    def __init__(self, path: Path, header: Header) -> None:
        """Make the file. Raises LivepedalError where that is not possible for another reason than a full
        disk.
        """
        self.path = path
        self.problem: str | None = None
        self.lost = 0  # records that did not even find room in memory
        self._count = 0
        self._waiting = bytearray()
        self._lock = threading.Lock()  # around closing the file
        self._dirty = False
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            # Without O_BINARY Windows would write each line with two bytes at its end.
            flags = os.O_WRONLY | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0)
            self._file: int | None = os.open(path, flags, 0o600)
        except OSError as error:
            reason = clean(error.strerror or str(error))
            raise LivepedalError(
                f"The journal {clean(str(path), 500)} cannot be written ({reason}); name another folder with --out."
            ) from None
        _lock(self._file)
        facts = json.dumps(asdict(header), ensure_ascii=True, separators=(",", ":"))
        self._write(_summed(f"{FORMAT} {VERSION} {facts}"))

    @property
    def waiting(self) -> int:
        return len(self._waiting)

    def write(self, records: Sequence[Record]) -> None:
        """Write down what happened, in order and in one go: it is with the operating system then."""
        lines = []
        for record in records:
            self._count += 1
            if isinstance(record, Heard):
                data = record.data
                if len(data) > LONGEST_SYSEX and data[0] == 0xF0:
                    data = data[:16] + b"\xf7"
                rest = f"m {record.source} {data.hex()}"
            else:
                rest = f"c {record.word} {json.dumps(record.argument)}"
            lines.append(_summed(f"{self._count} {record.us} {rest}"))
        self._write(b"".join(lines), len(lines))

    def heard(self, us: int, source: int, data: bytes) -> None:
        """Write down what came from a source."""
        self.write([Heard(us, source, data)])

    def command(self, us: int, word: str, argument: str = "") -> None:
        """Write down a command."""
        self.write([Command(us, word, argument)])

    def retry(self) -> None:
        """Write what waits, if there is room now."""
        if self._waiting:
            self._write(b"")

    def sync(self) -> None:
        """Bring what was written to the disk itself; may take long, and may be called from another thread."""
        with self._lock:
            if self._file is None or not self._dirty:
                return
            self._dirty = False
            try:
                os.fsync(self._file)
            except OSError as error:
                if self.problem is None:
                    self.problem = clean(error.strerror or str(error))

    def close(self) -> None:
        """Sync and close; the file stays."""
        self.retry()
        self.sync()
        with self._lock:
            if self._file is not None:
                os.close(self._file)
                self._file = None

    def _write(self, line: bytes, records: int = 0) -> None:
        if self._waiting or self._file is None:
            if len(self._waiting) + len(line) > _MOST_WAITING:
                self.lost += records
            else:
                self._waiting += line
            line = bytes(self._waiting[:65536])
            if self._file is None:
                return
        while line:
            try:
                done = os.write(self._file, line)
            except OSError as error:
                self.problem = clean(error.strerror or str(error))
                if not self._waiting:
                    self._waiting += line
                return
            self._dirty = True
            if self._waiting:
                del self._waiting[:done]
                line = bytes(self._waiting[:65536])
            else:
                line = line[done:]
        self.problem = None


def append_command(path: Path, word: str, argument: str = "") -> None:
    """Add a command to a journal that is not being written any more, on a line of its own whatever stands
    before.
    """
    with contextlib.suppress(OSError, LivepedalError):
        journal = read_journal(path)
        us = journal.records[-1].us if journal.records else 0
        data = path.read_bytes()
        with path.open("ab") as file:
            if not data.endswith(b"\n"):
                file.write(b"\n")
            file.write(_summed(f"{journal.last + 1} {us} c {word} {json.dumps(argument)}"))


def _summed(text: str) -> bytes:
    data = text.encode("utf-8", "replace")
    return b"%s %08x\n" % (data, zlib.crc32(data))


def _lock(file: int) -> None:
    """Mark the file as being written, so that nobody takes it for the remains of a crash. Gone with the
    process.
    """
    if os.name == "nt":
        return  # there a file that is open for writing cannot be renamed, and `in_use` tries that
    import fcntl

    with contextlib.suppress(OSError):
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
