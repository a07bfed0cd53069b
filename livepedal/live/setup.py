"""How a session is judged and counted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from livepedal.advice.judging.basis import Basis
from livepedal.defaults import HARP, PLAYER
from livepedal.errors import LivepedalError
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


def stem_of(started: str, take: int = 1, passage: int | None = None) -> str:
    """The name of a file without its ending: when the session began (ISO format), take and passage (from 0)."""
    try:
        stem = datetime.fromisoformat(started).strftime("%Y-%m-%d-%H%M%S")
    except ValueError:
        stem = "session"
    if take > 1:
        stem += f"-take-{take}"
    return stem if passage is None else f"{stem}-passage-{passage + 1}"


def usable(header: Header) -> tuple[Header, str]:
    """How a session was set up, with the defaults where its figures, player, harp or layers are not there any more.

    Returns:
        It, and in words what is not as it was, "" where all is.
    """
    try:
        setup_of(header)
    except (LivepedalError, ValueError) as error:
        header = replace(header, player=PLAYER, harp=HARP, figures="", start="", only=())
        why = str(error).rstrip(".")
        return header, f"judged for the {PLAYER} player on the {HARP}-string harp, not as in the session ({why})"
    return header, ""


def setup_of(header: Header) -> Setup:
    """How a session was set up.

    Raises:
        LivepedalError: the figures, the player or the harp are not there any more.
    """
    loaded = load_figures(Path(header.figures) if header.figures else None)
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
