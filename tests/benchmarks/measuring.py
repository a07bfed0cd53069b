"""What the benchmarks have in common: the machine, the music, percentiles and tables.

Where a figure is CPU time, it is that of the process itself: machines are shared, and what other programs
take says nothing about this one. The garbage collector runs between the steps that are timed, never within
one.
"""

from __future__ import annotations

import gc
import math
import os
import platform
import random
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

import mido

from livepedal.errors import LivepedalError
from livepedal.music.events import Event, NoteOff, NoteOn
from livepedal.music.parts import Wanted, choose_parts
from livepedal.music.song import Part, read_song
from tests.places import ROOT

BLOCK = 4_000  # notes
MUSIC = ROOT.parent / "shared" / "music"


def machine() -> str:
    """One line about where the figures come from."""
    model = platform.processor() or platform.machine()
    try:
        for line in Path("/proc/cpuinfo").read_text().splitlines():
            if line.startswith("model name"):
                model = line.partition(":")[2].strip()
                break
    except OSError:
        pass
    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    python = f"{platform.python_implementation()} {platform.python_version()}"
    return f"{model}, {os.cpu_count()} cores{load}, {python}, {platform.system()}"


GROUPS = ("recordings", "harp", "easy", "keyboard")


def files(groups: Sequence[str] = GROUPS) -> list[tuple[str, list[Path]]]:
    """(group, files): the recordings, and further music where there is any."""
    found = []
    for name in groups:
        folder = ROOT / name if name == "recordings" else MUSIC / name
        paths = sorted(folder.glob("*.mid"))
        if paths:
            found.append((name, paths))
    return found


def parts_of(path: Path) -> tuple[Part, ...]:
    """The harp parts of a file; where none is the harp's, all its tracks as one."""
    song = read_song(path)
    try:
        return choose_parts(song)
    except LivepedalError:
        return choose_parts(song, Wanted(tuple(str(track.number) for track in song.tracks if track.notes), True))


@contextmanager
def no_garbage() -> Iterator[None]:
    """No collection within; what there was is collected before."""
    gc.collect()
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


def percentile(values: Sequence[float], share: float) -> float:
    """The smallest value that this share of all does not exceed (nearest rank); `values` are sorted."""
    return values[max(0, math.ceil(len(values) * share) - 1)] if values else 0.0


def table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Columns, the first to the left, the others to the right."""
    lines = [list(header), *(list(row) for row in rows)]
    widths = [max(len(line[n]) for line in lines) for n in range(len(header))]
    return "\n".join(
        "  ".join([line[0].ljust(widths[0]), *(cell.rjust(widths[n]) for n, cell in enumerate(line[1:], 1))])
        for line in lines
    )


def dense(attacks: int, seed: int = 7, apart: int = 40_000) -> list[Event]:
    """Chromatic music, an attack every `apart` µs: any pitch of four octaves, a quarter of them chords of two
    to four.

    Keys come up 10 to 200 ms after they went down.
    """
    rng = random.Random(seed)
    timed: list[tuple[int, int, int, Event]] = []
    for number in range(attacks):
        us = number * apart
        count = rng.randint(2, 4) if rng.random() < 0.25 else 1
        for pitch in rng.sample(range(48, 96), count):
            source = len(timed)
            timed.append((us, 1, source, NoteOn(us, pitch, source=source)))
            up = us + rng.randint(10_000, 200_000)
            timed.append((up, 0, source, NoteOff(up, pitch, source=source)))
    timed.sort(key=lambda item: item[:3])
    return [event for *_, event in timed]


def walking(attacks: int, seed: int = 3) -> list[Event]:
    """Chromatic music at 25 attacks a second as hands make it: runs up and down, chords among them."""
    rng = random.Random(seed)
    timed: list[tuple[int, int, int, Event]] = []
    pitch, step = 66, 1
    for number in range(attacks):
        us = number * 40_000
        if not 50 < pitch + step < 94 or rng.random() < 0.08:
            step = -step
        pitch += step
        chord = {pitch} if number % 8 else {pitch, pitch - rng.randint(3, 5), pitch - rng.randint(7, 9)}
        for note in sorted(chord):
            source = len(timed)
            timed.append((us, 1, source, NoteOn(us, note, source=source)))
            timed.append((us + 45_000, 0, source, NoteOff(us + 45_000, note, source=source)))
    timed.sort(key=lambda item: item[:3])
    return [event for *_, event in timed]


def generated(notes: int, seed: int = 11) -> bytes:
    """A standard MIDI file of so many notes: arpeggios and chords in keys that change every few bars.

    The same block again and again: how long a note takes depends on the music far more than on how much there
    was before.
    """
    rng = random.Random(seed)
    file = mido.MidiFile(type=0, ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.Message("program_change", program=46))
    scale = (0, 2, 4, 5, 7, 9, 11)
    tonic, wait, written = 0, 0, 0
    while written < notes:
        if written % BLOCK == 0:
            rng.seed(seed)
            tonic = 0
        if rng.random() < 0.02:
            tonic = (tonic + rng.choice((5, 7))) % 12
        degree = rng.randrange(7)
        chord = [48 + tonic + scale[(degree + n) % 7] + 12 * ((degree + n) // 7) for n in (0, 2, 4, 7)]
        if rng.random() < 0.3:
            for pitch in chord:
                track.append(mido.Message("note_on", note=pitch, velocity=70, time=wait))
                wait = 0
            wait = 220
            for pitch in chord:
                track.append(mido.Message("note_off", note=pitch, time=wait))
                wait = 0
            wait = 20
        else:
            for pitch in chord:
                track.append(mido.Message("note_on", note=pitch, velocity=70, time=wait))
                track.append(mido.Message("note_off", note=pitch, time=110))
                wait = 10
        written += len(chord)
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def say(text: str = "") -> None:
    """Print at once, for those who watch a long run."""
    print(text, flush=True)
