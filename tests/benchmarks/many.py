"""Many files in whole processes: `python -m tests.benchmarks.many`.

Forty exports of 2,000 harp-like notes through `check --only pedals`, against a process that reads and iterates
them with mido; start-up is part of both, once. Then 400 files by one process and by two. Then how much memory
the largest process takes for more and more files (`ru_maxrss`), and with `--only long` for longer and longer ones, all
layers judged, each in a process of its own.

Figures are of the quickest of some runs, of both sides in turn; the ratio is what counts. The wall time of two
processes says something only on a machine with two idle cores: the load stands above the table, and beside the
speed-up of livepedal stands that of two processes that only count, which is what the machine gives just then.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from tests.benchmarks.measuring import ROOT, generated, machine, say, table

MIDO = """
import pathlib, sys, mido
for path in sorted(pathlib.Path(sys.argv[1]).glob("*.mid")):
    for message in mido.MidiFile(path): pass
"""
MEMORY = """
import resource, sys
from livepedal.cli import main
code = main(["check", *sys.argv[2:], sys.argv[1]])
most = [resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
used = resource.getrusage(resource.RUSAGE_SELF)
print(used.ru_utime + used.ru_stime, max(most), file=sys.stderr)
"""
UNIT = 1024 if sys.platform != "darwin" else 1024 * 1024
LONG = (1_000, 10_000, 30_000)  # notes
CHECK = [sys.executable, "-m", "livepedal", "check", "--only", "pedals"]


def exports(folder: Path, files: int, notes: int) -> Path:
    """A folder of so many files; each is other music."""
    folder.mkdir()
    for number in range(files):
        (folder / f"cue {number:04}.mid").write_bytes(generated(notes, seed=1000 + number))
    return folder


def once(command: Sequence[str]) -> tuple[float, float]:
    """(wall, CPU) seconds of a whole process and its children."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.perf_counter()
    subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)
    wall = time.perf_counter() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return wall, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def in_turn(commands: Sequence[Sequence[str]], runs: int) -> list[tuple[float, float]]:
    """The least wall and the least CPU seconds of each, all run one after the other, so many times."""
    found = [[once(command) for command in commands] for _ in range(runs)]
    return [(min(run[n][0] for run in found), min(run[n][1] for run in found)) for n in range(len(commands))]


def count(number: int) -> int:
    total = 0
    for n in range(number):
        total += n & 3
    return total


def two_cores() -> float:
    """How much faster two processes count than one, here and now."""
    work = [6_000_000] * 8
    times = []
    for jobs in (1, 2):
        with ProcessPoolExecutor(jobs) as pool:
            list(pool.map(count, [1, 1]))
            begun = time.perf_counter()
            list(pool.map(count, work))
            times.append(time.perf_counter() - begun)
    return times[0] / times[1]


def against_mido(folder: Path, runs: int) -> None:
    forms = (("table", []), ("JSON lines, with the pedalling", ["--jsonl"]))
    commands = [[*CHECK, *options, str(folder)] for _, options in forms]
    *mine, mido = in_turn([*commands, [sys.executable, "-c", MIDO, str(folder)]], runs)
    rows = [
        [name, f"{wall:.2f}", f"{cpu:.2f}", f"{wall / mido[0]:.2f}", f"{cpu / mido[1]:.2f}"]
        for (name, _), (wall, cpu) in zip(forms, mine, strict=True)
    ]
    rows.append(["mido, reading and iterating", f"{mido[0]:.2f}", f"{mido[1]:.2f}", "1", "1"])
    say(table(("40 exports of 2,000 notes", "wall s", "CPU s", "wall / mido", "CPU / mido"), rows))


def jobs(folder: Path, runs: int) -> None:
    one, two = in_turn([[*CHECK, "--jobs", n, str(folder)] for n in ("1", "2")], runs)
    rows = [
        ["one process", f"{one[0]:.2f}", f"{one[1]:.2f}", ""],
        ["--jobs 2", f"{two[0]:.2f}", f"{two[1]:.2f}", f"{one[0] / two[0]:.2f}"],
        ["counting, in two processes", "", "", f"{two_cores():.2f}"],
    ]
    say(table(("400 files", "wall s", "CPU s", "times as fast"), rows))


def memory(folder: Path) -> None:
    paths = sorted(folder.glob("*.mid"))
    rows = []
    for files in (20, 100, 400):
        row = [str(files)]
        with tempfile.TemporaryDirectory() as place:
            for path in paths[:files]:
                (Path(place) / path.name).symlink_to(path)
            for options in ([], ["--jsonl"], ["--jobs", "2"]):
                _, peak = taken(place, "--only", "pedals", *options)
                row.append(f"{peak:.1f}")
        rows.append(row)
    say(table(("files", "table MiB", "--jsonl", "--jobs 2, the largest"), rows))


def taken(path: str, *options: str) -> tuple[float, float]:
    """CPU seconds, and the most memory (MiB), of a process that checks this."""
    run = subprocess.run(
        [sys.executable, "-c", MEMORY, path, *options],
        cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, check=True,
    )  # fmt: skip
    cpu, peak = run.stderr.split()[-2:]
    return float(cpu), int(peak) / UNIT


def long_files(folder: Path) -> None:
    rows, before = [], (0, 0.0)
    for notes in LONG:
        path = folder / f"{notes}.mid"
        path.write_bytes(generated(notes))
        cpu, peak = taken(str(path))
        more = (peak - before[1]) * 1024 * 1024 / (notes - before[0])
        rows.append(
            [f"{notes:,}", f"{peak:.1f}", f"{more:.0f}" if before[0] else "", f"{1000 * cpu / notes:.2f}"]
        )
        before = notes, peak
    say(table(("notes of one file", "MiB", "bytes for each more", "CPU ms a note"), rows))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument(
        "--only", nargs="*", choices=("mido", "jobs", "memory", "long"), default=("mido", "jobs", "memory")
    )
    parser.add_argument("--notes", type=int, default=200, help="notes of each of the 400 files")
    options = parser.parse_args()
    say(machine())
    with tempfile.TemporaryDirectory() as place:
        if "mido" in options.only:
            against_mido(exports(Path(place) / "forty", 40, 2_000), options.runs)
            say()
        if "jobs" in options.only or "memory" in options.only:
            many = exports(Path(place) / "many", 400, options.notes)
        if "jobs" in options.only:
            jobs(many, options.runs)
            say()
        if "memory" in options.only:
            memory(many)
        if "long" in options.only:
            long_files(Path(place))


if __name__ == "__main__":
    main()
