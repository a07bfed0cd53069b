"""Bad files, bad streams, bad music: how many were tried, what got past the boundary, what was slowest.

    python -m tests.benchmarks.fuzz files [--count N] [--minutes M] [--guided] [--finds FOLDER]
    python -m tests.benchmarks.fuzz shapes [--name PART_OF_NAME]
    python -m tests.benchmarks.fuzz wire [--count N]
    python -m tests.benchmarks.fuzz live [--count N]
    python -m tests.benchmarks.fuzz music [--name PART_OF_NAME]

files: mutated files through the reader, every hundredth through `check_file` too. --guided: by coverage, where
atheris (pip install atheris) can be had; without it the same mutations, blindly. shapes: files of a megabyte
that are made to be slow. wire: bytes and messages through the parser. live: messages through a whole session
with its journal. music: adversarial music through `check_file`.

Times are of the processor, memory is the process's peak. Every find is written into FOLDER, and told with the
line where it was raised.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import resource
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any

JUDGED_EVERY = 100
FEWEST_TO_JUDGE = 400  # notes; dense random music of more takes the model long, and is tried by itself


def peak() -> float:
    """MB, the most that this process ever had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


class Tally:
    """What came of the inputs so far."""

    def __init__(self, finds: Path | None, limit: int, seconds: float) -> None:
        self.tried = self.read = self.judged = self.refused = 0
        self.slowest = self.slowest_judged = 0.0
        self.slowest_size = self.slowest_judged_size = 0
        self.grew = 0.0
        self.crashes: dict[str, int] = {}
        self._finds = finds
        self._limit = limit
        self._until = time.monotonic() + seconds
        self._told = time.monotonic()

    @property
    def over(self) -> bool:
        return self.tried >= self._limit or time.monotonic() > self._until

    def one(self, data: bytes, read: Callable[[bytes], Any], judge: Callable[[bytes], Any]) -> None:
        """Try an input."""
        self.tried += 1
        try:
            before, start = peak(), time.process_time()
            outcome = read(data)
            took = time.process_time() - start
            self.grew = max(self.grew, peak() - before)
            if took > self.slowest:
                self.slowest, self.slowest_size = took, len(data)
            self.read += not outcome.refusal
            self.refused += bool(outcome.refusal)
            if (
                self.tried % JUDGED_EVERY == 0
                and 0 < outcome.notes <= FEWEST_TO_JUDGE
                and outcome.parts <= 20
            ):
                start = time.process_time()
                judge(data)
                took = time.process_time() - start
                self.judged += 1
                if took > self.slowest_judged:
                    self.slowest_judged, self.slowest_judged_size = took, len(data)
                    if took > 5:
                        self._keep("slow", data)
        except Exception as error:
            self._crash(error, data)
        if time.monotonic() - self._told > 60:
            self._told = time.monotonic()
            print(self, flush=True)

    def _crash(self, error: Exception, data: bytes) -> None:
        frame = traceback.extract_tb(error.__traceback__)[-1]
        where = f"{type(error).__name__}: {str(error)[:80]} ({Path(frame.filename).name}:{frame.lineno})"
        if where not in self.crashes:
            print(f"CRASH {where}", flush=True)
            self._keep("crash", data)
        self.crashes[where] = self.crashes.get(where, 0) + 1

    def _keep(self, kind: str, data: bytes) -> None:
        if self._finds is not None:
            self._finds.mkdir(parents=True, exist_ok=True)
            (self._finds / f"{kind}-{hashlib.sha1(data).hexdigest()[:12]}.mid").write_bytes(data)

    def __str__(self) -> str:
        return (
            f"{self.tried:,} inputs: {self.read:,} read, {self.refused:,} refused, {self.judged:,} judged too;"
            f" {len(self.crashes)} kinds of crash; slowest reading {self.slowest:.3f} s ({self.slowest_size:,}"
            f" bytes), slowest judging {self.slowest_judged:.2f} s ({self.slowest_judged_size:,} bytes);"
            f" peak {peak():.0f} MB, grown by one input {self.grew:.0f} MB at the most"
        )


def files(options: argparse.Namespace) -> int:
    tally = Tally(options.finds, options.count, options.minutes * 60)
    if options.guided:
        return _guided(tally, options.seed)
    from tests.fuzz import attempts, inputs

    rng = random.Random(options.seed)
    seeds = inputs.seeds()
    while not tally.over:
        tally.one(inputs.mutated(rng, rng.choice(seeds), seeds), attempts.read, attempts.judge)
    print(tally)
    return bool(tally.crashes)


def _guided(tally: Tally, seed: int) -> int:
    """By coverage: inputs that reach something new are kept and changed further."""
    import tempfile

    import atheris  # type: ignore[import-not-found, unused-ignore]

    with atheris.instrument_imports(include=["livepedal.sources", "livepedal.music"]):
        import livepedal.music
        import livepedal.sources.smf  # noqa: F401
    from tests.fuzz import attempts, inputs

    seeds = inputs.seeds()

    def once(data: bytes) -> None:
        tally.one(data, attempts.read, attempts.judge)
        if tally.over:
            print(tally, flush=True)
            os._exit(bool(tally.crashes))

    def change(data: bytes, longest: int, seed: int) -> bytes:
        rng = random.Random(seed)
        if rng.randrange(3) == 0:
            changed: bytes = atheris.Mutate(data, longest)
            return changed
        return inputs.mutated(rng, data, seeds, longest)

    corpus = Path(tempfile.mkdtemp(prefix="corpus"))
    for number, data in enumerate(seeds):
        (corpus / f"{number:03}.mid").write_bytes(data)
    settings = [
        f"-seed={seed}",
        "-max_len=8192",
        "-rss_limit_mb=2000",
        "-timeout=300",  # of the clock: what matters is measured in processor time (Tally)
        "-verbosity=0",
        f"-artifact_prefix={corpus}/",
        str(corpus),
    ]
    atheris.Setup([sys.argv[0], *settings], once, custom_mutator=change)
    atheris.Fuzz()
    return 0  # never reached: the last input ends the process


def _beside(what: Callable[[], str], seconds: int) -> str:
    """In a process of its own, so that its memory counts by itself; ended after so much processor time."""
    receive, send = os.pipe()
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 1))
        before, start = peak(), time.process_time()
        try:
            said = what()
        except Exception as error:
            said = f"CRASH {type(error).__name__}: {error}"[:200]
        took = time.process_time() - start
        os.write(
            send, f"{took:8.2f} s {peak():6.0f} MB (of them {peak() - before:.0f} its own)  {said}".encode()
        )
        os._exit(0)
    os.close(send)
    with open(receive, "rb") as stream:
        told = stream.read().decode()
    _, status = os.waitpid(child, 0)
    return told if status == 0 else f"CRASH: ended by signal {status & 127} after {seconds} s"


def shapes(options: argparse.Namespace) -> int:
    from tests.fuzz import attempts, inputs

    bad = 0
    for name, data in inputs.shapes(options.size):
        if options.name not in name:
            continue

        def attempt(data: bytes = data) -> str:
            song = attempts.read_song(data)
            parts = attempts.chosen_plainly(song)
            return f"{sum(part.notes for part in parts):,} notes in {len(parts):,} parts"

        told = _beside(lambda attempt=attempt: attempts.told(attempt), 120)  # type: ignore[misc]
        bad += "CRASH" in told
        print(f"{name:45} {len(data):9,} bytes {told}", flush=True)
    return bool(bad)


def music(options: argparse.Namespace) -> int:
    from livepedal import check_file
    from tests.fuzz import adversarial, attempts

    bad = 0
    for name, data in adversarial.pieces():
        if options.name not in name:
            continue

        def attempt(data: bytes = data) -> str:
            parts = check_file(data).files[0].parts
            attacks, findings = sum(part.attacks for part in parts), sum(len(part.findings) for part in parts)
            bounded, planned = sum(part.bounded for part in parts), sum(part.plan.bounded for part in parts)
            words = ", ".join(sorted({part.verdict.word for part in parts}))
            return (
                f"{words}; {attacks} attacks, {findings} findings, bounded {bounded}, plan bounded {planned}"
            )

        told = _beside(lambda attempt=attempt: attempts.told(attempt), 120)  # type: ignore[misc]
        bad += "CRASH" in told
        print(f"{name:40} {told}", flush=True)
    return bool(bad)


def wire(options: argparse.Namespace) -> int:
    from tests.fuzz import streams

    start = time.process_time()
    told = streams.through_the_parser(options.count, options.seed)
    print(f"{told} in {time.process_time() - start:.0f} s; peak {peak():.0f} MB")
    return 0


def live(options: argparse.Namespace) -> int:
    from tests.fuzz import streams

    start = time.process_time()
    before = peak()
    told = streams.through_a_session(options.count, options.seed, tell=lambda line: print(line, flush=True))
    print(
        f"{told} in {time.process_time() - start:.0f} s; peak {peak():.0f} MB, {peak() - before:.0f} its own"
    )
    return 0


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("what", choices=("files", "shapes", "wire", "live", "music"))
    parser.add_argument("--count", type=int, default=1_000_000)
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--size", type=int, default=1 << 20, help="bytes of a shape")
    parser.add_argument("--name", default="", help="only shapes or pieces with this in their name")
    parser.add_argument("--guided", action="store_true")
    parser.add_argument("--finds", type=Path)
    options = parser.parse_args()
    run = {"files": files, "shapes": shapes, "wire": wire, "live": live, "music": music}[options.what]
    return run(options)


if __name__ == "__main__":
    sys.exit(main())
