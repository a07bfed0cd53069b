"""What a score says and a MIDI file cannot: spelling, signs, words, pedal diagrams, printed bar numbers.

These values, with ticks of the song, stand beside the tracks of a `RawSong`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from livepedal.harp.signs import Sign


class Words(NamedTuple):
    """Words above or below the staff; or a harp-pedals diagram, as (letter, -1 to 1) of each pedal that it shows."""

    tick: int
    text: str
    pedals: tuple[tuple[str, int], ...] = ()


class PrintedBar(NamedTuple):
    """A bar as it is printed.

    Attributes:
        number: such as "12", may be any text.
        times: which time it is played, from 1.
        late: ticks of the bar that are missing before its first note (a pickup).
    """

    tick: int
    number: str
    times: int = 1
    late: int = 0


@dataclass(frozen=True, slots=True)
class Written:
    """What only a score can say about one part.

    Attributes:
        spelled: the written note (line of fifths: F -1, C 0, G 1), by tick and MIDI number.
        signs: the signs at a note, by tick and MIDI number.
        doubled: notes that are written twice at one moment, on two strings.
    """

    spelled: Mapping[tuple[int, int], int] = field(default_factory=dict)
    signs: Mapping[tuple[int, int], Sign] = field(default_factory=dict)
    words: tuple[Words, ...] = ()
    doubled: int = 0
