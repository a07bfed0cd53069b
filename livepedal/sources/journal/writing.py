"""Writing a journal: the operating system has each record before it is judged."""

from __future__ import annotations

import contextlib
import json
import os
import sys
import threading
import zlib
from dataclasses import asdict
from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.sources.journal.reading import read_journal, records_in
from livepedal.sources.journal.records import FORMAT, VERSION, Header, Heard, Record
from livepedal.sources.text import clean

# Bytes above which a system exclusive message is cut; nothing is judged by what it holds.
LONGEST_SYSEX = 4096


class JournalWriter:
    """Appends to a journal. One thread writes; another may call `sync`.

    Attributes:
        path: of the journal.
        problem: why nothing can be written now, or None.
        waiting: bytes that wait for room on the disk; a day of playing fits into memory.
        count: records so far.

    Raises:
        LivepedalError: the file cannot be made, for another reason than a full disk.
    """

    def __init__(self, path: Path, header: Header) -> None:
        self.path = path
        self.problem: str | None = None
        self.waiting = bytearray()
        self.count = 0
        self._lock = threading.Lock()  # around closing the file
        self._dirty = False
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            # Without O_BINARY Windows would write each line with two bytes at its end.
            flags = os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_BINARY", 0)
            self._file: int | None = os.open(path, flags, 0o600)
        except OSError as error:
            reason = clean(error.strerror or str(error))
            raise LivepedalError(
                f"The journal {clean(str(path), 500)} cannot be written ({reason}); name another folder with --out."
            ) from None
        _lock(self._file)
        facts = json.dumps(asdict(header), ensure_ascii=True, separators=(",", ":"))
        self._write(_summed(f"{FORMAT} {VERSION} {facts}"))

    def write(self, *records: Record) -> None:
        """Write records in one go, so that the operating system has them."""
        lines = []
        for record in records:
            self.count += 1
            if isinstance(record, Heard):
                data = record.data
                if len(data) > LONGEST_SYSEX and data[0] == 0xF0:
                    data = data[:16] + b"\xf7"
                rest = f"m {record.source} {data.hex()}"
            else:
                rest = f"c {record.word} {json.dumps(record.argument)}"
            lines.append(_summed(f"{self.count} {record.us} {rest}"))
        self._write(b"".join(lines))

    def retry(self) -> None:
        """Write what waits, if there is room now."""
        if self.waiting:
            self._write(b"")

    def read_back(self) -> list[Record]:
        """The records that were written and those that wait, until it is closed; while nobody writes."""
        assert self._file is not None
        size = os.lseek(self._file, 0, os.SEEK_END)
        os.lseek(self._file, 0, os.SEEK_SET)
        return records_in(os.read(self._file, size) + self.waiting)

    def sync(self) -> None:
        """Bring what was written to the disk itself. May take long; may be called from another thread."""
        with self._lock:
            if self._file is None or not self._dirty:
                return
            self._dirty = False
            try:
                _to_disk(self._file)
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

    def _write(self, line: bytes) -> None:
        self.waiting += line
        if self._file is None:
            return
        while self.waiting:
            try:
                done = os.write(self._file, self.waiting[:65536])
            except OSError as error:
                self.problem = clean(error.strerror or str(error))
                return
            self._dirty = True
            del self.waiting[:done]
        self.problem = None


def append_command(path: Path, word: str, argument: str = "") -> None:
    """Add a command to a journal that is not being written any more, on a line of its own."""
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


def _to_disk(file: int) -> None:
    if sys.platform == "darwin":
        import fcntl

        with contextlib.suppress(OSError):  # not every disk can
            fcntl.fcntl(file, fcntl.F_FULLFSYNC)  # `fsync` leaves it in the disk's own memory there (its manual page)
            return
    os.fsync(file)


def _lock(file: int) -> None:
    """Mark the file as being written until this process ends, so that it is not taken for what a crash left."""
    if os.name == "nt":
        return  # there a file that is open for writing cannot be renamed, and `in_use` tries that
    import fcntl

    with contextlib.suppress(OSError):
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
