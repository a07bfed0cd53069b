"""Standard MIDI files: bytes in, raw tracks out, and one clear error for whatever cannot be read.

A file is a header chunk and track chunks; a track is a row of events, each a time since the one before (a
number of one to four bytes, seven bits a byte) and a channel message, a system message or a meta event.
Source of the format: "Standard MIDI Files 1.0" (MIDI Manufacturers Association, RP-001), named SMF 1.0 below.

This is the hot path of judging a file, so a track is read by one loop over its bytes, and each message that is used
becomes one integer in an array: 8 bytes an event, and nothing for the garbage collector to walk. Other messages
(pressure, pitch bend, most controllers, system exclusive) are skipped.

It is as tolerant as players are, because real files do not follow the standard: a RIFF wrapper, unknown chunks, system
messages that have no place in a file, running status across them, bytes after the end of a track. A data byte over 127
is read without its top bit (a velocity as 127), as players do, unless there are many. A track that breaks off is read
up to there, and a remark says so; a file in which nothing whole is left is refused. The limits are generous and make a
hostile file fail at once.
"""

from __future__ import annotations

from array import array
from dataclasses import dataclass, field
from fractions import Fraction

from livepedal.sources.raw import (
    CHANNEL_PREFIX,
    END_OF_TRACK,
    INSTRUMENT_NAME,
    KEY_SIGNATURE,
    LET_GO,
    LYRIC,
    MARKER,
    MAX_EVENTS,
    MAX_TICK,
    MAX_TRACKS,
    PORT,
    RESET_CONTROLLERS,
    SET_TEMPO,
    SUSTAIN,
    SYSTEM_DATA,
    TEXT,
    TIME_SIGNATURE,
    TRACK_NAME,
    VOLUME,
    Division,
    Meta,
    RawSong,
    RawTrack,
    Refused,
    strikes,
)
from livepedal.sources.text import counted

IN_PART = "it was read up to there; export it again from the program it comes from"
"""What the remark on a track ends with that could not be read to its end."""

READ_ON = "it was read as players read it"
"""What the remark on a track ends with in which bytes cannot be right."""

# Meta events that are kept.
_KEPT_META = frozenset(
    {TEXT, TRACK_NAME, INSTRUMENT_NAME, LYRIC, MARKER, CHANNEL_PREFIX, PORT, SET_TEMPO, TIME_SIGNATURE}
    | {KEY_SIGNATURE}
)

# Controllers that are kept: volume, by which a track may be silent; sustain; and the channel mode messages, which all
# let go of keys or pedals except 122.
_KEPT_CONTROLLERS = frozenset({VOLUME, SUSTAIN, RESET_CONTROLLERS}) | LET_GO

# SMF 1.0 names four SMPTE formats; -29 is 30 drop-frame, which runs at 30 / 1.001 frames a second (SMPTE ST
# 12-1).
_FRAMES = {24: Fraction(24), 25: Fraction(25), 29: Fraction(30_000, 1001), 30: Fraction(30)}

MOST_WRONG = 8  # events of a short track with bytes that cannot be right; of a long one, one in fifty more
_CHECK_EVERY = 1 << 16  # bytes between two looks at the limits


class Damage(Exception):
    """A track cannot be read any further."""


def parse_smf(data: bytes) -> RawSong:
    """Read the bytes of a standard MIDI file of type 0, 1 or 2.

    Raises:
        Refused: nothing can be read; the message is the rest of a sentence.
    """
    remarks: list[str] = []
    data, start = find_header(data, remarks)
    length = int.from_bytes(data[start + 4 : start + 8], "big")
    if length < 6 or len(data) < start + 14:
        raise Refused("has a MIDI header that is cut short; export or copy it again.")
    kind, declared, division = (
        int.from_bytes(data[start + at : start + at + 2], "big") for at in (8, 10, 12)
    )
    if kind > 2:
        raise Refused(
            f"says it is of type {kind}, but there are only types 0, 1 and 2; export it again as type 1."
        )
    tracks = _read_tracks(data, start + 8 + length, remarks)
    if len(tracks) != declared:
        held = counted(len(tracks), "track")
        remarks.append(f"the header says {counted(declared, 'track')}, the file holds {held}; all were read")
    return RawSong(kind, _division(division), tuple(tracks), tuple(remarks))


def find_header(data: bytes, remarks: list[str]) -> tuple[bytes, int]:
    """Take off a RIFF wrapper (RP-029, "RMID") and find the header chunk."""
    if not data:
        raise Refused("is empty; export it again.")
    if data[:4] == b"RIFF" and data[8:12] == b"RMID":
        at = 12
        while at + 8 <= len(data):
            size = int.from_bytes(data[at + 4 : at + 8], "little")
            if data[at : at + 4] == b"data":
                data = data[at + 8 : at + 8 + size]
                break
            at += 8 + size + (size & 1)
    # A MacBinary header (128 bytes) is the usual thing that stands before a MIDI file.
    start = data.find(b"MThd", 0, 512)
    if start < 0:
        raise Refused(
            "is neither a MIDI file (it has no MThd header) nor a score; export one from your sequencer."
        )
    if start:
        remarks.append(f"{start} bytes before the MIDI header were skipped")
    return data, start


def _division(value: int) -> Division:
    if value & 0x8000:
        frames = _FRAMES.get(256 - (value >> 8))
        parts = value & 0xFF
        if frames is None or not parts:
            raise Refused(
                f"has a time division (0x{value:04X}) that is no SMPTE frame rate; export it in ticks a quarter."
            )
        return Division(per_second=frames * parts)
    if not value:
        raise Refused("has a time division of 0 ticks a quarter, so it has no time; export it again.")
    return Division(per_quarter=value)


def _read_tracks(data: bytes, at: int, remarks: list[str]) -> list[RawTrack]:
    tracks: list[RawTrack] = []
    room = MAX_EVENTS
    whole = True
    while at + 8 <= len(data):
        kind = data[at : at + 4]
        size = int.from_bytes(data[at + 4 : at + 8], "big")
        if kind != b"MTrk":
            if not kind.isalnum():
                # No chunk starts here, so a length before was wrong, or junk follows: look for the next
                # track.
                found = data.find(b"MTrk", at)
                if found < 0:
                    break
                at = found
            else:
                at += 8 + size  # SMF 1.0: chunks of unknown kinds are to be passed over
            continue
        if len(tracks) == MAX_TRACKS:
            raise Refused(f"has more than {MAX_TRACKS} tracks, which is too many; export fewer.")
        chunk = data[at + 8 : at + 8 + size]
        track, problem, odd = _read_track(len(tracks) + 1, chunk, at + 8, room, cut=len(chunk) < size)
        tracks.append(track)
        room -= len(track.packed) + len(track.metas)
        if odd:
            remarks.append(f"track {track.number} {odd}")
        if problem:
            whole = False
            remarks.append(f"track {track.number} {problem}; {IN_PART}")
        at += 8 + size
    if not tracks:
        raise Refused("holds no track that can be read; export it again.")
    if not whole and not any(strikes(word) for track in tracks for word in track.packed):
        reason = remarks[-1].partition(";")[0]
        raise Refused(f"is damaged and no note in it is whole ({reason}); export it again.")
    return tracks


@dataclass(slots=True)
class _Track:
    """A track as far as it has been read.

    Attributes:
        tick: of the last event.
        start: where in its data the event begins that is being read.
        ended: whether its end-of-track event has come (players do without one).
        wrong: the places in the file of bytes that cannot be right.
    """

    packed: array[int] = field(default_factory=lambda: array("Q"))
    metas: list[Meta] = field(default_factory=list)
    tick: int = 0
    start: int = 0
    ended: bool = False
    wrong: list[int] = field(default_factory=list)


def _read_track(
    number: int, data: bytes, base: int, room: int, *, cut: bool
) -> tuple[RawTrack, str | None, str | None]:
    """Read one track chunk.

    Args:
        number: of the track, from 1.
        data: the chunk's.
        base: where the data stand in the file.
        room: how many events may still be kept.
        cut: whether the chunk says it is longer than the file, which does not matter if the track ends before.

    Returns:
        The track, why it could not be read to its end, and what else is odd about it.
    """
    track = _Track()
    problem = odd = None
    try:
        _read_events(track, data, base, room)
    except IndexError:
        problem = f"breaks off in the middle of an event (at byte {base + track.start})"
    except Damage as damage:
        problem = f"{damage} (at byte {base + track.start})"
    if cut and not track.ended and not problem:
        problem = f"breaks off at the end of the file (byte {base + len(data)})"
    if track.wrong and not problem:
        these = "a byte" if len(track.wrong) == 1 else f"{len(track.wrong)} bytes"
        odd = f"has {these} that cannot be right (the first at byte {track.wrong[0]}); {READ_ON}"
    return RawTrack(number, track.packed, tuple(track.metas), track.tick), problem, odd


def _read_events(track: _Track, data: bytes, base: int, room: int) -> None:
    """Read a track's events. Raises IndexError where it breaks off, Damage where it cannot be read further."""
    packed, kept_controllers = track.packed, _KEPT_CONTROLLERS
    keep = packed.append
    size = len(data)
    tick = pos = start = status = 0
    try:
        while pos < size and not track.ended:
            stop = min(size, pos + _CHECK_EVERY)
            while pos < stop:
                start = pos
                byte = data[pos]
                pos += 1
                if byte > 0x7F:
                    # Most times are of two bytes at the most.
                    if data[pos] < 0x80:
                        byte, pos = (byte & 0x7F) << 7 | data[pos], pos + 1
                    else:
                        byte, pos = read_number(data, start)
                        _check_end(tick + byte)
                tick += byte
                data1 = data[pos]
                if data1 > 0x7F:
                    if data1 >= 0xF0:
                        # SMF 1.0 says that these cancel running status; files rely on its being kept.
                        pos = _system_event(track, data, pos + 1, data1, tick)
                        if track.ended:
                            break
                        continue
                    status = data1
                    pos += 1
                    data1 = data[pos]
                if status < 0xC0 or status > 0xDF:
                    data2 = data[pos + 1]
                    if (data1 | data2) > 0x7F or not status:
                        _note_wrong(track, base + start, status)
                        data1, data2 = data1 & 0x7F, min(data2, 0x7F)
                    pos += 2
                    if status < 0xA0 or (status < 0xC0 and status > 0xAF and data1 in kept_controllers):
                        keep(tick << 24 | status << 16 | data1 << 8 | data2)
                else:
                    if data1 > 0x7F:
                        raise Damage("has bytes that cannot be right")
                    pos += 1
                    if status < 0xD0:
                        keep(tick << 24 | status << 16 | data1 << 8)
            _check_room(room - len(packed) - len(track.metas))
    finally:
        track.tick, track.start = tick, start


def _check_end(tick: int) -> None:
    if tick > MAX_TICK:
        raise Damage("counts more ticks than any piece can last")


def _check_room(room: int) -> None:
    if room < 0:
        raise Refused(
            f"holds more than {MAX_EVENTS // 2:,} notes ({MAX_EVENTS:,} events), which is too many; export a"
            " shorter passage."
        )


def _note_wrong(track: _Track, byte: int, status: int) -> None:
    """Note bytes that cannot be right. Raises Damage where there are too many, or no status."""
    track.wrong.append(byte)
    if not status or len(track.wrong) > MOST_WRONG + len(track.packed) // 50:
        raise Damage("has bytes that cannot be right")


def _system_event(track: _Track, data: bytes, pos: int, status: int, tick: int) -> int:
    """Read a meta event or system message whose status stands before `pos`; returns where the next event begins."""
    kind, start, end = system_event(data, pos, status)
    if kind in _KEPT_META:
        track.metas.append(Meta(tick, kind, data[start:end]))
    track.ended = kind == END_OF_TRACK
    return end


def system_event(data: bytes, pos: int, status: int) -> tuple[int, int, int]:
    """A meta event or system message whose status stands before `pos`.

    Returns:
        The kind of a meta event, else -1; where its data begin; where they end.

    Raises:
        IndexError: it breaks off.
        Damage: its length is no number.
    """
    if status not in (0xFF, 0xF0, 0xF7):
        return -1, pos, pos + SYSTEM_DATA.get(status, 0)
    kind = data[pos] if status == 0xFF else -1
    length, pos = read_number(data, pos + (status == 0xFF))
    if pos + length > len(data):
        raise IndexError
    return kind, pos, pos + length


def read_number(data: bytes, at: int) -> tuple[int, int]:
    """A variable-length number (SMF 1.0: seven bits a byte, high bit on all but the last, at most four bytes)."""
    value = 0
    for pos in range(at, at + 4):
        byte = data[pos]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, pos + 1
    raise Damage("has a number of more than four bytes")
