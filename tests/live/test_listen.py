"""The threads of a session at live ports."""

from __future__ import annotations

from pathlib import Path

from livepedal.live.listen import Listener
from livepedal.model.findings import Finding
from livepedal.sources.journal import Header, Heard, JournalWriter, read_journal
from tests.live.streams import setup


def test_what_waits_keeps_the_time_at_which_it_was_played(tmp_path: Path) -> None:
    """A machine that is busy judges late; that must not change the rhythm that it judges."""
    now = 0  # ns
    header = Header("2026-01-01 12.00.00", "test")
    path = tmp_path / "x.journal"
    listener = Listener(setup(), JournalWriter(path, header), tmp_path, clock=lambda: now)
    receive = listener.receiver(0)
    for number in range(10):
        now = number * 100_000_000
        receive((0x90, 60 + number, 64))

    def slow(us: int, found: tuple[Finding, ...]) -> None:
        nonlocal now
        now += 1_000_000_000

    listener.judging.judged = slow  # type: ignore[method-assign]
    listener.start()
    listener.end()
    heard = [entry.us for entry in read_journal(path).records if isinstance(entry, Heard)]
    assert heard == [number * 100_000 for number in range(10)]
