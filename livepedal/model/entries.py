"""What is fed to a tracker, kept for searches that go back to where something began to matter (performer.py). And what
it can be fed to: `Fed` is whatever takes it, `One` what stands among the six side by side (scale.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, Self

from livepedal.model.chords import Sharing
from livepedal.model.hands import Links
from livepedal.model.readings import Letter
from livepedal.model.tracker import Released, Tracker


@dataclass(frozen=True, slots=True)
class Open:
    """A new attack begins (µs)."""

    moment: int


@dataclass(frozen=True, slots=True)
class Strike:
    """A key goes down for the open attack."""

    pitch: int
    moment: int


@dataclass(frozen=True, slots=True)
class Release:
    """Keys were released; `before`: ones struck before the open attack, while it is open."""

    before: bool
    released: tuple[Released, ...]


@dataclass(frozen=True, slots=True)
class Judge:
    """The open attack so far: its pitches upwards, their ways (chords.py), and what of it goes on with a
    glissando (hands.py).
    """

    pitches: tuple[int, ...]
    ways: tuple[Sharing, ...]
    moment: int
    links: Links = ()


class Fed(Protocol):
    """Whatever is fed as a Tracker is."""

    def open(self, moment: int) -> None: ...

    def strike(self, pitch: int, moment: int) -> None: ...

    def release_before(self, released: Sequence[Released]) -> None: ...

    def release_after(self, released: Sequence[Released]) -> None: ...


class One(Fed, Protocol):
    """One player under one notion of free, whole or the feet alone: what stands side by side with others.

    `failed`: whether the open attack cannot be played.
    """

    failed: bool

    @property
    def bounded(self) -> int: ...

    @property
    def feet(self) -> Tracker: ...

    def start(self, letters: tuple[Letter, ...] | None) -> None: ...

    def fork(self) -> Self: ...

    def hear(self, entry: Judge) -> bool: ...


def feed(one: Fed, entry: Open | Strike | Release) -> None:
    """Feed it what was kept; an attack to be judged is heard otherwise (`One.hear`)."""
    if isinstance(entry, Strike):
        one.strike(entry.pitch, entry.moment)
    elif isinstance(entry, Open):
        one.open(entry.moment)
    elif entry.before:
        one.release_before(entry.released)
    else:
        one.release_after(entry.released)
