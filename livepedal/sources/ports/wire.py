"""MIDI as it comes down a wire: bytes in, whole short messages out.

Source: MIDI 1.0 Detailed Specification. A message is a status byte (high bit set) and its data bytes. A channel message
may omit its status byte when it is that of the message before (running status). Single-byte real-time messages (F8 to
FF) may come anywhere, even inside other messages, and disturb nothing. System exclusive messages are of any length and
end at F7 or at any other status byte; they and the system common messages (F1 to F6) end running status. Data bytes
that belong to nothing are ignored.

A port usually delivers one whole message at a time, but not on every system, and nothing here relies on it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import NamedTuple

from livepedal.sources.raw import CONTROLLER, PROGRAM, SYSTEM_DATA

POLY_PRESSURE = 0xA0
CHANNEL_PRESSURE = 0xD0
PITCH_BEND = 0xE0
SYSEX = 0xF0
SONG_POSITION = 0xF2
END_OF_SYSEX = 0xF7
CLOCK = 0xF8
START = 0xFA
CONTINUE = 0xFB
STOP = 0xFC
ACTIVE_SENSING = 0xFE
SYSTEM_RESET = 0xFF

# Data bytes by the high half of a channel status (MIDI 1.0, table I).
_CHANNEL_DATA = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}

SYSEX_KIND = "system exclusive"
STRAY_KIND = "stray bytes"


class Short(NamedTuple):
    """A message of one to three bytes; data that it does not have is 0."""

    status: int
    data1: int = 0
    data2: int = 0


class Wire:
    """One wire, with the message that is not complete yet.

    Attributes:
        ignored: how often something came that is no short message, by kind; wires may share it.
    """

    def __init__(self, ignored: Counter[str] | None = None) -> None:
        self.ignored: Counter[str] = Counter() if ignored is None else ignored
        self._status = 0  # of the incomplete message, or the running status; 0: none
        self._data: list[int] = []
        self._sysex = False

    def feed(self, data: Iterable[int]) -> list[Short]:
        """The messages that these bytes complete, in that order."""
        done: list[Short] = []
        for byte in data:
            if byte >= CLOCK:
                done.append(Short(byte))
            elif byte >= 0x80:
                self._sysex = False
                self._data = []
                if byte == SYSEX:
                    self._sysex = True
                    self._status = 0
                    self.ignored[SYSEX_KIND] += 1
                elif byte < SYSEX or byte in SYSTEM_DATA:
                    self._status = byte
                else:
                    self._status = 0
                    if byte != END_OF_SYSEX:
                        done.append(Short(byte))
            elif self._sysex:
                pass
            elif not self._status:
                self.ignored[STRAY_KIND] += 1
            else:
                self._data.append(byte)
                status = self._status
                channel = status < SYSEX
                if len(self._data) == (_CHANNEL_DATA[status & 0xF0] if channel else SYSTEM_DATA[status]):
                    done.append(Short(status, *self._data))
                    self._data = []
                    if not channel:
                        self._status = 0
        return done


# Messages that are not music for a harp, in words for people.
_KINDS = {
    POLY_PRESSURE: "aftertouch",
    CONTROLLER: "controllers",
    PROGRAM: "program changes",
    CHANNEL_PRESSURE: "aftertouch",
    PITCH_BEND: "pitch bend",
}
_SYSTEM_KINDS = {CLOCK: "clock", ACTIVE_SENSING: "active sensing", 0xF1: "time code", 0xF3: "song select"}


def kind_of(status: int) -> str:
    """What a message that is ignored is called."""
    if status >= SYSEX:
        return _SYSTEM_KINDS.get(status, "other system messages")
    return _KINDS.get(status & 0xF0, "notes")
