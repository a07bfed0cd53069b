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
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from livepedal.music.names import decode_name, says_harp
from livepedal.sources.raw import CHANNEL_PREFIX, INSTRUMENT_NAME, PORT, TRACK_NAME, VOLUME, RawSong, RawTrack
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


@dataclass(frozen=True, slots=True)
class Lane:
    """A track with what is needed to take a part from it; for this package only.

    words: packed channel messages; source: number of its channel 0; end: tick of its end. named: its name
    says harp; harp_notes: notes under the harp's program, without drums. raw: index of the track chunk.
    channels: those with notes, 1 to 16; silent: their volume is 0 all through; written: what a score says more;
    bare_notes: notes under no program, without drums.
    """

    info: TrackInfo
    words: Sequence[int]
    source: int
    end: int
    named: bool
    harp_notes: int
    raw: int
    channels: tuple[int, ...] = ()
    silent: bool = False
    written: Written | None = None
    bare_notes: int = 0


def lanes_of(song: RawSong) -> tuple[Lane, ...]:
    """The tracks of a file in order; tracks without notes too, except in a file of type 0."""
    if song.kind == 0 and len(song.tracks) == 1:
        return tuple(_channel_lanes(song.tracks[0]))
    surveys = [_Survey(track.packed) for track in song.tracks]
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
        struck = 0x90 <= status < 0xA0 and word & 0x7F
        if status >= 0xC0 or (now[channel] in programs if struck else ever[channel]):
            kept.append(word)
    return kept


def _with(lane: Lane, words: array[int], survey: _Survey | None = None) -> Lane:
    """The lane with these messages, and what they say of it. survey: of them, where that was done before."""
    survey = survey or _Survey(words)
    program, harp_notes = survey.program()
    info = replace(lane.info, program=program, notes=sum(survey.notes), drums=survey.notes[DRUM_CHANNEL])
    return replace(
        lane,
        info=info,
        words=words,
        harp_notes=harp_notes,
        channels=survey.sounding(),
        silent=survey.silent(),
        bare_notes=survey.bare(),
    )


class _Survey:
    """One look over a track: how many notes on which channel, under which program, and where that is set."""

    def __init__(self, words: Iterable[int]) -> None:
        tally: dict[int, int] = {}  # channel and program -> notes
        under = [channel << 8 | NO_PROGRAM for channel in range(16)]
        self.changes: list[int] = []
        self.loudest: dict[int, int] = {}  # by channel, where its volume is set
        for word in words:
            status = word >> 16 & 0xFF
            if status < 0x90:
                continue
            if status < 0xA0:
                if word & 0x7F:
                    key = under[status & 15]
                    tally[key] = tally.get(key, 0) + 1
            elif status >= 0xC0:
                channel = status & 15
                under[channel] = channel << 8 | word >> 8 & 0x7F
                self.changes.append(word)
            elif status >= 0xB0 and word >> 8 & 0x7F == VOLUME:
                channel = status & 15
                self.loudest[channel] = max(self.loudest.get(channel, 0), word & 0x7F)
        self.notes = [0] * 16  # by channel
        self.tuned: dict[int, int] = {}  # by program, without drums
        for key, notes in tally.items():
            channel, program = key >> 8, key & 0xFF
            self.notes[channel] += notes
            if channel != DRUM_CHANNEL:
                self.tuned[program] = self.tuned.get(program, 0) + notes
        self.set_on = {word >> 16 & 15 for word in self.changes}

    def sounding(self) -> tuple[int, ...]:
        """The channels that have notes, 1 to 16."""
        return tuple(channel + 1 for channel, notes in enumerate(self.notes) if notes)

    def bare(self) -> int:
        """How many notes are under no program, without drums."""
        return self.tuned.get(NO_PROGRAM, 0)

    def silent(self) -> bool:
        """Whether no channel with notes is ever to be heard."""
        audible = [
            channel for channel, notes in enumerate(self.notes) if notes and self.loudest.get(channel) != 0
        ]
        return not audible and any(self.notes)

    def program(self) -> tuple[int | None, int]:
        """The program to show, and how many notes are under the harp's."""
        harp = self.tuned.get(HARP_PROGRAM, 0)
        if harp:
            return HARP_PROGRAM, harp
        known = {program: notes for program, notes in self.tuned.items() if program != NO_PROGRAM}
        if known:
            return max(known, key=lambda program: (known[program], -program)), 0
        if self.changes and not self.tuned:
            return self.changes[0] >> 8 & 0x7F, 0
        return None, 0


def _setup_programs(tracks: Sequence[RawTrack], surveys: Sequence[_Survey]) -> dict[tuple[int, int], int]:
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


def _track_lane(index: int, track: RawTrack, survey: _Survey, setup: dict[tuple[int, int], int]) -> Lane:
    words = track.packed
    port = _port(track)
    borrowed = [
        setup[port, channel] & 0xFF_FFFF  # at tick 0
        for channel, notes in enumerate(survey.notes)
        if notes and channel not in survey.set_on and (port, channel) in setup
    ]
    if borrowed:
        words = array("Q", borrowed) + words
        survey = _Survey(words)
    return _with(_bare_lane(track, index, 16 * index, _names(track)), words, survey)


def _channel_lanes(track: RawTrack) -> Iterable[Lane]:
    sounding = _Survey(track.packed).sounding()
    # The name of the only track is that of the piece; it says something of a channel only where there is one.
    alone = len([channel for channel in sounding if channel != DRUM_CHANNEL + 1]) == 1
    for channel in sounding:
        names = _names(track, channel - 1)
        if alone and channel != DRUM_CHANNEL + 1 and not names[0]:
            names = _names(track)
        yield of_channels(_bare_lane(track, 0, 0, names, channel), (channel,))


def _bare_lane(
    track: RawTrack, index: int, source: int, names: tuple[str, str], channel: int | None = None
) -> Lane:
    """The lane of a track, or of one of its channels (1 to 16), before its messages were looked at."""
    info = TrackInfo(channel or track.number, names[0], None, 0, 0, channel)
    named = any(map(says_harp, names))
    return Lane(info, track.packed, source, track.end, named, 0, index, written=track.written)


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
