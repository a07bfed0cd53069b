"""Music as the model sees it: events with their own time, attacks, parts, and where a moment lies.

Everything here is pure: it turns what a source has read into values, and does no input or output of its own.
(`read_song` is the one door to a file; the reading is done by `livepedal.sources.smf`.)
"""

from livepedal.music.attacks import Attack, Gathered, Gathering, events_of, gather, gather_held, scale
from livepedal.music.events import (
    AllNotesOff,
    ChoosePlayer,
    Event,
    NoteOff,
    NoteOn,
    SetPedals,
    StartAfresh,
    Sustain,
)
from livepedal.music.parts import NoHarpTrack, choose_parts
from livepedal.music.song import KeySignature, Part, Song, read_song
from livepedal.music.timemap import Place, TimeMap
from livepedal.music.tracks import TrackInfo

__all__ = [
    "AllNotesOff",
    "Attack",
    "ChoosePlayer",
    "Event",
    "Gathered",
    "Gathering",
    "KeySignature",
    "NoHarpTrack",
    "NoteOff",
    "NoteOn",
    "Part",
    "Place",
    "SetPedals",
    "Song",
    "StartAfresh",
    "Sustain",
    "TimeMap",
    "TrackInfo",
    "choose_parts",
    "events_of",
    "gather",
    "gather_held",
    "read_song",
    "scale",
]
