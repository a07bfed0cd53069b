"""Standard MIDI files as bytes: the one writer, for saved takes, parts for two harps and marked files.

Source: "Standard MIDI Files 1.0" (RP-001): chunks, times as variable-length numbers, meta events. A channel message
of the status of the one before leaves its status byte out (running status); a meta event ends that.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from livepedal.sources.raw import END_OF_TRACK, OWN_MARK, TEXT
from livepedal.sources.text import clean

LONGEST_NUMBER = (1 << 28) - 1  # the most that four bytes of seven bits hold (SMF 1.0: 0FFFFFFF)
LONGEST_TEXT = 2000  # characters


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


def track_chunk(rows: Iterable[tuple[int, bytes]], end: int) -> bytes:
    """A track of events, each whole, with its tick, in order of time. end: the tick of its end, where it is no
    earlier than the last event.
    """
    data = bytearray()
    at = running = 0
    for tick, event in (*rows, (-1, meta_event(END_OF_TRACK, b""))):
        tick = max(end, at) if tick < 0 else tick
        while tick - at > LONGEST_NUMBER:
            # No time is longer, so a text that says nothing stands in between; marking takes it out.
            data += variable_length(LONGEST_NUMBER) + meta_event(TEXT, OWN_MARK.encode("ascii"))
            at += LONGEST_NUMBER
            running = 0
        data += variable_length(tick - at)
        at = tick
        data += event[1:] if event[0] == running else event
        running = event[0] if event[0] < 0xF0 else 0
    return chunk(b"MTrk", bytes(data))


def chunk(tag: bytes, body: bytes) -> bytes:
    """A chunk: its tag, its length, and what it holds."""
    return tag + len(body).to_bytes(4, "big") + body


def midi_file(per_quarter: int, tracks: Sequence[bytes]) -> bytes:
    """A file of type 1 of these track chunks. per_quarter: ticks."""
    head = (1).to_bytes(2, "big") + len(tracks).to_bytes(2, "big") + per_quarter.to_bytes(2, "big")
    return chunk(b"MThd", head) + b"".join(tracks)
