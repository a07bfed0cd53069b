"""A journal that is damaged in any byte: every byte of a small one is tried, in every way that disks and people
damage files. What is whole is read, what is not is told, and the music can always be recovered.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from livepedal.advice.check import check_file
from livepedal.errors import LivepedalError
from livepedal.live.recover import recover
from livepedal.sources.journal import (
    Command,
    Header,
    Heard,
    JournalWriter,
    append_command,
    read_journal,
    unfinished,
)

HEADER = Header("2024-05-01T20:15:00+02:00", player="virtuoso", tempo=652174, metre=(3, 4))
RECORDS = (
    Command(0, "port", '0 Keys "[red]" \u2028'),
    Heard(1_000_000, 0, b"\x90\x3c\x40"),
    Heard(1_400_000, 0, b"\x80\x3c\x40"),
    Heard(1_500_000, 0, b"\x90\x40\x40"),
    Heard(1_900_000, 0, b"\x80\x40\x40"),
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "2024-05-01-201500.journal"
    writer = JournalWriter(path, HEADER)
    for record in RECORDS:
        writer.write(record)
    writer.close()
    return path


def damages(data: bytes, at: int) -> Iterator[tuple[str, bytes]]:
    """The file with one byte wrong: each bit of it turned, set to what matters in the format, lost, doubled."""
    for bit in range(8):
        yield "turned", data[:at] + bytes((data[at] ^ 1 << bit,)) + data[at + 1 :]
    for byte in b"\0\n \xff0":
        if byte != data[at]:
            yield "overwritten", data[:at] + bytes((byte,)) + data[at + 1 :]
    yield "lost", data[:at] + data[at + 1 :]
    for byte in b"\0\n5":
        yield "put in", data[:at] + bytes((byte,)) + data[at:]


@pytest.mark.slow
def test_one_byte_costs_one_record_at_most_and_is_told(path: Path) -> None:
    data = path.read_bytes()
    first = data.index(b"\n")
    tried = 0
    for at in range(len(data)):
        for how, damaged in damages(data, at):
            tried += 1
            path.write_bytes(damaged)
            journal = read_journal(path)
            rest = iter(RECORDS)
            assert all(record in rest for record in journal.records), (at, how)  # in order, and none is new
            lost = len(RECORDS) - len(journal.records)
            assert lost <= (at > first), (at, how, damaged)
            # The one byte that means nothing: an empty line more.
            assert journal.faults or damaged.replace(b"\n\n", b"\n") == data, (at, how, damaged)
            if lost:
                assert "left out" in " ".join(journal.faults), (at, how)
            assert (journal.header == HEADER) == ("line 1, which" not in " ".join(journal.faults)), (at, how)
    assert tried > 15 * len(data)


def test_the_end_missing_from_any_byte_on_and_nothing_but_zeros_there(path: Path) -> None:
    """What a power cut leaves: a file that is too short, or as long as it should be and empty at its end."""
    data = path.read_bytes()
    first = data.index(b"\n")
    for at in range(len(data)):
        for end in (b"", bytes(len(data) - at), bytes(5000)):
            path.write_bytes(data[:at] + end)
            if at <= first:  # nothing was recorded yet, or all of it is gone
                with pytest.raises(LivepedalError):
                    read_journal(path)
                continue
            journal = read_journal(path)
            assert journal.records == RECORDS[: data[first + 1 : at + 1].count(b"\n")]
            assert bool(journal.faults) == (data[at - 1 : at] != b"\n" or bool(end))


def test_a_block_of_zeros_anywhere(path: Path) -> None:
    data = path.read_bytes()
    for at in range(len(data) - 60):
        path.write_bytes(data[:at] + bytes(60) + data[at + 60 :])
        journal = read_journal(path)
        assert len(RECORDS) - len(journal.records) <= 3
        assert journal.faults


@pytest.mark.parametrize("where", ["the first byte", "the first line", "a note", "the end of a line"])
def test_the_music_is_recovered_and_the_damage_told(where: str, path: Path, tmp_path: Path) -> None:
    data = bytearray(path.read_bytes())
    first = data.index(b"\n")
    at = {
        "the first byte": 0,
        "the first line": 40,
        "a note": data.index(b"903c40"),
        "the end of a line": data.index(b"\n", data.index(b"903c40")),
    }[where]
    data[at] ^= 1
    path.write_bytes(data)
    assert unfinished(tmp_path) == (path,)
    journal = read_journal(path)
    assert len(journal.faults) == 1
    (written,) = recover(journal, tmp_path / "out")
    assert written.path.name == "2024-05-01-201500.mid"
    assert check_file(written.path).files[0].parts[0].notes == (1 if where == "a note" else 2)
    assert written.player == ("working" if at < first else "virtuoso")
    assert unfinished(tmp_path) == ()  # it is noted even in a damaged journal


def test_a_newer_journal_that_is_whole_is_not_taken_for_a_damaged_one(path: Path) -> None:
    import zlib

    lines = path.read_bytes().split(b"\n")
    text = lines[0].rpartition(b" ")[0].replace(b"journal 1", b"journal 2")
    path.write_bytes(b"\n".join([text + b" %08x" % zlib.crc32(text), *lines[1:]]))
    with pytest.raises(LivepedalError, match="newer"):
        read_journal(path)


@pytest.mark.parametrize("started", ["../../../../tmp/out", "/etc/passwd", "\x1b[2J[red]", "", "x" * 5000])
def test_a_journal_from_elsewhere_cannot_choose_where_files_go(started: str, tmp_path: Path) -> None:
    source = tmp_path / "in" / "one.journal"
    writer = JournalWriter(source, Header(started))
    writer.write(Heard(1_000_000, 0, b"\x90\x3c\x40"))
    writer.close()
    (written,) = recover(read_journal(source), tmp_path / "out")
    assert written.path == tmp_path / "out" / "session.mid"


def test_damage_to_what_was_noted_afterwards_is_no_damage_to_the_music(path: Path, tmp_path: Path) -> None:
    append_command(path, "recovered", "a.mid")
    whole = path.read_bytes()
    kept = tmp_path / "kept"
    shutil.copy(path, kept)
    for at in range(whole.rindex(b"\n", 0, -1) + 1, len(whole) - 1):
        path.write_bytes(whole[:at] + b"~" + whole[at + 1 :])
        journal = read_journal(path)
        assert journal.records == RECORDS
        assert not journal.ended
