"""The events that the model is fed: notes, pedal keys and commands, each carrying its own time.

Times are integer microseconds from the start of the music; nothing here reads a clock. A file, a live port
and a replay all become the same events, so the model cannot tell them apart. `source` is a small number that
tells apart the keys of different tracks or channels: middle C held on one of them is not released by a
note-off on another.

The events of a part are kept compactly (`EventList`): two integers each, made into event objects only when looked at. A
million notes are two million events; as objects they would take hundreds of megabytes and keep the garbage collector
busy, as two arrays they take 32. One of the integers is a packed message (sources/raw.py). Above its three bytes stand
the number of the track that it comes from, which with the channel makes the `source`, and the signs of a score.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias, overload

from livepedal.harp.signs import NO_SIGN, Sign
from livepedal.sources.raw import CONTROLLER, NOTE_ON

if TYPE_CHECKING:
    from livepedal.harp import Setting


@dataclass(frozen=True, slots=True)
class NoteOn:
    """A key goes down.

    Attributes:
        pitch: MIDI number 0 to 127.
        velocity: 1 to 127.
        signs: those of a score; none elsewhere.
    """

    us: int
    pitch: int
    velocity: int = 64
    source: int = 0
    signs: Sign = NO_SIGN


@dataclass(frozen=True, slots=True)
class NoteOff:
    """A key comes up."""

    us: int
    pitch: int
    source: int = 0


@dataclass(frozen=True, slots=True)
class Sustain:
    """The sustain pedal (controller 64) goes down (value 64 and more) or comes up."""

    us: int
    down: bool
    source: int = 0


@dataclass(frozen=True, slots=True)
class SetPedals:
    """The player says how the pedals stand now."""

    us: int
    setting: Setting


@dataclass(frozen=True, slots=True)
class StartAfresh:
    """Forget everything played so far: a new piece starts."""

    us: int


@dataclass(frozen=True, slots=True)
class ChoosePlayer:
    """Verdicts are wanted for the player of this name from now on."""

    us: int
    player: str


Event: TypeAlias = NoteOn | NoteOff | Sustain | SetPedals | StartAfresh | ChoosePlayer

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
