"""How near the plans come to print: names, crossed strings, pairs of feet, when pedals move; and Boléro's changes.

    .venv/bin/python -m tests.benchmarks.pedalling [FOLDER ...]

Each folder (default ../shared/music/harp and harp-more) holds MIDI files, beside each the notes as they are notated,
`.notes.csv` with the columns step, alter, midi and onset_s, and perhaps the printed pedal changes, `.pedals.csv`.
It goes by `livepedal.check_file` alone, so that it can be laid over another version of the program.
"""

from __future__ import annotations

import csv
import sys
import time
from bisect import bisect_left, bisect_right
from pathlib import Path
from statistics import median

import livepedal
from livepedal.advice.judging.report import PartReport
from livepedal.harp import Pedal
from livepedal.music.song import read_song
from tests.places import MUSIC

NEAR = 0.06  # seconds between the same note in the two files
CROSSED = (("E", 1, "F", -1), ("B", 1, "C", -1))
LONG = 1_000_000  # µs that strings may stand crossed on the way from one setting to the next


def printed_otherwise(part: PartReport, notes: Path) -> tuple[int, int, int]:
    """Notes that are spelled otherwise than printed, those of them whose whole attack is (another key of the same
    sound), and all that were compared.
    """
    plan = part.plan
    by_pitch: dict[int, list[tuple[float, int, tuple[str, int]]]] = {}
    for number, (us, spellings) in enumerate(zip(plan.attacks, plan.spellings, strict=True)):
        for one in spellings:
            if one is not None:
                name = one.pedal.letter, int(one.position)
                by_pitch.setdefault(one.pitch, []).append((us / 1e6, number, name))
    in_attack: dict[int, list[bool]] = {}
    with notes.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            known = by_pitch.get(int(row["midi"]), [])
            at, alter = float(row["onset_s"]), int(float(row["alter"]))
            place = bisect_left(known, (at, -1, ("", 0)))
            near = min(known[max(place - 1, 0) : place + 1], key=lambda item: abs(item[0] - at), default=None)
            if near is not None and abs(near[0] - at) <= NEAR and abs(alter) <= 1:
                in_attack.setdefault(near[1], []).append(near[2] == (row["step"], alter))
    away = sum(marks.count(False) for marks in in_attack.values())
    whole = sum(len(marks) for marks in in_attack.values() if not any(marks))
    return away, whole, sum(map(len, in_attack.values()))


def crossed(part: PartReport) -> bool:
    """Whether strings stand crossed for long."""
    plan = part.plan
    changes = sorted(plan.changes, key=lambda change: change.us)
    stands = {pedal.letter: position for pedal, position in zip(Pedal, plan.setting.positions, strict=True)}
    for number, change in enumerate([None, *changes]):
        if change is not None:
            stands[change.pedal.letter] = change.goal
        until = changes[number].us if number < len(changes) else part.end
        since = part.begin if change is None else change.us
        if until - since > LONG and any(
            (stands[one], stands[other]) == (high, low) for one, high, other, low in CROSSED
        ):
            return True
    return False


def pairs(part: PartReport) -> tuple[int, int]:
    """Changes that the other foot has one within a beat of, and those of them that are made together with one."""
    near = together = 0
    for change in part.plan.changes:
        beat = 60_000_000 / part.time_map.beats_per_minute(change.attack_us)
        others = [
            other
            for other in part.plan.changes
            if other.foot is not change.foot and abs(other.attack_us - change.attack_us) <= beat
        ]
        near += bool(others)
        together += any(abs(other.us - change.us) < 10_000 for other in others)
    return near, together


def as_printed(part: PartReport, pedals: Path) -> tuple[int, int]:
    """Printed changes, and those of them that the plan has between the same attacks."""

    def between(us: int) -> int:
        return bisect_right(part.plan.attacks, us + 20_000)

    planned = {(between(c.us), c.pedal.letter, int(c.goal)) for c in part.plan.changes}
    with pedals.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["kind"] == "change"]
    found = [
        (between(round(float(row["onset_s"]) * 1e6)), row["step"], int(float(row["alter"]))) in planned
        for row in rows
    ]
    return len(rows), sum(found)


def main() -> None:
    folders = [Path(name) for name in sys.argv[1:]] or [MUSIC / "harp", MUSIC / "harp-more"]
    sums = [0] * 8
    leads: list[float] = []
    crossing = []
    head = ("otherwise", "whole", "of notes", "changes", "two", "near", "paired", "audible")
    print(f"{'file':<40}" + "".join(f"{name:>10}" for name in head) + f"{'unplayable':>11}{'CPU s':>7}")
    for path in sorted(path for folder in folders for path in folder.glob("*.mid")):
        song = read_song(path)
        tracks = [str(track.number) for track in song.tracks if track.notes]
        begin = time.process_time()
        report = livepedal.check_file(path, tracks=tracks, merge=True, only=("pedals",))
        spent = time.process_time() - begin
        (part,) = report.files[0].parts
        away, whole, compared = printed_otherwise(part, path.with_suffix(".notes.csv"))
        changes = part.plan.changes
        row = [
            away,
            whole,
            compared,
            len(changes),
            sum(abs(c.goal - c.start) == 2 for c in changes),
            *pairs(part),
            sum(c.audible for c in changes),
        ]
        leads += [(c.attack_us - c.us) / 1e6 for c in changes]
        sums = [a + b for a, b in zip(sums, row, strict=True)]
        if crossed(part):
            crossing.append(path.stem)
        print(
            f"{path.stem[:39]:<40}"
            + "".join(f"{n:>10}" for n in row)
            + f"{part.plan.unplayable:>11}{spent:>7.2f}"
        )
        pedals = path.with_suffix(".pedals.csv")
        if pedals.exists() and "bolero" in path.stem:
            print(
                "    printed changes, and those that are planned between the same attacks:",
                *as_printed(part, pedals),
            )
    print(f"{'all':<40}" + "".join(f"{n:>10}" for n in sums))
    print(
        f"otherwise than printed {sums[0] / sums[2]:.2%}, without whole attacks {(sums[0] - sums[1]) / sums[2]:.2%}"
    )
    print(f"crossed for over a second: {len(crossing)} {crossing}")
    print(
        f"paired {sums[6] / max(sums[5], 1):.0%} of those within a beat; two notches {sums[4]} of {sums[3]}"
    )
    print(
        f"lead: median {median(leads):.2f} s, under 0.5 s {sum(lead < 0.5 for lead in leads) / len(leads):.0%}"
    )


if __name__ == "__main__":
    main()
