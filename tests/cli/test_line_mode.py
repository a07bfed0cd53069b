"""Typed lines: as they come from a terminal, down a pipe, in pieces, or not at all."""

from __future__ import annotations

import os
import pty
import signal
import subprocess
import sys
import time
from types import SimpleNamespace

import pytest

from livepedal.cli.line_mode import TypedLines


def lines_of(keys: TypedLines, count: int) -> list[str]:
    end = time.monotonic() + 60
    lines: list[str] = []
    while len(lines) < count:
        assert time.monotonic() < end
        lines += keys.wait(0.05)
    return lines + keys.wait(0.05)


def test_a_pipe_that_writes_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    """A line is whole at its end, whatever pieces it comes in; the last one needs none."""
    theirs, ours = os.pipe()
    with os.fdopen(theirs, "rb", buffering=0) as raw:
        monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=SimpleNamespace(raw=raw)))
        keys = TypedLines()
        keys.start()
        _typed(keys, ours)


def _typed(keys: TypedLines, ours: int) -> None:
    flat = "s E♭ major\r\nk\nq".encode()
    for piece in (flat[:3], flat[3:4], flat[4:14]):
        os.write(ours, piece)
        time.sleep(0.02)
    assert lines_of(keys, 1) == ["s E♭ major"]
    os.write(ours, flat[14:])
    os.close(ours)
    assert lines_of(keys, 2) == ["k", "q"]
    assert keys.wait(0.05) == []


def test_nothing_to_read_from(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", None)
    keys = TypedLines()
    keys.start()
    assert keys.wait(0.0) == []


def test_a_job_in_the_background_is_not_stopped() -> None:
    """It goes on without keys, as its own words show, and may end while the thread still waits for some."""
    script = (
        "import os, sys, time\n"
        "from livepedal.cli.line_mode import TypedLines\n"
        "keys = TypedLines(); keys.start(); print(keys.wait(1.0), flush=True)\n"
    )
    leader, terminal = pty.openpty()
    # A shell with job control, whose job is in the background of its terminal.
    shell = subprocess.Popen(
        ["bash", "-ic", f"{sys.executable} -c '{script}' & wait"],
        stdin=terminal,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        out, _ = shell.communicate(timeout=60)
    finally:
        shell.kill()
        os.close(leader)
        os.close(terminal)
    assert b"[]" in out


def test_a_signal_whose_handler_outlasts_the_wait() -> None:
    """The wait is over then; it once went on for ever, and Ctrl-C no longer ended a session."""
    signals = 0

    def slow(number: int, frame: object) -> None:
        nonlocal signals
        signals += 1
        if signals == 100:
            raise AssertionError("it still waits")
        time.sleep(0.1)

    before = signal.signal(signal.SIGALRM, slow)
    signal.setitimer(signal.ITIMER_REAL, 0.02, 0.11)
    try:
        assert TypedLines().wait(0.05) == []
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
