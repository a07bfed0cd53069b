"""The events that the model is fed: notes, pedal keys and commands, each carrying its own time.

Times are integer microseconds from the start of the music; nothing here reads a clock. A file, a live port
and a replay all become the same events, so the model cannot tell them apart. `source` is a small number that
tells apart the keys of different tracks or channels: middle C held on one of them is not released by a
note-off on another.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

from livepedal.harp.signs import NO_SIGN, Sign

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
