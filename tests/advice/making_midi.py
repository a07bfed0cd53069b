"""Small MIDI files with a harp's part, written by mido."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import mido

# (start, length, MIDI numbers), in quarters
Struck = tuple[float, float, Sequence[int]]


def midi(
    *tracks: tuple[str, Sequence[Struck]],
    bpm: float = 120,
    key: str | None = None,
    ticks: int = 480,
    metre: tuple[int, int] | None = None,
    texts: Sequence[tuple[float, str, str]] = (),
) -> bytes:
    """A file of type 1 in 4/4, one track under General MIDI's harp (data byte 46) for each of those given.

    texts: (quarter, kind, text), in the first of them.
    """
    file = mido.MidiFile(type=1, ticks_per_beat=ticks)
    head = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm))])
    if key is not None:
        head.append(mido.MetaMessage("key_signature", key=key))
    if metre is not None:
        head.append(mido.MetaMessage("time_signature", numerator=metre[0], denominator=metre[1]))
    file.tracks.append(head)
    for channel, (name, struck) in enumerate(tracks):
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
        track.append(mido.Message("program_change", channel=channel, program=46))
        timed = [] if channel else [(at, -1, 0, mido.MetaMessage(kind, text=text)) for at, kind, text in texts]
        for start, length, pitches in struck:
            for pitch in pitches:
                note = {"channel": channel, "note": pitch}
                timed.append((start, 1, pitch, mido.Message("note_on", velocity=64, **note)))
                timed.append((start + length, 0, pitch, mido.Message("note_off", velocity=0, **note)))
        now = 0
        for quarter, _, _, message in sorted(timed, key=lambda one: (round(one[0] * ticks), *one[1:3])):
            at = round(quarter * ticks)
            track.append(message.copy(time=at - now))
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
