"""Music put back into a standard MIDI file: tempos, metres, marks and keys as they were, a track for each harp.

Every note keeps its own moment, length and velocity, also where it was gathered into an attack with others.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import mido

from livepedal.music.events import Event, NoteOff, NoteOn
from livepedal.music.song import KeySignature
from livepedal.music.timemap import TimeMap
from livepedal.music.tracks import HARP_PROGRAM
from livepedal.sources.raw import KEY_SIGNATURE
from livepedal.sources.smf_writing import Row, midi_file, text_event

TICKS = 960  # a quarter, where the file that it is made of counts in frames of film


@dataclass(frozen=True, slots=True)
class Sounded:
    """One note as it is played: the number of its attack, onset and end (µs), pitch (MIDI), velocity, source."""

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


def sounded(events: Iterable[Event], moments: Sequence[int], lowest: int, end_us: int) -> tuple[Sounded, ...]:
    """The notes of events, with the attack that each belongs to.

    Args:
        events: in order of time.
        moments: of their attacks (µs), as `attacks_of` (judging/part.py) gathers them.
        lowest: the first note (MIDI number) of any harp; those below it belong to none and are left out.
        end_us: when what is never released ends.
    """
    found: list[Sounded] = []
    held: dict[tuple[int, int], int] = {}

    def release(key: tuple[int, int], us: int) -> None:
        number = held.pop(key)
        found[number] = replace(found[number], end=us)

    for event in events:
        if isinstance(event, NoteOn) and event.pitch >= lowest:
            key = event.source, event.pitch
            if key in held:
                release(key, event.us)
            attack = bisect_right(moments, event.us) - 1
            held[key] = len(found)
            found.append(Sounded(attack, event.us, end_us, event.pitch, event.velocity, event.source))
        elif isinstance(event, NoteOff) and (event.source, event.pitch) in held:
            release((event.source, event.pitch), event.us)
    return tuple(found)


def midi_bytes(title: str, staves: Sequence[Staff], time_map: TimeMap, keys: Sequence[KeySignature]) -> bytes:
    """A MIDI file of these tracks, in the time of the given map."""
    per_quarter = time_map.division.per_quarter
    # Ticks of a part of a second are written in quarters of half a second instead, where bars are counted alike.
    written = time_map if per_quarter is not None else TimeMap.steady()
    tick = written.tick
    head = [(0, text_event("track_name", title))]
    head += [(at, mido.MetaMessage("set_tempo", tempo=us)) for at, us in written.tempos]
    for at, numerator, denominator in time_map.metres:
        metre = mido.MetaMessage("time_signature", numerator=numerator, denominator=denominator)
        head.append((tick(time_map.us(at)), metre))
    for key in keys:
        # mido wants the name of the key, not the number of its fifths.
        data = bytes((key.fifths & 0xFF, key.minor))
        head.append((tick(key.us), mido.UnknownMetaMessage(KEY_SIGNATURE, data)))
    head += [(tick(time_map.us(mark.tick)), text_event("marker", mark.text)) for mark in time_map.marks]
    tracks = [(_ordered(head), 0)]
    for channel, staff in enumerate(staves):
        rows = [
            (0, text_event("track_name", staff.name)),
            (0, mido.Message("program_change", channel=channel, program=HARP_PROGRAM)),
        ]
        releases, strikes = [], []
        for note in _untangled(staff.notes):
            start = tick(note.us)
            strikes.append(
                (start, mido.Message("note_on", channel=channel, note=note.pitch, velocity=note.velocity))
            )
            # A note without length would be released before it is struck.
            releases.append(
                (
                    max(tick(note.end), start + 1),
                    mido.Message("note_off", channel=channel, note=note.pitch, velocity=0),
                )
            )
        tracks.append((_ordered([*rows, *releases, *strikes]), 0))
    return midi_file(per_quarter or TICKS, tracks)


def _ordered(rows: Iterable[Row]) -> list[Row]:
    """In order of time; those of one moment stay in their order."""
    return sorted(rows, key=lambda row: row[0])


def _untangled(notes: Iterable[Sounded]) -> list[Sounded]:
    """The notes as one keyboard can hold them: a pitch struck again ends the earlier note."""
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
                found[known] = replace(before, end=note.us)
        last[note.pitch] = len(found)
        found.append(note)
    return found
