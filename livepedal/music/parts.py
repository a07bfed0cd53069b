"""Which notes are the harp's, and the events of each part.

Tracks whose program is General MIDI's orchestral harp, or whose name says harp, are parts, each on its own;
else the only track that has notes; else somebody has to choose. The user's own choice goes before all of
these.

A key is down from its strike to its release. Sequencers write more than keys can do, so it is put in order
here: a key struck again while it is down is released first; one struck twice at one moment (two layers of one
track) counts once and stays down until both have let go; a release in the moment of a strike comes first,
unless the key was up before, when it ends that very strike; a key that is never released comes up at the end
of the track.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import chain, repeat
from operator import itemgetter

from livepedal.errors import LivepedalError
from livepedal.music import eventlist
from livepedal.music.eventlist import EventList
from livepedal.music.song import Part, Song, counted
from livepedal.music.timemap import TimeMap
from livepedal.music.tracks import DRUM_CHANNEL, HARP_PROGRAM, Lane, TrackInfo
from livepedal.sources import smf
from livepedal.sources.text import clean


class NoHarpTrack(LivepedalError):
    """Nobody can tell which notes are the harp's. tracks: the table to choose from."""

    def __init__(self, message: str, tracks: tuple[TrackInfo, ...]) -> None:
        super().__init__(message)
        self.tracks = tracks

    def __reduce__(self) -> tuple[type[NoHarpTrack], tuple[str, tuple[TrackInfo, ...]]]:
        return type(self), (str(self), self.tracks)


def choose_parts(song: Song, tracks: Sequence[str] = (), merge: bool = False) -> tuple[Part, ...]:
    """The parts to judge, in the order of the file.

    tracks: the user's choice, numbers or parts of names in any case; empty: the rules above. merge: all
    chosen tracks are played on one harp and make one part. Raises NoHarpTrack when that leaves a choice open,
    LivepedalError when there are no notes at all.
    """
    if not any(lane.info.notes for lane in song.lanes):
        raise LivepedalError(
            f"{song.path}: has no notes, so there is nothing to judge; export it again with the part in it."
        )
    chosen = _asked_for(song, tracks) if tracks else _the_harps(song)
    by_user = bool(tracks)
    if merge:
        return (_part(song, chosen, by_user),)
    parts = [_part(song, [lane], by_user) for lane in chosen]
    if len(parts) > 1 and not by_user and song.kind != 2:
        # Nobody can tell two harps from the two staves of one, which notation programs export as two tracks.
        hint = f"{len(parts)} harp tracks, each judged by itself; --merge judges them as one harp"
        parts[0] = replace(parts[0], remarks=(hint, *parts[0].remarks))
    return tuple(parts)


def _tuned(lane: Lane) -> int:
    return lane.info.notes - lane.info.drums


def _the_harps(song: Song) -> list[Lane]:
    harps = [lane for lane in song.lanes if lane.harp_notes or (lane.named and _tuned(lane))]
    if harps:
        return harps
    tuned = [lane for lane in song.lanes if _tuned(lane)]
    if len(tuned) == 1 or (tuned and song.kind == 2):
        return tuned
    if not tuned:
        reason = "has nothing but drums on channel 10"
    else:
        reason = f"none of its {len(tuned)} tracks with notes is a harp's by its name or its program"
    raise NoHarpTrack(f"{song.path}: {reason}; choose with --track NUMBER_OR_NAME.", song.tracks)


def _asked_for(song: Song, tracks: Sequence[str]) -> list[Lane]:
    chosen: set[int] = set()
    for asked in tracks:
        found = _matches(song, asked.strip())
        if not found:
            raise NoHarpTrack(
                f"{song.path}: has no track “{clean(asked)}”; give a number or part of a name to --track.",
                song.tracks,
            )
        chosen |= found
    lanes = [lane for index, lane in enumerate(song.lanes) if index in chosen and lane.info.notes]
    if not lanes:
        named = ", ".join(clean(asked) for asked in tracks)
        message = f"{song.path}: there are no notes on track {named}; choose another with --track."
        raise NoHarpTrack(message, song.tracks)
    return lanes


def _matches(song: Song, asked: str) -> set[int]:
    """Indices of tracks by number, else by whole name, else by part of a name."""
    everyone = list(enumerate(song.lanes))
    if asked.isascii() and asked.isdigit():
        found = {index for index, lane in everyone if str(lane.info.number) == asked.lstrip("0")}
        if found:
            return found
    wanted = asked.casefold()
    if not wanted:
        return set()
    whole = {index for index, lane in everyone if lane.info.name.casefold() == wanted}
    return whole or {index for index, lane in everyone if wanted in lane.info.name.casefold()}


def _part(song: Song, lanes: Sequence[Lane], by_user: bool) -> Part:
    time_map = song.time_map_of(lanes[0])
    streams = [_stream(lane, song.time_map_of(lane), by_user) for lane in lanes]
    stream = streams[0] if len(streams) == 1 else sorted(chain.from_iterable(streams), key=itemgetter(0))
    end_us = max(song.time_map_of(lane).us(lane.end) for lane in lanes)
    events, notes, hanging, doubled = _events(stream, end_us)
    remarks = []
    if hanging:
        verb = "is never released; it is" if hanging == 1 else "are never released; they are"
        remarks.append(f"{counted(hanging, 'note')} {verb} held to the end of the track")
    if doubled:
        verb = (
            "doubles another of the same moment and does"
            if doubled == 1
            else "double others of the same moment and do"
        )
        remarks.append(f"{counted(doubled, 'note')} {verb} not count")
    name = " + ".join(dict.fromkeys(lane.info.label for lane in lanes))
    return Part(name, tuple(lane.info for lane in lanes), events, end_us, notes, time_map, tuple(remarks))


def _stream(lane: Lane, time_map: TimeMap, by_user: bool) -> Iterable[tuple[int, int, int]]:
    """(microseconds, packed message, source of channel 0) of the harp's messages; lazily, for long tracks."""
    words = _harp_words(lane, by_user)
    return zip(time_map.us_of([word >> 24 for word in words]), words, repeat(lane.source))


def _harp_words(lane: Lane, by_user: bool) -> Sequence[int]:
    """The messages of a track that are the harp's: all but drums, or those under the harp's program."""
    tuned = _tuned(lane)
    if by_user and not tuned:
        return lane.words  # the user insists: what looks like drums is to be judged
    words = lane.words
    if lane.info.drums:
        words = [word for word in words if word >> 16 & 15 != DRUM_CHANNEL]
    if by_user or lane.named or lane.harp_notes in (0, tuned):
        return words
    under = [False] * 16
    ever = [False] * 16
    kept = []
    for word in words:
        status = word >> 16 & 0xFF
        channel = status & 15
        if status >= 0xC0:
            under[channel] = (word >> 8 & 0x7F) == HARP_PROGRAM
            ever[channel] |= under[channel]
        elif under[channel] or (ever[channel] and not (0x90 <= status < 0xA0 and word & 0x7F)):
            kept.append(word)
    return kept


def _events(stream: Iterable[tuple[int, int, int]], end_us: int) -> tuple[EventList, int, int, int]:
    """Events from (microseconds, packed message, source of channel 0) in order of time.

    Returns them with the numbers of notes, of notes never released, and of notes doubled at one moment.
    """
    times, codes = array("q"), array("Q")
    when, what = times.append, codes.append
    held: dict[int, int] = {}  # key (source and pitch) -> releases that it waits for
    fresh: dict[int, int] = {}  # key -> velocity, struck in this moment and not yet written
    twice: dict[int, int] = {}  # key -> how often it was struck in this moment, where more than once
    late: list[int] = []  # keys struck and released in this moment
    pedals: dict[int, bool] = {}
    notes = doubled = 0
    now = -1

    def write_strikes() -> None:
        nonlocal notes, doubled
        for key, velocity in fresh.items():
            if key in held:
                when(now)
                what(key << 9)
            held[key] = 1
            when(now)
            what(key << 9 | velocity << 2 | eventlist.ON)
        notes += len(fresh)
        if twice:
            held.update(twice)
            doubled += sum(twice.values()) - len(twice)
            twice.clear()
        fresh.clear()
        if late:
            for key in late:
                release(key)
            late.clear()

    def release(key: int) -> None:
        waits = held.get(key)
        if waits == 1:
            del held[key]
            when(now)
            what(key << 9)
        elif waits:
            held[key] = waits - 1

    for us, word, source in stream:
        if us != now:
            if fresh:
                write_strikes()
            now = us
        status = word >> 16 & 0xFF
        if status < 0xA0:
            key = (source + (status & 15)) << 7 | word >> 8 & 0x7F
            velocity = word & 0x7F
            if status > 0x8F and velocity:
                if key in fresh:
                    twice[key] = twice.get(key, 1) + 1
                else:
                    fresh[key] = velocity
            elif key in held:
                if held[key] == 1:
                    del held[key]
                    when(us)
                    what(key << 9)
                else:
                    held[key] -= 1
            elif key in fresh:
                late.append(key)
        elif status < 0xC0:
            source += status & 15
            controller = word >> 8 & 0x7F
            if controller == smf.SUSTAIN or controller == smf.RESET_CONTROLLERS:
                down = controller == smf.SUSTAIN and (word & 0x7F) >= 64
                if pedals.get(source, False) is not down:
                    pedals[source] = down
                    when(us)
                    what(source << 16 | down << 2 | eventlist.SUSTAIN)
            else:
                write_strikes()
                up = [key for key in held if key >> 7 == source]
                if up:
                    when(us)
                    what(source << 16 | eventlist.ALL_OFF)
                for key in up:
                    del held[key]
    write_strikes()
    for key in held:
        when(max(end_us, now))
        what(key << 9)
    return EventList(times, codes), notes, len(held), doubled
