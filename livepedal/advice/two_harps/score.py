"""Music put back into a standard MIDI file: tempos, metres, marks and keys as they were, and one track for
each harp.

mido writes the file (Standard MIDI Files 1.0, type 1). Every note keeps its own moment, length and velocity,
also where it was gathered into an attack with others.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import mido

from livepedal.harp import Figures
from livepedal.music.attacks import Gathering
from livepedal.music.events import AllNotesOff, Event, NoteOff, NoteOn
from livepedal.music.song import KeySignature
from livepedal.music.timemap import TimeMap
from livepedal.music.tracks import HARP_PROGRAM

_MAJOR = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
_MINOR = ("Abm", "Ebm", "Bbm", "Fm", "Cm", "Gm", "Dm", "Am", "Em", "Bm", "F#m", "C#m", "G#m", "D#m", "A#m")
_RELEASE, _STRIKE = 0, 1


@dataclass(frozen=True, slots=True)
class Sounded:
    """One note as it is played: its attack (its place among all), onset and end (µs), pitch (MIDI) and
    velocity.
    """

    attack: int
    us: int
    end: int
    pitch: int
    velocity: int = 64
    source: int = 0


@dataclass(frozen=True, slots=True)
class Staff:
    """A track of the new file."""

    name: str
    notes: tuple[Sounded, ...]


def sounded(events: Iterable[Event], figures: Figures, end_us: int) -> tuple[Sounded, ...]:
    """The notes of events, with the attack that each belongs to; those below every harp's range are left out.

    Attacks are numbered as `advice.judging.attacks_of` gathers them. end_us: when what is never released ends.
    """
    found: list[Sounded] = []
    held: dict[tuple[int, int], int] = {}
    gathering = Gathering(figures.attack_window, figures.glissando)
    attack = -1
    lowest = figures.lowest_note

    def release(key: tuple[int, int], us: int) -> None:
        number = held.pop(key)
        one = found[number]
        found[number] = Sounded(one.attack, one.us, us, one.pitch, one.velocity, one.source)

    for event in events:
        if isinstance(event, NoteOn) and event.pitch >= lowest:
            key = event.source, event.pitch
            if key in held:
                release(key, event.us)
            if gathering.opens(event.us, event.pitch):
                attack += 1
            held[key] = len(found)
            found.append(Sounded(attack, event.us, end_us, event.pitch, event.velocity, event.source))
        elif isinstance(event, NoteOff):
            if (event.source, event.pitch) in held:
                release((event.source, event.pitch), event.us)
        elif isinstance(event, AllNotesOff):
            for key in [key for key in held if event.source in (None, key[0])]:
                release(key, event.us)
    return tuple(found)


def midi_bytes(title: str, staves: Sequence[Staff], time_map: TimeMap, keys: Sequence[KeySignature]) -> bytes:
    """A MIDI file of these tracks, in the time of the given map."""
    per_quarter = time_map.division.per_quarter
    tick: Callable[[int], int] = time_map.tick
    file = mido.MidiFile(type=1, ticks_per_beat=per_quarter or 960, charset="utf-8")
    head: list[tuple[int, mido.MetaMessage]] = [(0, mido.MetaMessage("track_name", name=title))]
    if per_quarter is None:
        # Ticks of a part of a second: written in quarters of half a second instead, where bars are counted
        # alike.
        steady = TimeMap.steady()
        tick = steady.tick
        head.append((0, mido.MetaMessage("set_tempo", tempo=steady.tempos[0].per_quarter)))
    else:
        head += [(t.tick, mido.MetaMessage("set_tempo", tempo=t.per_quarter)) for t in time_map.tempos]
    for metre in time_map.metres:
        at = tick(time_map.us(metre.tick))
        head.append(
            (at, mido.MetaMessage("time_signature", numerator=metre.numerator, denominator=metre.denominator))
        )
    for key in keys:
        names = _MINOR if key.minor else _MAJOR
        head.append((tick(key.us), mido.MetaMessage("key_signature", key=names[key.fifths + 7])))
    head += [(tick(time_map.us(m.tick)), mido.MetaMessage("marker", text=m.text)) for m in time_map.marks]
    file.tracks.append(_track(head))
    for channel, staff in enumerate(staves):
        timed: list[tuple[int, int, mido.Message | mido.MetaMessage]] = [
            (0, -2, mido.MetaMessage("track_name", name=staff.name)),
            (0, -1, mido.Message("program_change", channel=channel, program=HARP_PROGRAM)),
        ]
        for note in _untangled(staff.notes):
            start, end = tick(note.us), tick(note.end)
            timed.append(
                (
                    start,
                    _STRIKE,
                    mido.Message("note_on", channel=channel, note=note.pitch, velocity=note.velocity),
                )
            )
            end = max(end, start + 1)  # a note without length would be released before it is struck
            timed.append(
                (end, _RELEASE, mido.Message("note_off", channel=channel, note=note.pitch, velocity=0))
            )
        timed.sort(key=lambda item: item[:2])
        file.tracks.append(_track([(at, message) for at, _, message in timed]))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def _untangled(notes: Iterable[Sounded]) -> list[Sounded]:
    """The notes as one keyboard can hold them: a pitch struck again ends what of it still sounds, unless both
    begin together.
    """
    found: list[Sounded] = []
    last: dict[int, int] = {}
    for note in sorted(notes, key=lambda note: (note.us, note.pitch)):
        known = last.get(note.pitch)
        if known is not None:
            before = found[known]
            if before.us == note.us:
                if note.end > before.end:
                    found[known] = note
                continue
            if before.end > note.us:
                found[known] = Sounded(
                    before.attack, before.us, note.us, before.pitch, before.velocity, before.source
                )
        last[note.pitch] = len(found)
        found.append(note)
    return found


def _track(timed: Sequence[tuple[int, mido.Message | mido.MetaMessage]]) -> mido.MidiTrack:
    track = mido.MidiTrack()
    now = 0
    for at, message in sorted(timed, key=lambda item: item[0]):
        track.append(message.copy(time=at - now))
        now = at
    track.append(mido.MetaMessage("end_of_track"))
    return track
