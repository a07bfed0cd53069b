"""A MIDI file as music: when things are, which tracks there are, and what was odd about it.

Events of the whole file stand on any track in practice (Set Tempo, time and key signatures, markers),
although the standard wants them on the first; all are heeded. In a file of type 2 every track is a piece by
itself and keeps its own time.

The events of a part are kept compactly (`EventList`): two integers each, made into event objects only when looked at. A
million notes are two million events; as objects they would take hundreds of megabytes and keep the garbage collector
busy, as two arrays they take 32. One of the integers is a packed message (sources/raw.py). Above its three bytes stand
the number of the track that it comes from, which with the channel makes the `source`, and the signs of a score.
"""

from __future__ import annotations

from array import array
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import overload

from livepedal.errors import LivepedalError
from livepedal.harp import Key
from livepedal.harp.signs import NO_SIGN, Sign
from livepedal.music.events import Event, NoteOff, NoteOn, Sustain
from livepedal.music.timemap import Mark, Metre, Tempo, TimeMap
from livepedal.music.tracks import Lane, TrackInfo, lanes_of
from livepedal.music.wording import counted
from livepedal.sources.raw import (
    CONTROLLER,
    KEY_SIGNATURE,
    LYRIC,
    MARKER,
    NOTE_ON,
    SET_TEMPO,
    TEXT,
    TIME_SIGNATURE,
    RawSong,
    RawTrack,
    is_own,
)
from livepedal.sources.reading import name_of, read_raw
from livepedal.sources.scores.written import Words, Written
from livepedal.sources.smf import IN_PART
from livepedal.sources.text import clean, decode

MAX_DAYS = 31
NO_TEMPO = "the file names no tempo"
NO_METRE = "the file has no time signature; bars are counted in 4/4"
"""What the remark on a file without a tempo begins with."""
_DAY = 24 * 60 * 60 * 1_000_000
# Of what stands above a packed message in an event of a part: the lowest bit of each.
TRACK, SIGNS = 24, 40
_TRACKS = (1 << SIGNS - TRACK) - 1


class EventList(Sequence[Event]):
    """An immutable sequence of note and sustain events in order of time."""

    __slots__ = ("_times", "_words")

    def __init__(self, times: array[int], words: array[int]) -> None:
        """times: microseconds ("q"); words: as laid out above ("Q"), as many. Both are kept, not copied."""
        self._times = times
        self._words = words

    def __len__(self) -> int:
        return len(self._times)

    def __iter__(self) -> Iterator[Event]:
        for us, word in zip(self._times, self._words, strict=True):
            status = word >> 16 & 0xF0
            source = word >> 20 & _TRACKS << 4 | word >> 16 & 15
            if status < NOTE_ON:
                yield NoteOff(us, word >> 8 & 0x7F, source)
            elif status < CONTROLLER:
                signs = Sign(word >> SIGNS) if word >> SIGNS else NO_SIGN
                yield NoteOn(us, word >> 8 & 0x7F, word & 0x7F, source, signs)
            else:
                yield Sustain(us, word & 0x7F >= 64, source)

    @overload
    def __getitem__(self, index: int) -> Event: ...
    @overload
    def __getitem__(self, index: slice) -> EventList: ...
    def __getitem__(self, index: int | slice) -> Event | EventList:
        if isinstance(index, slice):
            return EventList(self._times[index], self._words[index])
        single = EventList(array("q", (self._times[index],)), array("Q", (self._words[index],)))
        return next(iter(single))

    def signed(self, signs: Mapping[tuple[int, int], Sign]) -> EventList:
        """The same with the signs of a score at its notes, by their moment (µs) and MIDI number."""
        words = array("Q", self._words)
        for index, (us, word) in enumerate(zip(self._times, words, strict=True)):
            if word >> 16 & 0xF0 == NOTE_ON:
                words[index] = word | signs.get((us, word >> 8 & 0x7F), NO_SIGN) << SIGNS
        return EventList(self._times, words)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, EventList):
            return NotImplemented
        return self._times == other._times and self._words == other._words

    def __repr__(self) -> str:
        return f"<EventList of {len(self)} events>"


@dataclass(frozen=True, slots=True)
class KeySignature:
    """A key signature in the file.

    Attributes:
        fifths: -7 (seven flats) to 7 (seven sharps).
    """

    us: int
    fifths: int
    minor: bool = False

    @property
    def name(self) -> str:
        """For instance "E♭ major"."""
        return Key(self.fifths, self.minor).name


@dataclass(frozen=True, slots=True)
class Part:
    """What one harp is to play.

    Attributes:
        events: in order of time; at one moment releases come before strikes, otherwise in the order of the file. Every
            key that goes down comes up again before it goes down a second time.
        end_us: the end of its tracks (µs).
        notes: how many notes are struck.
        remarks: one sentence for each oddity.
        begin_us: where judging begins (µs).
        written: what only a score says (None: a MIDI file).
        keys: the key signatures that it is written with.
    """

    name: str
    tracks: tuple[TrackInfo, ...]
    events: Sequence[Event]
    end_us: int
    notes: int
    time_map: TimeMap
    remarks: tuple[str, ...] = ()
    begin_us: int = 0
    written: Written | None = None
    keys: tuple[KeySignature, ...] = ()

    def as_midi(self) -> Part:
        """The same without what a MIDI file of it could not say: signs and spelling."""
        if self.written is None:
            return self
        events = tuple(replace(one, signs=NO_SIGN) if isinstance(one, NoteOn) else one for one in self.events)
        return replace(self, events=events, written=None)

    def spelled(self) -> dict[tuple[int, int], int]:
        """The printed notes (line of fifths) by their moment (µs) and MIDI number, in order; empty for a MIDI file."""
        if self.written is None:
            return {}
        us = self.time_map.us
        return {(us(tick), pitch): fifth for (tick, pitch), fifth in sorted(self.written.spelled.items())}


@dataclass(frozen=True, slots=True)
class Song:
    """A file that has been read.

    Attributes:
        path: clean text for messages.
        kind: SMF type 0, 1 or 2.
        keys: the key signatures of each track chunk, in order of time, each change once.
        remarks: one sentence for each thing in the file that was out of order.
        texts: the texts, markers and lyrics of a MIDI file whose tracks share one time.
    """

    path: str
    kind: int
    keys: tuple[tuple[KeySignature, ...], ...]
    remarks: tuple[str, ...]
    lanes: tuple[Lane, ...] = field(repr=False, compare=False)
    time_maps: tuple[TimeMap, ...] = field(repr=False, compare=False)
    texts: tuple[Words, ...] = field(default=(), repr=False, compare=False)

    @property
    def time_map(self) -> TimeMap:
        """The time of the file; of type 2, that of its first track."""
        return self.time_maps[0]

    @property
    def tracks(self) -> tuple[TrackInfo, ...]:
        """Its tracks, as a user sees them."""
        return tuple(lane.info for lane in self.lanes)

    @property
    def broken_off(self) -> str:
        """The remark on the track that could not be read to its end; empty where all could."""
        return next((remark for remark in self.remarks if remark.endswith(IN_PART)), "")

    @property
    def on_bars(self) -> tuple[str, ...]:
        """The remark that belongs where bars are shown, if nobody knows them."""
        return () if any(time_map.metre_known for time_map in self.time_maps) else (NO_METRE,)

    @property
    def is_score(self) -> bool:
        """Whether it is a score, which says how its notes are spelled, and no MIDI file."""
        return any(lane.written is not None for lane in self.lanes)

    def words_of(self, part: Part) -> list[tuple[int, Words]]:
        """The words beside the notes of a part, with their moments (µs).

        In a score they are those of its staves, else the texts of the file.
        """
        words = self.texts if part.written is None else part.written.words
        return [(part.time_map.us(said.tick), said) for said in words]

    def time_map_of(self, lane: Lane) -> TimeMap:
        """The time of a track: the file's, except where each track has its own."""
        return self.time_maps[lane.raw] if self.kind == 2 else self.time_map

    def keys_of(self, lanes: Sequence[Lane]) -> tuple[KeySignature, ...]:
        """The key signatures of a part on these tracks.

        They are its own ones, which may differ from those of the other parts (a harp in C♭ major under an orchestra in
        B major), or else those of the first track that has any. C major throughout, which programs write by default,
        counts only where no track says more.
        """
        own = [lane.raw for lane in lanes]
        others = range(len(self.keys)) if self.kind != 2 else ()
        found = [self.keys[raw] for raw in (*own, *others) if self.keys[raw]]
        told = (keys for keys in found if any(key.fifths for key in keys))
        return next(told, found[0] if found else ())

    def remarks_on(self, judged: Iterable[TrackInfo]) -> tuple[str, ...]:
        """What is to be said of the file where these of its tracks are judged, as parts have them.

        That is its remarks, and how many drums were left out.
        Drums are judged only on a track of which nothing but drums is heeded (choosing.py).
        """
        drums = sum(track.drums for track in self.tracks)
        drums -= sum(track.drums for track in judged if track.drums == track.notes)
        if not drums:
            return self.remarks
        return (*self.remarks, f"drums on channel 10 were left out ({counted(drums, 'note')})")


def read_song(source: Path | str | bytes, *, name: str | None = None, first_bar: int = 1) -> Song:
    """Read a standard MIDI file or a MusicXML score.

    Args:
        source: its path, or its bytes.
        name: its name in messages; its path by default.
        first_bar: the number of its first bar.

    Raises:
        LivepedalError: when it cannot be read at all.
    """
    raw = read_raw(source, name)
    path = clean(name_of(source) if name is None else name, 500)
    faults: Counter[int] = Counter()
    remarks = list(raw.remarks)
    groups: list[Sequence[RawTrack]] = [[track] for track in raw.tracks] if raw.kind == 2 else [raw.tracks]
    time_maps = tuple(_time_map(raw, group, first_bar, faults) for group in groups)
    for group, time_map in zip(groups, time_maps, strict=True):
        if time_map.us(max(track.end for track in group)) > MAX_DAYS * _DAY:
            raise LivepedalError(
                f"{path} lasts more than {MAX_DAYS} days, which is too long; "
                "look for a stray pause in the sequencer and export it again."
            )
    maps = time_maps if raw.kind == 2 else time_maps * len(raw.tracks)
    keys = tuple(_keys(track, time_map, faults) for track, time_map in zip(raw.tracks, maps, strict=True))
    lanes = lanes_of(raw)
    remarks += _impossible(faults)
    metas = (kind for track in raw.tracks for _, kind, _ in track.metas)
    if raw.division.per_quarter is not None and SET_TEMPO not in metas:
        remarks.append(
            f"{NO_TEMPO}, so bars and tempos are counted at ♩ = 120"
            + ("" if raw.bars else ", as the standard says")
        )
    if raw.kind == 2:
        remarks.append("a MIDI file of type 2 holds separate pieces; each track is one")
    elif raw.kind == 0 and len(raw.tracks) > 1:
        remarks.append("a MIDI file of type 0 should hold one track; this one was read as type 1")
    texts = () if raw.kind == 2 else tuple(_texts(raw))
    return Song(path, raw.kind, keys, tuple(remarks), lanes, time_maps, texts)


def _texts(raw: RawSong) -> Iterable[Words]:
    found = [meta for track in raw.tracks for meta in track.metas if meta.kind in (TEXT, LYRIC, MARKER)]
    for tick, _, data in sorted(found, key=lambda meta: meta.tick):
        yield Words(tick, decode(data))


def _impossible(faults: Counter[int]) -> Iterable[str]:
    """What is said of events that say something impossible. faults: how many of each kind of meta event."""
    for kind, thing in (
        (SET_TEMPO, "Set Tempo event"),
        (TIME_SIGNATURE, "time signature"),
        (KEY_SIGNATURE, "key signature"),
    ):
        if number := faults[kind]:
            verbs = ("says", "was") if number == 1 else ("say", "were")
            yield f"{counted(number, thing)} {verbs[0]} something impossible and {verbs[1]} ignored"


def _time_map(raw: RawSong, tracks: Sequence[RawTrack], first_bar: int, faults: Counter[int]) -> TimeMap:
    tempos: list[Tempo] = []
    metres: list[Metre] = []
    marks: list[Mark] = []
    for track in tracks:
        for tick, kind, data in track.metas:
            if kind == SET_TEMPO:
                per_quarter = int.from_bytes(data, "big")
                if len(data) == 3 and per_quarter:
                    tempos.append(Tempo(tick, per_quarter))
                else:
                    faults[kind] += 1
            elif kind == TIME_SIGNATURE:
                # The denominator is written as a power of two; 128ths are finer than anyone writes.
                if len(data) >= 2 and data[0] and data[1] <= 7:
                    metres.append(Metre(tick, data[0], 1 << data[1]))
                else:
                    faults[kind] += 1
            elif kind == MARKER:
                # SMF 1.0 names rehearsal letters as what markers are for; cue points belong to a film. One without a
                # letter or a digit is none: sequencers write such ones for themselves.
                text = decode(data)
                if any(map(str.isalnum, text)) and not is_own(data):
                    marks.append(Mark(tick, text))
    bars = raw.bars
    if first_bar != 1:  # the user's own counting goes before the numbers in print
        bars = tuple(bar._replace(number=str(first_bar + n), times=1) for n, bar in enumerate(bars))
    return TimeMap(raw.division, tempos, metres, marks, 1 if bars else first_bar, bars)


def _keys(track: RawTrack, time_map: TimeMap, faults: Counter[int]) -> tuple[KeySignature, ...]:
    """The key signatures of a track in order of time, each change once."""
    keys: list[KeySignature] = []
    for tick, kind, data in track.metas:
        if kind != KEY_SIGNATURE:
            continue
        fifths = int.from_bytes(data[:1], "big", signed=True)
        if len(data) < 2 or abs(fifths) > 7 or data[1] > 1:
            faults[KEY_SIGNATURE] += 1
            continue
        key = KeySignature(time_map.us(tick), fifths, bool(data[1]))
        if not keys or (key.fifths, key.minor) != (keys[-1].fifths, keys[-1].minor):
            keys.append(key)
    return tuple(keys)
