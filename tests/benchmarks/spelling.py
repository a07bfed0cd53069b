"""How well ordinary spelling (livepedal/music/ordinary.py) agrees with what is printed: the share of notes
of each file.

    .venv/bin/python -m tests.benchmarks.spelling [FOLDER]

FOLDER (default ../shared/music) holds MIDI files, and beside each the notes as they are notated, `.notes.csv`
with the columns step, alter, octave, midi and onset_s. The MIDI file is read and gathered as `livepedal
spell` does it; the printed notes are only compared.
"""

from __future__ import annotations

import csv
import sys
from bisect import bisect_left
from dataclasses import dataclass
from pathlib import Path

from livepedal.harp import Figures
from livepedal.harp.fifths import alteration, letter
from livepedal.music.attacks import gather_held
from livepedal.music.ordinary import written
from livepedal.music.parts import Wanted, choose_parts
from livepedal.music.song import read_song
from tests.places import MUSIC

FOLDER = MUSIC
# seconds between the same note in the two files; grace notes may lie further apart, and are counted apart
NEAR = 0.06


@dataclass(frozen=True, slots=True)
class Share:
    """Of one file: printed notes that were found again, and how many of them are spelled as printed."""

    file: str
    right: int
    compared: int
    lost: int


def measure(path: Path) -> Share:
    """Compare one MIDI file with the printed notes beside it."""
    song = read_song(path)
    sounding = [str(track.number) for track in song.tracks if track.notes]
    part = choose_parts(song, Wanted(tuple(sounding), True))[0]
    figures = Figures.builtin()
    attacks = gather_held(part.events, figures.window.attack, figures.glissando)
    struck = [(attack.us / 1e6, pitch) for attack in attacks for pitch, _ in attack.notes]
    spelled = written(attacks)
    by_pitch: dict[int, list[tuple[float, int]]] = {}
    for (seconds, pitch), fifth in zip(struck, spelled, strict=True):
        by_pitch.setdefault(pitch, []).append((seconds, fifth))
    right = compared = lost = 0
    with path.with_suffix(".notes.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            known = by_pitch.get(int(row["midi"]), [])
            at = float(row["onset_s"])
            place = bisect_left(known, (at, -99))
            near = min(known[max(place - 1, 0) : place + 1], key=lambda item: abs(item[0] - at), default=None)
            if near is None or abs(near[0] - at) > NEAR:
                lost += 1
                continue
            compared += 1
            right += (letter(near[1]).letter, alteration(near[1])) == (row["step"], int(float(row["alter"])))
    return Share(path.stem, right, compared, lost)


def main() -> None:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    files = sorted(path for path in folder.rglob("*.mid") if path.with_suffix(".notes.csv").exists())
    shares = [measure(path) for path in files]
    print(f"{'file':<50}{'as printed':>11}{'of notes':>10}{'not found':>11}")
    for share in shares:
        print(
            f"{share.file:<50}{share.right / max(share.compared, 1):>11.2%}"
            f"{share.compared:>10}{share.lost:>11}"
        )
    right, compared = sum(s.right for s in shares), sum(s.compared for s in shares)
    print(f"{'all':<50}{right / max(compared, 1):>11.2%}{compared:>10}{sum(s.lost for s in shares):>11}")


if __name__ == "__main__":
    main()
