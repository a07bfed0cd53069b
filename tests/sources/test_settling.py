"""Files that somebody is writing: none is taken too early, none twice, and a hopeless one in the end."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from livepedal.sources.settling import PATIENCE, STILL, Settling, is_whole, signature_of
from tests.places import RECORDINGS

RECORDING = RECORDINGS / "01-slack-water.mid"
WHOLE = RECORDING.read_bytes()


@pytest.fixture
def cue(tmp_path: Path) -> Path:
    return tmp_path / "cue.mid"


def write(path: Path, data: bytes, at: int) -> str:
    """Write it as if at this second."""
    path.write_bytes(data)
    os.utime(path, ns=(at * 10**9, at * 10**9))
    return str(path)


def test_a_whole_file_is_done_when_it_has_stood_still(cue: Path) -> None:
    settling = Settling()
    path = write(cue, WHOLE, 1)
    settling.touched(path, 100)
    assert settling.ready(100 + STILL / 2) == []
    assert settling.ready(100 + STILL) == [path]
    assert settling.ready(200) == []
    assert not settling
    settling.touched(path, 300)  # the same as it was read
    assert settling.ready(400) == []


def test_a_half_written_one_is_waited_for(cue: Path) -> None:
    settling = Settling()
    now = 0.0
    for size in range(0, len(WHOLE), 40):  # slowly, longer than a whole one has to stand still
        path = write(cue, WHOLE[:size], size)
        settling.touched(path, now)
        now += 2 * STILL
        assert settling.ready(now) == []
    path = write(cue, WHOLE, len(WHOLE))
    settling.touched(path, now)
    assert settling.ready(now + STILL) == [path]


def test_one_that_changes_without_news_of_it_is_seen_as_well(cue: Path) -> None:
    settling = Settling()
    path = write(cue, WHOLE, 1)
    settling.touched(path, 0)
    write(cue, WHOLE + b"\0", 2)
    assert settling.ready(STILL) == []
    assert settling.ready(2 * STILL) == [path]


def test_one_that_is_never_whole_is_taken_in_the_end(cue: Path) -> None:
    settling = Settling()
    path = write(cue, WHOLE[:60], 1)
    settling.touched(path, 0)
    assert settling.ready(PATIENCE - 0.1) == []
    assert settling.ready(PATIENCE) == [path]


def test_one_that_is_gone_again_is_forgotten(cue: Path) -> None:
    settling = Settling()
    path = write(cue, WHOLE, 1)
    settling.touched(path, 0)
    cue.unlink()
    assert settling.ready(PATIENCE) == []
    assert not settling


def test_what_was_read_before_is_known(cue: Path) -> None:
    settling = Settling()
    path = write(cue, WHOLE, 1)
    settling.known(path, signature_of(path))
    settling.touched(path, 0)
    assert settling.ready(PATIENCE) == []
    write(cue, WHOLE, 2)  # the same bytes once more are an export all the same
    settling.touched(path, 10)
    assert settling.ready(11) == [path]


def test_whole(cue: Path) -> None:
    assert is_whole(write(cue, WHOLE, 1))
    assert not is_whole(write(cue, WHOLE[:-4], 1))
    assert not is_whole(write(cue, b"", 1))
    assert not is_whole(str(cue.parent / "none.mid"))
