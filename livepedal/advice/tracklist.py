"""The tracks of a file: whether each is judged, its compass, and what looks odd about its notes.

Two oddities are worth a hint, because one option mends them (common practice, no source): a few low pitches far
below everything else are the keyswitches of a sample library; and notes beyond the harp's range that an octave
or two would bring into it are a track that sounds elsewhere than it is written.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from livepedal.harp import Figures, Instrument, pitch_name
from livepedal.music.choosing import Chosen, NoHarpTrack, Wanted, choose
from livepedal.music.parts import harp_words
from livepedal.music.song import Song
from livepedal.music.tracks import TrackInfo
from livepedal.music.wording import are, counted, plain
from livepedal.sources.raw import strikes

SWITCHES = 12  # different pitches, at most, that pass for keyswitches
SWITCHES_BELOW = 36  # MIDI pitch, C2: no sample library puts them higher beneath a harp
APART = 12  # semitones between them and the lowest note


@dataclass(frozen=True, slots=True)
class Entry:
    """One track.

    Attributes:
        part: the part it is judged in, from 1, None: in none.
        why: a clause.
        notes: of those judged.
        lowest, highest: MIDI pitches of what is judged (of all its notes where nothing is), None without notes.
    """

    track: TrackInfo
    channels: tuple[int, ...]
    part: int | None
    why: str
    notes: int
    lowest: int | None
    highest: int | None
    hints: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TrackList:
    """All tracks of a file.

    Attributes:
        undecided: the sentence that says why none is judged.
    """

    path: str
    entries: tuple[Entry, ...]
    remarks: tuple[str, ...]
    undecided: NoHarpTrack | None = None

    def to_dict(self) -> dict[str, Any]:
        """The JSON (format livepedal-tracks, version 1)."""
        return {
            "format": "livepedal-tracks",
            "version": 1,
            "path": self.path,
            "undecided": None if self.undecided is None else str(self.undecided),
            "remarks": list(self.remarks),
            "tracks": [
                {
                    "number": entry.track.number,
                    "name": entry.track.name,
                    "program": entry.track.program,
                    "channels": list(entry.channels),
                    "notes": entry.track.notes,
                    "part": entry.part,
                    "why": entry.why,
                    "judged": entry.notes,
                    "lowest": entry.lowest,
                    "highest": entry.highest,
                    "hints": list(entry.hints),
                }
                for entry in self.entries
            ],
        }


def list_tracks(song: Song, wanted: Wanted, figures: Figures, instrument: Instrument) -> TrackList:
    """What becomes of every track.

    Args:
        song: the file.
        wanted: what is to be judged of the file.
        figures, instrument: by which notes are keyswitches or out of range.
        figures: of the players and harps.
        instrument: the harp, by which notes are out of range.

    Raises:
        LivepedalError: where there are no notes at all.
    """
    undecided = None
    try:
        chosen = choose(song, wanted)
    except NoHarpTrack as error:
        undecided = error
        chosen = tuple(
            Chosen(lane, None, "no notes" if not lane.info.notes else "unclear") for lane in song.lanes
        )
    entries = tuple(_entry(one, song, wanted, figures.lowest_note, instrument) for one in chosen)
    remarks = song.remarks_on(one.lane.info for one in chosen if one.part is not None)
    return TrackList(song.path, entries, remarks, undecided)


def _entry(chosen: Chosen, song: Song, wanted: Wanted, lowest: int, instrument: Instrument) -> Entry:
    words = chosen.lane.words if chosen.part is None else harp_words(chosen.lane, wanted)[0]
    pitches = Counter(word >> 8 & 0x7F for word in words if strikes(word))
    in_range = [pitch for pitch in pitches if pitch >= lowest] or list(pitches)
    whole = next(info for info in song.tracks if info.number == chosen.lane.info.number)
    return Entry(
        whole,
        chosen.lane.survey.channels,
        None if chosen.part is None else chosen.part + 1,
        chosen.why,
        0 if chosen.part is None else pitches.total(),
        min(in_range, default=None),
        max(in_range, default=None),
        () if chosen.part is None else tuple(_hints(pitches, wanted, lowest, instrument)),
    )


def _hints(pitches: Counter[int], wanted: Wanted, lowest: int, instrument: Instrument) -> list[str]:
    hints = []
    below = sum(count for pitch, count in pitches.items() if pitch < lowest)
    if below:
        hints.append(f"{are(below, 'note')} below the range of any harp (keyswitches) and will be left out")
    in_range = sorted(pitch for pitch in pitches if pitch >= lowest)
    for low, high in pairwise(in_range):
        few = in_range.index(high)
        if high - low >= APART and low < SWITCHES_BELOW and few <= SWITCHES:
            number = sum(pitches[pitch] for pitch in in_range[:few])
            lies, they = ("lies", "it is a keyswitch") if number == 1 else ("lie", "they are keyswitches")
            first = low + 1 - wanted.transpose  # as the file has it
            hints.append(
                f"{counted(number, 'note')} up to {plain(pitch_name(low))} {lies} far below the others; if {they}:"
                f" --ignore-below {first}"
            )
            in_range = in_range[few:]
            break
    if in_range:
        fits = {pitch for pitch in range(128) if instrument.spellings(pitch)}
        if not fits.issuperset(in_range):
            for octaves in (1, -1, 2, -2):
                if fits.issuperset(pitch + 12 * octaves for pitch in in_range):
                    hints.append(
                        f"partly out of the range of this harp; all of it fits with"
                        f" --transpose {wanted.transpose + 12 * octaves}"
                    )
                    break
    return hints
