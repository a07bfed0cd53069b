"""How long until something is seen: `python -m tests.benchmarks.startup`.

Whole processes that check a small recording, from their start to the first byte of output and to their end;
the quickest and the median of some runs, beside a Python that does nothing and one that imports mido. Then
what `-X importtime` says takes longest.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import time

from tests.benchmarks.measuring import ROOT, machine, say, table

SMALL = str(ROOT / "recordings" / "01-slack-water.mid")
LIVEPEDAL = [sys.executable, "-m", "livepedal"]
COMMANDS = (
    ("python -c pass", [sys.executable, "-c", "print()"]),
    ("python, import mido", [sys.executable, "-c", "import mido; print()"]),
    ("livepedal --version", [*LIVEPEDAL, "--version"]),
    ("check (small file)", [*LIVEPEDAL, "check", SMALL]),
    ("check --only pedals", [*LIVEPEDAL, "check", "--only", "pedals", SMALL]),
    ("check --json --only pedals", [*LIVEPEDAL, "check", "--json", "--only", "pedals", SMALL]),
)


def once(command: list[str]) -> tuple[float, float, float]:
    """(seconds to the first byte, to the end, CPU seconds)."""
    before = os.times()
    begun = time.perf_counter()
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL) as run:
        assert run.stdout is not None
        os.read(run.stdout.fileno(), 1)
        first = time.perf_counter() - begun
        run.stdout.read()
    whole = time.perf_counter() - begun
    after = os.times()
    cpu = after.children_user + after.children_system - before.children_user - before.children_system
    return first, whole, cpu


def imports(command: list[str], most: int) -> list[list[str]]:
    """The imports that took longest by themselves: name, own and cumulative ms."""
    options = [command[0], "-X", "importtime", *command[1:]]
    run = subprocess.run(options, cwd=ROOT, capture_output=True, text=True, check=False)
    found = []
    for line in run.stderr.splitlines():
        if line.startswith("import time:") and "self [us]" not in line:
            own, whole, name = line.removeprefix("import time:").split("|")
            found.append((int(own), int(whole), name.strip()))
    found.sort(reverse=True)
    return [[name, f"{own / 1e3:.1f}", f"{whole / 1e3:.1f}"] for own, whole, name in found[:most]]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=9)
    parser.add_argument("--imports", type=int, default=12, help="so many of the slowest imports are listed")
    options = parser.parse_args()
    say(machine())
    rows = []
    for name, command in COMMANDS:
        once(command)  # the first run fills the caches
        firsts, wholes, cpus = zip(*(once(command) for _ in range(options.runs)), strict=True)
        rows.append(
            [
                name,
                *(f"{x * 1e3:.0f}" for x in (min(firsts), statistics.median(firsts), min(wholes), min(cpus))),
            ]
        )
    say(table(("process", "first output ms", "median", "end ms", "CPU ms"), rows))
    say()
    say("slowest imports of check --only pedals:")
    say(table(("module", "own ms", "with what it imports"), imports(COMMANDS[4][1], options.imports)))


if __name__ == "__main__":
    main()
