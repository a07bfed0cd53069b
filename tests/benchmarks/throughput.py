"""`check --only pedals` against mido reading and iterating the same file: `python -m
tests.benchmarks.throughput`.

Both are done in turn in one process, the quickest of some runs of each; their ratio is what counts. What is
checked is the whole way from the bytes to the report: reading, parts, verdicts of three players, findings
with reasons, and the plan; the column `verdicts` is without the plan. mido's side is `for message in
MidiFile(path)`, the least that a program has to do. Figures are loaded once, as for a folder.

Peak memory is that of a process that does nothing else (`ru_maxrss`), with what importing takes beside it.
The last table has whole processes: `livepedal check --json` against `python -c` with mido's loop.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import mido

from livepedal.advice import check
from livepedal.errors import LivepedalError
from livepedal.harp import Figures
from livepedal.model.findings import Layer
from livepedal.model.monitor import BareMonitor
from livepedal.music.parts import Wanted, choose_parts
from livepedal.music.song import Song, read_song
from tests.benchmarks.measuring import GROUPS, ROOT, files, generated, machine, no_garbage, say, table

FIGURES = Figures.builtin()
GENERATED = (10_000, 30_000, 100_000, 300_000)


def quickest(do: Callable[[], object], runs: int) -> float:
    """CPU seconds of the quickest run; garbage is collected in between."""
    best = 1e9
    for _ in range(runs):
        with no_garbage():
            begun = time.process_time()
            do()
            best = min(best, time.process_time() - begun)
    return best


def with_mido(data: bytes) -> None:
    for _ in mido.MidiFile(file=BytesIO(data), clip=True):
        pass


def asked(song: Song) -> tuple[tuple[str, ...], bool]:
    """The tracks to ask for, and whether to merge them, where none is the harp's."""
    try:
        choose_parts(song)
    except LivepedalError:
        return tuple(str(track.number) for track in song.tracks if track.notes), True
    return (), False


def checked(data: bytes, tracks: tuple[str, ...], merge: bool) -> None:
    check.check_file(data, name="file", figures=FIGURES, tracks=tracks, merge=merge, only=("pedals",))


def verdicts(data: bytes, tracks: tuple[str, ...], merge: bool) -> None:
    """Without the plan."""
    for part in choose_parts(read_song(data, name="file"), Wanted(tuple(tracks), merge)):
        monitor = BareMonitor(FIGURES, FIGURES.instrument("47"), only=(Layer.PEDALS,))
        for event in part.events:
            monitor.feed(event)
        monitor.finish()


def measure(name: str, datas: list[bytes], runs: int) -> list[str]:
    """A row: all these files together."""
    plain = whole = judged = 0.0
    notes = 0
    for data in datas:
        song = read_song(data, name=name)
        tracks, merge = asked(song)
        notes += sum(part.notes for part in choose_parts(song, Wanted(tuple(tracks), merge)))
        plain += quickest(lambda data=data: with_mido(data), runs)
        judged += quickest(lambda data=data, t=tracks, m=merge: verdicts(data, t, m), runs)
        whole += quickest(lambda data=data, t=tracks, m=merge: checked(data, t, m), runs)
    return [
        name,
        str(notes),
        f"{plain * 1e3:.1f}",
        f"{judged * 1e3:.1f}",
        f"{whole * 1e3:.1f}",
        f"{judged / plain:.2f}",
        f"{whole / plain:.2f}",
        f"{whole / notes * 1e6:.1f}",
    ]


HEADER = (
    "music", "notes", "mido ms", "verdicts ms", "check ms", "verdicts / mido", "check / mido", "µs a note",
)  # fmt: skip

PEAK = """
import resource, sys
from tests.benchmarks import throughput
base = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
data = open(sys.argv[1], "rb").read()
throughput.checked(data, (), False)
print(base, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def peak(path: Path) -> tuple[float, float]:
    """(MiB after importing, MiB at most) of a process that checks the file."""
    command = [sys.executable, "-c", PEAK, str(path)]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    unit = 1024 if sys.platform != "darwin" else 1024 * 1024
    base, most = (int(word) / unit for word in run.stdout.split())
    return base, most


def process(command: list[str], runs: int) -> tuple[float, float]:
    """(wall, CPU) seconds of the quickest of some whole processes."""
    import resource

    best = (1e9, 1e9)
    for _ in range(runs):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        begun = time.perf_counter()
        subprocess.run(command, cwd=ROOT, capture_output=True, check=False)
        wall = time.perf_counter() - begun
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        best = min(best, (wall, cpu))
    return best


MIDO = "import sys, mido\nfor _ in mido.MidiFile(sys.argv[1], clip=True): pass"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--each", action="store_true", help="a row for every file")
    parser.add_argument(
        "--largest", type=int, default=GENERATED[-1], help="notes of the largest generated file"
    )
    parser.add_argument("--groups", nargs="*", choices=GROUPS, default=GROUPS, help="which music")
    options = parser.parse_args()
    say(machine())
    rows: list[list[str]] = []
    for group, paths in files(options.groups):
        if options.each:
            rows += [measure(f"  {path.stem[:40]}", [path.read_bytes()], options.runs) for path in paths]
        rows.append(measure(group, [path.read_bytes() for path in paths], options.runs))
    say(table(HEADER, rows))
    say()
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for notes in (n for n in GENERATED if n <= options.largest):
            data = generated(notes)
            path = Path(folder) / f"{notes}.mid"
            path.write_bytes(data)
            base, most = peak(path)
            row = measure(f"{notes} notes generated", [data], 2 if notes < 100_000 else 1)
            rows.append([*row, f"{most:.0f}", f"{base:.0f}"])
        say(table((*HEADER, "peak MiB", "of it imports"), rows))
        say()
        rows = []
        paths = [ROOT / "recordings" / "04-paddle-wheel-half.mid", Path(folder) / "10000.mid"]
        check_it = [sys.executable, "-m", "livepedal", "check", "--json", "--only", "pedals"]
        for path in paths:
            mine = process([*check_it, str(path)], options.runs)
            other = process([sys.executable, "-c", MIDO, str(path)], options.runs)
            rows.append(
                [path.stem, *(f"{x * 1e3:.0f}" for x in (*mine, *other)), f"{mine[1] / other[1]:.2f}"]
            )
        say(table(("whole process", "check wall ms", "CPU ms", "mido wall ms", "CPU ms", "CPU ratio"), rows))


if __name__ == "__main__":
    main()
