"""When a message counts as played, with clocks that are set by hand. A delivery may be as late as it likes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livepedal.sources.ports.stamps import AFTER, DRIFT, STANDSTILL, WAIT, Alive, Stamps

MS = 1_000_000
SECOND = 1_000 * MS


class Port:
    """A sender, a library that times what comes in, and a process that may stand still. ppm: how much faster the
    library's clock is.
    """

    def __init__(self, timed: bool = True, ppm: float = 0.0) -> None:
        self.alive = Alive(0)
        self.stamps = Stamps(self.alive, timed)
        self.now = 0
        self.timed = timed
        self.rate = 1 + ppm * 1e-6
        self.last: int | None = None

    def run(self, until: int) -> None:
        """The process runs, and says so every 10 ms."""
        while self.now < until:
            self.now = min(self.now + 10 * MS, until)
            self.alive.beat(self.now)

    def deliver(self, played: int) -> tuple[int, bool]:
        """Now, what was played then."""
        came = played if self.timed else self.now
        delta = None if self.last is None else (came - self.last) * self.rate / 1e9
        self.last = came
        return self.stamps.stamp(delta, self.now)


def test_on_time() -> None:
    port = Port()
    for played in (SECOND, 2 * SECOND, 2 * SECOND + MS):
        port.run(played)
        assert port.deliver(played) == (played, False)


@pytest.mark.parametrize("still", [189 * MS, 3 * SECOND, 600 * SECOND])
def test_what_was_played_in_a_standstill_counts_as_when_it_was_played(still: int) -> None:
    """Ctrl-Z for 3 s in the middle of a scale; a stall of the machine."""
    port = Port()
    port.run(SECOND)
    port.deliver(SECOND)
    port.now += still
    scale = [SECOND + still * part // 8 for part in range(1, 8)]
    for played in scale:
        ns, late = port.deliver(played)
        assert abs(ns - played) <= still * DRIFT + 1
        assert not late
        port.now += MS // 2


def test_two_standstills_one_right_after_the_other() -> None:
    port = Port()
    port.run(SECOND)
    port.deliver(SECOND)
    port.now += SECOND
    port.alive.beat(port.now)
    port.now += SECOND
    ns, late = port.deliver(SECOND + 300 * MS)
    assert abs(ns - SECOND - 300 * MS) < MS
    assert not late


@pytest.mark.parametrize("ppm", [-100, 0, 100])
def test_clocks_that_drift_apart(ppm: float) -> None:
    """For an hour: the stamps are never far from the truth, and never after it."""
    port = Port(ppm=ppm)
    for second in range(1, 3_600):
        port.run(second * SECOND)
        ns, late = port.deliver(second * SECOND)
        assert not late
        assert 0 <= second * SECOND - ns < MS


@given(st.lists(st.integers(0, 40 * MS), min_size=1, max_size=60))
def test_delivery_as_late_as_it_may_be_on_a_busy_machine(waits: list[int]) -> None:
    """Once one message came through at once, those after it are right to the drift, however long they waited."""
    port = Port()
    port.run(SECOND)
    port.deliver(SECOND)
    for number, wait in enumerate(waits, start=1):
        played = SECOND + number * 50 * MS
        port.run(played + wait)
        ns, late = port.deliver(played)
        assert abs(ns - played) <= number * 50 * MS * DRIFT + number
        assert not late


@pytest.mark.parametrize("wrong", [float("nan"), float("inf"), -1.0, 1e9, 0.0])
def test_times_that_cannot_be_are_not_believed(wrong: float) -> None:
    """What came while this process was running did not wait for long, whatever the library says."""
    port = Port()
    for number in range(1, 40):
        port.run(number * 100 * MS)
        ns, late = port.stamps.stamp(wrong, port.now)
        assert port.now - WAIT <= ns <= port.now
        assert not late


def test_jack_times_on_delivery_so_what_comes_in_a_heap_is_late() -> None:
    """It counts as from the last moment before the standstill, in the order in which it came."""
    port = Port(timed=False)
    port.run(SECOND)
    assert port.deliver(SECOND) == (SECOND, False)
    port.now += 189 * MS
    for _ in range(7):
        assert port.deliver(port.now) == (SECOND, True)
        assert port.alive.passed(port.now) == SECOND
        port.now += MS // 5
    port.run(port.now + AFTER + MS)
    port.alive.passed(port.now)  # from one time to the next it is sure
    assert port.alive.passed(port.now) == port.now
    assert port.deliver(port.now) == (port.now, False)


def test_a_short_wait_is_no_standstill() -> None:
    port = Port(timed=False)
    port.run(SECOND)
    port.now += STANDSTILL
    assert port.deliver(port.now) == (port.now, False)


def test_a_port_that_was_opened_again_begins_anew() -> None:
    port = Port()
    port.run(SECOND)
    port.deliver(SECOND)
    port.run(10 * SECOND)
    assert port.stamps.stamp(None, port.now) == (port.now, False)


def test_a_clock_that_is_set_back() -> None:
    """Time stands still until it has caught up."""
    port = Port()
    port.run(10 * SECOND)
    port.deliver(port.now)
    port.now -= 5 * SECOND
    assert port.stamps.stamp(0.1, port.now) == (10 * SECOND, False)
