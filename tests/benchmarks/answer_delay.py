"""How long outputs take, over JACK: from the verdict to the answer that arrives, and from a message that comes in to the
same message that has gone on.

    python -m tests.benchmarks.answer_delay [NOTES]

A JACK server with the dummy driver; in this process the session's own threads, and an ear at the far end of each
output. What JACK needs to deliver (a period on the way out) is in the figures, and named beside them. Nothing is
asserted; the goal for an answer is 10 ms.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path

from livepedal.live.listen import Listener
from livepedal.live.plugged import Outs
from livepedal.live.setup import setup_of
from livepedal.model.findings import Finding, Verdict
from livepedal.sources.journal import Header, Heard, JournalWriter
from livepedal.sources.ports.libraries import quiet
from livepedal.sources.ports.sender import Sender
from livepedal.sources.ports.system import Inputs
from tests.benchmarks.live_latency import at
from tests.live.jack import PERIOD, Server, missing, until

GAP = 0.05  # seconds between two messages
PITCHES = (67, 68, 69, 68)  # G, G♯, A: two pedals to and fro at ten notes a second, which nobody can


class Ear:
    """An input that notes when what comes."""

    def __init__(self, name: str) -> None:
        self.heard: list[tuple[int, bytes]] = []
        self._inputs = Inputs("jack")
        self._inputs.open(
            0, None, lambda data, delta: self.heard.append((time.monotonic_ns(), bytes(data)))
        )
        self.name = name

    def close(self) -> None:
        self._inputs.close()


def measure(server: Server, folder: Path, notes: int) -> tuple[list[int], list[int], list[int]]:
    """(verdict to answer, in to through, in to verdict), in ns."""
    ports = [server.ports()]
    ears = []
    for name in ("answers", "through"):
        ears.append(Ear(name))
        ports.append(server.ports())
    answers_at, through_at = (
        min(name for name in after - before if name.endswith(":livepedal"))
        for before, after in pairwise(ports)
    )
    outs = Outs(Sender(through_at, "through", "jack"), Sender(answers_at, "answer", "jack"))
    header = Header("2024-05-01T20:15:00+02:00")
    journal = JournalWriter(folder / "x.journal", header)
    setup = setup_of(header)
    listener = Listener(setup, journal, folder, outs=outs)
    verdicts: list[int] = []
    judged = listener.judging.judged

    def noting(heard: Heard, found: tuple[Finding, ...]) -> None:
        if any(one.verdict is Verdict.UNPLAYABLE and not one.withdrawn for one in found):
            verdicts.append(time.monotonic_ns())
        judged(heard, found)

    listener.judging.judged = noting
    receive = listener.receiver(0)
    listener.start()
    sent = []
    for number in range(2 * notes):
        data = (0x80 if number % 2 else 0x90, PITCHES[number // 2 % len(PITCHES)], 64)
        sent.append(time.monotonic_ns())
        receive(data, (sent[-1] - sent[-2]) / 1e9 if number else None)
        time.sleep(max(GAP - (time.monotonic_ns() - sent[-1]) / 1e9, 0))
    until(lambda: len(ears[1].heard) >= 2 * notes, "what goes through")
    time.sleep(0.5)
    listener.end()
    answer = bytes((0x99, setup.figures.answer.unplayable, setup.figures.answer.velocity))
    arrived = [ns for ns, data in ears[0].heard if data == answer]
    for ear in ears:
        ear.close()
    # One answer an attack: a verdict that revises an attack that was answered has none.
    delays = []
    for ns in arrived:
        delays.append(ns - max(one for one in verdicts if one <= ns))
    through = [ns - one for (ns, _), one in zip(ears[1].heard, sent, strict=False)]
    return delays, through, verdicts


def main() -> None:
    why = missing()
    if why is not None:
        sys.exit(f"No figures: {why}.")
    notes = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    server = Server()
    os.environ.update(JACK_DEFAULT_SERVER=server.name, JACK_NO_START_SERVER="1")
    print(f"JACK dummy driver, period {PERIOD} frames at 48 kHz = {PERIOD / 48:.2f} ms;", end=" ")
    print(
        f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors; {notes} notes; milliseconds"
    )
    try:
        with tempfile.TemporaryDirectory() as folder, quiet():
            delays, through, _ = measure(server, Path(folder), notes)
    finally:
        server.close()
    for name, values in (("verdict to answer", delays), ("in to through", through)):
        print(
            f"{name:<20}{len(values):>6}   p50 {at(values, 0.5)}   p99 {at(values, 0.99)}   max {at(values, 1)}"
        )


if __name__ == "__main__":
    main()
