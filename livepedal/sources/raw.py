"""A file before it is interpreted: tracks of packed messages, meta events, and what only a score can say.

smf.py and scores/ make these values; reading.py chooses between the two.

Where many MIDI messages are kept, each is packed into one integer: its three bytes (status, data 1, data 2; 0 where it
has none) are the lowest 24 bits. Above them stands the tick in a track and in a live take, and in the events of a part
(music/song.py) the number of the track and the signs of a score.
"""

from __future__ import annotations

import re
from array import array
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from livepedal.sources.scores.written import PrintedBar, Written

MAX_EVENTS = 4_000_000  # 2 million notes, a start and an end each
MAX_TRACKS = 4096  # each of them may be a harp to judge; orchestral templates have some hundreds
TICK = 24  # bits below the tick in a packed message
MAX_TICK = (1 << 40) - 1  # what a packed message has room for: 18 years at 960 ticks a quarter, 120 a minute

# Meta events (SMF 1.0, "Meta-Events").
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

# Statuses and controllers (MIDI 1.0 Detailed Specification). Channel mode messages 120 and 123 to 127 let go of all
# keys: 124 to 127 act as all-notes-off too.
NOTE_OFF, NOTE_ON, CONTROLLER, PROGRAM = 0x80, 0x90, 0xB0, 0xC0
VOLUME = 7
SUSTAIN = 64
ALL_SOUND_OFF = 120
RESET_CONTROLLERS = 121
LET_GO = frozenset({ALL_SOUND_OFF, *range(123, 128)})

# Data bytes after a system message (MIDI 1.0 Detailed Specification, table of system messages); undefined ones have
# none.
SYSTEM_DATA = {0xF1: 1, 0xF2: 2, 0xF3: 1}

OWN_MARK = "livepedal: "
"""What every sentence that livepedal writes into a file begins with."""
OWN_SHORT = "LP "
"""What the short ones begin with, which have to fit on a sequencer's ruler."""
_OWN = re.compile(rb"livepedal: |LP (?:\d+(?:\.\d+)? |set |[A-G][bn#])")


def is_own(text: bytes) -> bool:
    """Whether livepedal wrote a text, marker or lyric in a file; such a marker is no rehearsal mark."""
    return _OWN.match(text) is not None


class Refused(Exception):
    """The file as a whole cannot be read; the message goes on from the file's name in a LivepedalError: "is empty"."""


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


def packed(tick: int, status: int, data1: int, data2: int) -> int:
    """A message with its tick in one integer."""
    return tick << TICK | status << 16 | data1 << 8 | data2


def unpacked(word: int) -> Message:
    """The message of that integer."""
    return Message(word >> TICK, word >> 16 & 0xFF, word >> 8 & 0xFF, word & 0xFF)


def strikes(word: int) -> bool:
    """Whether a packed message strikes a note; one with velocity 0 is a release (MIDI 1.0 Detailed Specification)."""
    return word >> 20 & 15 == NOTE_ON >> 4 and word & 0x7F > 0


@dataclass(frozen=True, slots=True)
class Division:
    """How many ticks a quarter note has, or (SMPTE) a second. Exactly one of the two is set."""

    per_quarter: int | None = None
    per_second: Fraction | None = None


@dataclass(frozen=True, slots=True)
class RawTrack:
    """One track.

    Attributes:
        number: its place in the file from 1.
        packed: its messages in file order ("Q").
        end: tick of its end.
        written: what only a score can say.
    """

    number: int
    packed: array[int]
    metas: tuple[Meta, ...]
    end: int
    written: Written | None = None


@dataclass(frozen=True, slots=True)
class RawSong:
    """A whole file.

    Attributes:
        kind: 0, 1 or 2 (SMF 1.0 "format").
        remarks: a sentence for each thing out of order.
        bars: as a score prints them.
    """

    kind: int
    division: Division
    tracks: tuple[RawTrack, ...]
    remarks: tuple[str, ...]
    bars: tuple[PrintedBar, ...] = ()
