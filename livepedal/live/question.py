"""A passage that is over, as advice is asked for on it (advising.py), and as it is heard again (again.py)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from livepedal.advice.judging.basis import Basis
from livepedal.harp import Setting
from livepedal.model.findings import Passage
from livepedal.model.monitor import Monitor
from livepedal.music.events import Event, NoteOn
from livepedal.music.timemap import TimeMap

MOST_CONTEXT = 120  # messages before the passage that are gone back to; feet become quiet in the rest anyway


@dataclass(frozen=True, slots=True)
class Question:
    """A passage that is over.

    Attributes:
        take: of a session or, of a replay, how often it was begun; number: of the passage in it. Both from 1.
        events: from some moment before the passage to its end.
        bars: whether the time map's bars mean anything.
        basis: with where the pedals stood before the events, if known.
        set_at: when they were set so (µs).
        set_within: they were set by hand in the middle of the passage, so nothing is asked about it.
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

    @property
    def entry(self) -> Setting | None:
        """How the pedals stand just before the passage, where somebody has set them and nothing was played since."""
        first = next((one.us for one in self.events if isinstance(one, NoteOn)), self.passage.start)
        return None if self.set_within or first < self.passage.start else self.basis.setting


class Followed(Protocol):
    """What is judged while it sounds: a take of a session, or a file that is replayed."""

    number: int  # of the take, or how often the file was begun

    @property
    def monitor(self) -> Monitor: ...

    @property
    def bars(self) -> TimeMap | None:
        """Bars and beats; None where nobody counts."""

    @property
    def quarter(self) -> int | None:
        """The length of a quarter now (µs); None where nobody counts."""

    def question(self, passage: Passage) -> Question:
        """What is to be asked about a passage that is over."""
