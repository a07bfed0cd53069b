"""From a note-on to the verdict of all three players: `python -m tests.benchmarks.latency`.

What is timed is `Monitor.feed` of each note-on: the verdict of every player, and the finding with its reasons
where there is one. The other layers are left out (`--all` judges them too). Live, the consumer lets time pass
between two attacks, in which attacks close. That is done here too, but not as part of a note (`idle`, a column of its own), since no verdict waits
for it; so it is with garbage. Beside the figures stands 0.96 ms, the time that one note-on takes on a MIDI
cable (three bytes of ten bits, 31,250 baud; MIDI 1.0).

Both wall time and the process's CPU time are taken for each note; on a machine that others use too, the
second says what the program needs.
"""

from __future__ import annotations

import argparse
import gc
import time
from collections.abc import Iterable, Sequence
from dataclasses import replace

from livepedal.harp import Figures
from livepedal.model.findings import Layer
from livepedal.model.watching import Monitor
from livepedal.music.events import Event, NoteOn
from tests.benchmarks.measuring import (
    GROUPS,
    dense,
    files,
    machine,
    parts_of,
    percentile,
    say,
    table,
    walking,
)

CABLE = 0.96  # ms


def faster(events: Iterable[Event], ratio: int) -> list[Event]:
    """The same music `ratio` times as fast; equal moments stay equal."""
    return [replace(event, us=event.us // ratio) for event in events]


class Times:
    """Milliseconds from note-on to verdict."""

    def __init__(self) -> None:
        self.cpu: list[float] = []
        self.wall: list[float] = []
        self.idle: list[float] = []
        self.bounded = 0

    def take(self, events: Sequence[Event], layers: Sequence[Layer]) -> None:
        monitor = Monitor(Figures.builtin(), Figures.builtin().instrument("47"), only=layers)
        window = monitor.figures.window.attack
        now = 0
        for event in events:
            if event.us > now:
                # Between two moments there is time: nobody waits for this.
                begun = time.process_time_ns()
                if event.us - now > window:
                    monitor.advance(event.us - 1)
                self.idle.append((time.process_time_ns() - begun) / 1e6)
                now = event.us
            if isinstance(event, NoteOn):
                wall, cpu = time.perf_counter_ns(), time.process_time_ns()
                monitor.feed(event)
                cpu, wall = time.process_time_ns() - cpu, time.perf_counter_ns() - wall
                self.cpu.append(cpu / 1e6)
                self.wall.append(wall / 1e6)
            else:
                monitor.feed(event)
        self.bounded += monitor.bounded

    def row(self, name: str) -> list[str]:
        cells = [name, str(len(self.cpu))]
        for values in (sorted(self.cpu), sorted(self.wall)):
            cells += [f"{percentile(values, share):.3f}" for share in (0.5, 0.99, 0.999, 1)]
        cells.append(f"{100 * sum(value <= CABLE for value in self.cpu) / max(1, len(self.cpu)):.1f} %")
        cells.append(f"{percentile(sorted(self.idle), 0.99):.1f}")
        cells.append(str(self.bounded))
        return cells


HEADER = (
    "music", "notes", "CPU p50", "p99", "p99.9", "max", "wall p50", "p99", "p99.9", "max",
    "in 0.96 ms", "idle p99", "bounded",
)  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--all", action="store_true", help="all layers, not the pedals alone")
    parser.add_argument("--each", action="store_true", help="a row for every file")
    parser.add_argument("--attacks", type=int, default=1500, help="attacks of the dense music")
    parser.add_argument("--groups", nargs="*", choices=GROUPS, default=GROUPS, help="which music")
    options = parser.parse_args()
    layers = tuple(Layer) if options.all else (Layer.PEDALS,)
    say(machine())
    say(
        f"note-on to verdict of all players, ms; a note-on on a cable: {CABLE} ms; layers: {', '.join(layers)}"
    )
    rows: list[list[str]] = []
    gc.disable()
    for group, paths in files(options.groups):
        for ratio in (1, 4):
            whole = Times()
            for path in paths:
                one = Times()
                for part in parts_of(path):
                    gc.collect()
                    events = faster(part.events, ratio)
                    for times in (one, whole) if options.each else (whole,):
                        times.take(events, layers)
                if options.each:
                    rows.append(one.row(f"  {path.stem[:40]} x{ratio}"))
            rows.append(whole.row(f"{group} x{ratio}"))
    for name, events in (
        ("25 a second, any pitch", dense(options.attacks)),
        ("25 a second, runs and chords", walking(options.attacks)),
    ):
        gc.collect()
        times = Times()
        times.take(events, layers)
        rows.append(times.row(name))
    gc.enable()
    say(table(HEADER, rows))


if __name__ == "__main__":
    main()
