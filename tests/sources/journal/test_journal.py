"""The journal: what was written is read again, a damaged one gives what is whole, and a full disk loses
nothing.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import zlib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from livepedal.errors import LivepedalError
from livepedal.sources import journal as journals
from livepedal.sources import writing
from livepedal.sources.journal import (
    Command,
    Header,
    Heard,
    JournalWriter,
    append_command,
    read_journal,
    unfinished,
)

HEADER = Header("2024-05-01T20:15:00+02:00", player="virtuoso", tempo=652174, metre=(3, 4), channels=(1, 2))
RECORDS = st.lists(
    st.one_of(
        st.builds(Heard, st.integers(0, 10**12), st.integers(0, 20), st.binary(min_size=1, max_size=40)),
        st.builds(
            Command, st.integers(0, 10**12), st.sampled_from(["tap", "port", "end"]), st.text(max_size=20)
        ),
    ),
    max_size=30,
)
ANYWHERE = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)


def write(path: Path, records: list[Heard | Command]) -> None:
    path.unlink(missing_ok=True)
    writer = JournalWriter(path, HEADER)
    for record in records:
        writer.write(record)
    writer.sync()
    writer.close()


@ANYWHERE
@given(records=RECORDS)
def test_round_trip(tmp_path: Path, records: list[Heard | Command]) -> None:
    path = tmp_path / "one.journal"
    write(path, records)
    journal = read_journal(path)
    assert journal.header == HEADER
    assert journal.records == tuple(records)
    assert journal.faults == ()


@ANYWHERE
@given(records=RECORDS, data=st.data())
def test_cut_anywhere_is_a_prefix(
    tmp_path: Path, records: list[Heard | Command], data: st.DataObject
) -> None:
    """A power cut leaves the first part of the file: the records read are the first ones, and a cut line is
    told.
    """
    path = tmp_path / "one.journal"
    write(path, records)
    whole = path.read_bytes()
    first = whole.index(b"\n") + 1
    cut = data.draw(st.integers(first, len(whole)))
    path.write_bytes(whole[:cut])
    journal = read_journal(path)
    assert journal.records == tuple(records)[: len(journal.records)]
    # Where the end of the last line alone is missing, its record is whole and is read too.
    assert len(journal.records) == whole[first : cut + 1].count(b"\n")
    assert bool(journal.faults) == (whole[cut - 1 : cut] != b"\n")


@ANYWHERE
@given(records=RECORDS.filter(bool), data=st.data())
def test_one_wrong_byte_costs_one_record(
    tmp_path: Path, records: list[Heard | Command], data: st.DataObject
) -> None:
    path = tmp_path / "one.journal"
    write(path, records)
    whole = bytearray(path.read_bytes())
    first = whole.index(b"\n") + 1
    at = data.draw(st.integers(first, len(whole) - 1))
    whole[at] ^= data.draw(st.integers(1, 255))
    path.write_bytes(whole)
    journal = read_journal(path)
    rest = iter(records)
    assert all(record in rest for record in journal.records)  # in order, none that was not there
    assert len(records) - len(journal.records) <= 2  # two where the byte was the end of a line
    assert journal.faults


def test_line_is_as_documented(tmp_path: Path) -> None:
    """The format is for others too: number, moment, kind, source, hexadecimal, CRC-32 of zlib (RFC 1952)."""
    path = tmp_path / "one.journal"
    write(path, [Heard(1204113, 0, b"\x90\x3c\x40")])
    line = path.read_bytes().split(b"\n")[1]
    assert line == b"1 1204113 m 0 903c40 %08x" % zlib.crc32(b"1 1204113 m 0 903c40")


def test_long_sysex_is_written_short(tmp_path: Path) -> None:
    path = tmp_path / "one.journal"
    write(path, [Heard(5, 0, b"\xf0" + bytes(100_000) + b"\xf7")])
    assert path.stat().st_size < 1000
    (record,) = read_journal(path).records
    assert isinstance(record, Heard)
    assert record.data[0] == 0xF0
    assert record.data[-1] == 0xF7


def test_missing_records_are_told(tmp_path: Path) -> None:
    path = tmp_path / "one.journal"
    write(path, [Heard(n, 0, b"\xf8") for n in range(5)])
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:2] + lines[4:]))
    assert read_journal(path).faults == ("2 records are missing before line 3",)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "not a livepedal journal"),
        (b"MThd\0\0\0\6", "not a livepedal journal"),
        (b'livepedal-journal 1 {"star', "breaks off"),
        (b"livepedal-journal 2 {} 00000000\n", "newer livepedal"),
        (b"livepedal-journal 1 {} 00000000\n", "damaged"),
    ],
)
def test_what_is_no_journal_is_refused(tmp_path: Path, data: bytes, says: str) -> None:
    path = tmp_path / "one.journal"
    path.write_bytes(data)
    with pytest.raises(LivepedalError, match=says):
        read_journal(path)


def test_unfinished_are_those_without_an_end(tmp_path: Path) -> None:
    write(tmp_path / "ended.journal", [Heard(1, 0, b"\xf8"), Command(2, "end", "")])
    write(tmp_path / "crashed.journal", [Heard(1, 0, b"\xf8")])
    write(tmp_path / "nothing-played.journal", [])
    writing = JournalWriter(tmp_path / "being-written.journal", HEADER)
    writing.write(Heard(1, 0, b"\xf8"))
    assert unfinished(tmp_path) == (tmp_path / "crashed.journal",)
    writing.close()
    append_command(tmp_path / "crashed.journal", "recovered", "a.mid")
    assert unfinished(tmp_path) == (tmp_path / "being-written.journal",)


@pytest.mark.parametrize("other", [{"metre": None}, {"only": None, "middle_c": None}, {"lyrics": [1]}])
def test_of_another_livepedal_that_knew_less_or_more_of_a_session(
    other: dict[str, object], tmp_path: Path
) -> None:
    """What it did not know is as usual."""
    path = tmp_path / "one.journal"
    write(path, [Heard(1, 0, b"\xf8")])
    head, rest = path.read_bytes().split(b"\n", 1)
    name, version, facts = head.decode().rsplit(" ", 1)[0].split(" ", 2)
    known = {key: value for key, value in {**json.loads(facts), **other}.items() if value is not None}
    text = f"{name} {version} {json.dumps(known)}".encode()
    path.write_bytes(b"%s %08x\n%s" % (text, zlib.crc32(text), rest))
    journal = read_journal(path)
    assert journal.faults == ()
    assert journal.records == (Heard(1, 0, b"\xf8"),)
    default = Header(HEADER.started)
    assert journal.header == replace(HEADER, **{key: getattr(default, key) for key in other if key != "lyrics"})


def test_emptied_while_it_was_written(tmp_path: Path) -> None:
    """Without its first line, and with nothing of what came before: the rest is read."""
    path = tmp_path / "2024-05-01-201500.journal"
    writer = JournalWriter(path, HEADER)
    writer.write(*(Heard(number, 0, b"\xf8") for number in range(3)))
    os.truncate(path, 0)
    writer.write(*(Heard(number, 0, b"\xf8") for number in range(3, 5)))
    writer.close()
    journal = read_journal(path)
    assert journal.records == (Heard(3, 0, b"\xf8"), Heard(4, 0, b"\xf8"))
    assert journal.header == Header("2024-05-01T20:15:00")
    assert ["line 1, which" in journal.faults[0], *journal.faults[1:]] == [
        True,
        "3 records are missing before line 1",
    ]
    assert unfinished(tmp_path) == (path,)


def test_recovered_while_it_was_written(tmp_path: Path) -> None:
    """What was heard after that is still to be recovered."""
    path = tmp_path / "one.journal"
    writer = JournalWriter(path, HEADER)
    writer.write(Heard(1, 0, b"\xf8"))
    append_command(path, "recovered", "a.mid")
    assert read_journal(path).ended
    writer.write(Heard(2, 0, b"\xf8"))
    writer.close()
    assert not read_journal(path).ended
    assert unfinished(tmp_path) == (path,)


def test_note_after_a_cut_line_stands_on_its_own(tmp_path: Path) -> None:
    path = tmp_path / "one.journal"
    write(path, [Heard(1, 0, b"\xf8"), Heard(2, 0, b"\xf8")])
    path.write_bytes(path.read_bytes()[:-5])
    append_command(path, "recovered", "a.mid")
    journal = read_journal(path)
    assert journal.records == (Heard(1, 0, b"\xf8"), Command(1, "recovered", "a.mid"))
    assert journal.ended


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_full_disk_is_a_problem_at_once_and_nothing_is_raised() -> None:
    writer = JournalWriter(Path("/dev/full"), HEADER)
    assert writer.problem is not None
    for number in range(1000):
        writer.write(Heard(number, 0, b"\x90\x3c\x40"))
    assert len(writer.waiting) > 1000
    writer.close()


def test_what_waits_is_written_in_order_when_there_is_room(tmp_path: Path) -> None:
    """A limit on the size of files stands for the disk (POSIX RLIMIT_FSIZE): it fills in the middle of a
    line.
    """
    path = tmp_path / "one.journal"
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, hard))
    try:
        writer = JournalWriter(path, HEADER)
        records = [Heard(number, 0, b"\x90\x3c\x40") for number in range(500)]
        for record in records:
            writer.write(record)
        assert writer.problem
        assert path.stat().st_size == 1000
        assert len(read_journal(path).faults) == 1
        assert writer.read_back() == records
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    writer.retry()
    assert writer.problem is None
    writer.close()
    journal = read_journal(path)
    assert journal.records == tuple(records)
    assert journal.faults == ()


def test_what_was_written_survives_a_kill(tmp_path: Path) -> None:
    """A record is with the operating system when `write` returns: SIGKILL right after it loses nothing."""
    path = tmp_path / "one.journal"
    code = (
        "import os, sys, signal; from pathlib import Path;"
        "from livepedal.sources.journal import *;"
        "w = JournalWriter(Path(sys.argv[1]), Header('now'));"
        "[w.write(Heard(n, 0, b'\\xf8')) for n in range(100)]; os.kill(os.getpid(), signal.SIGKILL)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], check=False)
    assert done.returncode == -9
    assert len(read_journal(path).records) == 100


def test_other_fault_than_a_full_disk_is_told_at_the_start(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(LivepedalError, match="--out"):
        JournalWriter(tmp_path / "file" / "one.journal", HEADER)


def test_names_do_not_collide(tmp_path: Path) -> None:
    names = writing.names(tmp_path, "2024-05-01-201500", journals.ENDING)
    assert next(names).name == "2024-05-01-201500.journal"
    assert next(names).name == "2024-05-01-201500-2.journal"
