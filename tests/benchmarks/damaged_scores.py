"""Damaged and hostile scores through `check`: one sentence each, how long the slowest takes, how much memory the largest.

    python -m tests.benchmarks.damaged_scores [--count 200] [--seed 1]

Each score is judged in a process of its own, so that its time (of the processor) and its peak of memory are its own. One that is
still well enough to be read is judged like any other, for the pedals alone.
"""

from __future__ import annotations

import argparse
import multiprocessing
import random
import resource
import tempfile
import time
from collections import Counter
from multiprocessing.connection import Connection
from pathlib import Path

from livepedal.advice.check import check_file
from livepedal.errors import LivepedalError
from tests.sources.scores.damaging import DAMAGES


def judged(data: bytes) -> str:
    """ "judged", "one sentence", or what is wrong."""
    try:
        check_file(data, name="ferry.musicxml", only=("pedals",))
    except LivepedalError as error:
        text = str(error)
        good = text.endswith(".") and "\n" not in text and len(text) < 400
        return "one sentence" if good else f"WRONG: {text[:300]}"
    except BaseException as error:
        return f"ESCAPED: {type(error).__name__}: {error}"
    return "judged"


def _make(kind: int, seed: int, path: Path) -> None:
    path.write_bytes(DAMAGES[kind](random.Random(seed)))


def _one(path: Path, answer: Connection) -> None:
    data = path.read_bytes()
    start = time.process_time()
    said = judged(data)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    answer.send((said, time.process_time() - start, peak, len(data)))


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    said: Counter[str] = Counter()
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "score"
        for number in range(options.count):
            kind, seed = number % len(DAMAGES), options.seed + number
            maker = multiprocessing.Process(target=_make, args=(kind, seed, path))
            maker.start()
            maker.join()
            here, there = multiprocessing.Pipe()
            process = multiprocessing.Process(target=_one, args=(path, there))
            process.start()
            result = here.recv() if here.poll(120) else ("HANGS", 120.0, 0.0, 0)
            process.kill()
            process.join()
            said[result[0]] += 1
            rows.append((*result, DAMAGES[kind].__name__, seed))
    for text, count in said.most_common():
        print(f"{count:5} {text}")
    for what, key, form in (("slowest, s of the processor", 1, ".2f"), ("most memory, MB", 2, ".0f")):
        row = max(rows, key=lambda one: one[key])
        print(f"{what}: {row[key]:{form}} ({row[4]} {row[5]}, {row[3]:,} bytes, {row[0]})")


if __name__ == "__main__":
    main()
