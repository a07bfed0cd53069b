"""The harp without time: pedals, strings, spellings, settings, instruments and players."""

from typing import TYPE_CHECKING, Any

from livepedal.harp.instruments import Instrument
from livepedal.harp.keys import Key
from livepedal.harp.pedals import Foot, Pedal, Position
from livepedal.harp.players import Player
from livepedal.harp.ringing import NEVER, Ringing
from livepedal.harp.setting import Setting
from livepedal.harp.strings import HarpString, Spelling, octave_shift, pitch_name
from livepedal.harp.tables import (
    GlissandoFigures,
    HandsFigures,
    LoadFigures,
    ShareFigures,
    SmearFigures,
    TempoFigures,
)

if TYPE_CHECKING:
    from livepedal.harp.figures import Figures, load_figures, user_figures_file

__all__ = [
    "NEVER",
    "Figures",
    "Foot",
    "GlissandoFigures",
    "HandsFigures",
    "HarpString",
    "Instrument",
    "Key",
    "LoadFigures",
    "Pedal",
    "Player",
    "Position",
    "Ringing",
    "Setting",
    "ShareFigures",
    "SmearFigures",
    "Spelling",
    "TempoFigures",
    "load_figures",
    "octave_shift",
    "pitch_name",
    "user_figures_file",
]


def __getattr__(name: str) -> Any:
    # What judges is handed its figures, so the reading of files of figures is loaded only when asked for.
    if name in ("Figures", "load_figures", "user_figures_file"):
        from livepedal.harp import figures

        return getattr(figures, name)
    raise AttributeError(f"module 'livepedal.harp' has no attribute {name!r}")
