"""Write the recordings of this folder, the same byte for byte every time.

Theory: a recording is a list of notes (when, how long the key is down, which key, how hard), written here in
a small text notation, and either left straight on the grid, as a sequencer exports it, or humanised with a
fixed seed, as it is played. One function makes one recording, and its docstring says what it shows. README.md
in this folder argues the verdicts.

All music is ours, sketches for the harp part of an imagined radio play about a river ferry, "Osier Reach".
Run it as `python recordings/make_recordings.py`; another folder as its only argument is written to instead.
"""

import io
import random
import re
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import mido

PLAY = "Osier Reach"
HARP = 46  # General MIDI's orchestral harp as the data byte sent; lists that count from 1 call it 47.
STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
TOKEN = re.compile(r"^(?P<notes>r|[A-G][#b]*\d(?:\+[A-G][#b]*\d)*)(?::(?P<length>\d+/\d+|\d*\.?\d+))?$")

Timed = tuple[int, int, mido.Message | mido.MetaMessage]  # tick, order within the tick, message


@dataclass(frozen=True, slots=True)
class Note:
    """A key struck at `start` and down for `length`, both in crotchets; `pitch` and `velocity` as in MIDI."""

    start: Fraction
    length: Fraction
    pitch: int
    velocity: int


@dataclass(frozen=True, slots=True)
class Head:
    """What a score says above its notes.

    Beside the title: tempi in crotchets a minute, metres, key signatures and rehearsal marks, each as a
    sequence of (crotchets from the start, value).
    """

    title: str
    tempi: Sequence[tuple[float, float]]
    metres: Sequence[tuple[float, tuple[int, int]]] = ((0, (4, 4)),)
    keys: Sequence[tuple[float, str]] = ()
    marks: Sequence[tuple[float, str]] = ()


# --- notation -----------------------------------------------------------------------------------------------


def pitch(name: str) -> int:
    """MIDI number of a written note such as `Eb4` or `F##5`, where C4 is middle C (60)."""
    letter, accidentals, octave = name[0], name[1:-1], int(name[-1])
    return 12 * (octave + 1) + STEPS[letter] + accidentals.count("#") - accidentals.count("b")


def line(
    text: str, at: float | Fraction = 0, loud: tuple[int, int] = (64, 64), gate: float = 0.92
) -> list[Note]:
    """Read a line such as `Eb4:1/2 G4 r Bb4+D5:2 | C5:1`.

    A note is a name, or several joined by `+`, or `r` for a rest; after a colon its length in crotchets,
    which stays until another is given; `|` is only for the eye. `at`: crotchets from the start.
    `loud`: velocity of the first note and of the last, in even steps between. `gate`: the share of its length
    for which a key is down. Raises ValueError for a token that it cannot read.
    """
    found: list[tuple[Fraction, Fraction, str]] = []
    start, length = Fraction(at), Fraction(1)
    for token in text.replace("|", " ").split():
        match = TOKEN.match(token)
        if match is None:
            raise ValueError(f"cannot read {token!r} in a line of music")
        length = Fraction(match["length"]) if match["length"] else length
        if match["notes"] != "r":
            found.append((start, length, match["notes"]))
        start += length
    notes: list[Note] = []
    for index, (begin, span, names) in enumerate(found):
        velocity = round(loud[0] + (loud[1] - loud[0]) * index / max(1, len(found) - 1))
        notes += [
            Note(begin, span * Fraction(gate).limit_denominator(1000), pitch(name), velocity)
            for name in names.split("+")
        ]
    return notes


def run(
    names: str, at: float | Fraction, step: Fraction, loud: tuple[int, int], hold: Fraction | None = None
) -> list[Note]:
    """Single notes `step` crotchets apart, each down until the next, or all until `at` + `hold` crotchets."""
    each = names.split()
    notes = line(" ".join(f"{name}:{step}" for name in each), at, loud, gate=1)
    return (
        notes if hold is None else [replace(note, length=Fraction(at) + hold - note.start) for note in notes]
    )


def played(notes: Iterable[Note], bpm: float, seed: int) -> list[Note]:
    """The notes as a pianist plays them: each attack up to 12 ms early or late, its notes up to 12 ms apart.

    Releases waver by up to 15 ms, velocities by up to 4. Only `Random.random` is used: Python promises that
    its sequence for a seed stays the same in later versions, and promises it of no other method.
    """
    rng = random.Random(seed)
    crotchets_per_ms = Fraction(bpm) / 60_000
    shift: dict[Fraction, float] = {}
    out: list[Note] = []
    for note in sorted(notes, key=lambda n: (n.start, n.pitch)):
        if note.start not in shift:
            shift[note.start] = 24 * rng.random() - 12
        late = shift[note.start] + 12 * rng.random()
        longer = 30 * rng.random() - 15 - late
        start = max(Fraction(0), note.start + Fraction(late) * crotchets_per_ms)
        length = max(Fraction(25) * crotchets_per_ms, note.length + Fraction(longer) * crotchets_per_ms)
        out.append(Note(start, length, note.pitch, note.velocity + round(8 * rng.random() - 4)))
    return out


# --- writing ------------------------------------------------------------------------------------------------


def ticks(crotchets: float | Fraction, ppq: int) -> int:
    """The nearest tick."""
    return round(Fraction(crotchets) * ppq)


def head_events(head: Head, ppq: int) -> list[Timed]:
    """Tempi, metres, key signatures and rehearsal marks (as marker events)."""
    events: list[Timed] = [(0, 0, mido.MetaMessage("text", text=f"{PLAY}: {head.title}"))]
    for at, (count, unit) in head.metres:
        events.append(
            (ticks(at, ppq), 0, mido.MetaMessage("time_signature", numerator=count, denominator=unit))
        )
    for at, key in head.keys:
        events.append((ticks(at, ppq), 0, mido.MetaMessage("key_signature", key=key)))
    for at, bpm in head.tempi:
        events.append((ticks(at, ppq), 0, mido.MetaMessage("set_tempo", tempo=round(60_000_000 / bpm))))
    for at, mark in head.marks:
        events.append((ticks(at, ppq), 0, mido.MetaMessage("marker", text=mark)))
    return events


def note_events(notes: Iterable[Note], ppq: int, channel: int) -> list[Timed]:
    """Note-ons and note-offs; a key that is struck again is let go at that moment at the latest."""
    events: list[Timed] = []
    ordered = sorted(notes, key=lambda n: (n.start, n.pitch))
    for index, note in enumerate(ordered):
        on = ticks(note.start, ppq)
        off = max(on + 1, ticks(note.start + note.length, ppq))
        again = [ticks(n.start, ppq) for n in ordered[index + 1 :] if n.pitch == note.pitch]
        off = min([off, *again])
        events.append(
            (on, 3, mido.Message("note_on", channel=channel, note=note.pitch, velocity=note.velocity))
        )
        events.append((off, 2, mido.Message("note_off", channel=channel, note=note.pitch, velocity=64)))
    return events


def track(name: str, notes: Iterable[Note], ppq: int, channel: int = 0, program: int = HARP) -> list[Timed]:
    """An instrument's track: its name, its program, its notes."""
    return [
        (0, 0, mido.MetaMessage("track_name", name=name)),
        (0, 1, mido.Message("program_change", channel=channel, program=program)),
        *note_events(notes, ppq, channel),
    ]


def midi_track(events: Iterable[Timed]) -> mido.MidiTrack:
    """Events in order of time, as the differences that a file holds."""
    out, now = mido.MidiTrack(), 0
    for tick, _, message in sorted(events, key=lambda event: event[:2]):
        out.append(message.copy(time=tick - now))
        now = tick
    out.append(mido.MetaMessage("end_of_track", time=0))
    return out


def one_track(head: Head, notes: Iterable[Note], ppq: int = 960) -> mido.MidiFile:
    """A type 0 file with one harp, as a keyboard's recorder writes it."""
    file = mido.MidiFile(type=0, ticks_per_beat=ppq, charset="utf-8")
    file.tracks.append(midi_track([*track("Harp", notes, ppq), *head_events(head, ppq)]))
    return file


def several_tracks(head: Head, parts: Iterable[list[Timed]], ppq: int = 480) -> mido.MidiFile:
    """A type 1 file: a first track with the tempi and marks, then a track for each part."""
    file = mido.MidiFile(type=1, ticks_per_beat=ppq, charset="utf-8")
    file.tracks.append(
        midi_track([(0, 0, mido.MetaMessage("track_name", name=PLAY)), *head_events(head, ppq)])
    )
    file.tracks += [midi_track(part) for part in parts]
    return file


# --- the recordings -----------------------------------------------------------------------------------------


def slack_water() -> mido.MidiFile:
    """A diatonic opening in E flat major, as played: one setting, no pedal moves. Easy."""
    bpm = 72
    right = line("Bb4:2 Eb5:1 | D5:1.5 C5:.5 Bb4:1 | Ab4:1 C5 Eb5 | G5:2 F5:1 | F5:1 Eb5 D5", loud=(58, 76))
    left = line(
        "Eb3:.5 Bb3 Eb4 G4 Eb4 Bb3 | Bb2 F3 Ab3 D4 Ab3 F3 | Ab2 Eb3 Ab3 C4 Ab3 Eb3 | G2 Eb3 Bb3 Eb4 Bb3 Eb3 |"
        " Bb2 F3 Bb3 D4 Bb3 F3",
        loud=(44, 56),
    )
    close = line("Eb2+Bb2+Eb3+G3+Bb4+Eb5:3", at=15, loud=(52, 52))
    head = Head("Slack Water", [(0, bpm)], [(0, (3, 4))], [(0, "Eb")], [(0, "A"), (9, "B")])
    return one_track(head, played([*right, *left, *close], bpm, seed=1))


def upstream() -> mido.MidiFile:
    """A slow modulation from F to E, one change of harmony a bar: two pedals of one foot in 1 s. Playable."""
    chords = line(
        "F2+C3+E4+G4+A4:4 | Ab2+Gb3+C4+Ab4 | Db3+Ab3+F4+Db5 |"
        " C#3+G#3+E4+C#5 | B2+F#3+A3+B4 | E2+B2+G#3+B3+E4:3",
        loud=(54, 70),
        gate=0.65,
    )
    tune = line(
        "r:2 C5:1 Bb4 | r:2 Bb4:1 C5 | r:2 F5:1 Ab5 | r:2 G#4:1 C#5 | r:2 C#5:1 B4", loud=(60, 78), gate=0.9
    )
    head = Head("Upstream", [(0, 84)], keys=[(0, "F"), (12, "E")], marks=[(0, "A"), (12, "B")])
    return several_tracks(head, [track("Harp", [*chords, *tune], 480)])


WHEEL_LEFT = "A2:4 | C3 | A2 | D3:1"


def wheel(bpm: float, title: str, text: str) -> mido.MidiFile:
    """A figure in short semiquavers, keys down for three tenths of each, over one short bass note a bar."""
    right = line(text, loud=(66, 88), gate=0.3)
    left = line(WHEEL_LEFT, loud=(54, 66), gate=0.02)
    close = line("A2+E3+C4+A4:1", at=14, loud=(84, 84), gate=0.5)
    head = Head(title, [(0, bpm)], keys=[(0, "Am")], marks=[(0, "A"), (8, "B")])
    return several_tracks(head, [track("Harp", [*right, *left, *close], 480)])


WHEEL = (
    "A4:1/4 G#4 G4 E4 F4 A4 C5 E5 D5 C5 A4 G#4 G4 E4 D4 C4 |"
    " E4 F4 G4 G#4 A4 C5 E5 D5 C5 E5 A5 G#5 G5 E5 C5 B4 |"
    " A5 G#5 G5 E5 F5 D5 B4 D5 C5 E5 G5 G#5 A5 E5 C5 E5 | F5 D5 B4 G#4 A4 E4 C4 E4"
)


def paddle_wheel() -> mido.MidiFile:
    """A chromatic figure, A G sharp G in semiquavers of 0.15 s: no time for any pedal. Unplayable."""
    return wheel(100, "Paddle Wheel", WHEEL)


def paddle_wheel_half() -> mido.MidiFile:
    """The same figure, note for note, at half the tempo, 0.30 s a semiquaver. Playable."""
    return wheel(50, "Paddle Wheel, half speed", WHEEL)


def paddle_wheel_revised() -> mido.MidiFile:
    """The composer's revision at the full tempo: a note of the harmony between G and G sharp. Playable."""
    return wheel(
        100,
        "Paddle Wheel, revised",
        "A4:1/4 E4 G4 E4 F4 A4 C5 E5 D5 C5 A4 E4 G4 E4 D4 C4 |"
        " E4 G4 F4 G#4 A4 C5 E5 D5 C5 E5 A5 E5 G5 E5 C5 B4 |"
        " A5 E5 G5 E5 F5 D5 B4 D5 C5 G5 E5 G#5 A5 E5 C5 E5 | F5 D5 B4 G#4 A4 E4 C4 E4",
    )


def three_lanterns() -> mido.MidiFile:
    """Major triads sounding E, F sharp, G sharp in a row: as F flat, G flat, A flat one pedal moves. Easy."""
    bpm = 76
    bars = ["E2 B2 E4 G#4 B4", "F#2 C#3 F#4 A#4 C#5", "G#2 D#3 G#4 C5 D#5"]
    notes: list[Note] = []
    for bar, names in enumerate(bars):
        low, fifth, root, third, top = names.split()
        at, soft = 4 * bar, 50 + 8 * bar
        notes += line(f"{low}+{fifth}:3", at, (soft, soft))
        notes += line(f"{root}+{third}+{top}:1 {root}:.5 {third} {top}:1", at, (soft + 8, soft + 2))
    notes += line("G#2+D#3+G#4+C5+D#5:2", 12, (48, 48))
    head = Head("Three Lanterns", [(0, bpm)], marks=[(0, "A"), (4, "B"), (8, "C")])
    return one_track(head, played(notes, bpm, seed=6))


def fog_bell() -> mido.MidiFile:
    """F double sharp, then G twice, 0.094 s apart: one string three times. Easy for the feet, else unplayable."""
    minor = "D#5:1/2 G#5 E5 D#5 C#5 B4 A#4 F##4:1/4 G4"
    major = "G4:1/2 Eb5 Db5 Ab4 Eb4 F##4:1/4 G4 Bb4:1"
    right = line(f"{minor} | {major} | {minor} | {major} | {minor} | Eb5:1 Bb4 G4 r", loud=(62, 86), gate=0.7)
    left = line(
        "G#2+D#3:2 E3+B3 | Eb3+Bb3:3 r:1 | G#2+D#3:2 E3+B3 | Eb3+Bb3:3 r:1 |"
        " C#3+G#3:2 D#3+A#3 | Eb2+Bb2+Eb3+G3:3",
        loud=(50, 64),
    )
    head = Head("Fog Bell", [(0, 160)], keys=[(0, "G#m")], marks=[(0, "A"), (8, "B"), (16, "C")])
    return several_tracks(head, [track("Harp", [*right, *left], 480)])


def two_banks() -> mido.MidiFile:
    """Two parts on two tracks that answer each other by the bar; each alone moves no pedal. Easy."""
    bpm = 96
    near = [
        *line("G2+D3:2 G3:1 r | r:4 | C3+G3:2 E3:1 r | r:4 | F2+C3:2 F3:1", loud=(52, 60)),
        *line(
            "B4:.5 D5 G5 D5 B4:1 r | r:4 | C5:.5 E5 G5 E5 C5:1 r | r:4 | A4:.5 C5 F5 C5 A4:1", loud=(64, 72)
        ),
    ]
    far = [
        *line("r:4 | Eb3+Bb3:2 G3:1 r | r:4 | Ab2+Eb3:2 Ab3:1 r | r:4 | Db3+Ab3:4", loud=(44, 52)),
        *line(
            "r:4 | G4:.5 Bb4 Eb5 Bb4 G4:1 r | r:4 | Ab4:.5 C5 Eb5 C5 Ab4:1 r | r:4 | F4:.5 Ab4 Db5 F5 Ab5:2",
            loud=(56, 64),
        ),
    ]
    head = Head("Two Banks", [(0, bpm)], marks=[(0, "A"), (8, "B"), (16, "C")])
    parts = [
        track("Harp I (near bank)", played(near, bpm, seed=81), 480, channel=0),
        track("Harp II (far bank)", played(far, bpm, seed=82), 480, channel=1),
    ]
    return several_tracks(head, parts)


def wake() -> mido.MidiFile:
    """A glissando of the diminished seventh C E flat G flat A: strings in order, all but A twice. Easy."""
    bpm, strings = 75, "CDEFGAB"
    # The setting, as semitones above C: C natural, D sharp, E flat, F sharp, G flat, A natural, B sharp.
    sounding = {
        "C": 0,
        "D": 3,
        "E": 3,
        "F": 6,
        "G": 6,
        "A": 9,
        "B": 12,
    }
    scale = [12 * (octave + 1) + sounding[letter] for octave in (3, 4, 5) for letter in strings] + [84]
    step = Fraction(1, 16)  # 0.05 s: 20 strings a second
    up = [Note(4 + step * i, step, key, 46 + 2 * i) for i, key in enumerate(scale)]
    down = [Note(8 + step * i, step, key, 88 - 2 * i) for i, key in enumerate(reversed(scale))]
    chords = [
        *line("C2+C3+Eb4+Gb4+A4+C5:3", loud=(60, 60)),
        *line("C6+Eb6+Gb6+A6:2", at=6, loud=(80, 80)),
        *line("C2+C3+Eb4+Gb4+A4+C5:4", at=12, loud=(50, 50)),
    ]
    head = Head("The Wake", [(0, bpm)], keys=[(0, "Cm")], marks=[(0, "A"), (8, "B")])
    return one_track(head, [*up, *down, *chords], ppq=480)


def hawsers() -> mido.MidiFile:
    """Rolled chords and arpeggios of eight, as played, two right-foot changes between chords. Playable."""
    bpm = 60
    dorian, flat_side = "D3 F3 A3 C4 E4 G4 A4 D5", "Gb3 Bb3 Db4 F4 Ab4 Bb4 Db5 Gb5"
    roll = Fraction(4, 100)  # 0.04 s between the notes of a roll, the top one on the beat
    notes: list[Note] = []
    for bar in range(5):
        names, beat, soft = (flat_side if bar % 2 else dorian), 3 * bar + 1, 54 + 5 * bar
        notes += run(names, beat - 7 * roll, roll, (soft, soft + 14), hold=Fraction(11, 10))
        notes += run(names, beat + 1, Fraction(1, 8), (soft - 4, soft + 8))
    notes += run(flat_side, 16 - 7 * roll, roll, (50, 60), hold=Fraction(27, 10))
    head = Head("Hawsers", [(0, bpm)], [(0, (1, 4)), (1, (3, 4))], marks=[(1, "A"), (10, "B")])
    return one_track(head, played(notes, bpm, seed=10))


def weir() -> mido.MidiFile:
    """Four against three in contrary motion, both feet change at every beat. Too much at once: virtuoso."""
    rising = ["G5 A5 D6 E6", "G4 A4 D5 E5", "G5 A5 E6 D6", "G4 A4 E5 D5"]
    falling = ["G#5 E5 B4 E4", "G#5 B5 E5 B4", "G#4 E5 B4 E4", "G#5 E6 B5 E5"]
    right = " ".join(f"{a} {b}" for a, b in zip(rising, falling, strict=True)).replace("G5", "G5:1/4", 1)
    left = "E3:1/3 D3 C#3 B2 E3 C4 D3 E3 C#3 E3 B2 C4"
    notes = [
        *line(f"{right} {right}", loud=(70, 96), gate=0.9),
        *line(" ".join([left] * 4), loud=(62, 84), gate=0.85),
        *line("E2+B2+E4+B4+E5:2", at=16.5, loud=(92, 92)),
    ]
    head = Head("The Weir", [(0, 100)], keys=[(0, "Am")], marks=[(0, "A"), (8, "B")])
    return several_tracks(head, [track("Harp", notes, 480)])


def moored() -> mido.MidiFile:
    """G and A are held while the tune needs G sharp: a pedal moves under a held string. Playable, audible."""
    bpm = 54
    right = line("F4:2 A4:1 D5 | E5:1 D5 G#4 A4 | F4:2 E4:1 C4 | D4:3", loud=(52, 66))
    left = line("D3+A3:4 | A2+E3+G3 | D3+A3 | D2+A2+D3:3", loud=(42, 48), gate=0.95)
    head = Head("Moored", [(0, bpm)], keys=[(0, "Dm")], marks=[(0, "A"), (8, "B")])
    return one_track(head, played([*right, *left], bpm, seed=12))


GULL_CRIES = (("Db5 Eb5", 1.5), ("Eb5 F5", 3), ("Ab5 Gb5", 6), ("Bb4", 9), ("Ab5 Gb5", 13.5), ("Bb4 C5", 15))


def gulls() -> mido.MidiFile:
    """Grace notes of 0.07 s in D flat major, as played: quick fingers, still feet. Easy."""
    bpm = 75
    right = line(
        "Ab5:1.5 F5 | Gb5:1.5 Eb5 | F5:1 Eb5:.5 Db5:1.5 | C5:1.5 Ab4 | Bb4:1 Db5:.5 F5:1.5 | Db5:3",
        loud=(56, 70),
    )
    left = line(
        "Db3:.5 Ab3 F4 Db4 Ab3 F3 | Gb2 Db3 Bb3 Ab2 Gb3 C4 | Bb2 F3 Db4 Bb3 F3 Db3 | Ab2 Eb3 Gb3 C4 Gb3 Eb3 |"
        " Gb2 Db3 Bb3 Ab2 F3 Db4 | Db3+Ab3+Db4+F4:3",
        loud=(42, 52),
    )
    each = Fraction(7, 100) * Fraction(bpm, 60)
    graces: list[Note] = []
    for names, beat in GULL_CRIES:
        count = len(names.split())
        graces += run(names, Fraction(beat) - count * each, each, (50, 56))
    head = Head("Gulls", [(0, bpm)], [(0, (6, 8))], [(0, "Db")], [(0, "A"), (9, "B")])
    return one_track(head, played([*right, *left, *graces], bpm, seed=13))


def engine_bells() -> mido.MidiFile:
    """Chords with G and A, then with G sharp, every 0.36 s: no foot has its half second. Virtuoso."""
    low = "G4+A4+D5:1/2 G#4+B4+E5"
    high = "A4+D5+G5:1/2 B4+E5+G#5"
    right = line(
        f"{low} {low} {high} {low} | {high} {high} {low} {low} | {low} {high} {low} {high}",
        loud=(70, 92),
        gate=0.4,
    )
    left = line(" ".join(["A2+E3:1/2 E2+B2"] * 12), loud=(60, 80), gate=0.4)
    close = line("E2+B2+G#4+B4+E5:2", at=12.5, loud=(90, 90))
    head = Head("Engine Bells", [(0, 84)], marks=[(0, "A"), (8, "B")])
    return several_tracks(head, [track("Harp", [*right, *left, *close], 480)])


def cue_export() -> mido.MidiFile:
    """An untidy sequencer export, type 1, whose harp part is simple: D minor and one pedal change. Easy.

    Cello, accordion, drums on channel 10 and an empty track beside the harp, whose name is in UTF-8;
    keyswitches below the harp's range, bank selects, the sustain pedal, a tempo and a metre that change,
    releases written as note-ons of velocity 0, a key struck again while held, notes that never end.
    """
    ppq = 480
    head = Head(
        "Cue 7, export",
        [(0, 104), (8, 96), (16, 66)],
        [(0, (4, 4)), (12, (3, 4))],
        [(0, "Dm")],
        [(0, "A"), (8, "B"), (12, "C")],
    )
    harp_notes = [
        *line(
            "D3:.5 A3 D4 F4 A4 F4 D4 A3 | Bb2 F3 Bb3 D4 F4 D4 Bb3 F3 | F3 C4 F4 A4 C5 A4 F4 C4",
            loud=(58, 66),
            gate=1,
        ),
        *line("G2:1 Bb3+D4+G4 Bb3+D4+G4 | A2:1 C#4+E4+G4 A4 | D3+A3+D4+F4:3", at=12, loud=(60, 52), gate=1),
    ]
    switches = [
        *line("C0:4 | C#0:4 | C0:4", gate=1, loud=(1, 1)),
        *line("D0:3", at=12, gate=1, loud=(127, 127)),
    ]
    harp = [
        (
            tick,
            order,
            mido.Message("note_on", channel=1, note=message.note, velocity=0) if order == 2 else message,
        )
        for tick, order, message in track(
            "Harfe · Fähre „Weidenkätzchen“ ♪", [*harp_notes, *switches], ppq, channel=1
        )
    ]

    def control(at: float, number: int, value: int) -> Timed:
        return (ticks(at, ppq), 1, mido.Message("control_change", channel=1, control=number, value=value))

    def strike(at: float, name: str, channel: int = 1) -> Timed:
        return (ticks(at, ppq), 3, mido.Message("note_on", channel=channel, note=pitch(name), velocity=60))

    harp += [control(0, 0, 0), control(0, 32, 3), control(0, 7, 100), control(0, 11, 96)]
    harp += [
        control(at, 64, value) for at, value in [(0, 127), (3.9, 0), (4, 127), (7.9, 0), (12, 127), (21, 0)]
    ]
    harp += [strike(8, "C6"), strike(18, "A5")]  # never released
    harp += [strike(19.5, "F4")]  # struck again while its key is down; the one release that follows ends both
    cello = [
        *track("Vlc.  ", line("D3:4 Bb2 A2 G2:3 A2 D2", loud=(70, 50), gate=1.02), ppq, channel=0, program=42)
    ]
    cello += [(ticks(2, ppq), 1, mido.Message("pitchwheel", channel=0, pitch=512)), strike(18, "D3", 0)]
    cello += [(ticks(3, ppq), 1, mido.Message("pitchwheel", channel=0, pitch=0))]
    squeezebox = track(
        "Accordion (Ferryman)",
        line("r:4 D4+F4+A4 | C4+F4+A4 | D4+G4:3 C#4+E4 D4+F4", loud=(48, 60)),
        ppq,
        channel=2,
        program=21,
    )
    beats = [
        (0, 0, mido.MetaMessage("track_name", name="Drums: engine")),
        *note_events(
            line("C2:1 F#2:.5 F#2 D2:1 F#2:.5 F#2 C2:1 F#2:.5 F#2 D2:1 F#2:.5 F#2 C2:4", gate=0.2),
            ppq,
            channel=9,
        ),
    ]
    empty: list[Timed] = [(0, 0, mido.MetaMessage("track_name", name="Audio 3 (muted)"))]
    return several_tracks(head, [cello, squeezebox, harp, beats, empty], ppq)


RECORDINGS: tuple[tuple[str, Callable[[], mido.MidiFile]], ...] = (
    ("01-slack-water.mid", slack_water),
    ("02-upstream.mid", upstream),
    ("03-paddle-wheel.mid", paddle_wheel),
    ("04-paddle-wheel-half.mid", paddle_wheel_half),
    ("05-paddle-wheel-revised.mid", paddle_wheel_revised),
    ("06-three-lanterns.mid", three_lanterns),
    ("07-fog-bell.mid", fog_bell),
    ("08-two-banks.mid", two_banks),
    ("09-wake-glissando.mid", wake),
    ("10-hawsers.mid", hawsers),
    ("11-weir.mid", weir),
    ("12-moored.mid", moored),
    ("13-gulls.mid", gulls),
    ("14-engine-bells.mid", engine_bells),
    ("15-cue-export.mid", cue_export),
)


# --- exports as composers have them: whose notes are the harp's? ----------------------------------------------------

LANDING = "D3:.5 A3 D4 F4 A4 F4 D4 A3 | G2 D3 G3 Bb3 D4 Bb3 G3 D3 | A2 E3 A3 C4 E4 C4 A3 E3 | D3+A3+D4+F4:4"
MELODY = "A4:1 D5 F5 E5 | D5:2 Bb4 | C5:1 A4 E5:2 | D5:4"


def of_program(at: float, number: int, channel: int) -> Timed:
    """A program change, so many crotchets from the start."""
    return (ticks(at, 480), 1, mido.Message("program_change", channel=channel, program=number))


def shared_track() -> mido.MidiFile:
    """An orchestra whose harp shares its track with the strings: the harp rests where they play. Easy.

    The track's name says both, and a program change stands before each; the strings' chromatic tremolo is no harp's.
    """
    shared = track("Harp/str", line(LANDING, gate=1), 480, channel=3)
    tremolo = line("C5:1/8 B4 " * 32, at=16)
    shared += [*note_events(tremolo, 480, channel=3), of_program(16, 48, 3), of_program(24, HARP, 3)]
    shared += note_events(line("D3+A3+D4:4", at=24), 480, channel=3)
    oboe = track("Oboe", line(MELODY), 480, channel=0, program=68)
    return several_tracks(Head("Landing stage, orchestra", [(0, 72)]), [oboe, shared])


def timpani_as_harp() -> mido.MidiFile:
    """A timpani track that was left under the harp's program, and a harp that landed on the drums' channel. Easy."""
    timpani = track("Timpani", line("D2:2 A1 D2 A1 D2:8"), 480, channel=4)
    harp = track("Harp", line(LANDING, gate=1), 480, channel=9)
    flute = track("Flute", line(MELODY), 480, channel=0, program=73)
    return several_tracks(Head("Landing stage, untidy", [(0, 72)]), [flute, timpani, harp])


def sketch() -> mido.MidiFile:
    """The first sketch at the piano, as notation programs export it: a track for each staff, and no harp. Easy."""
    upper = track("upper", line(MELODY, loud=(60, 72)), 480, channel=0, program=0)
    lower = track("lower", line(LANDING, loud=(50, 60), gate=1), 480, channel=0, program=0)
    return several_tracks(Head("Landing stage, sketch", [(0, 72)]), [upper, lower])


EXPORTS: tuple[tuple[str, Callable[[], mido.MidiFile], int], ...] = (
    ("shared-track.mid", shared_track, 0),
    ("timpani-as-harp.mid", timpani_as_harp, 0),
    ("sketch.mid", sketch, 0),
    ("cut-off.mid", sketch, 40),
)
"""Name, music, and how many bytes are missing at the end."""


def write_all(folder: Path) -> list[Path]:
    """Write every recording into an existing folder, over what is there, and the exports into a folder in it; the paths
    written, in order.
    """
    paths = []
    for name, build in RECORDINGS:
        build().save(folder / name)
        paths.append(folder / name)
    exports = folder / "exports"
    exports.mkdir(exist_ok=True)
    for name, build, missing in EXPORTS:
        whole = io.BytesIO()
        build().save(file=whole)
        paths.append(exports / name)
        paths[-1].write_bytes(whole.getvalue()[: len(whole.getvalue()) - missing])
    return paths


if __name__ == "__main__":
    for path in write_all(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent):
        print(path.name)
