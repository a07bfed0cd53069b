"""Reading a journal as far as it is whole, and saying what is damaged."""

from __future__ import annotations

import json
import os
import re
import zlib
from collections.abc import Sequence
from dataclasses import fields
from datetime import datetime
from pathlib import Path
from typing import Any

from livepedal.errors import LivepedalError
from livepedal.sources.journal.records import (
    ENDING,
    FORMAT,
    VERSION,
    Command,
    Header,
    Heard,
    Journal,
    Record,
    over,
)
from livepedal.sources.text import are, clean

_TAIL = 4096  # bytes at the end of a journal that tell whether it was ended
_SUM = re.compile(rb" [0-9a-f]{8}")


def read_journal(path: Path) -> Journal:
    """Read a journal as far as it is whole.

    Raises:
        LivepedalError: it is no journal, a newer livepedal wrote it, its first line is damaged and no record is whole,
            or it cannot be read at all.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = clean(error.strerror or str(error))
        raise LivepedalError(
            f"{clean(str(path), 500)} cannot be read ({reason}); check the path and its permissions."
        ) from None
    lines = data.split(b"\n")
    cut = lines.pop()
    if not lines and cut.startswith(FORMAT.encode()):
        raise LivepedalError(f"{clean(str(path), 500)} breaks off in its first line, so it holds no music.")
    faults: list[str] = []
    if cut and _record(_pieces(cut)[0]) is not None:
        faults.append("the end of the last line is missing, but its record is complete")
        lines.append(cut)
        cut = b""
    head, *behind = _pieces(lines[0] if lines else cut)
    headless = _record(head) is not None  # what stood before it was taken away while it was written
    try:
        header = _header(path, head)
    except LivepedalError:
        # The music is worth more than how it was to be judged. But a first line that is whole means what it says.
        means_it = _unsummed(head) is not None and not headless
        if means_it or not any(_record(piece) for line in lines for piece in _pieces(line)):
            raise
        header = Header(_started(path))
        faults.append(
            "line 1, which says how the session was set up, is damaged or missing, so this is judged for the"
            f" {header.player} player on the {header.harp}-string harp"
        )
    first = [head if headless else b"", *behind]
    records, last, more = _records([first, *map(_pieces, lines[1:])])
    faults += more
    if cut:
        faults.append("the last line was cut off in the middle and was left out")
    return Journal(path, header, tuple(records), tuple(faults), over(records), last)


def _records(lines: Sequence[Sequence[bytes]]) -> tuple[list[Record], int, list[str]]:
    """The whole records in lines that were taken apart (`_pieces`), the number of the last, and what is damaged."""
    records: list[Record] = []
    faults: list[str] = []
    number = damaged = 0
    for place, pieces in enumerate(lines, start=1):
        found = [numbered for piece in pieces if (numbered := _record(piece)) is not None]
        if not found and any(pieces):
            faults.append(f"line {place} is damaged and was left out")
            damaged += 1
        elif len(pieces) > 1:
            faults.append(f"the end of line {place} is damaged, but the part before it is complete")
        for own, record in found:
            missing = own - number - 1 - damaged
            if missing > 0:
                faults.append(f"{are(missing, 'record')} missing before line {place}")
            number, damaged = own, 0
            records.append(record)
    return records, number, faults


def records_in(data: bytes) -> list[Record]:
    """The whole records in the bytes of a journal, or of a part of it."""
    return _records([*map(_pieces, data.split(b"\n"))])[0]


def unfinished(folder: Path) -> tuple[Path, ...]:
    """The journals in a folder that did not end properly, hold something, and are not being written now."""
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
        records = records_in(tail)
        # Before the first message there are only the names of ports.
        played = bool(start) or any(isinstance(r, Heard) for r in records)
        if played and not over(records) and not in_use(path):
            found.append(path)
    return tuple(found)


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


def _unsummed(line: bytes) -> str | None:
    """The text of a line whose sum is right, else None."""
    text, _, total = line.rpartition(b" ")
    if total != b"%08x" % zlib.crc32(text):
        return None
    return text.decode("utf-8", "replace")


def _pieces(line: bytes) -> list[bytes]:
    """The line; or the whole line that it begins with and the rest, where the next line has run into a damaged end."""
    if _unsummed(line) is None:
        total = at = 0
        for found in _SUM.finditer(line):
            total, at = zlib.crc32(line[at : found.start()], total), found.start()
            if found[0] == b" %08x" % total:
                end = found.end()
                return [line[:end], line[end:] if _unsummed(line[end:]) is not None else line[end + 1 :]]
    return [line]


def _started(path: Path) -> str:
    """When a session began, by the name of its journal; "" where the name does not tell."""
    try:
        return datetime.strptime(path.name[:17], "%Y-%m-%d-%H%M%S").isoformat()
    except ValueError:
        return ""


def _header(path: Path, line: bytes) -> Header:
    words = line.split(b" ", 2)
    if words[0] != FORMAT.encode() or len(words) < 3 or not words[1].isdigit():
        raise LivepedalError(
            f"{clean(str(path), 500)} is not a livepedal journal; give one that ends in {ENDING}."
        )
    if int(words[1]) > VERSION:
        raise LivepedalError(
            f"{clean(str(path), 500)} was written by a newer livepedal (version {int(words[1])} of the format);"
            " update livepedal to read it."
        )
    text = _unsummed(line)
    try:
        if text is None:
            raise ValueError
        facts = json.loads(text.split(" ", 2)[2])
        # Another livepedal may know more of a session, or less.
        known: dict[str, Any] = {
            field.name: tuple(value) if isinstance(value := facts[field.name], list) else value
            for field in fields(Header)
            if field.name in facts
        }
        return Header(**known)
    except (ValueError, TypeError):
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
