"""A closed passage as advice is asked for on it (advising.py), and as it is heard again (again.py)."""

from __future__ import annotations

from dataclasses import dataclass

from livepedal.advice.judging.basis import Basis
from livepedal.harp import Setting
from livepedal.model.findings import Finding, Passage
from livepedal.music.events import Event, NoteOn
from livepedal.music.song import KeySignature
from livepedal.music.timemap import TimeMap

MOST_CONTEXT = 120  # messages before the passage that are taken in; feet become quiet in the rest anyway


@dataclass(frozen=True, slots=True)
class Question:
    """A closed passage.

    Attributes:
        take: the number of the take, or how often a replay was begun; from 1.
        number: of the passage in its take, from 1.
        events: from some moment before the passage to its end.
        bars: whether the time map's bars mean anything.
        basis: with how the pedals stood before the events, if known.
        set_at: when they were set so (µs).
        findings: what was found in it.
        keys: the key signatures of the file, where it comes from one.
        set_within: whether they were set by hand in the middle of the passage; then nothing is asked about it.
    """

    take: int
    number: int
    passage: Passage
    events: tuple[Event, ...]
    time_map: TimeMap
    bars: bool
    basis: Basis
    middle_c: str
    set_at: int = 0
    set_within: bool = False
    findings: tuple[Finding, ...] = ()
    keys: tuple[KeySignature, ...] = ()

    @property
    def entry(self) -> Setting | None:
        """How the pedals stand just before the passage, if they were set and nothing was played since."""
        first = next((event.us for event in self.events if isinstance(event, NoteOn)), self.passage.start)
        return None if self.set_within or first < self.passage.start else self.basis.setting
