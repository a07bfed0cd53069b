"""Standard MIDI files: bytes in, raw tracks out, and one clear error for whatever cannot be read.

A file is a header chunk and track chunks; a track is a row of events, each a time since the one before (a
number of one to four bytes, seven bits a byte) and a channel message, a system message or a meta event.
Source of the format: "Standard MIDI Files 1.0" (MIDI Manufacturers Association, RP-001), named SMF 1.0 below.

This is the hot path of judging a file, so a track is read by one loop over its bytes, and each message that
livepedal has a use for becomes one integer in an array: 8 bytes an event, and nothing for the garbage
collector to walk. Messages without use here (pressure, pitch bend, most controllers, system exclusive) are
stepped over.

It is as tolerant as players are, because files in the wild are not as the standard wants them: a RIFF
wrapper, chunks of unknown kinds, system messages that have no place in a file, running status across them,
bytes after the end of a track. A data byte over 127 is read without its top bit (a velocity as 127), as players
do, unless there are many. A track that breaks off is read up to there, and a remark says so; a file in which
nothing whole is left is refused. Limits are generous and exist so that a hostile file fails at once.
"""

from __future__ import annotations

import io
import re
from array import array
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import BinaryIO, NamedTuple

from livepedal.errors import LivepedalError
from livepedal.sources.scores.written import PrintedBar, Written
from livepedal.sources.text import clean

IN_PART = "it was read up to there; export it again from the program that it comes from"
"""What the remark on a track ends with that could not be read to its end."""

READ_ON = "it was read as players read it"
"""What the remark on a track ends with in which bytes cannot be right."""

MAX_BYTES = 64 * 1024 * 1024
MAX_EVENTS = 4_000_000  # 2 million notes, a start and an end each
MAX_TRACKS = 4096  # each of them may be a harp to judge; orchestral templates have some hundreds
LONGEST_NUMBER = (1 << 28) - 1  # the most that four bytes of seven bits hold (SMF 1.0: 0FFFFFFF)
MAX_TICK = (1 << 40) - 1  # what a packed message has room for: 18 years at 960 ticks a quarter, 120 a minute

# Meta events (SMF 1.0, "Meta-Events"); those that are kept.
TEXT = 0x01
TRACK_NAME = 0x03
INSTRUMENT_NAME = 0x04
LYRIC = 0x05
MARKER = 0x06
CHANNEL_PREFIX = 0x20
PORT = 0x21
END_OF_TRACK = 0x2F
SET_TEMPO = 0x51
TIME_SIGNATURE = 0x58
KEY_SIGNATURE = 0x59
_KEPT_META = frozenset(
    {TEXT, TRACK_NAME, INSTRUMENT_NAME, LYRIC, MARKER, CHANNEL_PREFIX, PORT, SET_TEMPO, TIME_SIGNATURE}
    | {KEY_SIGNATURE}
)

# Controllers that are kept: volume, by which a track may be silent; sustain; and the channel mode messages,
# which all let go of keys or pedals except 122 (MIDI 1.0 Detailed Specification, "Channel Mode Messages": 124
# to 127 act as all-notes-off too).
VOLUME = 7
SUSTAIN = 64
ALL_SOUND_OFF = 120
RESET_CONTROLLERS = 121
LET_GO = frozenset({ALL_SOUND_OFF, *range(123, 128)})  # of all keys (MIDI 1.0, "Channel Mode Messages")
_KEPT_CONTROLLERS = frozenset({VOLUME, SUSTAIN, RESET_CONTROLLERS}) | LET_GO

# Data bytes after a system message that has no place in a file (MIDI 1.0 Detailed Specification, table of
# system messages). Undefined ones have none.
SYSTEM_DATA = {0xF1: 1, 0xF2: 2, 0xF3: 1}

# SMF 1.0 names four SMPTE formats; -29 is 30 drop-frame, which runs at 30 / 1.001 frames a second (SMPTE ST
# 12-1).
_FRAMES = {24: Fraction(24), 25: Fraction(25), 29: Fraction(30_000, 1001), 30: Fraction(30)}

OWN_MARK = "livepedal: "
"""What every sentence that livepedal writes into a file begins with."""
OWN_SHORT = "LP "
"""What the short ones begin with, which have to fit on a sequencer's ruler."""
_OWN = re.compile(rb"livepedal: |LP (?:\d+(?:\.\d+)? |set |[A-G][bn#])")


def is_own(text: bytes) -> bool:
    """Whether a text in a file, a marker or a lyric was written by livepedal; such a marker is no rehearsal mark."""
    return _OWN.match(text) is not None


MOST_WRONG = 8  # events of a short track with bytes that cannot be right; of a long one, one in fifty more
_CHECK_EVERY = 1 << 16  # bytes between two looks at the limits


class Message(NamedTuple):
    """A channel message at a tick; data2 is 0 where the message has one data byte."""

    tick: int
    status: int
    data1: int
    data2: int


class Meta(NamedTuple):
    """A meta event at a tick, its data as it stands in the file."""

    tick: int
    kind: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Division:
    """How long a tick is: a part of a quarter note, or (SMPTE) of a second. Exactly one of the two is set."""

    per_quarter: int | None = None
    per_second: Fraction | None = None


@dataclass(frozen=True, slots=True)
class RawTrack:
    """One track chunk. number: its place in the file from 1; end: tick of its end; packed: see `pack`; written: what
    a score says more.
    """

    number: int
    packed: array[int]
    metas: tuple[Meta, ...]
    end: int
    written: Written | None = None

    def messages(self) -> Iterator[Message]:
        """The kept channel messages in file order."""
        for word in self.packed:
            yield Message(word >> 24, word >> 16 & 0xFF, word >> 8 & 0xFF, word & 0xFF)


@dataclass(frozen=True, slots=True)
class RawSong:
    """A whole file. kind: 0, 1 or 2 (SMF 1.0 "format"); remarks: a sentence for each thing out of order; bars: as a
    score prints them.
    """

    kind: int
    division: Division
    tracks: tuple[RawTrack, ...]
    remarks: tuple[str, ...]
    bars: tuple[PrintedBar, ...] = ()


def read_smf(source: Path | str | bytes | BinaryIO, *, name: str | None = None) -> RawSong:
    """Read a standard MIDI file of type 0, 1 or 2, or a MusicXML score, from a path, bytes or an open binary stream.

    name: what messages call the file; the path, or "standard input" for a stream, unless given. Raises
    LivepedalError, and nothing else, when there is nothing to be had from it.
    """
    name = clean(name if name is not None else name_of(source), 500)
    try:
        data = _bytes(source)
        if data[:2] in (b"PK", b"\xff\xfe", b"\xfe\xff") or b"<" in data[:8]:
            # A score's own module is imported where there is one: most files are MIDI.
            from livepedal.sources.scores.musicxml import read_musicxml
            from livepedal.sources.scores.xml_units import is_score

            if is_score(data):
                return read_musicxml(data)
        return _parse(data)
    except Refused as refusal:
        raise LivepedalError(f"{name}: {refusal}") from None
    except OSError as error:
        raise LivepedalError(_unreadable(name, error)) from None


def read_bytes(path: Path) -> bytes:
    """All bytes of a file, as `read_smf` takes them, for whoever needs them as well.

    Raises LivepedalError as it does.
    """
    try:
        return _bytes(path)
    except Refused as refusal:
        raise LivepedalError(f"{clean(str(path), 500)}: {refusal}") from None
    except OSError as error:
        raise LivepedalError(_unreadable(str(path), error)) from None


def _unreadable(name: str, error: OSError) -> str:
    reason = error.strerror or str(error) or type(error).__name__
    if isinstance(error, FileNotFoundError):
        return f"{clean(name, 500)}: there is no such file; check its name and folder."
    return f"{clean(name, 500)}: cannot be read ({clean(reason)}); check the path and its permissions."


class Refused(Exception):
    """The file as a whole cannot be read; the message ends up in a LivepedalError after the name."""


class Damage(Exception):
    """A track cannot be read any further."""


def name_of(source: Path | str | bytes | BinaryIO) -> str:
    """What messages call a source that nobody has named."""
    if isinstance(source, Path | str):
        return str(source)
    return "MIDI data" if isinstance(source, bytes) else "standard input"


def _bytes(source: Path | str | bytes | BinaryIO) -> bytes:
    if isinstance(source, bytes):
        data = source
    elif isinstance(source, Path | str):
        try:
            with open(source, "rb") as stream:
                data = _drain(stream)
        except ValueError:  # a null character in the path
            raise Refused("is not a possible file name; check its spelling.") from None
    else:
        data = _drain(source)
    if len(data) > MAX_BYTES:
        raise Refused(
            f"is larger than {MAX_BYTES // 1024 // 1024} MB, which is too large; export a shorter passage."
        )
    return data


def _drain(stream: BinaryIO | io.BufferedReader) -> bytes:
    """Read to the end or to one byte over the limit, however little a pipe gives at a time."""
    pieces = []
    left = MAX_BYTES + 1
    while left > 0 and (piece := stream.read(left)):
        pieces.append(piece)
        left -= len(piece)
    return b"".join(pieces)


def _parse(data: bytes) -> RawSong:
    remarks: list[str] = []
    data, start = find_header(data, remarks)
    length = int.from_bytes(data[start + 4 : start + 8], "big")
    if length < 6 or len(data) < start + 14:
        raise Refused("its MIDI header is cut short; export or copy it again.")
    kind, declared, division = (
        int.from_bytes(data[start + at : start + at + 2], "big") for at in (8, 10, 12)
    )
    if kind > 2:
        raise Refused(
            f"says it is of type {kind}, but there are only types 0, 1 and 2; export it again as type 1."
        )
    tracks = _read_tracks(data, start + 8 + length, remarks)
    if len(tracks) != declared:
        held = _tracks(len(tracks))
        remarks.append(f"the header says {_tracks(declared)}, the file holds {held}; all were read")
    return RawSong(kind, _division(division), tuple(tracks), tuple(remarks))


def _tracks(count: int) -> str:
    return "1 track" if count == 1 else f"{count} tracks"


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
                f"its time division (0x{value:04X}) names no SMPTE frame rate; export it in ticks a quarter."
            )
        return Division(per_second=frames * parts)
    if not value:
        raise Refused("its time division is 0 ticks a quarter, so it has no time; export it again.")
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
    if not whole and not any(
        0x90 <= message.status < 0xA0 for track in tracks for message in track.messages()
    ):
        reason = remarks[-1].partition(";")[0]
        raise Refused(f"is damaged and no note in it is whole ({reason}); export it again.")
    return tracks


def _read_track(
    number: int, data: bytes, base: int, room: int, *, cut: bool
) -> tuple[RawTrack, str | None, str | None]:
    """One track chunk; base: where its data stand in the file; room: events that may still be kept.

    cut: the chunk says it is longer than the file. That does not matter where the track ends properly before.

    Returns the track, what is wrong with it where it could not be read to its end, and what else is odd about it.
    """
    packed = array("Q")
    keep = packed.append
    metas: list[Meta] = []
    kept_controllers = _KEPT_CONTROLLERS
    size = len(data)
    tick = pos = status = 0
    start = 0  # of the event being read
    problem = odd = None
    wrong: list[int] = []  # where bytes stand that cannot be right
    ended = False  # by its own end-of-track event; players do without one
    try:
        while pos < size and not ended:
            stop = min(size, pos + _CHECK_EVERY)
            while pos < stop:
                start = pos
                byte = data[pos]
                pos += 1
                if byte > 0x7F:
                    delta = byte & 0x7F
                    byte = data[pos]
                    pos += 1
                    delta = delta << 7 | byte & 0x7F
                    if byte > 0x7F:
                        # Three and four bytes are rare; anything longer is no number of SMF 1.0.
                        delta, pos = read_number(data, start)
                        if tick + delta > MAX_TICK:
                            raise Damage("counts more ticks than any piece can last")
                    tick += delta
                else:
                    tick += byte
                data1 = data[pos]
                if data1 > 0x7F:
                    if data1 >= 0xF0:
                        pos += 1
                        if data1 == 0xFF:
                            kind = data[pos]
                            length, pos = read_number(data, pos + 1)
                            if pos + length > size:
                                raise IndexError
                            if kind in _KEPT_META:
                                metas.append(Meta(tick, kind, data[pos : pos + length]))
                            elif kind == END_OF_TRACK:
                                ended = True
                                break
                            pos += length
                        elif data1 == 0xF0 or data1 == 0xF7:
                            length, pos = read_number(data, pos)
                            if pos + length > size:
                                raise IndexError
                            pos += length
                        else:
                            pos += SYSTEM_DATA.get(data1, 0)
                        # SMF 1.0 says that these cancel running status; files rely on its being kept.
                        continue
                    status = data1
                    pos += 1
                    data1 = data[pos]
                if status < 0xC0 or status > 0xDF:
                    data2 = data[pos + 1]
                    if (data1 | data2) > 0x7F or not status:
                        wrong.append(base + start)
                        if not status or len(wrong) > MOST_WRONG + len(packed) // 50:
                            raise Damage("has bytes that cannot be right")
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
            if len(packed) + len(metas) > room:
                raise Refused(
                    f"holds more than {MAX_EVENTS // 2:,} notes ({MAX_EVENTS:,} events), which is too "
                    "many; export a shorter passage."
                )
    except IndexError:
        problem = f"breaks off in the middle of an event (at byte {base + start})"
    except Damage as damage:
        problem = f"{damage} (at byte {base + start})"
    if cut and not ended and not problem:
        problem = f"breaks off at the end of the file (byte {base + size})"
    if wrong and not problem:
        these = "a byte" if len(wrong) == 1 else f"{len(wrong)} bytes"
        odd = f"has {these} that cannot be right (the first at byte {wrong[0]}); {READ_ON}"
    return RawTrack(number, packed, tuple(metas), tick), problem, odd


def read_number(data: bytes, at: int) -> tuple[int, int]:
    """A variable-length number (SMF 1.0: seven bits a byte, high bit on all but the last, four at most)."""
    value = 0
    for pos in range(at, at + 4):
        byte = data[pos]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, pos + 1
    raise Damage("has a number of more than four bytes")


def variable_length(number: int) -> bytes:
    """A number as it is written (SMF 1.0). Raises ValueError where it takes more than four bytes."""
    if number > LONGEST_NUMBER:
        raise ValueError(number)
    out = [number & 0x7F]
    while number := number >> 7:
        out.append(number & 0x7F | 0x80)
    return bytes(reversed(out))


def meta_event(kind: int, data: bytes) -> bytes:
    """A meta event, without the time before it (SMF 1.0)."""
    return bytes((0xFF, kind)) + variable_length(len(data)) + data
