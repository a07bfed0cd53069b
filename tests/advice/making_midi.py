"""Small MIDI files for the tests of spelling, sharing and combining, written by mido."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import mido

# (start, length, MIDI numbers), in quarters
Struck = tuple[float, float, Sequence[int]]


def midi(
    *tracks: tuple[str, Sequence[Struck]], bpm: float = 120, key: str | None = None, ticks: int = 480
) -> bytes:
    """A file of type 1 in 4/4, one track under General MIDI's harp (data byte 46) for each of those given."""
    file = mido.MidiFile(type=1, ticks_per_beat=ticks)
    head = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm))])
    if key is not None:
        head.append(mido.MetaMessage("key_signature", key=key))
    file.tracks.append(head)
    for channel, (name, struck) in enumerate(tracks):
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
        track.append(mido.Message("program_change", channel=channel, program=46))
        timed = []
        for start, length, pitches in struck:
            for pitch in pitches:
                timed.append((round(start * ticks), 1, pitch))
                timed.append((round((start + length) * ticks), 0, pitch))
        now = 0
        for at, down, pitch in sorted(timed):
            kind = "note_on" if down else "note_off"
            velocity = 64 if down else 0
            track.append(mido.Message(kind, channel=channel, note=pitch, velocity=velocity, time=at - now))
            now = at
        file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def struck(source: Path | bytes) -> Counter[tuple[float, int]]:
    """Every strike of a file by mido alone: (seconds, MIDI number)."""
    file = mido.MidiFile(source) if isinstance(source, Path) else mido.MidiFile(file=io.BytesIO(source))
    now, found = 0.0, Counter[tuple[float, int]]()
    for message in file:
        now += message.time
        if message.type == "note_on" and message.velocity:
            found[round(now, 3), message.note] += 1
    return found
