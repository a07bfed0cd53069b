"""What a journal holds: how its session was set up, what was heard, and the commands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from livepedal.defaults import HARP, PLAYER

FORMAT = "livepedal-journal"
VERSION = 1
ENDING = ".journal"


class Word(StrEnum):
    """The commands."""

    AFRESH = "afresh"
    PLAYER = "player"  # with a name
    TAP = "tap"
    KEEP = "keep"
    PAUSE = "pause"  # what is played until RESUME is in the journal and nowhere else
    RESUME = "resume"
    PEDALS = (
        "pedals"  # with a setting: a take of its own, since a file is judged with one setting at its start
    )
    STAY = "stay"  # with the name of a key that is to be stayed in, or none
    PORT = "port"  # with the number of a source and its name
    GONE = "gone"  # with the number of a source
    LATE = "late"  # with the µs that this process stood still: what comes until ON_TIME was played nobody knows when
    ON_TIME = "on-time"
    END = "end"  # with the names of the files that were saved
    RECOVERED = "recovered"  # the same, later
    RECOVERED_PAUSES = "recovered-pauses"  # the same, of what was played in pauses


OVER = (Word.END, Word.RECOVERED)


@dataclass(frozen=True, slots=True)
class Header:
    """How a session was set up: all that is needed to judge it again.

    Attributes:
        started: date and time in ISO format.
        player, harp: names.
        figures: path of the user's file or "".
        tempo: µs a quarter, or None.
        metre: numerator, denominator.
        start: the setting at the start or "".
        channels: those that are listened to (1 to 16), empty for all but 10.
        rest: µs of rest that end a passage.
        only: the layers that are judged, empty for all.
        middle_c: its name.
    """

    started: str
    player: str = PLAYER
    harp: str = HARP
    figures: str = ""
    tempo: int | None = None
    metre: tuple[int, int] = (4, 4)
    start: str = ""
    channels: tuple[int, ...] = ()
    rest: int = 1_500_000
    only: tuple[str, ...] = ()
    middle_c: str = "C4"


@dataclass(frozen=True, slots=True)
class Heard:
    """Bytes that came from a source at a moment (µs)."""

    us: int
    source: int
    data: bytes


@dataclass(frozen=True, slots=True)
class Command:
    """A command of the player, or something that happened to a port, at a moment (µs).

    Attributes:
        word: one of `Word`, or one that only a newer livepedal knows.
    """

    us: int
    word: str
    argument: str = ""


Record = Heard | Command


def over(records: Sequence[Record]) -> bool:
    """Whether the session ended properly, or was recovered, and nothing was heard after that."""
    last = next((r for r in reversed(records) if isinstance(r, Heard) or r.word in OVER), None)
    return isinstance(last, Command)


@dataclass(frozen=True, slots=True)
class Journal:
    """A journal that was read.

    Attributes:
        faults: a sentence for each thing that was damaged.
        ended: as `over` says.
    """

    path: Path
    header: Header
    records: tuple[Record, ...]
    faults: tuple[str, ...]
    ended: bool
    last: int = 0  # number of the last record

    @property
    def saved(self) -> bool:
        """Whether what was played outside pauses has been saved in files."""
        return any(isinstance(r, Command) and r.word in OVER and r.argument for r in self.records)

    @property
    def pauses_saved(self) -> bool:
        """Whether what was played in pauses has been saved in files."""
        return any(isinstance(r, Command) and r.word == Word.RECOVERED_PAUSES for r in self.records)
