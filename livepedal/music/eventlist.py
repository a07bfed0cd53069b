"""The events of a part, kept compactly: two integers each, made into event objects only when looked at.

A million notes are two million events; as objects they would take hundreds of megabytes and keep the garbage
collector busy, as two arrays they take 32. To everyone else this is a sequence of `Event`.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from typing import overload

from livepedal.music.events import AllNotesOff, Event, NoteOff, NoteOn, Sustain

# The lowest two bits of a code; above them 7 bits of value (velocity, or 1 for a sustain pedal that goes
# down), 7 bits of pitch, and the source.
OFF, ON, SUSTAIN, ALL_OFF = range(4)
PITCH_SHIFT, SOURCE_SHIFT = 9, 16


class EventList(Sequence[Event]):
    """An immutable sequence of note, sustain and all-notes-off events in order of time."""

    __slots__ = ("_codes", "_times")

    def __init__(self, times: array[int], codes: array[int]) -> None:
        """times: microseconds ("q"); codes: as laid out above ("Q"), as many. Both are kept, not copied."""
        self._times = times
        self._codes = codes

    def __len__(self) -> int:
        return len(self._times)

    def __iter__(self) -> Iterator[Event]:
        for us, code in zip(self._times, self._codes, strict=True):
            kind = code & 3
            if kind == ON:
                yield NoteOn(us, code >> 9 & 0x7F, code >> 2 & 0x7F, code >> 16)
            elif kind == OFF:
                yield NoteOff(us, code >> 9 & 0x7F, code >> 16)
            elif kind == SUSTAIN:
                yield Sustain(us, bool(code & 4), code >> 16)
            else:
                yield AllNotesOff(us, code >> 16)

    @overload
    def __getitem__(self, index: int) -> Event: ...
    @overload
    def __getitem__(self, index: slice) -> EventList: ...
    def __getitem__(self, index: int | slice) -> Event | EventList:
        if isinstance(index, slice):
            return EventList(self._times[index], self._codes[index])
        one = EventList(array("q", (self._times[index],)), array("Q", (self._codes[index],)))
        return next(iter(one))

    def single(self) -> bool:
        """Whether all events are of one source."""
        return len({code >> SOURCE_SHIFT for code in self._codes}) < 2

    def strikes(self) -> Iterator[tuple[int, int]]:
        """(microseconds, pitch) of every note, without making it an event."""
        for us, code in zip(self._times, self._codes, strict=True):
            if code & 3 == ON:
                yield us, code >> PITCH_SHIFT & 0x7F

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, EventList):
            return NotImplemented
        return self._times == other._times and self._codes == other._codes

    def __hash__(self) -> int:
        return hash((self._times.tobytes(), self._codes.tobytes()))

    def __repr__(self) -> str:
        return f"<EventList of {len(self)} events>"
