"""The harp without time: pedals, strings, spellings, settings, instruments and players."""

from livepedal.harp.figures import Figures, load_figures, user_figures_file
from livepedal.harp.instruments import Instrument
from livepedal.harp.keys import Key
from livepedal.harp.pedals import Foot, Pedal, Position
from livepedal.harp.players import Player
from livepedal.harp.ringing import NEVER, Ringing
from livepedal.harp.setting import Setting
from livepedal.harp.spelling import Spelling, octave_shift, pitch_name
from livepedal.harp.strings import HarpString
from livepedal.harp.tables import GlissandoFigures, LoadFigures, ShareFigures, SmearFigures, TempoFigures

__all__ = [
    "NEVER",
    "Figures",
    "Foot",
    "GlissandoFigures",
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
