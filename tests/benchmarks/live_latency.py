"""How long a verdict takes, live: from the callback that a note-on arrives in to its verdict and its frame.

    python -m tests.benchmarks.live_latency [RECORDING ...]

A JACK server with the dummy driver, a sender in a process of its own, and `livepedal listen`'s own threads in
this one, with the dashboard drawn on a pseudo-terminal at its normal rate. JACK's period is named beside the
figures: what a note needs to get here is JACK's matter and not in them. The share of drawing is the processor
time of the thread that draws. Nothing is asserted.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from rich.console import Console

from livepedal.live.listen import Listener
from livepedal.live.setup import setup_of
from livepedal.model.findings import Finding
from livepedal.sources.journal import Header, Heard, JournalWriter
from livepedal.sources.ports.libraries import quiet
from livepedal.sources.ports.stamps import clock
from livepedal.sources.ports.system import Inputs
from livepedal.views.dashboard import terminal
from tests.live.jack import PERIOD, Server, missing, send
from tests.places import RECORDINGS

COLUMNS, ROWS = 100, 30
DEFAULT = ("03-paddle-wheel", "10-hawsers", "11-weir", "14-engine-bells")


class Measured(Listener):
    """A listener that notes when what was judged and shown. Times in ns."""

    verdicts: list[int]
    frames: list[int]

    def begin(self, sender: subprocess.Popen[bytes]) -> None:
        self.verdicts, self.frames = [], []
        self._sender = sender
        self._over_at: float | None = None
        self._notes = 0
        self._waiting: list[int] = []  # stamps of notes that no snapshot shows yet
        self._pictured: list[int] = []  # that the last snapshot shows
        self._in_frame: list[int] = []  # that the frame being drawn shows
        self._draw = self.judging._picture
        self.judging.judged = self._judged
        self.judging._picture = self._picture  # type: ignore[method-assign]
        self.began = time.monotonic()
        self.drew = time.thread_time()

    def _judged(self, heard: Heard, found: tuple[Finding, ...]) -> None:
        notes, self._notes = self._notes, self.judging.session.take.notes
        if self._notes > notes:
            stamp = self.hearing.zero + heard.us * 1000
            self.verdicts.append(clock() - stamp)
            self._waiting.append(stamp)

    def _picture(self) -> None:
        self._draw()
        waiting, self._waiting = self._waiting, []
        self._pictured += waiting

    def scene(self):  # type: ignore[no-untyped-def]
        scene = super().scene()
        self._in_frame, self._pictured = self._pictured, []
        return scene

    def happened(self) -> int:
        """Asked for right after a frame was drawn, too."""
        now = clock()
        self.frames += [now - stamp for stamp in self._in_frame]
        self._in_frame = []
        return super().happened()

    def goes_on(self) -> bool:
        if self._sender.poll() is not None and self._over_at is None:
            self._over_at = time.monotonic() + 1.0
        return super().goes_on() and (self._over_at is None or time.monotonic() < self._over_at)


def measure(server: Server, recording: Path, folder: Path) -> Measured:
    header = Header("2024-05-01T20:15:00+02:00", tempo=500_000)
    journal = JournalWriter(folder / f"{recording.stem}.journal", header)
    master, slave = os.openpty()
    drain = subprocess.Popen(["cat"], stdin=master, stdout=subprocess.DEVNULL)
    os.environ.setdefault("TERM", "xterm-256color")
    console = Console(
        file=os.fdopen(slave, "w", encoding="utf-8"),
        force_terminal=True,
        width=COLUMNS,
        height=ROWS,
        color_system="truecolor",
    )
    inputs = Inputs("jack")
    listener = Measured(setup_of(header), journal, folder, inputs=inputs)
    before = server.ports()
    inputs.open(0, None, listener.receiver(0))
    listener.plugged.name(0, "livepedal")
    (port,) = (name for name in server.ports() - before if name.endswith(":livepedal"))
    listener.start()
    listener.begin(send(server, port, folder / "log", "file", str(recording), "1"))
    terminal.run(listener, console)
    listener.wall = time.monotonic() - listener.began  # type: ignore[attr-defined]
    listener.cpu = time.thread_time() - listener.drew  # type: ignore[attr-defined]
    listener.end()
    console.file.close()
    os.close(master)
    drain.kill()
    drain.wait()
    return listener


def at(values: list[int], share: float) -> str:
    """A quantile in milliseconds."""
    return f"{sorted(values)[min(int(len(values) * share), len(values) - 1)] / 1e6:7.2f}"


def main() -> None:
    why = missing()
    if why is not None:
        sys.exit(f"No figures: {why}.")
    names = sys.argv[1:] or [str(RECORDINGS / f"{name}.mid") for name in DEFAULT]
    server = Server()
    os.environ.update(JACK_DEFAULT_SERVER=server.name, JACK_NO_START_SERVER="1")
    print(
        f"JACK dummy driver, period {PERIOD} frames at 48 kHz = {PERIOD / 48:.2f} ms; {COLUMNS}x{ROWS} columns,"
    )
    print(
        f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors; milliseconds from the callback"
    )
    print(
        f"{'recording':<24}{'notes':>6}   {'verdict p50':>11} {'p99':>7} {'max':>7}"
        f"   {'frame p50':>9} {'p99':>7} {'max':>7}   drawing"
    )
    verdicts: list[int] = []
    frames: list[int] = []
    try:
        with tempfile.TemporaryDirectory() as folder, quiet():
            for name in names:
                one = measure(server, Path(name), Path(folder))
                verdicts += one.verdicts
                frames += one.frames
                report(Path(name).stem, one.verdicts, one.frames, one.cpu / one.wall)  # type: ignore[attr-defined]
    finally:
        server.close()
    report("all", verdicts, frames, None)


def report(name: str, verdicts: list[int], frames: list[int], share: float | None) -> None:
    drawing = "" if share is None else f"{share:8.1%}"
    print(
        f"{name:<24}{len(verdicts):>6}   {at(verdicts, 0.5):>11} {at(verdicts, 0.99)} {at(verdicts, 1)}"
        f"   {at(frames, 0.5):>9} {at(frames, 0.99)} {at(frames, 1)}   {drawing}",
        flush=True,
    )


if __name__ == "__main__":
    main()
