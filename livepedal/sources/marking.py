"""The same MIDI file with texts put in: markers for a sequencer to show, a track of texts to read along, lyrics.

The bytes of every event are kept as they are; between them meta events are put in (SMF 1.0, "Meta-Events": 06
marker, 01 text, 05 lyric), and only the time from one event to the next is written anew. A meta event ends running
status (SMF 1.0), so the event after it gets its status byte back. Markers go into the first track, where sequencers
look for them; lyrics into the track of the notes they stand under; texts into a track of their own at the end, or, in
a file of type 0, into the only one; in a file of type 2 everything goes into the track that it belongs to.

What an earlier pass has put in is taken out first, so a marked file can be marked again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from livepedal.errors import LivepedalError
from livepedal.sources.raw import (
    END_OF_TRACK,
    LYRIC,
    MARKER,
    OWN_MARK,
    TEXT,
    TRACK_NAME,
    is_own,
)
from livepedal.sources.smf import Damage, find_header, read_number, system_event
from livepedal.sources.smf_writing import LONGEST_NUMBER, timed
from livepedal.sources.text import clean

OWN_TRACK = b"livepedal"
_KINDS = (TEXT, MARKER, LYRIC)


class Put(NamedTuple):
    """A text to put in, ASCII.

    Attributes:
        track: the number, from 1, of the track with the notes that it is about.
    """

    tick: int
    text: str
    track: int = 1


@dataclass(frozen=True, slots=True)
class _Event:
    """An event of a track.

    Attributes:
        data: its bytes, without the time before it.
        kind: of a meta event, else -1.
        played: whether it is a channel message.
    """

    tick: int
    data: bytes
    kind: int = -1
    played: bool = False

    @property
    def ours(self) -> bool:
        if self.kind not in _KINDS:
            return False
        _, start = read_number(self.data, 2)
        return is_own(self.data[start:])


def marked(
    data: bytes, name: str, markers: Sequence[Put], texts: Sequence[Put], lyrics: Sequence[Put] = ()
) -> bytes:
    """The file with these texts put in, without a wrapper that it came in.

    Args:
        data: the file's bytes.
        name: what messages call it.
        markers: for a sequencer's ruler.
        texts: for a track of their own.
        lyrics: to stand under the notes of their tracks.

    Raises:
        LivepedalError: it is so damaged that not every byte is understood.
    """
    data, start = find_header(data, [])
    length = int.from_bytes(data[start + 4 : start + 8], "big")
    header = bytearray(data[start : start + 8 + length])
    kind = header[9]
    chunks: list[tuple[bytes, bytes | list[_Event]]] = [
        (tag, body if tag != b"MTrk" else _events(body, name))
        for tag, body in _chunks(data[start + 8 + length :])
    ]
    chunks = [(tag, body) for tag, body in chunks if not (isinstance(body, list) and _is_own_track(body))]
    tracks = [body for _, body in chunks if isinstance(body, list)]
    for number, events in enumerate(tracks, 1):
        events[:] = [event for event in events if not event.ours]
        mine = [(MARKER, put) for put in markers if (put.track if kind == 2 else 1) == number]
        mine += [(LYRIC, put) for put in lyrics if (1 if kind == 0 else put.track) == number]
        if kind == 2 or (len(tracks) == 1 and kind == 0):
            mine += [(TEXT, put) for put in texts if kind == 0 or put.track == number]
        events[:] = _with(events, mine)
    if kind != 2 and not (kind == 0 and len(tracks) == 1) and texts:
        own = [_Event(0, _meta(TRACK_NAME, OWN_TRACK), TRACK_NAME)]
        chunks.append((b"MTrk", _with(own, [(TEXT, put) for put in texts])))
    number = sum(tag == b"MTrk" for tag, _ in chunks)
    header[10:12] = number.to_bytes(2, "big")
    out = bytearray(header)
    for tag, body in chunks:
        written = _track(body) if isinstance(body, list) else body
        out += tag + len(written).to_bytes(4, "big") + written
    return bytes(out)


def _chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 0
    while at + 8 <= len(data):
        size = int.from_bytes(data[at + 4 : at + 8], "big")
        yield data[at : at + 4], data[at + 8 : at + 8 + size]
        at += 8 + size


def _events(data: bytes, name: str) -> list[_Event]:
    """Every event of a track, up to its end."""
    found: list[_Event] = []
    tick = pos = status = 0
    try:
        while pos < len(data):
            delta, pos = read_number(data, pos)
            tick += delta
            byte = data[pos]
            if byte >= 0xF0:
                kind, _, end = system_event(data, pos + 1, byte)
                if end > len(data):
                    raise IndexError
                found.append(_Event(tick, data[pos:end], kind))
                pos = end
                if kind == END_OF_TRACK:
                    break
                continue
            if byte > 0x7F:
                status = byte
                pos += 1
            size = 1 if 0xC0 <= status < 0xE0 else 2
            body = data[pos : pos + size]
            pos += size
            if not status or len(body) < size:
                raise IndexError
            found.append(_Event(tick, bytes((status,)) + body, played=True))
    except (IndexError, Damage):
        raise LivepedalError(
            f"{clean(name, 500)} is damaged, so marks cannot be added to it; export it again."
        ) from None
    return found


def _is_own_track(events: list[_Event]) -> bool:
    """Whether an earlier pass has made this track."""
    named = any(event.kind == TRACK_NAME and event.data[3:] == OWN_TRACK for event in events)
    return named and not any(event.played for event in events)


def _with(events: list[_Event], puts: Iterable[tuple[int, Put]]) -> list[_Event]:
    """Events with texts put in: at their tick behind what else is set up there, ahead of the notes."""
    new = [_Event(put.tick, _meta(kind, put.text.encode("ascii", "replace")), kind) for kind, put in puts]
    rest = [event for event in events if event.kind != END_OF_TRACK]
    merged: list[_Event] = []
    at = 0
    for put in sorted(new, key=lambda event: event.tick):
        while at < len(rest) and (
            rest[at].tick < put.tick or (rest[at].tick == put.tick and not rest[at].played)
        ):
            merged.append(rest[at])
            at += 1
        merged.append(put)
    merged += rest[at:]
    last = max([event.tick for event in (*events[-1:], *merged[-1:])], default=0)
    return [*merged, _Event(last, _meta(END_OF_TRACK, b""), END_OF_TRACK)]


def _track(events: list[_Event]) -> bytes:
    """The bytes of a track. A channel message with the status of the one before omits its status byte (SMF 1.0)."""
    out = bytearray()
    running = 0
    for ticks, event in timed(((event.tick, event.data) for event in events), _meta(TEXT, OWN_MARK.encode())):
        out += _number(ticks) + (event[1:] if event[0] == running else event)
        running = event[0] if event[0] < 0xF0 else 0
    return bytes(out)


def _meta(kind: int, data: bytes) -> bytes:
    """A meta event, without the time before it."""
    return bytes((0xFF, kind)) + _number(len(data)) + data


def _number(number: int) -> bytes:
    """A variable-length number: seven bits a byte, the high bit set on all but the last."""
    assert number <= LONGEST_NUMBER
    out = [number & 0x7F]
    while number := number >> 7:
        out.append(number & 0x7F | 0x80)
    return bytes(reversed(out))
