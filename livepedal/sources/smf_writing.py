"""Standard MIDI files written: takes that are saved, parts for two harps.

What goes into a file comes as whole events, as bytes, each with its tick; marks that are put into somebody's own file
go the same way (marking.py).

Source: "Standard MIDI Files 1.0" (RP-001), SMF 1.0 below.
"""

from __future__ import annotations

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


def track_chunk(rows: Iterable[Row], end: int) -> bytes:
    """A track chunk of these rows, as `timed` takes them. A channel message of the status of the one before leaves its
    status byte out (SMF 1.0).
    """
    out = bytearray()
    running = 0
    for ticks, event in timed(rows, end):
        out += variable_length(ticks) + (event[1:] if event[0] == running else event)
        running = event[0] if event[0] < 0xF0 else 0
    return b"MTrk" + len(out).to_bytes(4, "big") + bytes(out)


def midi_file(per_quarter: int, tracks: Sequence[tuple[Iterable[Row], int]]) -> bytes:
    """A file of type 1.

    Args:
        per_quarter: ticks.
        tracks: the rows and the end of each, as `timed` takes them.
    """
    header = b"".join(number.to_bytes(2, "big") for number in (1, len(tracks), per_quarter))
    return b"MThd\0\0\0\6" + header + b"".join(track_chunk(rows, end) for rows, end in tracks)
