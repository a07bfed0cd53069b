"""What the dashboard costs, and whether it costs a verdict anything: `python -m tests.benchmarks.drawing [RECORDING ...]`.

Each recording goes through `livepedal listen`'s own threads in real time, fed by a thread in the place of a
port, twice by turns: with the dashboard drawn on a pseudo-terminal at its normal rate, and without. Both
within one run, since a shared machine is never the same twice. `verdict` is the time from the stamp in the
callback to the verdict (ms), `drawing` the processor time of the thread that draws, `pictures` that of the
judge's snapshots, both as shares of one core over the time that the music lasts. `findings` are those that were
told: on a screen without any, less is drawn. Nothing is asserted; a fault in any stage ends it.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from rich.console import Console

from livepedal.live.listen import Listener
from livepedal.live.setup import setup_of
from livepedal.model.findings import Finding
from livepedal.music.events import NoteOff, NoteOn
from livepedal.sources.journal import Header, Heard, JournalWriter
from livepedal.sources.ports.stamps import clock
from livepedal.views.dashboard import terminal
from tests.benchmarks.measuring import ROOT, machine, parts_of, percentile, say, table

DEFAULT = ("03-paddle-wheel", "10-hawsers", "11-weir", "14-engine-bells")
SIZES = ((80, 24), (120, 40))


class Measured(Listener):
    """A listener that notes when each note was judged, and what its pictures took. Times in ns."""

    def begin(self) -> None:
        self.verdicts: list[int] = []
        self.pictures = 0
        self.frames = 0
        self._draw = self.judging._picture
        self.judging.judged = self._judged  # type: ignore[method-assign]
        self.judging._picture = self._picture  # type: ignore[method-assign]

    def _judged(self, heard: Heard, found: tuple[Finding, ...]) -> None:
        self.verdicts.append(clock() - self.hearing.zero - heard.us * 1000)

    def _picture(self) -> None:
        before = time.thread_time_ns()
        self._draw()
        self.pictures += time.thread_time_ns() - before

    def scene(self):  # type: ignore[no-untyped-def]
        self.frames += 1
        return super().scene()

    over = False

    def goes_on(self) -> bool:
        return super().goes_on() and not self.over


def play(listener: Measured, recording: Path) -> None:
    """Feed the recording as a port would."""
    receive = listener.receiver(0)
    began = time.monotonic()
    for event in parts_of(recording)[0].events:
        time.sleep(max(began + event.us / 1e6 - time.monotonic(), 0))
        if isinstance(event, NoteOn):
            receive((0x90, event.pitch, 64))
        elif isinstance(event, NoteOff):
            receive((0x80, event.pitch, 64))
    time.sleep(1.0)
    listener.over = True


def measure(recording: Path, folder: Path, size: tuple[int, int] | None) -> tuple[Measured, float, float]:
    """The listener; the shares of drawing and of pictures."""
    header = Header("2024-05-01T20:15:00+02:00", tempo=500_000)
    listener = Measured(
        setup_of(header),
        JournalWriter(folder / f"{time.monotonic_ns()}.journal", header),
        folder,
    )
    listener.begin()
    listener.start()
    sender = threading.Thread(target=play, args=(listener, recording))
    began, drew = time.monotonic(), time.thread_time()
    sender.start()
    if size is None:
        sender.join()
    else:
        master, slave = os.openpty()
        drain = subprocess.Popen(["cat"], stdin=master, stdout=subprocess.DEVNULL)
        console = Console(
            file=os.fdopen(slave, "w", encoding="utf-8"),
            force_terminal=True,
            width=size[0],
            height=size[1],
            color_system="truecolor",
        )
        terminal.run(listener, console)
        console.file.close()
        os.close(master)
        drain.kill()
        drain.wait()
    wall, drawing = time.monotonic() - began, time.thread_time() - drew
    listener.end()
    for fault in listener.faults.first.values():
        raise fault
    return listener, drawing / wall, listener.pictures / 1e9 / wall


def main() -> None:
    os.environ.setdefault("TERM", "xterm-256color")
    recordings = [Path(name) for name in sys.argv[1:]] or [ROOT / "recordings" / f"{n}.mid" for n in DEFAULT]
    say(machine())
    rows: list[list[str]] = []
    with tempfile.TemporaryDirectory() as folder:
        for recording in recordings:
            for size in (None, *SIZES, None):
                listener, drawing, pictures = measure(recording, Path(folder), size)
                values = sorted(value / 1e6 for value in listener.verdicts)
                rows.append(
                    [
                        f"{recording.stem} {'x'.join(map(str, size)) if size else 'not drawn'}",
                        str(len(values)),
                        *(f"{percentile(values, share):.2f}" for share in (0.5, 0.99, 1)),
                        str(listener.frames),
                        str(sum(saved.findings for saved in listener.clerk.written)),
                        f"{drawing:.1%}",
                        f"{pictures:.1%}",
                    ]
                )
                say(" ".join(rows[-1]))
    header = ("recording", "messages", "verdict p50", "p99", "max", "frames", "findings", "drawing", "pictures")
    say(table(header, rows))


if __name__ == "__main__":
    main()
