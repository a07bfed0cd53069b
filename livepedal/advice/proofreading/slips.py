"""What proofreading a printed pedalling finds, as values."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from livepedal.advice.judging.values import place_dict, seconds
from livepedal.harp import Pedal, Position
from livepedal.music.pedal_words import PedalMark
from livepedal.music.timemap import TimeMap


class Slip(StrEnum):
    """What a proofreader marks."""

    MISSING = "missing"  # a note needs what no mark has set
    LATE = "late"  # the mark stands after the note that needs it
    HURRIED = "hurried"  # it stands before it, but the player needs longer
    EARLY = "early"  # the letter is still needed as it stood before
    NEEDLESS = "needless"  # it stands so already, or is not played before its next mark
    CONTRADICTED = (
        "contradicted"  # a diagram says otherwise before the letter is played, or two marks at once do
    )
    AUDIBLE = "audible"  # the pedal moves while its string is wanted


@dataclass(frozen=True, slots=True)
class Fault:
    """One slip.

    Attributes:
        us: of the mark, or of the note where its mark is missing. Times in µs.
        position: what is needed or marked.
        other: how the pedal stands instead or before, since `other_us` (or what else concerns it happens then).
        needed, available: the time for the change.
        pitch: a note that is concerned (MIDI number).
    """

    slip: Slip
    us: int
    pedal: Pedal
    position: Position
    other: Position | None = None
    other_us: int | None = None
    needed: int = 0
    available: int = 0
    pitch: int | None = None


@dataclass(frozen=True, slots=True)
class Printed:
    """A printed pedalling, proofread.

    Attributes:
        marks: as printed.
        faults: in order of time, from the first mark on.
        before: how many changes the notes before the first mark need.
        changes: how many pedals the marks move.
    """

    marks: tuple[PedalMark, ...]
    faults: tuple[Fault, ...]
    before: int
    changes: int

    def to_dict(self, time_map: TimeMap) -> dict[str, Any]:
        """As it stands in the JSON of `check`."""

        def where(us: int) -> dict[str, Any]:
            return {"seconds": seconds(us), **place_dict(time_map.place(us))}

        return {
            "marks": [
                {
                    **where(mark.us),
                    "text": mark.text,
                    "pedals": {pedal.letter: position.word for pedal, position in mark.stands},
                    "feet": sorted({pedal.foot.value for pedal, _ in mark.stands}),
                }
                for mark in self.marks
            ],
            "faults": [
                {
                    "kind": fault.slip.value,
                    **where(fault.us),
                    "pedal": fault.pedal.letter,
                    "position": fault.position.word,
                    "other": None if fault.other is None else fault.other.word,
                    "other_place": None if fault.other_us is None else where(fault.other_us),
                    "needed_s": seconds(fault.needed),
                    "available_s": seconds(fault.available),
                }
                for fault in self.faults
            ],
            "before_first_mark": self.before,
        }
