"""What a monitor shows at one moment, as values for drawing: pedals, notes, changes, what could be struck next."""

from __future__ import annotations

from dataclasses import dataclass

from livepedal.harp import Pedal, Position, Spelling
from livepedal.model.feet.tunings import Tuned
from livepedal.model.findings import Finding, Passage, PlayerCount, Verdict


@dataclass(frozen=True, slots=True)
class PedalView:
    """What is known of one pedal now: every position that it may stand in.

    `positions`: the likeliest first, empty where its letter was never used; `anywhere`: whether it may stand anywhere
    else as well, as the note was perhaps played on another string; `sure`: whether every reading has it so.
    `ready_at`: the earliest moment (µs) of a note that
    needs the pedal one notch away, None where a key holds its string for good; `held_by` the keys that hold
    it, `busy` whether the foot has other pedals to change, `needed` what a change of one notch takes (µs).
    `changed`: the last change that is known.
    """

    pedal: Pedal
    positions: tuple[Position, ...]
    anywhere: bool = False
    sure: bool = False
    ready_at: int | None = 0
    held_by: tuple[int, ...] = ()
    busy: bool = False
    needed: int = 0
    changed: ChangeView | None = None


@dataclass(frozen=True, slots=True)
class ChangeView:
    """A pedal change that has become certain.

    Attributes:
        us: the attack that made it certain (µs).
        needed, available: the time from the release of its string to the attack (µs); available is None if the string
            had been free for very long.
    """

    us: int
    pedal: Pedal
    start: Position
    goal: Position
    needed: int
    available: int | None


@dataclass(frozen=True, slots=True)
class NextNote:
    """When a note of one pitch class (0 is C) could be struck, as far as the feet are concerned.

    Attributes:
        pedal, position: the string that would have it.
        at: the earliest moment (µs) without a slide; None: not while the keys `held_by` are down.
        slides_at: the earliest moment (µs) with an audible pedal change.
    """

    pitch_class: int
    pedal: Pedal
    position: Position
    at: int | None
    held_by: tuple[int, ...]
    slides_at: int


@dataclass(frozen=True, slots=True)
class NoteView:
    """One note just played and how the harp plays it: every spelling that a reading still has, the likeliest first."""

    us: int
    pitch: int
    spellings: tuple[Spelling, ...]


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The monitor at one moment (`us`), for drawing."""

    us: int
    player: str
    pedals: tuple[PedalView, ...]
    notes: tuple[NoteView, ...]
    passage: Passage | None
    counts: tuple[PlayerCount, ...]
    findings: tuple[Finding, ...]
    attacks: int
    latest: Verdict | None = None  # of the last attack alone
    changes: tuple[ChangeView, ...] = ()  # the latest, in order of time
    next_notes: tuple[NextNote, ...] = ()  # from C; empty if the monitor does not follow the readings
    tuned: tuple[Tuned, ...] = ()  # strings without pedals that are not tuned as usual
    # The first moment of an attack that is not the open one: what can be struck then can be struck now.
    soonest: int = 0
    sustained: bool = False  # whether a sustain pedal is down
