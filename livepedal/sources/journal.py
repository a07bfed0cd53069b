"""The journal of a live session: everything played and every command, a line each, safe before it is judged.

    livepedal-journal 1 {"started": ...} 5d41c0aa
    1 1204113 m 0 903c40 8f3a1c22
    2 1311002 c tap "" 0c9d77e1

The first line names the format, its version, and how the session was set up. Each further line is a record:
its number, the moment (microseconds since the start), `m`, the number of its source and the bytes as they
came, in hexadecimal, or `c`, a command and its argument as a JSON string; and at its end the CRC-32 (zlib) of
all before the blank. Lines are only ever appended. A record is with the operating system before the model
hears of it, so a crash of the program loses nothing; `sync` brings it to the disk, so a power cut loses what
came after the last one.

Reading keeps every record that is whole and says what is not: a line that was cut off, a line whose sum is
wrong, numbers that are missing. Even without its first line the music can be had; it is judged then as if
nothing had been asked for. A full disk is no end: what cannot be written waits in memory and is written,
in order, when there is room again.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import threading
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from enum import StrEnum
from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.sources.text import clean

FORMAT = "livepedal-journal"
VERSION = 1
ENDING = ".journal"

# Bytes of a system exclusive message that are written down; nothing is judged by what it holds.
LONGEST_SYSEX = 4096
_MOST_WAITING = 64 * 1024 * 1024  # bytes that wait in memory for room on the disk: two million messages
_TAIL = 4096
_SUM = re.compile(rb" [0-9a-f]{8}")


class Word(StrEnum):
    """The commands."""

    AFRESH = "afresh"
    PLAYER = "player"  # with a name
    TAP = "tap"
    KEEP = "keep"
    PAUSE = "pause"  # what is played until RESUME is in the journal and nowhere else
    RESUME = "resume"
    PEDALS = (
        "pedals"  # with a setting: a take of its own, since a file is judged with one setting at its start
    )
    PORT = "port"  # with the number of a source and its name
    GONE = "gone"  # with the number of a source
    LATE = "late"  # with the µs that this process stood still: what comes until ON_TIME was played nobody knows when
    ON_TIME = "on-time"
    END = "end"  # with the names of the files that were saved
    RECOVERED = "recovered"  # the same, later
    RECOVERED_PAUSES = "recovered-pauses"  # the same, of what was played in pauses


_OVER = (Word.END, Word.RECOVERED)


@dataclass(frozen=True, slots=True)
class Header:
    """How a session was set up, all that is needed to judge it again.

    started: date and time in ISO format; player, harp: names; figures: path of the user's file or ""; tempo:
    microseconds a quarter or None; metre: numerator, denominator; start: the setting at the start or "";
    channels: those heard (1 to 16), empty for all but 10; rest: µs that end a passage; only: the layers
    judged, empty for all; middle_c: what it is called.
    """

    started: str
    player: str = "working"
    harp: str = "47"
    figures: str = ""
    tempo: int | None = None
    metre: tuple[int, int] = (4, 4)
    start: str = ""
    channels: tuple[int, ...] = ()
    rest: int = 1_500_000
    only: tuple[str, ...] = ()
    middle_c: str = "C4"


@dataclass(frozen=True, slots=True)
class Heard:
    """Bytes that came from a source at a moment (µs)."""

    us: int
    source: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Command:
    """Something that was asked for, or that happened to a port, at a moment (µs). word: one of `Word`, or one that
    only a newer livepedal knows.
    """

    us: int
    word: str
    argument: str = ""


Record = Heard | Command


@dataclass(frozen=True, slots=True)
class Journal:
    """A journal that was read. faults: a sentence for each thing that was not whole; ended: the session was
    ended properly, or what was judged in it has been recovered.
    """

    path: Path
    header: Header
    records: tuple[Record, ...]
    faults: tuple[str, ...]
    ended: bool
    last: int = 0  # number of the last record

    @property
    def saved(self) -> bool:
        """Whether what was played outside pauses has been saved in files."""
        return any(isinstance(r, Command) and r.word in _OVER and r.argument for r in self.records)

    @property
    def pauses_saved(self) -> bool:
        """Whether what was played in pauses has been saved in files."""
        return any(isinstance(r, Command) and r.word == Word.RECOVERED_PAUSES for r in self.records)


class JournalWriter:
    """Appends to a journal. One thread writes; another may call `sync`.

    problem: why nothing can be written now, or None. waiting: bytes that wait for room.
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


def read_journal(path: Path) -> Journal:
    """Read a journal as far as it is whole.

    Raises LivepedalError when it is no journal, when a newer livepedal wrote it, when not even one record of
    it is whole beside a damaged first line, or when it cannot be read at all.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = clean(error.strerror or str(error))
        raise LivepedalError(
            f"{clean(str(path), 500)}: cannot be read ({reason}); check the path and its permissions."
        ) from None
    lines = data.split(b"\n")
    cut = lines.pop()
    if not lines and cut.startswith(FORMAT.encode()):
        raise LivepedalError(
            f"{clean(str(path), 500)}: breaks off in its first line, so nothing was recorded in it."
        )
    faults: list[str] = []
    if cut and _record(_pieces(cut)[0]) is not None:
        faults.append("the end of the last line is missing, but its record is whole")
        lines.append(cut)
        cut = b""
    head, *behind = _pieces(lines[0] if lines else cut)
    try:
        header = _header(path, head)
    except LivepedalError:
        # Music is worth more than how it was to be judged. But a first line that is whole means what it says.
        if _unsummed(head) is not None or not any(_record(one) for line in lines for one in _pieces(line)):
            raise
        header = Header(_started(path))
        faults.append(
            "line 1, which says how the session was set up, is damaged, so this is judged for the"
            f" {header.player} player on the {header.harp}-string harp"
        )
    records: list[Record] = []
    number = damaged = 0
    ended = False
    for place, pieces in enumerate([behind, *map(_pieces, lines[1:])], start=1):
        found = [numbered for piece in pieces if (numbered := _record(piece)) is not None]
        if not found and any(pieces):
            faults.append(f"line {place} is damaged and was left out")
            damaged += 1
        elif len(pieces) > (place > 1):
            faults.append(f"the end of line {place} is damaged, but what stands before it is whole")
        for own, record in found:
            missing = own - number - 1 - damaged
            if missing > 0:
                faults.append(
                    f"{missing} {'record is' if missing == 1 else 'records are'} missing before line {place}"
                )
            number, damaged = own, 0
            if isinstance(record, Command) and record.word in _OVER:
                ended = True
            records.append(record)
    if cut:
        faults.append("the last line was cut off in the middle and was left out")
    return Journal(path, header, tuple(records), tuple(faults), ended, number)


def unfinished(folder: Path) -> tuple[Path, ...]:
    """The journals in a folder that were not ended properly, have something in them, and are not being
    written now.
    """
    found: list[Path] = []
    for path in sorted(folder.glob(f"*{ENDING}")):
        try:
            with path.open("rb") as file:
                size = file.seek(0, os.SEEK_END)
                start = max(size - _TAIL, 0)
                file.seek(start)
                tail = file.read()
        except OSError:
            continue
        lines = tail.split(b"\n")[0 if start else 1 :]
        records = [numbered[1] for numbered in map(_record, lines) if numbered is not None]
        over = any(isinstance(r, Command) and r.word in _OVER for r in records)
        # Before the first message there are only the names of ports.
        played = bool(start) or any(isinstance(r, Heard) for r in records)
        if played and not over and not in_use(path):
            found.append(path)
    return tuple(found)


def _summed(text: str) -> bytes:
    data = text.encode("utf-8", "replace")
    return b"%s %08x\n" % (data, zlib.crc32(data))


def _unsummed(line: bytes) -> str | None:
    """The text of a line whose sum is right, else None."""
    text, _, total = line.rpartition(b" ")
    if total != b"%08x" % zlib.crc32(text):
        return None
    return text.decode("utf-8", "replace")


def _pieces(line: bytes) -> list[bytes]:
    """The line itself; or a whole one that it begins with, and the rest, where the end of a line was overwritten
    or lost and the next one has run into it.
    """
    if _unsummed(line) is None:
        total = at = 0
        for found in _SUM.finditer(line):
            total, at = zlib.crc32(line[at : found.start()], total), found.start()
            if found[0] == b" %08x" % total:
                end = found.end()
                return [line[:end], line[end:] if _unsummed(line[end:]) is not None else line[end + 1 :]]
    return [line]


def _started(path: Path) -> str:
    """When a session began, going by the name of its journal; "" where that does not tell."""
    try:
        return datetime.strptime(path.name[:17], "%Y-%m-%d-%H%M%S").isoformat()
    except ValueError:
        return ""


def _header(path: Path, line: bytes) -> Header:
    words = line.split(b" ", 2)
    if words[0] != FORMAT.encode() or len(words) < 3 or not words[1].isdigit():
        raise LivepedalError(
            f"{clean(str(path), 500)}: is no journal of livepedal; give one that ends in {ENDING}."
        )
    if int(words[1]) > VERSION:
        raise LivepedalError(
            f"{clean(str(path), 500)}: was written by a newer livepedal (version {int(words[1])} of the format);"
            " update livepedal to read it."
        )
    text = _unsummed(line)
    try:
        if text is None:
            raise ValueError
        facts = json.loads(text.split(" ", 2)[2])
        for name in ("metre", "channels", "only"):
            facts[name] = tuple(facts[name])
        return Header(**facts)
    except (ValueError, TypeError, KeyError):
        raise LivepedalError(
            f"{clean(str(path), 500)}: its first line, which says how the session was set up, is damaged,"
            " so it is lost."
        ) from None


def _record(line: bytes) -> tuple[int, Record] | None:
    text = _unsummed(line)
    if text is None:
        return None
    try:
        number, us, kind, rest = text.split(" ", 3)
        word, value = rest.split(" ", 1)
        if kind == "m":
            return int(number), Heard(int(us), int(word), bytes.fromhex(value))
        if kind == "c":
            argument = json.loads(value)
            return int(number), Command(int(us), word, str(argument))
    except ValueError:
        pass
    return None


def _lock(file: int) -> None:
    """Mark the file as being written, so that nobody takes it for the remains of a crash. Gone with the
    process.
    """
    if os.name == "nt":
        return  # there a file that is open for writing cannot be renamed, and `in_use` tries that
    import fcntl

    with contextlib.suppress(OSError):
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


def in_use(path: Path) -> bool:
    """Whether a session is writing this journal now."""
    if os.name == "nt":
        try:
            os.rename(path, path)
        except OSError:
            return True
        return False
    import fcntl

    try:
        with path.open("rb") as file:
            fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError:
        return True
    return False


def names(folder: Path, stem: str) -> Iterator[Path]:
    """Names for a new journal: the stem, then with -2, -3 behind it."""
    yield folder / f"{stem}{ENDING}"
    number = 2
    while True:
        yield folder / f"{stem}-{number}{ENDING}"
        number += 1
