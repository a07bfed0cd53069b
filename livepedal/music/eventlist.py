"""The events of a part, kept compactly: two integers each, made into event objects only when looked at.

A million notes are two million events; as objects they would take hundreds of megabytes and keep the garbage
collector busy, as two arrays they take 32. To everyone else this is a sequence of `Event`.

A word is a packed message (sources/raw.py). Above its three bytes stand the number of the track that it comes from,
which with the channel makes the `source` of an event, and the signs of a score.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Mapping, Sequence
from typing import overload

from livepedal.harp.signs import NO_SIGN, Sign
from livepedal.music.events import Event, NoteOff, NoteOn, Sustain
from livepedal.sources.raw import CONTROLLER, NOTE_ON

TRACK, SIGNS = 24, 40  # the lowest bit of each
_TRACKS = (1 << SIGNS - TRACK) - 1


class EventList(Sequence[Event]):
    """An immutable sequence of note and sustain events in order of time."""

    __slots__ = ("_times", "_words")

    def __init__(self, times: array[int], words: array[int]) -> None:
        """times: microseconds ("q"); words: as laid out above ("Q"), as many. Both are kept, not copied."""
        self._times = times
        self._words = words

    def __len__(self) -> int:
        return len(self._times)

    def __iter__(self) -> Iterator[Event]:
        for us, word in zip(self._times, self._words, strict=True):
            status = word >> 16 & 0xF0
            source = word >> 20 & _TRACKS << 4 | word >> 16 & 15
            if status < NOTE_ON:
                yield NoteOff(us, word >> 8 & 0x7F, source)
            elif status < CONTROLLER:
                signs = Sign(word >> SIGNS) if word >> SIGNS else NO_SIGN
                yield NoteOn(us, word >> 8 & 0x7F, word & 0x7F, source, signs)
            else:
                yield Sustain(us, word & 0x7F >= 64, source)

    @overload
    def __getitem__(self, index: int) -> Event: ...
    @overload
    def __getitem__(self, index: slice) -> EventList: ...
    def __getitem__(self, index: int | slice) -> Event | EventList:
        if isinstance(index, slice):
            return EventList(self._times[index], self._words[index])
        single = EventList(array("q", (self._times[index],)), array("Q", (self._words[index],)))
        return next(iter(single))

    def signed(self, signs: Mapping[tuple[int, int], Sign]) -> EventList:
        """The same with the signs of a score at its notes, by their moment (µs) and MIDI number."""
        words = array("Q", self._words)
        for index, (us, word) in enumerate(zip(self._times, words, strict=True)):
            if word >> 16 & 0xF0 == NOTE_ON:
                words[index] = word | signs.get((us, word >> 8 & 0x7F), NO_SIGN) << SIGNS
        return EventList(self._times, words)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, EventList):
            return NotImplemented
        return self._times == other._times and self._words == other._words

    def __repr__(self) -> str:
        return f"<EventList of {len(self)} events>"
