"""CPU for each attack, whatever is played: `python -m tests.benchmarks.per_attack`.

All that `Monitor.feed` and `Monitor.advance` take from the first note of an attack until the next attack begins, on real
music and on music that is hard to judge (hard.py), for the pedals alone and for all layers together. CPU time of the
process, ms; garbage is collected between two pieces, never within one.
"""

from __future__ import annotations

import argparse
import gc
import time
from collections.abc import Iterable

from livepedal.harp import Figures
from livepedal.model.findings import Layer
from livepedal.model.watching import Monitor
from livepedal.music.events import Event, NoteOn
from tests.benchmarks.hard import hard
from tests.benchmarks.measuring import MUSIC, files, machine, parts_of, percentile, say, table

LAYERS = {"pedals": (Layer.PEDALS,), "all": tuple(Layer)}
HEADER = ("music", "layers", "attacks", "p50", "p99", "p99.9", "max", "over 100 ms", "not decided")


def took(events: Iterable[Event], layers: tuple[Layer, ...]) -> tuple[list[float], int]:
    """The ms of each attack, and how many of them some layer left undecided."""
    monitor = Monitor(Figures.builtin(), Figures.builtin().instrument("47"), only=layers)
    found: list[float] = []
    attacks, spent, now = 0, 0, 0
    for event in events:
        begun = time.process_time_ns()
        if event.us > now:
            monitor.advance(event.us - 1)
            now = event.us
        monitor.feed(event)
        spent += time.process_time_ns() - begun
        if isinstance(event, NoteOn) and monitor.attacks > attacks:
            # What closed the last attack is counted with the one that begins, which makes no difference to the sum.
            if attacks:
                found.append(spent / 1e6)
                spent = 0
            attacks = monitor.attacks
    found.append(spent / 1e6)
    return found, monitor.bounded


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--attacks", type=int, default=500, help="of each kind of hard music")
    parser.add_argument(
        "--groups", nargs="*", default=["recordings", "harp", "easy", "keyboard"], help="which music"
    )
    parser.add_argument("--layers", choices=LAYERS, nargs="*", default=list(LAYERS))
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    say(machine())
    rows = []
    gc.disable()
    for layers in options.layers:
        music: list[tuple[str, list[Iterable[Event]]]] = [
            (name, [part.events for path in paths for part in parts_of(path)])
            for name, paths in (files(options.groups) if options.groups else [])
        ]
        music += [(name, [events]) for name, events in hard(options.attacks, options.seed)]
        whole: list[float] = []
        undecided = 0
        for name, pieces in music:
            times: list[float] = []
            bounded = 0
            for events in pieces:
                gc.collect()
                one, more = took(events, LAYERS[layers])
                times += one
                bounded += more
            rows.append(_row(name, layers, times, bounded))
            say(" ".join(rows[-1]))
            whole += times
            undecided += bounded
        rows.append(_row("all of it", layers, whole, undecided))
    gc.enable()
    say(table(HEADER, rows))
    if not MUSIC.exists():
        say("without ../shared/music")


def _row(name: str, layers: str, times: list[float], bounded: int) -> list[str]:
    ordered = sorted(times)
    shares = [f"{percentile(ordered, share):.2f}" for share in (0.5, 0.99, 0.999, 1)]
    return [name, layers, str(len(times)), *shares, str(sum(ms > 100 for ms in times)), str(bounded)]


if __name__ == "__main__":
    main()
