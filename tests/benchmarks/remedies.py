"""`check --remedies` against `check` on the same music: `python -m tests.benchmarks.remedies`.

Both are done in turn in one process, the quickest of some runs of each; their ratio is what counts: at most 5
on a part of five minutes. The parts: what there is of the keyboard's repertoire, a great deal of which no
harp plays; and five minutes made up, once with a chromatic turn in every few bars, once with nothing in
trouble.

The second table is live: how long a worker process takes from a passage's being over to its tempo and best
spelling, wall time, for each passage of the same music.

The last one is live too: the CPU time of all advice on one passage of some 15 s of dense music, made up: at most 2 s.
"""

from __future__ import annotations

import argparse
import random
import time
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path

import mido

from livepedal.advice.check import check_file
from livepedal.advice.report import Report
from livepedal.harp import Figures
from livepedal.live.advising import advise
from livepedal.live.advisor import Advisor
from livepedal.live.session import Session
from livepedal.live.setup import Setup
from livepedal.music.events import Event, NoteOff, NoteOn
from livepedal.music.parts import Wanted, choose_parts
from livepedal.music.song import read_song
from tests.benchmarks import hard, measuring
from tests.benchmarks.measuring import GROUPS, MUSIC, files, machine, say, table
from tests.benchmarks.throughput import asked, quickest

FIGURES = Figures.builtin()
MINUTES = 5


def made_up(troubles: bool, minutes: int = MINUTES, seed: int = 5) -> bytes:
    """A standard MIDI file: broken chords at ♩ = 100, two to four attacks a second, a rest of a bar in every
    eight; with troubles, a chromatic turn in semiquavers in two bars of every eight.
    """
    rng = random.Random(seed)
    file = mido.MidiFile(type=0, ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=600_000))
    track.append(mido.Message("program_change", program=46))
    scale = (0, 2, 4, 5, 7, 9, 11)
    wait = tonic = 0
    for bar in range(minutes * 25):
        if bar % 8 == 7:
            wait += 4 * 480
            continue
        if bar % 8 == 0:
            tonic = (tonic + rng.choice((0, 5, 7))) % 12
        turn = troubles and bar % 8 in (2, 5)
        for beat in range(4):
            degree = rng.randrange(7)
            chord = [48 + tonic + scale[(degree + n) % 7] + 12 * ((degree + n) // 7) for n in (0, 2, 4, 7)]
            if turn and beat == 2:
                notes, length = [67, 68, 69, 68], 120  # G, A♭ and A: no setting holds all three
                low: list[int] = [chord[0]]
            else:
                notes, length, low = chord[1:3], 240, [chord[0]]
            for pitch in low:
                track.append(mido.Message("note_on", note=pitch, velocity=60, time=wait))
                wait = 0
            for pitch in notes:
                track.append(mido.Message("note_on", note=pitch, velocity=70, time=wait))
                track.append(mido.Message("note_off", note=pitch, time=length - 10))
                wait = 10
            for pitch in low:
                track.append(mido.Message("note_off", note=pitch, time=wait))
                wait = 0
            wait = wait or 10
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def checked(data: bytes, remedies: bool) -> Report:
    tracks, merge = asked(read_song(data, name="file"))
    return check_file(data, name="file", figures=FIGURES, tracks=tracks, merge=merge, remedies=remedies)


def measure(name: str, data: bytes, runs: int) -> list[str]:
    """A row."""
    report = checked(data, remedies=True)
    parts = report.files[0].parts
    advices = [part.advice for part in parts if part.advice is not None]
    places = [place for advice in advices for passage in advice.passages for place in passage.places]
    alone = quickest(lambda: checked(data, remedies=False), runs)
    whole = quickest(lambda: checked(data, remedies=True), runs)
    return [
        name[:40],
        f"{max(part.end for part in parts) / 60e6:.1f}",
        str(sum(part.notes for part in parts)),
        str(sum(len(place.troubles) for place in places)),
        str(len(places)),
        f"{alone:.2f}",
        f"{whole:.2f}",
        f"{whole / alone:.1f}",
    ]


def live(name: str, data: bytes) -> list[str]:
    """A row: passages of the music as they would be played, each put to a process that stands ready."""
    tracks, merge = asked(read_song(data, name=name))
    part = choose_parts(read_song(data, name=name), Wanted(tuple(tracks), merge))[0]
    figures = FIGURES
    session = Session(Setup(figures, figures.instrument("47")))
    for event in part.events:
        if isinstance(event, NoteOn):
            session.message(event.us, 0, bytes((0x90, event.pitch, event.velocity)))
        elif isinstance(event, NoteOff):
            session.message(event.us, 0, bytes((0x80, event.pitch, 0)))
    session.finish(part.end_us)
    take = session.finished[0]
    came: list[tuple[float, bool]] = []
    advisor = Advisor(lambda advice: came.append((time.perf_counter(), advice.last)), say)
    advisor.wake()
    time.sleep(5)
    handed: list[float] = []
    first: list[float] = []
    whole: list[float] = []
    passages = take.monitor.passages
    for number, _ in enumerate(passages):
        came.clear()
        begun = time.perf_counter()
        advisor.ask(take.question(number))
        handed.append(time.perf_counter() - begun)
        while not (came and came[-1][1]):
            time.sleep(0.001)
        first.append(came[0][0] - begun)
        whole.append(came[-1][0] - begun)
    advisor.end()
    return [
        name[:40],
        str(len(passages)),
        str(max(passage.attacks for passage in passages)),
        f"{max(handed) * 1e3:.1f}",
        f"{sorted(first)[len(first) // 2]:.2f}",
        f"{max(first):.2f}",
        f"{max(whole):.2f}",
    ]


DENSE = {
    "dense": measuring.dense(375),
    "walking": measuring.walking(375),
    "chromatic": hard.KINDS["chromatic"](random.Random(1), 180),
    "held": hard.KINDS["held"](random.Random(1), 125),
    "chords": hard.KINDS["chords"](random.Random(1), 120),
}


def dense(name: str, events: Sequence[Event]) -> list[str]:
    """A row: all advice on one dense passage, the CPU time of this process."""
    session = Session(Setup(FIGURES, FIGURES.instrument("47")))
    for event in events:
        if isinstance(event, NoteOn):
            session.message(event.us, 0, bytes((0x90, event.pitch, 80)))
        elif isinstance(event, NoteOff):
            session.message(event.us, 0, bytes((0x80, event.pitch, 0)))
    session.finish(events[-1].us + 1)
    question = session.finished[0].question(0)
    begun = time.process_time()
    steps = [time.process_time() - begun for _ in advise(question)]
    return [name, str(question.passage.attacks), f"{steps[0]:.2f}", f"{steps[-1]:.2f}"]


LIVE = ("live", "passages", "longest", "handing over ms", "first advice s", "at most s", "all of it s")
DENSE_HEADER = ("one passage, live", "attacks", "first advice s", "all of it s")
HEADER = ("music", "minutes", "notes", "troubles", "places", "check s", "with remedies s", "ratio")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=2)
    parser.add_argument("--groups", nargs="*", choices=GROUPS, default=("keyboard",), help="which music")
    options = parser.parse_args()
    say(machine())
    datas: list[tuple[str, bytes]] = [
        ("made up, with chromatic turns", made_up(troubles=True)),
        ("made up, playable", made_up(troubles=False)),
    ]
    paths: list[Path] = [path for _, found in files(options.groups) for path in found]
    datas += [(path.stem, path.read_bytes()) for path in paths]
    if not MUSIC.is_dir():
        say("the folder of real music is missing; only what is made up is measured")
    say(table(HEADER, [measure(name, data, options.runs) for name, data in datas]))
    say()
    say(table(LIVE, [live(name, data) for name, data in datas]))
    say()
    say(table(DENSE_HEADER, [dense(name, events) for name, events in DENSE.items()]))


if __name__ == "__main__":
    main()
