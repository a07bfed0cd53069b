"""A MusicXML score as the tracks that a MIDI file of it would have, and beside them what MIDI cannot say.

Every part becomes a `RawTrack`: its notes as played, repeats and D.C. unfolded, tied notes as one; names, program,
tempo, metre, keys and rehearsal marks as meta events. What the score knows more stands in its `written` (how each
note is spelled, signs, words and harp-pedals diagrams) and in the song's `bars` (how bars are numbered in print).

Source: MusicXML 4.0 (W3C Community Group Final Report, 2021); element names are its own. Some things it leaves to the
reader:

- Where time stands is counted by durations, `backup` and `forward` (element `duration`). `pitch` is what sounds but
  for `transpose`, so octave-shift lines change nothing.
- A bar is as long as its longest part. An implicit measure in the middle goes on with the bar before.
- Grace notes come before the beat (common practice since about 1830, no source here), GRACE apart, less where there
  is less room.
- Both notes of a tremolo between two notes are wanted all through, and so is a trill's upper note: they begin
  together.
- After D.C. and D.S. repeats are not taken again, and of endings the last one is played (common practice, no source).
- A note that is to ring (`tied` of type let-ring) is held until its string is struck again, a damp sign, or the end.
"""

from __future__ import annotations

import re
from array import array
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import accumulate
from typing import NamedTuple
from xml.etree.ElementTree import Element

from livepedal.sources.scores.written import PrintedBar, Sign, SignKind, Words, Written
from livepedal.sources.scores.xml_units import AT, Unit, document, units
from livepedal.sources.smf import (
    INSTRUMENT_NAME,
    KEY_SIGNATURE,
    MARKER,
    MAX_EVENTS,
    MAX_TICK,
    MAX_TRACKS,
    SET_TEMPO,
    TIME_SIGNATURE,
    TRACK_NAME,
    Division,
    Meta,
    RawSong,
    RawTrack,
    Refused,
)
from livepedal.sources.text import clean

TICKS = 20_160  # a quarter: 2^6 x 9 x 5 x 7, so triplets to septuplets and 256ths are exact, and a MIDI file can say it
GRACE = 0.1  # seconds from a grace note to the next note: judgement
MAX_BARS = 100_000  # as played
MAX_TIMES = 100  # that a repeat may be played
_WHOLE = 4 * TICKS
_STEPS = "FCGDAEB"
_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_TYPES = {
    name: 4 / Fraction(2) ** power
    for power, name in enumerate(
        ("long", "breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th", "256th"), -2
    )
}  # quarters
_MOVING = ("note", "forward", "backup")  # the elements that move time
_ACCIDENTALS = {"flat": -1, "natural": 0, "sharp": 1, "flat-flat": -2, "double-sharp": 2, "sharp-sharp": 2}
_SYMBOLS = {"accidentalFlat": "♭", "accidentalNatural": "♮", "accidentalSharp": "♯"}  # SMuFL's names
_YES = frozenset({"yes", "true", "1"})

# What words say where a program has not written it as an attribute of `sound` too.
_DA_CAPO = re.compile(r"\b(?:d\. ?c\.|da capo)", re.IGNORECASE)
_DAL_SEGNO = re.compile(r"\b(?:d\. ?s\.|dal segno)", re.IGNORECASE)
_TO_CODA = re.compile(r"^\W*(?:to coda|al coda|alla coda)\W*$", re.IGNORECASE)
_FINE = re.compile(r"^\W*fine\W*$", re.IGNORECASE)


def read_musicxml(data: bytes) -> RawSong:
    """Read the bytes of a score (.musicxml, .xml or .mxl). Raises Refused, with the rest of a sentence, where it
    cannot be read.
    """
    return _scored(units(document(data))).song()


class Anchor(NamedTuple):
    """Where something may be put into a measure of a part: before the element that begins at this byte, `at` ticks
    after the start of the measure, where a quarter has so many divisions. note: the MIDI number, where that is a
    note; else -1.
    """

    at: int
    byte: int
    divisions: int
    note: int = -1


@dataclass(frozen=True, slots=True)
class Places:
    """Where the moments of a score stand in its bytes.

    starts: for each bar as played, its tick and the number of its measure; anchors: of each part (in the order of the
    tracks) and measure, those of its first voice in order of time, the last one at its end; notes: those of all its
    notes.
    """

    starts: tuple[tuple[int, int], ...]
    anchors: tuple[tuple[tuple[Anchor, ...], ...], ...]
    notes: tuple[tuple[tuple[Anchor, ...], ...], ...]
    staves: tuple[int, ...]


def places_in(data: bytes, encoding: str | None) -> Places:
    """Where the moments of a document stand in its bytes. encoding: theirs, where it is not what the document says.

    Raises Refused as `read_musicxml`.
    """
    score = _scored(units(data, encoding, places=True))
    score.fill()
    order = list(_played(score.measures))
    ends = list(accumulate(score.measures[index].length for index in order))
    parts = [part for part in score.parts.values() if part.measures]
    return Places(
        tuple(zip([0, *ends], order, strict=False)),
        tuple(tuple(tuple(measure.anchors) for measure in part.measures) for part in parts),
        tuple(tuple(tuple(measure.note_places) for measure in part.measures) for part in parts),
        tuple(part.staves for part in parts),
    )


def _scored(source: Iterator[Unit]) -> _Score:
    score = _Score()
    if next(source).element.tag == "container":
        raise Refused("is XML but not a MusicXML score (it begins with <container>); export it as MusicXML.")
    for unit in source:
        score.take(unit)
    return score


class _Note(NamedTuple):
    """A note as it stands in a measure: times in ticks from its start.

    at: where it begins; length: as written; string: step and octave; grace: the how manyth before its main note (0:
    none); of: of how many.
    """

    at: int
    length: int
    pitch: int
    fifth: int | None
    string: str
    voice: str
    tied: int  # 1: to the one before, 2: to the next, 3: both
    rings: bool = False
    grace: int = 0
    of: int = 0


@dataclass(slots=True)
class _Measure:
    """One measure of one part, or (in `_Score.measures`) what all parts say of it."""

    number: str = ""
    implicit: bool = False
    length: int = 0
    notes: list[_Note] = field(default_factory=list)
    signs: list[tuple[int, SignKind, int]] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)
    damped: list[int] = field(default_factory=list)
    anchors: list[Anchor] = field(default_factory=list)  # these two where places are wanted
    note_places: list[Anchor] = field(default_factory=list)
    # Of all parts:
    tempos: list[tuple[int, Fraction | tuple[Fraction, Fraction]]] = field(default_factory=list)
    rehearsals: dict[str, int] = field(default_factory=dict)
    metre: tuple[int, int] | None = None
    forward: bool = False
    times: int = 0  # that the music up to here is played, where it is repeated
    endings: frozenset[int] = frozenset()
    da_capo: bool = False
    dal_segno: bool = False
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False


@dataclass(slots=True)
class _Part:
    """A part, and how reading stands in it."""

    name: str = ""
    instrument: str = ""
    program: int | None = None
    measures: list[_Measure] = field(default_factory=list)
    keys: dict[int, tuple[int, bool]] = field(default_factory=dict)  # by measure
    divisions: int = 1
    fifths: int = 0
    staves: int = 1
    transpose: int = 0
    ending: frozenset[int] = frozenset()
    graces: dict[str, list[_Note]] = field(
        default_factory=dict
    )  # by voice, those that wait for their main note
    doubled: int = 0


class _Score:
    """Takes in the units of a document, and makes a song of them."""

    def __init__(self) -> None:
        self.parts: dict[str, _Part] = {}
        self.measures: list[_Measure] = []
        self.notes = 0
        self.fermatas = 0
        self.microtones = 0
        self.outside = 0

    def take(self, unit: Unit) -> None:
        if unit.part:
            part = self.parts.setdefault(unit.part, _Part())
            if len(self.parts) > MAX_TRACKS:
                raise Refused(f"has more than {MAX_TRACKS} parts, which is too many; export fewer.")
            _Reading(self, part, unit).read()
        elif unit.element.tag == "part-list":
            for listed in unit.element.iter("score-part"):
                self.parts[listed.get("id", "")] = _listed(listed)

    def measure(self, index: int) -> _Measure:
        """What all parts say of a measure."""
        while len(self.measures) <= index:
            self.measures.append(_Measure())
        return self.measures[index]

    # -- as a song

    def song(self) -> RawSong:
        parts = [part for part in self.parts.values() if part.measures]
        if not parts:
            raise Refused("has no measures; export it again as MusicXML.")
        self.fill()
        order = list(_played(self.measures))
        starts = [0]
        for index in order:
            starts.append(starts[-1] + self.measures[index].length)
        if starts[-1] > MAX_TICK:
            raise Refused("is longer than any piece, so its durations must be damaged; export it again.")
        played: dict[int, int] = {}
        for index in order:
            played[index] = played.get(index, 0) + 1
        notes = sum(
            len(part.measures[i].notes) * n
            for part in parts
            for i, n in played.items()
            if i < len(part.measures)
        )
        if 2 * notes > MAX_EVENTS:
            raise Refused(
                f"holds more than {MAX_EVENTS // 2:,} notes as played, which is too many; export less."
            )
        tempos = list(self._tempos(order, starts))
        tracks = []
        for number, part in enumerate(parts, 1):
            metas = _names(part)
            if number == 1:
                metas += self._metas(order, starts, tempos)
            if not part.transpose % 12:
                metas += _keys(part, order, starts)
            laid = _Laid(part, order, starts, tempos)
            tracks.append(RawTrack(number, laid.packed(), tuple(metas), starts[-1], laid.written()))
        return RawSong(
            1,
            Division(per_quarter=TICKS),
            tuple(tracks),
            tuple(self._remarks(len(order))),
            tuple(self._bars(order, starts)),
        )

    def fill(self) -> None:
        """Give measures in which nothing stands the length of their metre."""
        beats, unit = 4, 4
        for measure in self.measures:
            beats, unit = measure.metre or (beats, unit)
            measure.length = measure.length or beats * _WHOLE // unit

    def _tempos(self, order: Sequence[int], starts: Sequence[int]) -> Iterator[tuple[int, int]]:
        """(tick, microseconds a quarter)."""
        now = Fraction(120)
        for index, start in zip(order, starts, strict=False):
            for at, said in sorted(self.measures[index].tempos, key=lambda one: one[0]):
                now = said if isinstance(said, Fraction) else now / said[0] * said[1]
                # Beyond this no metronome mark is meant; a damaged one is passed over.
                if 2 <= now <= 2000:
                    yield start + at, round(60_000_000 / now)
                else:
                    now = Fraction(120)

    def _metas(
        self, order: Sequence[int], starts: Sequence[int], tempos: Iterable[tuple[int, int]]
    ) -> list[Meta]:
        metas = [Meta(tick, SET_TEMPO, us.to_bytes(4, "big")[1:]) for tick, us in tempos]
        for index, start in zip(order, starts, strict=False):
            measure = self.measures[index]
            if measure.metre is not None:
                beats, unit = measure.metre
                metas.append(
                    Meta(start, TIME_SIGNATURE, bytes((min(beats, 255), unit.bit_length() - 1, 24, 8)))
                )
            metas += [Meta(start + at, MARKER, text.encode()) for text, at in measure.rehearsals.items()]
        return metas

    def _bars(self, order: Sequence[int], starts: Sequence[int]) -> Iterator[PrintedBar]:
        played: dict[int, int] = {}
        nominal = _WHOLE
        before: int | None = None
        number = ""
        for index, start in zip(order, starts, strict=False):
            measure = self.measures[index]
            if measure.metre is not None:
                nominal = measure.metre[0] * _WHOLE // measure.metre[1]
            times = played[index] = played.get(index, 0) + 1
            first = before is None
            # The second half of a bar that is cut in two goes on with it.
            goes_on = measure.implicit and before is not None and before == index - 1
            before = index
            if goes_on:
                continue
            number = number if measure.implicit and not first else measure.number
            late = max(0, nominal - measure.length) if measure.implicit else 0
            yield PrintedBar(start, number, times, late)

    def _remarks(self, played: int) -> Iterator[str]:
        if played != len(self.measures):
            yield f"repeats are unfolded: {len(self.measures)} printed bars are {played} as played"
        if self.fermatas:
            yield (
                _counted(self.fermatas, "fermata")
                + " counted as written: the time that it adds is not there for the feet"
            )
        if self.microtones:
            yield _counted(self.microtones, "note") + " between semitones moved to the nearest semitone"
        if self.outside:
            yield _counted(self.outside, "note") + " outside MIDI's range left out"


def _counted(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def _listed(element: Element) -> _Part:
    part = _Part(clean(" ".join((element.findtext("part-name") or "").split())))
    names = [element.findtext("score-instrument/instrument-name") or ""]
    # MusicXML 4.0's own list of instruments: pluck.harp and what stands under it.
    if any((sound.text or "").startswith("pluck.harp") for sound in element.iter("instrument-sound")):
        names.insert(0, "Harp")
    part.instrument = clean(" ".join(names[0].split()))
    try:
        program = int(element.findtext("midi-instrument/midi-program") or 0) - 1
    except ValueError:
        program = -1
    part.program = program if 0 <= program <= 127 else None
    return part


def _names(part: _Part) -> list[Meta]:
    named = ((TRACK_NAME, part.name), (INSTRUMENT_NAME, part.instrument))
    return [Meta(0, kind, name.encode()) for kind, name in named if name]


def _keys(part: _Part, order: Sequence[int], starts: Sequence[int]) -> Iterator[Meta]:
    known = sorted(part.keys)
    now: tuple[int, bool] | None = None
    for index, start in zip(order, starts, strict=False):
        found = bisect_right(known, index)
        key = part.keys[known[found - 1]] if found else None
        if key is not None and key != now:
            yield Meta(start, KEY_SIGNATURE, bytes((key[0] & 0xFF, key[1])))
            now = key


# -- one measure of one part


class _Reading:
    """Reads one measure of one part."""

    def __init__(self, score: _Score, part: _Part, unit: Unit) -> None:
        self.score = score
        self.part = part
        self.element = unit.element
        self.mine = _Measure()
        self.all = score.measure(len(part.measures))
        self.all.number = self.all.number or clean(unit.measure.get("number", ""), 20)
        self.all.implicit |= unit.measure.get("implicit") == "yes"
        self.at = Fraction(0)
        self.farthest = Fraction(0)
        self.last = 0  # where the last note that is no part of a chord began
        self.altered: dict[str, int] = {}  # string -> accidental in this bar
        self.begun: dict[str, int] = {}  # by voice: where the first of the two notes of a tremolo begins
        self.tremolos: list[tuple[str, int, int]] = []  # voice, where the first begins, where the second does
        self.ended = False  # an ending is over at the end of this measure

    def read(self) -> None:
        part = self.part
        first_voice = True
        for element in self.element:
            tag = element.tag
            if first_voice and tag in _MOVING and AT in element.attrib and element.find("chord") is None:
                self.mine.anchors.append(self._anchor(element))
            first_voice &= tag != "backup"
            if tag == "note":
                self._note(element)
            elif tag in ("backup", "forward"):
                step = self._duration(element)
                self.at = self.at + step if tag == "forward" else max(Fraction(0), self.at - step)
                self.farthest = max(self.farthest, self.at)
            elif tag == "attributes":
                self._attributes(element)
            elif tag == "direction":
                self._direction(element)
            elif tag == "sound":
                self._sound(element, self._ticks(self.at))
            elif tag == "barline":
                self._barline(element)
        if first_voice and AT in self.element.attrib and len(self.element):
            self.mine.anchors.append(self._anchor(self.element))
        for voice in list(part.graces):
            self._main(voice, self._ticks(self.farthest))
        for tremolo in self.tremolos:
            self._together(*tremolo)
        self.mine.length = self._ticks(self.farthest)
        self.all.length = max(self.all.length, self.mine.length)
        self.all.endings |= part.ending
        if self.ended:
            part.ending = frozenset()
        part.measures.append(self.mine)

    def _anchor(self, element: Element, pitch: int = -1) -> Anchor:
        at = self.last if pitch >= 0 else self._ticks(self.at)
        return Anchor(at, int(element.attrib[AT]), self.part.divisions, pitch)

    def _ticks(self, quarters: Fraction) -> int:
        ticks = quarters * TICKS
        return (2 * ticks.numerator + ticks.denominator) // (2 * ticks.denominator)

    def _duration(self, element: Element) -> Fraction:
        """In quarters. What is no number lasts no time."""
        text = element.findtext("duration") or "0"
        if len(text) > 20:
            return Fraction(0)
        try:
            value = Fraction(int(text)) if text.isdigit() else Fraction(text.strip())
        except (ValueError, ZeroDivisionError):
            return Fraction(0)
        return min(max(value / self.part.divisions, Fraction(0)), Fraction(100_000))

    def _attributes(self, element: Element) -> None:
        part = self.part
        divisions = _whole(element.findtext("divisions"))
        if divisions is not None:
            if not 1 <= divisions <= 1_000_000:
                raise Refused("has impossible divisions, so it has no time; export it again.")
            part.divisions = divisions
        fifths = _whole(element.findtext("key/fifths"))
        if fifths is not None and abs(fifths) <= 7:
            part.fifths = fifths
            part.keys[len(part.measures)] = fifths, element.findtext("key/mode") == "minor"
        part.staves = max(part.staves, min(_whole(element.findtext("staves")) or 1, 9))
        time = element.find("time")
        if time is not None:
            self._metre(time)
        transpose = element.find("transpose")
        if transpose is not None:
            semitones = _whole(transpose.findtext("chromatic")) or 0
            octaves = _whole(transpose.findtext("octave-change")) or 0
            part.transpose = max(-60, min(60, semitones + 12 * octaves))

    def _metre(self, time: Element) -> None:
        total = Fraction(0)
        unit = 1
        for beats, kind in zip(time.findall("beats"), time.findall("beat-type"), strict=False):
            of = _whole(kind.text) or 0
            numbers = [_whole(number) for number in (beats.text or "").split("+")]
            if of not in (1, 2, 4, 8, 16, 32, 64, 128) or any(number is None for number in numbers):
                return
            unit = max(unit, of)
            total += Fraction(sum(number or 0 for number in numbers), of)
        if 0 < total * unit <= 255:
            self.all.metre = int(total * unit), unit

    def _note(self, element: Element) -> None:
        children = {child.tag: child for child in element}
        grace = "grace" in children
        chord = "chord" in children
        length = Fraction(0) if grace else self._duration(element)
        voice = element.findtext("voice") or "1"
        if not chord:
            self.last = self._ticks(self.at)
        end = self._ticks(self.at if chord else self.at + length)
        if not chord and not grace:
            self.at += length
            self.farthest = max(self.farthest, self.at)
        if "rest" in children or "cue" in children or "unpitched" in children:
            return
        pitch = children.get("pitch")
        read = None if pitch is None else self._pitch(pitch)
        if read is None:
            return
        sounding, fifth, string, altered = read
        tied = rings = 0
        for tie in (*element.findall("tie"), *element.findall("notations/tied")):
            kind = tie.get("type")
            tied |= {"stop": 1, "start": 2, "continue": 3}.get(kind or "", 0)
            rings |= kind == "let-ring"
        self.altered[string] = altered
        note = _Note(self.last, max(0, end - self.last), sounding, fifth, string, voice, tied, bool(rings))
        self.score.notes += 1
        if 2 * self.score.notes > MAX_EVENTS:
            raise Refused(
                f"holds more than {MAX_EVENTS // 2:,} notes, which is too many; export a shorter passage."
            )
        if AT in element.attrib:
            self.mine.note_places.append(self._anchor(element, sounding))
        if grace:
            waiting = self.part.graces.setdefault(voice, [])
            order = waiting[-1].grace + (not chord) if waiting else 1
            waiting.append(note._replace(length=0, grace=order))
            return
        if not chord:
            self._main(voice, self.last)
        self.mine.notes.append(note)
        for notations in element.findall("notations"):
            self._notations(notations, note)

    def _main(self, voice: str, at: int) -> None:
        """The grace notes of a voice belong to the note that begins here."""
        waiting = self.part.graces.pop(voice, [])
        count = waiting[-1].grace if waiting else 0
        self.mine.notes += [note._replace(at=at, of=count) for note in waiting]

    def _pitch(self, element: Element) -> tuple[int, int | None, str, int] | None:
        """MIDI number, written note on the line of fifths, string, accidental."""
        step = (element.findtext("step") or "").strip()
        octave = _whole(element.findtext("octave"))
        if step not in _SEMITONES or octave is None:
            return None
        try:
            exact = float(element.findtext("alter") or 0)
            altered = round(exact) if abs(exact) <= 3 else 0
        except ValueError:
            exact = altered = 0
        self.score.microtones += exact != altered
        sounding = 12 * (octave + 1) + _SEMITONES[step] + altered + self.part.transpose
        if not 0 <= sounding <= 127:
            self.score.outside += 1
            return None
        fifth = None if self.part.transpose % 12 else _STEPS.index(step) - 1 + 7 * altered
        return sounding, fifth, f"{step}{octave}", altered

    def _notations(self, notations: Element, note: _Note) -> None:
        mine = self.mine
        for element in notations.iter():
            tag, kind = element.tag, element.get("type")
            if tag == "tremolo":
                self._tremolo(kind or "single", note)
            elif tag == "arpeggiate":
                mine.signs.append((note.at, SignKind.ROLLED, note.pitch))
            elif tag in ("glissando", "slide") and kind in ("start", "stop"):
                sign = SignKind.GLISSANDO if kind == "start" else SignKind.GLISSANDO_END
                mine.signs.append((note.at, sign, note.pitch))
            elif tag == "trill-mark":
                self._trill(note, notations)
            elif tag == "harmonic":
                mine.signs.append((note.at, SignKind.HARMONIC, note.pitch))
                if element.find("sounding-pitch") is not None and note.pitch >= 12:
                    # It is written where it sounds: an octave above its string.
                    step, octave = note.string[0], int(note.string[1:]) - 1
                    mine.notes[-1] = note._replace(pitch=note.pitch - 12, string=f"{step}{octave}")
            elif tag == "fermata":
                self.score.fermatas += 1

    def _tremolo(self, kind: str, note: _Note) -> None:
        if kind == "stop":
            if note.voice in self.begun:
                self.tremolos.append((note.voice, self.begun.pop(note.voice), note.at))
            return
        self.mine.signs.append((note.at, SignKind.TREMOLO, note.pitch))
        if kind == "start":
            self.begun[note.voice] = note.at

    def _together(self, voice: str, first: int, second: int) -> None:
        """Both chords of a tremolo begin where the first does and last as long as both."""
        notes = self.mine.notes
        mine = [
            n
            for n, note in enumerate(notes)
            if note.voice == voice and note.at in (first, second) and not note.grace
        ]
        length = max(notes[n].at + notes[n].length for n in mine) - first
        for n in mine:
            notes[n] = notes[n]._replace(at=first, length=length)

    def _trill(self, note: _Note, notations: Element) -> None:
        step = "CDEFGAB"[("CDEFGAB".index(note.string[0]) + 1) % 7]
        octave = int(note.string[1:]) + (step == "C")
        string = f"{step}{octave}"
        altered = self.altered.get(string, (self.part.fifths + 6 - _STEPS.index(step)) // 7)
        for mark in notations.iter("accidental-mark"):
            if mark.get("placement") != "below":
                altered = _ACCIDENTALS.get(mark.text or "", altered)
        pitch = 12 * (octave + 1) + _SEMITONES[step] + altered + self.part.transpose
        self.mine.signs.append((note.at, SignKind.TRILL, note.pitch))
        if note.pitch < pitch <= 127 and note.fifth is not None:
            fifth = _STEPS.index(step) - 1 + 7 * altered
            self.mine.notes.append(note._replace(pitch=pitch, fifth=fifth, string=string, tied=0))

    def _direction(self, element: Element) -> None:
        offset = element.find("offset")
        try:
            moved = (
                Fraction((offset.text or "0").strip()) / self.part.divisions
                if offset is not None
                else Fraction(0)
            )
        except (ValueError, ZeroDivisionError):
            moved = Fraction(0)
        at = self._ticks(max(Fraction(0), self.at + moved))
        heard = at if offset is None or offset.get("sound") == "yes" else self._ticks(self.at)
        sound = element.find("sound")
        if sound is not None:
            self._sound(sound, heard)
        said: list[str] = []
        for kind in element.findall("direction-type"):
            for child in kind:
                tag = child.tag
                if tag == "words":
                    said.append(child.text or "")
                elif tag == "symbol":
                    said.append(_SYMBOLS.get((child.text or "").strip(), ""))
                elif tag == "rehearsal":
                    self.all.rehearsals.setdefault(clean(child.text or "", 60), at)
                elif tag == "metronome" and (sound is None or sound.get("tempo") is None):
                    tempo = _metronome(child)
                    if tempo is not None and not any(other == heard for other, _ in self.all.tempos):
                        self.all.tempos.append((heard, tempo))
                elif tag == "segno":
                    self.all.segno = True
                elif tag == "coda":
                    self.all.coda |= sound is None or sound.get("tocoda") is None
                    self.all.to_coda |= sound is not None and sound.get("tocoda") is not None
                elif tag in ("damp", "damp-all"):
                    self.mine.damped.append(at)
                elif tag == "harp-pedals":
                    self._pedals(child, at)
        text = " ".join(" ".join(said).split())
        if text:
            self.mine.words.append(Words(at, clean(text, 300)))
            self._jump(text)

    def _pedals(self, element: Element, at: int) -> None:
        stands = []
        for tuning in element.findall("pedal-tuning"):
            step = (tuning.findtext("pedal-step") or "").strip()
            altered = _whole(tuning.findtext("pedal-alter"))
            if step in _SEMITONES and altered in (-1, 0, 1):
                stands.append((step, altered))
        if stands:
            self.mine.words.append(Words(at, "", tuple(stands)))

    def _jump(self, text: str) -> None:
        here = self.all
        here.da_capo |= _DA_CAPO.search(text) is not None
        here.dal_segno |= _DAL_SEGNO.search(text) is not None
        here.to_coda |= _TO_CODA.match(text) is not None
        here.fine |= _FINE.match(text) is not None

    def _sound(self, sound: Element, at: int) -> None:
        here = self.all
        try:
            tempo = Fraction(sound.get("tempo", "0")[:20].strip())
        except (ValueError, ZeroDivisionError):
            tempo = Fraction(0)
        if tempo > 0:
            here.tempos = [one for one in here.tempos if one[0] != at] + [(at, tempo)]
        here.da_capo |= sound.get("dacapo") in _YES
        here.dal_segno |= sound.get("dalsegno") is not None
        here.segno |= sound.get("segno") is not None
        here.coda |= sound.get("coda") is not None
        here.to_coda |= sound.get("tocoda") is not None
        here.fine |= sound.get("fine") is not None
        here.forward |= sound.get("forward-repeat") in _YES

    def _barline(self, barline: Element) -> None:
        repeat = barline.find("repeat")
        if repeat is not None:
            if repeat.get("direction") == "forward":
                self.all.forward = True
            else:
                times = _whole(repeat.get("times")) or 2
                if not 1 <= times <= MAX_TIMES:
                    raise Refused(f"repeats a passage {times} times, so it is damaged; export it again.")
                self.all.times = max(self.all.times, times)
        ending = barline.find("ending")
        if ending is not None:
            numbers = frozenset(int(n) for n in re.findall(r"\d{1,2}", ending.get("number", "")))
            if ending.get("type") == "start":
                self.part.ending = numbers
            else:
                self.ended = True
                self.part.ending = self.part.ending or numbers
        self.score.fermatas += barline.find("fermata") is not None


def _whole(text: str | None) -> int | None:
    try:
        return int((text or "")[:12])
    except ValueError:
        return None


def _metronome(element: Element) -> Fraction | tuple[Fraction, Fraction] | None:
    """Quarters a minute, or for one note value that becomes another the lengths of both."""
    lengths: list[Fraction] = []
    for child in element:
        if child.tag == "beat-unit":
            lengths.append(_TYPES.get((child.text or "").strip(), Fraction(1)))
        elif child.tag == "beat-unit-dot" and lengths:
            lengths[-1] = lengths[-1] * 3 / 2
        elif child.tag == "per-minute" and lengths:
            number = re.search(r"\d{1,4}(?:\.\d{1,4})?", child.text or "")
            return None if number is None else Fraction(number[0]) * lengths[0]
    return (lengths[0], lengths[1]) if len(lengths) == 2 else None


# -- repeats


def _played(measures: Sequence[_Measure]) -> Iterator[int]:
    """The measures in the order in which they are played. Raises Refused where there is no end of them."""
    at = start = count = 0
    times = 1  # that the repeat which stands open is being played
    returned = False  # after D.C. or D.S.
    segno = next((n for n, measure in enumerate(measures) if measure.segno), 0)
    codas = [n for n, measure in enumerate(measures) if measure.coda]
    while at < len(measures):
        measure = measures[at]
        if measure.forward and at != start:
            start, times = at, 1
        if measure.endings:
            last = max(measure.endings) == _last_ending(measures, at)
            if (not last) if returned else times not in measure.endings:
                at += 1
                continue
        count += 1
        if count > MAX_BARS:
            raise Refused(
                f"is more than {MAX_BARS:,} bars long as played, which is too long; export a shorter passage."
            )
        yield at
        if measure.times and not returned:
            if times < max(measure.times, _last_ending(measures, at) if measure.endings else 0):
                times += 1
                at = start
                continue
            if not measure.endings or max(measure.endings) == _last_ending(measures, at):
                start, times = at + 1, 1
        if returned and measure.fine:
            return
        if returned and measure.to_coda and (coda := next((n for n in codas if n > at), None)) is not None:
            at = coda
            continue
        if not returned and (measure.da_capo or measure.dal_segno):
            returned = True
            at = 0 if measure.da_capo else segno
            continue
        at += 1


def _last_ending(measures: Sequence[_Measure], at: int) -> int:
    """The highest number of the endings that this one stands among."""
    most = 0
    while at < len(measures) and measures[at].endings:
        most = max(most, *measures[at].endings)
        at += 1
    return most


# -- as played


class _Laid:
    """The notes of a part as they are played, in ticks of the song."""

    def __init__(
        self, part: _Part, order: Sequence[int], starts: Sequence[int], tempos: Sequence[tuple[int, int]]
    ) -> None:
        self.part = part
        self.end = starts[-1]
        self.spelled: dict[tuple[int, int], int] = {}
        self.signs: list[Sign] = []
        self.words: list[Words] = []
        self._struck: list[list[int]] = []  # [onset, end, pitch]
        self._ringing: list[tuple[int, str]] = []  # (note, string) of those that are to ring
        strings: list[tuple[int, str]] = []
        damped: list[int] = []
        tied: dict[tuple[int, int], int] = {}  # (pitch, where it ends) -> note
        ticks = [tick for tick, _ in tempos]
        before = 0
        for index, start in zip(order, starts, strict=False):
            if index >= len(part.measures):
                continue
            measure = part.measures[index]
            damped += [start + at for at in measure.damped]
            self.words += [words._replace(tick=start + words.tick) for words in measure.words]
            self.signs += [Sign(start + at, kind, pitch) for at, kind, pitch in measure.signs]
            delayed: dict[tuple[str, int], int] = {}
            for note in sorted(measure.notes, key=lambda one: (one.at, one.grace == 0)):
                onset = start + note.at
                end = onset + note.length
                if note.grace:
                    found = bisect_right(ticks, onset) - 1
                    step = int(GRACE * 1_000_000 * TICKS / (tempos[found][1] if found >= 0 else 500_000))
                    if onset == 0:
                        # Nothing comes before the first note, so it has to wait for them.
                        delayed[note.voice, note.at] = step * note.of
                        onset = step * note.of
                    else:
                        step = min(step, max(1, (onset - before) // (note.of + 1)))
                    main = onset
                    onset -= step * (note.of + 1 - note.grace)
                    end = main if note.tied & 2 else onset + step
                else:
                    if onset > before and not delayed:
                        before = onset
                    late = delayed.get((note.voice, note.at), 0)
                    onset += min(late, max(0, note.length - 1))
                known = tied.pop((note.pitch, onset), None) if note.tied & 1 else None
                if known is None:
                    known = len(self._struck)
                    self._struck.append([onset, end, note.pitch])
                    strings.append((onset, note.string))
                    if (
                        note.fifth is not None
                        and self.spelled.setdefault((onset, note.pitch), note.fifth) != note.fifth
                    ):
                        part.doubled += 1
                else:
                    self._struck[known][1] = max(end, self._struck[known][1])
                if note.tied & 2:
                    tied[note.pitch, end] = known
                if note.rings:
                    self._ringing.append((known, note.string))
        self._let_ring(strings, sorted(damped))

    def _let_ring(self, strings: list[tuple[int, str]], damped: list[int]) -> None:
        if not self._ringing:
            return
        onsets: dict[str, list[int]] = {}
        for onset, string in sorted(strings):
            onsets.setdefault(string, []).append(onset)
        for number, string in self._ringing:
            note = self._struck[number]
            ends = [self.end]
            for moments in (onsets[string], damped):
                found = bisect_right(moments, note[0])
                ends += moments[found : found + 1]
            note[1] = max(note[1], min(ends))

    def packed(self) -> array[int]:
        """As the messages of a track: releases before strikes, a note of no length released behind its strike."""
        found: list[tuple[int, int, int]] = []
        if self.part.program is not None:
            found.append((0, -1, 0xC00000 | self.part.program << 8))
        for onset, end, pitch in self._struck:
            onset = max(0, onset)
            found.append((onset, 1, 0x900040 | pitch << 8))
            end = max(end, onset + 1)
            found.append((end, 0, 0x800000 | pitch << 8))
        found.sort()
        return array("Q", (tick << 24 | word for tick, _, word in found))

    def written(self) -> Written:
        return Written(
            self.spelled,
            tuple(self.signs),
            tuple(sorted(self.words, key=lambda words: words.tick)),
            self.part.doubled,
        )
