"""The tracks of a file as a user knows them: number, name, program, notes.

In a file of type 0 everything is on one track; there each channel that has notes counts as a track, under the
number of the channel. Elsewhere a track is a track chunk, whatever channels it uses.

A program counts for the notes that come after it on its channel, within its track, because exports with more
than sixteen tracks use channels several times over. Only a track that sets a program where it plays no notes
(a set-up track at the head of a file) speaks for the same channel of other tracks, where these say nothing
themselves. Channel 10 is for drums (General MIDI level 1), where pitches name instruments.
"""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from livepedal.music.names import decode_name, says_harp
from livepedal.sources.raw import (
    CHANNEL_PREFIX,
    INSTRUMENT_NAME,
    PORT,
    TRACK_NAME,
    VOLUME,
    RawSong,
    RawTrack,
    strikes,
)
from livepedal.sources.scores.written import Written

HARP_PROGRAM = 46  # data byte; "47 Orchestral Harp" where programs count from 1 (General MIDI level 1)
DRUM_CHANNEL = 9  # counted from 0; channel 10 for people

NO_PROGRAM = 0xFF  # no data byte


@dataclass(frozen=True, slots=True)
class TrackInfo:
    """What a user sees of a track.

    Attributes:
        number: 1-based place in the file, or the channel (1 to 16) in a file of type 0.
        name: clean text, empty where the file gives none.
        program: 0 to 127, that of most of its notes (46 if any of them are under it); None if none is set.
        notes: how many are struck, drums included.
        drums: how many of them are on channel 10.
        channel: 1 to 16; only in a file of type 0.
    """

    number: int
    name: str
    program: int | None
    notes: int
    drums: int = 0
    channel: int | None = None

    @property
    def label(self) -> str:
        """The name, or what stands for one."""
        return self.name or (f"track {self.number}" if self.channel is None else f"channel {self.number}")


class Survey:
    """One look over the messages of a track.

    Attributes:
        changes: the program changes.
        notes: by channel.
        channels: those with notes, 1 to 16.
        silent: whether the volume of all those is 0 all through.
        harp_notes, bare_notes: under the harp's program, and under none; without drums.
        program: the one to show.
    """

    def __init__(self, words: Iterable[int]) -> None:
        tally: Counter[int] = Counter()  # notes by channel and program
        under = [channel << 8 | NO_PROGRAM for channel in range(16)]
        loudest: dict[int, int] = {}  # by channel, where its volume is set
        self.changes: list[int] = []
        for word in words:
            status = word >> 16 & 0xFF
            channel = status & 15
            if status < 0x90:
                continue
            if status < 0xA0:
                if word & 0x7F:
                    tally[under[channel]] += 1
            elif status >= 0xC0:
                under[channel] = channel << 8 | word >> 8 & 0x7F
                self.changes.append(word)
            elif status >= 0xB0 and word >> 8 & 0x7F == VOLUME:
                loudest[channel] = max(loudest.get(channel, 0), word & 0x7F)
        self.notes = [0] * 16
        tuned: Counter[int] = Counter()  # by program, without drums
        for key, notes in tally.items():
            self.notes[key >> 8] += notes
            if key >> 8 != DRUM_CHANNEL:
                tuned[key & 0xFF] += notes
        self.channels = tuple(channel + 1 for channel, notes in enumerate(self.notes) if notes)
        self.silent = bool(self.channels) and all(loudest.get(channel - 1) == 0 for channel in self.channels)
        self.harp_notes, self.bare_notes = tuned[HARP_PROGRAM], tuned.pop(NO_PROGRAM, 0)
        self.program: int | None = None
        if self.harp_notes:
            self.program = HARP_PROGRAM
        elif tuned:
            self.program = max(tuned, key=lambda program: (tuned[program], -program))
        elif self.changes and not self.bare_notes:
            self.program = self.changes[0] >> 8 & 0x7F


@dataclass(frozen=True, slots=True)
class Lane:
    """A track with what is needed to take a part from it; for this package only.

    Attributes:
        words: packed channel messages.
        survey: of them.
        source: number of its channel 0.
        end: tick of its end.
        named: whether its name says harp.
        raw: index of the track chunk.
        written: what a score says more.
    """

    info: TrackInfo
    words: Sequence[int]
    survey: Survey
    source: int
    end: int
    named: bool
    raw: int
    written: Written | None = None


def lanes_of(song: RawSong) -> tuple[Lane, ...]:
    """The tracks of a file in order; tracks without notes too, except in a file of type 0."""
    if song.kind == 0 and len(song.tracks) == 1:
        return tuple(_channel_lanes(song.tracks[0]))
    surveys = [Survey(track.packed) for track in song.tracks]
    setup = {} if song.kind == 2 else _setup_programs(song.tracks, surveys)
    return tuple(
        _track_lane(index, track, survey, setup)
        for index, (track, survey) in enumerate(zip(song.tracks, surveys, strict=True))
    )


def of_channels(lane: Lane, channels: Sequence[int]) -> Lane:
    """The lane with nothing but these channels (1 to 16)."""
    return _with(lane, array("Q", (word for word in lane.words if (word >> 16 & 15) + 1 in channels)))


def of_programs(lane: Lane, programs: Sequence[int]) -> Lane:
    """The lane with nothing but the notes under these programs (0 to 127)."""
    return _with(lane, under_programs(lane.words, programs))


def under_programs(words: Iterable[int], programs: Collection[int]) -> array[int]:
    """The messages of notes under these programs (0 to 127, or NO_PROGRAM), and what else is on their channels."""
    now = [NO_PROGRAM] * 16
    ever = [NO_PROGRAM in programs] * 16
    kept = array("Q")
    for word in words:
        status = word >> 16 & 0xFF
        channel = status & 15
        if status >= 0xC0:
            now[channel] = word >> 8 & 0x7F
            ever[channel] |= now[channel] in programs
        if status >= 0xC0 or (now[channel] in programs if strikes(word) else ever[channel]):
            kept.append(word)
    return kept


def _with(lane: Lane, words: array[int]) -> Lane:
    """The lane with these messages, and what they say of it."""
    survey = Survey(words)
    return replace(lane, info=_info(lane.info, survey), words=words, survey=survey)


def _info(info: TrackInfo, survey: Survey) -> TrackInfo:
    notes = survey.notes
    return replace(info, program=survey.program, notes=sum(notes), drums=notes[DRUM_CHANNEL])


def _setup_programs(tracks: Sequence[RawTrack], surveys: Sequence[Survey]) -> dict[tuple[int, int], int]:
    """The first program change, by port and channel, of tracks that play nothing on that channel."""
    found: dict[tuple[int, int], int] = {}
    for track, survey in zip(tracks, surveys, strict=True):
        port = _port(track)
        for word in survey.changes:
            channel = word >> 16 & 15
            if not survey.notes[channel]:
                found.setdefault((port, channel), word)
    return found


def _port(track: RawTrack) -> int:
    return next((meta.data[0] for meta in track.metas if meta.kind == PORT and meta.data), 0)


def _track_lane(index: int, track: RawTrack, survey: Survey, setup: dict[tuple[int, int], int]) -> Lane:
    port = _port(track)
    lane = _lane(track, survey, index, _names(track))
    set_on = {word >> 16 & 15 for word in survey.changes}
    borrowed = [
        setup[port, channel] & 0xFF_FFFF  # at tick 0
        for channel, notes in enumerate(survey.notes)
        if notes and channel not in set_on and (port, channel) in setup
    ]
    return _with(lane, array("Q", borrowed) + track.packed) if borrowed else lane


def _channel_lanes(track: RawTrack) -> Iterable[Lane]:
    survey = Survey(track.packed)
    # The name of the only track is that of the piece; it says something of a channel only where there is one.
    alone = len([channel for channel in survey.channels if channel != DRUM_CHANNEL + 1]) == 1
    for channel in survey.channels:
        names = _names(track, channel - 1)
        if alone and channel != DRUM_CHANNEL + 1 and not names[0]:
            names = _names(track)
        yield of_channels(_lane(track, survey, 0, names, channel), (channel,))


def _lane(
    track: RawTrack, survey: Survey, index: int, names: tuple[str, str], channel: int | None = None
) -> Lane:
    """The lane of a track; channel (1 to 16): to be that of one of its channels."""
    info = _info(TrackInfo(channel or track.number, names[0], None, 0, 0, channel), survey)
    named = any(map(says_harp, names))
    return Lane(info, track.packed, survey, 16 * index, track.end, named, index, track.written)


def _names(track: RawTrack, channel: int | None = None) -> tuple[str, str]:
    """The name to show and the instrument's name; of one channel, those that a channel prefix gives it."""
    name = instrument = ""
    prefix: int | None = None
    for meta in track.metas:
        if meta.kind == CHANNEL_PREFIX and meta.data:
            prefix = meta.data[0]
        elif channel is None or prefix == channel:
            if meta.kind == TRACK_NAME:
                name = name or decode_name(meta.data)
            elif meta.kind == INSTRUMENT_NAME:
                instrument = instrument or decode_name(meta.data)
    return name or instrument, instrument
