"""The harp parts of a file, and the events of each.

Which tracks they come from is told in choosing.py. A key is down from its strike to its release. Sequencers
write more than keys can do, so it is put in order here: a key struck again while it is down is released first;
one struck twice at one moment (two layers of one track) counts once and stays down until both have let go; a
release in the moment of a strike comes first, unless the key was up before, when it ends that very strike; a
key that is never released comes up at the end of the track. The same note at the same moment from two channels
or tracks is on one string too, and counts once.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import chain, repeat
from operator import itemgetter

from livepedal.errors import LivepedalError
from livepedal.harp.signs import NO_SIGN, Sign
from livepedal.music.choosing import ALL_HARPS, Chosen, NoHarpTrack, Wanted, choose, tuned
from livepedal.music.names import shares_its_name
from livepedal.music.song import TRACK, EventList, Part, Song
from livepedal.music.timemap import TimeMap
from livepedal.music.tracks import DRUM_CHANNEL, HARP_PROGRAM, NO_PROGRAM, Lane, under_programs
from livepedal.music.wording import are, counted
from livepedal.sources.raw import NOTE_ON, RESET_CONTROLLERS, SUSTAIN, VOLUME, strikes
from livepedal.sources.scores.written import Written

__all__ = ["NoHarpTrack", "Wanted", "choose_parts"]


def choose_parts(song: Song, wanted: Wanted = ALL_HARPS) -> tuple[Part, ...]:
    """The parts to judge, in the order of the file, as the user wants them.

    Raises:
        NoHarpTrack: the choice is not clear.
        LivepedalError: there are no notes at all.
    """
    chosen = choose(song, wanted)
    together: dict[int, list[Chosen]] = {}
    for track in chosen:
        if track.part is not None:
            together.setdefault(track.part, []).append(track)
    parts = [_part(song, together[at], wanted) for at in sorted(together)]
    emptied = [part for part in parts if not part.notes]
    if wanted.transpose or wanted.ignore_below:
        parts = [part for part in parts if part.notes]
        if not parts:
            raise LivepedalError(f"{song.path}: {_nothing_left(emptied, wanted)}")
    if len(parts) > 1 and not wanted.tracks and song.kind != 2:
        # Nobody can tell two harps from the two staves of one, which notation programs export as two tracks.
        hint = f"{len(parts)} harp tracks, each judged on its own; --merge judges them as one harp"
        parts[0] = replace(parts[0], remarks=(hint, *parts[0].remarks))
    # What looks like a harp's and is not judged is said, once.
    left_out = [
        f"{one.lane.info.label} is not judged: {one.why}" for one in chosen if one.part is None and one.hides
    ]
    if wanted.transpose or wanted.ignore_below:
        left_out += [f"{part.name} is not judged: no notes are left" for part in emptied]
    if left_out:
        parts[0] = replace(parts[0], remarks=(*parts[0].remarks, *left_out))
    return tuple(parts)


def _nothing_left(parts: Sequence[Part], wanted: Wanted) -> str:
    """What is wrong where the user's own options leave no note out of those there are."""
    there = counted(sum(track.notes for part in parts for track in part.tracks), "note")
    if wanted.ignore_below:
        return f"no notes are left of {there}; give --ignore-below a lower note."
    return f"no notes are left of {there}; give --transpose fewer semitones."


def _part(song: Song, chosen: Sequence[Chosen], wanted: Wanted) -> Part:
    lanes = [one.lane for one in chosen]
    time_map = song.time_map_of(lanes[0])
    streams = []
    remarks: list[str] = []
    for lane in lanes:
        words, said = harp_words(lane, wanted)
        remarks += said
        streams.append(_stream(words, lane.source, song.time_map_of(lane)))
    stream = streams[0] if len(streams) == 1 else sorted(chain.from_iterable(streams), key=itemgetter(0))
    end_us = max(song.time_map_of(lane).us(lane.end) for lane in lanes)
    keys = _in_order(stream, end_us)
    events, hanging = EventList(keys.times, keys.words), len(keys.held)
    if len(lanes) > 1 and not (wanted.merge or wanted.tracks):
        apart = " ".join(f"--track {lane.info.number}" for lane in lanes)
        why = "because by their names they are its staves, hands or articulations"
        if not any(lane.named or lane.survey.harp_notes for lane in lanes):
            why = "because none is called harp and all are of one keyboard or plucked instrument"
        remarks.append(f"{len(lanes)} tracks judged as one harp, {why}; {apart} judges each on its own")
    if hanging:
        verb = "is never released; it is" if hanging == 1 else "are never released; they are"
        remarks.append(f"{counted(hanging, 'note')} {verb} held to the end of the track")
    if keys.doubled:
        counts = "counts as one note" if keys.doubled == 1 else "count as one note each"
        remarks.append(f"{counted(keys.doubled, 'unison')} {counts}")
    name = " + ".join(dict.fromkeys(lane.info.label for lane in lanes))
    written = _written([lane.written for lane in lanes if lane.written is not None], wanted)
    if written is not None:
        remarks += _signs(written)
        events = events.signed(
            {(time_map.us(tick), pitch): sign for (tick, pitch), sign in written.signs.items()}
        )
    return Part(
        name,
        tuple(lane.info for lane in lanes),
        events,
        end_us,
        keys.notes,
        time_map,
        tuple(remarks),
        written=written,
        keys=song.keys_of(lanes),
    )


def harp_words(lane: Lane, wanted: Wanted) -> tuple[Sequence[int], list[str]]:
    """The messages of a track that are the harp's, and what is to be said of the rest.

    All but drums, or those under the harp's program; all of a track where the user has chosen it, but for drums beside
    other notes. Of a track that is called a harp's, what stands under no program is the harp's too.
    """
    by_user = bool(wanted.tracks or wanted.programs)
    words = _by_program(lane, by_user)
    said: list[str] = []
    left = tuned(lane) - lane.survey.harp_notes - lane.survey.bare_notes
    if not by_user and lane.named and lane.survey.harp_notes and left:
        said.append(
            f"{are(left, 'note')} left out of “{lane.info.label}”, under programs other than the harp's;"
            f" --track {lane.info.number} judges all of it"
        )
    elif not by_user and lane.named and not lane.survey.harp_notes and shares_its_name(lane.info.name):
        said.append(
            f"“{lane.info.label}” names another instrument too, and nothing in it is under the harp's program"
            f" ({HARP_PROGRAM}), so all of it is judged; --program N or --channel N judges less"
        )
    if not (wanted.transpose or wanted.ignore_below):
        return words, said
    kept = array("Q")
    ignored = outside = 0
    for word in words:
        if 0x80 <= word >> 16 & 0xFF < 0xA0:
            pitch = word >> 8 & 0x7F
            if pitch < wanted.ignore_below:
                ignored += strikes(word)
                continue
            if not 0 <= pitch + wanted.transpose <= 127:
                outside += strikes(word)
                continue
            word += wanted.transpose << 8
        kept.append(word)
    if ignored:
        said.append(f"{are(ignored, 'note')} left out by --ignore-below")
    if outside:
        said.append(f"{are(outside, 'note')} left out, because --transpose goes beyond MIDI's range")
    return kept, said


def _by_program(lane: Lane, by_user: bool) -> Sequence[int]:
    if not tuned(lane) and (by_user or lane.named):
        return lane.words  # the user or the name insists: what looks like drums is to be judged
    words = lane.words
    if lane.info.drums and tuned(lane):
        words = [word for word in words if word >> 16 & 15 != DRUM_CHANNEL]
    if by_user or lane.survey.harp_notes in (0, tuned(lane)):
        return words
    return under_programs(words, (HARP_PROGRAM, NO_PROGRAM) if lane.named else (HARP_PROGRAM,))


def _written(some: Sequence[Written], wanted: Wanted) -> Written | None:
    """What a score says of the staves of one harp, together."""
    if not some:
        return None
    spelled = {} if wanted.transpose else {note: fifth for one in some for note, fifth in one.spelled.items()}
    signs: dict[tuple[int, int], Sign] = {}
    for staff, written in zip(
        (Sign.UPPER, Sign.LOWER) if len(some) == 2 else (NO_SIGN,) * len(some), some, strict=True
    ):
        for tick, pitch in written.spelled if staff else written.signs:
            sign = written.signs.get((tick, pitch), NO_SIGN)
            note = tick, pitch + wanted.transpose
            signs[note] = signs.get(note, NO_SIGN) | (sign if sign & _STAVES else sign | staff)
    words = sorted((words for one in some for words in one.words), key=itemgetter(0))
    return Written(spelled, signs, tuple(words), sum(one.doubled for one in some))


_STAVES = Sign.UPPER | Sign.LOWER
_SIGNS = (
    (Sign.TREMOLO, "tremolo sign", "judged as a bisbigliando"),
    (Sign.TRILL, "trill sign", "judged as a trill with the note above"),
    (Sign.ROLLED, "arpeggio sign", "judged as a rolled chord"),
    (
        Sign.GLISSANDO,
        "glissando line",
        "judged at both ends; the notes between follow the pedals",
    ),
    (Sign.HARMONIC, "harmonic", "judged on the string, which sounds an octave higher"),
    (Sign.DAMPED, "étouffé marking", "the strings are free when their notes end"),
    (
        Sign.RINGS,
        "laissez vibrer marking",
        "the strings are held until they are plucked again or damped",
    ),
)


def _signs(written: Written) -> Iterable[str]:
    """How the signs of a score are judged: one sentence for each kind."""
    for kind, name, how in _SIGNS:
        number = len({tick for (tick, _), sign in written.signs.items() if sign & kind})
        if number:
            yield f"{counted(number, name)}: {how}"
    if written.doubled:
        doubled = counted(written.doubled, "note")
        yield f"{doubled} doubled on another string of the same pitch (C♯ beside D♭): judged as one"


def _stream(words: Sequence[int], source: int, time_map: TimeMap) -> Iterable[tuple[int, int, int]]:
    """(microseconds, packed message, source of channel 0) of the harp's messages; lazily, for long tracks."""
    return zip(time_map.us_of([word >> 24 for word in words]), words, repeat(source))


class _Keys:
    """The keys of one part, put in order: events as they come, and how many notes there are.

    notes: struck, of one pitch and moment once; doubled: how many more were struck.
    """

    def __init__(self) -> None:
        self.times, self.words = array("q"), array("Q")
        self.held: dict[int, int] = {}  # key (source and pitch) -> releases that it waits for
        self.notes = self.doubled = 0
        self.now = -1
        self._sounding: set[int] = set()  # pitches struck in this moment and written
        self._fresh: dict[int, int] = {}  # key -> its message, struck in this moment and not yet written
        self._twice: dict[int, int] = {}  # key -> how often it was struck in this moment, if more than once
        self._late: list[int] = []  # keys struck and released in this moment
        self._pedals: dict[int, bool] = {}

    def _tell(self, word: int) -> None:
        self.times.append(self.now)
        self.words.append(word)

    def go(self, us: int) -> None:
        """Time has come to this moment (µs)."""
        if self._fresh:
            self.write_strikes()
        self._sounding.clear()
        self.now = us

    def note(self, key: int, word: int, down: bool) -> None:
        """A key is struck or released by this message."""
        if down:
            if key in self._fresh:
                self._twice[key] = self._twice.get(key, 1) + 1
            else:
                self._fresh[key] = word
        elif key in self.held:
            self._release(key)
        elif key in self._fresh:
            self._late.append(key)

    def pedal(self, source: int, word: int, down: bool) -> None:
        """The sustain pedal of a source stands so."""
        if self._pedals.get(source, False) is not down:
            self._pedals[source] = down
            self._tell(word & ~0xFFFF | SUSTAIN << 8 | 127 * down)

    def let_go(self, source: int) -> None:
        """All keys of a source are released."""
        self.write_strikes()
        # Whichever are fewer, the keys that are down or all that the source has: a stream of these messages over many
        # held keys would take minutes.
        keys = range(source << 7, (source + 1) << 7)
        held = self.held
        up = [key for key in keys if key in held] if len(held) > 128 else [key for key in held if key in keys]
        for key in sorted(up):
            del held[key]
            self._tell(_released(key))

    def end(self, us: int) -> None:
        """The music is over (µs): what is held comes up."""
        self.write_strikes()
        self.now = max(us, self.now)
        for key in self.held:
            self._tell(_released(key))

    def write_strikes(self) -> None:
        """The strikes of this moment are known."""
        written = len(self._sounding)
        for key, word in self._fresh.items():
            if key in self.held:
                self._tell(_released(key))
            self.held[key] = 1
            self._tell(word)
            self._sounding.add(key & 0x7F)
        written = len(self._sounding) - written
        self.notes += written
        self.doubled += len(self._fresh) - written
        if self._twice:
            self.held.update(self._twice)
            self.doubled += sum(self._twice.values()) - len(self._twice)
            self._twice.clear()
        self._fresh.clear()
        late, self._late = self._late, []
        for key in late:
            self._release(key)

    def _release(self, key: int) -> None:
        waits = self.held.get(key)
        if waits == 1:
            del self.held[key]
            self._tell(_released(key))
        elif waits:
            self.held[key] = waits - 1


def _in_order(stream: Iterable[tuple[int, int, int]], end_us: int) -> _Keys:
    """The keys of (microseconds, packed message, source of channel 0) in order of time."""
    keys = _Keys()
    for us, word, source in stream:
        if us != keys.now:
            keys.go(us)
        status = word >> 16 & 0xFF
        word = word & 0xFFFFFF | source >> 4 << TRACK
        source += status & 15
        if status < 0xA0:
            keys.note(source << 7 | word >> 8 & 0x7F, word, status >= NOTE_ON and word & 0x7F > 0)
        elif status < 0xC0:
            controller = word >> 8 & 0x7F
            if controller in (SUSTAIN, RESET_CONTROLLERS):
                keys.pedal(source, word, controller == SUSTAIN and (word & 0x7F) >= 64)
            elif controller != VOLUME:
                keys.let_go(source)
    keys.end(end_us)
    return keys


def _released(key: int) -> int:
    """The release of a key (source and pitch) as the events of a part have it."""
    return key >> 11 << TRACK | (0x80 | key >> 7 & 15) << 16 | (key & 0x7F) << 8
