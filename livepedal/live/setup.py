"""How a session is judged and counted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from livepedal.advice.judging.basis import Basis
from livepedal.harp import Setting, load_figures
from livepedal.model.findings import Layer
from livepedal.sources.journal import Header


@dataclass(frozen=True, slots=True)
class Setup(Basis):
    """What a session is judged on, and how its bars are counted.

    Attributes:
        tempo: µs a quarter, None where none was given.
        metre: numerator, denominator.
        channels: those that are listened to, 1 to 16; empty for all but 10.
        started: when the session began (ISO format).
    """

    tempo: int | None = None
    metre: tuple[int, int] = (4, 4)
    channels: frozenset[int] = frozenset()
    middle_c: str = "C4"
    started: str = ""

    def stem(self, take: int, passage: int | None = None) -> str:
        """The name of a file without its ending: date and time of the session, take and passage (from 0)."""
        return stem_of(self.started, take, passage)


def stem_of(started: str, take: int = 1, passage: int | None = None) -> str:
    """As `Setup.stem`, by when the session began."""
    try:
        stem = datetime.fromisoformat(started).strftime("%Y-%m-%d-%H%M%S")
    except ValueError:
        stem = "session"
    if take > 1:
        stem += f"-take-{take}"
    return stem if passage is None else f"{stem}-passage-{passage + 1}"


def setup_of(header: Header, figures: Path | None = None) -> Setup:
    """How a session was set up, with another file of figures where one is given.

    Raises:
        LivepedalError: the figures, the player or the harp are not there any more.
    """
    path = figures or (Path(header.figures) if header.figures else None)
    loaded = load_figures(path)
    known = replace(loaded, window=replace(loaded.window, passage_rest=header.rest))
    known.player(header.player)
    return Setup(
        figures=known,
        instrument=known.instrument(header.harp),
        player=header.player,
        layers=tuple(Layer(name) for name in header.only),
        tempo=header.tempo,
        metre=header.metre,
        setting=Setting.parse(header.start) if header.start else None,
        channels=frozenset(header.channels),
        middle_c=header.middle_c,
        started=header.started,
    )
