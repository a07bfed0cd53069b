"""What is delivered late: no verdict changes where the system tells when it was played, and where it does not, what
came in a heap is heard, in the journal and in the file, and not judged. With clocks that are set by hand; over JACK
it is tried in test_ports.py.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from livepedal.advice.check import check_file
from livepedal.live import hearing
from livepedal.live.faults import Faults
from livepedal.live.hearing import Hearing
from livepedal.live.recover import recover
from livepedal.live.saving import Saved
from livepedal.live.session import Session
from livepedal.live.setup import setup_of
from livepedal.model.findings import Finding
from livepedal.music.song import read_song
from livepedal.sources.journal import Command, Header, JournalWriter, Record, Word, read_journal
from livepedal.sources.ports.stamps import AFTER, Stamps
from livepedal.sources.raw import unpacked

MS = 1_000_000
HEADER = Header("2024-05-01T20:15:00")
STILL = 400  # ms
# A white-key glissando, 27 notes a second, and then a chromatic run: nothing to say of the one, and much of the other.
WHITE = [48, 50, 52, 53, 55, 57, 59, 60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79, 81]
BLACK = [60, 61, 62, 63, 64, 65, 66, 67, 68, 69]
MUSIC = [(1_000 + 37 * n, key) for n, key in enumerate(WHITE)] + [
    (4_000 + 90 * n, key) for n, key in enumerate(BLACK)
]


class Live:
    """A session whose clock is set by hand. said: what it told; found: its findings, when they were settled."""

    def __init__(self, folder: Path, timed: bool) -> None:
        folder.mkdir()
        self.now = 0
        self.path = folder / "one.journal"
        self.said: list[str] = []
        self.found: list[Finding] = []
        self.session = Session(setup_of(HEADER))
        self.writer = JournalWriter(self.path, HEADER)
        faults = Faults(self.path, pytest.fail)
        self.hearing = Hearing(self.writer, faults, lambda: self.now, lambda item: None, lambda problem: None)
        self.hearing._pass_on = self._judge
        self.stamps = Stamps(self.hearing.alive, timed)
        self.timed = timed
        self.last: int | None = None

    def _judge(self, item: Record | int | None) -> None:
        session = self.session
        if isinstance(item, int):
            session.advance(item)
        elif isinstance(item, Command):
            session.command(item.us, item.word, item.argument)
        elif item is not None:
            session.message(item.us, item.source, item.data)
        self._news()

    def _news(self) -> None:
        for news in self.session.news():
            if isinstance(news.what, str):
                self.said.append(news.what)
            elif isinstance(news.what, Finding):
                self.found.append(news.what)

    def run(self, until: int) -> None:
        """The hearing's thread goes round every 20 ms."""
        while self.now < until:
            self.now = min(self.now + 20 * MS, until)
            self.take()

    def take(self) -> None:
        self.hearing._keep(hearing.drained(self.hearing._queue, 0))
        self.hearing._let_pass(self.hearing.alive.passed(self.now))

    def deliver(self, played: int, data: bytes) -> None:
        came = played if self.timed else self.now
        delta = None if self.last is None else (came - self.last) / 1e9
        self.last = came
        self.hearing.receive(0, data, self.stamps.stamp(delta, self.now))

    def end(self) -> Session:
        self.run(self.now + 2_000 * MS)
        self.session.finish(self.hearing.now)
        self._news()
        self.writer.close()
        return self.session


def played(folder: Path, timed: bool, still: int | None) -> Live:
    """Play the music. still: ms from the start at which the process is stopped for STILL ms, None: never."""
    live = Live(folder, timed)
    stop, go = (1, 1) if still is None else (still * MS, (still + STILL) * MS)
    events = sorted(
        [(ms * MS, bytes((0x90, key, 64))) for ms, key in MUSIC]
        + [((ms + 30) * MS, bytes((0x80, key, 0))) for ms, key in MUSIC]
    )
    for number, (at, data) in enumerate(events):
        live.run(min(at, stop))
        if at > stop > live.now - 1 and live.now < go:
            live.now = go
        live.now = max(live.now, at) if at <= stop else live.now
        if at > live.now:
            live.run(at)
        live.deliver(at, data)
        if stop < at < go:
            live.now += number
    live.end()
    return live


def heard(live: Live) -> list[tuple[int, str, int]]:
    return [(f.us, f.kind.value, f.note) for f in live.found]


def saved(live: Live) -> tuple[Saved, ...]:
    return recover(read_journal(live.path), live.path.parent)


@pytest.mark.parametrize("still", [1_100, 4_200, 4_500])
def test_where_times_come_with_messages_a_standstill_changes_nothing(still: int, tmp_path: Path) -> None:
    """15 notes made 8 attacks, and a glissando something for a virtuoso."""
    one = played(tmp_path / "one", True, None)
    other = played(tmp_path / "other", True, still)
    assert one.found
    assert [f[1:] for f in heard(other)] == [f[1:] for f in heard(one)]
    assert all(abs(a[0] - b[0]) <= 1_100 for a, b in zip(heard(other), heard(one), strict=True))
    assert other.session.finished[0].notes == len(MUSIC)
    assert other.said == []


@pytest.mark.parametrize("pause", [30, 60, 100, 140, 160])
def test_nor_does_a_pause_in_which_all_threads_are_held_up(pause: int, tmp_path: Path) -> None:
    """The one that hears goes on first, and then comes what was played 10 ms after the pause began."""
    live = Live(tmp_path / "one", True)
    live.run(1_000 * MS)
    live.deliver(live.now, b"\x90\x3c\x40")
    live.run(1_200 * MS)
    live.now += pause * MS
    live.take()
    live.deliver(1_210 * MS, b"\x90\x40\x40")
    (take,) = live.end().finished
    assert len(take.came_late) == 0
    struck = [take.time_map.us(tick) for tick, status, _, _ in map(unpacked, take.kept) if status == 0x90]
    assert struck == pytest.approx([0, 210_000], abs=600)  # a tick is half a millisecond


@pytest.mark.parametrize("still", [1_100, 4_200, 4_500])
def test_where_they_do_not_what_came_late_is_in_the_file_and_not_judged(still: int, tmp_path: Path) -> None:
    live = played(tmp_path / "one", False, still)
    until = still + STILL + AFTER // MS
    late = sum(still < ms <= until for ms, _ in MUSIC)
    assert late > 3
    assert live.said == [
        f"{late} notes came late after livepedal was suspended for 0.4 s: in the file, but not judged"
    ]
    # The same as if they had not been played.
    whole = [(ms, key) for ms, key in MUSIC if not still < ms <= until]
    assert live.session.finished[0].notes == len(whole)
    assert {f.note for f in live.found} <= {key for _, key in whole}
    assert not any(still * 1000 < f.us + 1_000_000 <= until * 1000 for f in live.found)
    # Journal, recovered file, and what check says of it.
    journal = read_journal(live.path)
    words = [r.word for r in journal.records if isinstance(r, Command)]
    assert words == [Word.LATE, Word.ON_TIME]
    (written,) = saved(live)
    assert (written.notes, written.late) == (len(whole), late)
    report = check_file(written.path, only=["pedals", "hands", "strings"]).files[0]
    (part,) = report.parts
    assert part.notes == len(whole)
    assert [(f.us, f.kind.value, f.note) for f in part.findings] == heard(live)
    assert any("came late" in str(remark) for remark in (*report.remarks, *part.remarks))
    song = read_song(written.path)
    assert [(t.name, t.notes) for t in song.tracks if t.notes] == [
        ("Harp", len(whole)),
        ("Harp (muted: came late, not judged)", late),
    ]


def test_a_glissando_over_jack_with_a_standstill_is_still_none_for_a_virtuoso(tmp_path: Path) -> None:
    assert not [f for f in played(tmp_path / "one", False, 1_100).found if f.us < 2_500_000]


def test_a_key_that_was_down_is_let_go_when_it_is_not_known_when(tmp_path: Path) -> None:
    """Its release may have been lost: JACK drops what nobody takes (measured). So it binds no pedal."""
    live = Live(tmp_path / "one", False)
    live.run(1_000 * MS)
    live.deliver(live.now, b"\x90\x3c\x40")
    live.run(1_500 * MS)
    live.now = 3_000 * MS
    live.deliver(live.now, b"\x90\x40\x40")
    (take,) = live.end().finished
    ticks = [tick for tick, status, key, _ in map(unpacked, take.kept) if status == 0x80]
    assert [abs(take.time_map.us(tick) - 500_000) < 1_000 for tick in ticks] == [True]
    assert len(take.came_late) == 1


def test_a_second_port_that_is_behind_the_first(tmp_path: Path) -> None:
    """Both tell when it was, but the first port's heap was journaled before: what cannot be put where it belongs is
    late, and not judged.
    """
    live = Live(tmp_path / "one", True)
    second = Stamps(live.hearing.alive, True)
    live.run(1_000 * MS)
    live.deliver(live.now, b"\x90\x3c\x40")
    live.hearing.receive(1, b"\x90\x24\x40", second.stamp(None, live.now))
    live.run(1_010 * MS)
    live.now = 2_000 * MS
    live.deliver(1_900 * MS, b"\x90\x3e\x40")
    live.take()
    live.hearing.receive(1, b"\x90\x26\x40", second.stamp(0.3, live.now))
    live.take()
    session = live.end()
    assert (session.finished[0].notes, len(session.finished[0].came_late)) == (3, 1)
