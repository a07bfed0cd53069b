"""Standard MIDI files written: takes that are saved, parts for two harps.

mido writes the file. What goes into it comes as whole events, as bytes, each with its tick. Only marks that are put
into somebody's own file are spliced in byte by byte (marking.py), since mido would write all of it anew.

Source: "Standard MIDI Files 1.0" (RP-001), SMF 1.0 below.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence

from livepedal.sources.raw import END_OF_TRACK, OWN_MARK, TEXT
from livepedal.sources.text import clean

LONGEST_NUMBER = (1 << 28) - 1  # the most that four bytes of seven bits hold (SMF 1.0: 0FFFFFFF)
LONGEST_TEXT = 2000  # characters
Row = tuple[int, bytes]


def variable_length(number: int) -> bytes:
    """A number as it is written, seven bits a byte. Raises ValueError where it takes more than four bytes."""
    if number > LONGEST_NUMBER:
        raise ValueError(number)
    out = [number & 0x7F]
    while number := number >> 7:
        out.append(number & 0x7F | 0x80)
    return bytes(reversed(out))


def meta_event(kind: int, data: bytes) -> bytes:
    """A meta event, without the time before it."""
    return bytes((0xFF, kind)) + variable_length(len(data)) + data


def text_event(kind: int, text: str) -> bytes:
    """A meta event that holds a text, without control characters and not too long."""
    return meta_event(kind, clean(text, LONGEST_TEXT).encode("utf-8", "replace"))


def timed(rows: Iterable[Row], end: int) -> Iterator[Row]:
    """(ticks since the event before, event) of a track, the end of the track last.

    rows: (tick, event) in order of time; end: the tick of the end, where it is no earlier than the last event. No time
    is longer than SMF 1.0 can say: a text that says nothing stands in between, which marking takes out.
    """
    at = 0
    for tick, event in (*rows, (-1, meta_event(END_OF_TRACK, b""))):
        tick = max(end, at) if tick < 0 else tick
        while tick - at > LONGEST_NUMBER:
            yield LONGEST_NUMBER, meta_event(TEXT, OWN_MARK.encode("ascii"))
            at += LONGEST_NUMBER
        yield tick - at, event
        at = tick


def midi_file(per_quarter: int, tracks: Sequence[tuple[Iterable[Row], int]]) -> bytes:
    """A file of type 1.

    Args:
        per_quarter: ticks.
        tracks: the rows and the end of each, as `timed` takes them.
    """
    import mido

    file = mido.MidiFile(type=1, ticks_per_beat=per_quarter)
    for rows, end in tracks:
        track = mido.MidiTrack()
        for ticks, event in timed(rows, end):
            if event[:2] == bytes((0xFF, END_OF_TRACK)):
                track.append(mido.MetaMessage("end_of_track", time=ticks))
            elif event[0] == 0xFF:
                # Not by MetaMessage.from_bytes (mido 1.3), which misreads a length of 128.
                length = next(at for at in range(2, len(event)) if event[at] < 0x80)
                track.append(mido.UnknownMetaMessage(event[1], event[length + 1 :], time=ticks))
            else:
                track.append(mido.Message.from_bytes(event, time=ticks))
        file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()
