"""A MusicXML score as the tracks that a MIDI file of it would have, and beside them what MIDI cannot say.

Every part becomes a `RawTrack`: its notes as played, with repeats and D.C. unfolded and tied notes as one; names,
program, tempo, metre, keys and rehearsal marks as meta events. What only the score can say stands in `written` (how
each note is spelled, signs, words and harp-pedals diagrams) and in the song's `bars` (bar numbers in print).

Source: MusicXML 4.0 (W3C Community Group Final Report, 2021). xml_units.py takes the document apart; notes.py and
directions.py read its measures, repeats.py unfolds them, playing.py lays them out. A bar is as long as its longest
part, but rests alone make none longer than its metre. An implicit measure in the middle continues the bar before.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from xml.etree.ElementTree import Element

from livepedal.sources.raw import (
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
from livepedal.sources.scores import directions
from livepedal.sources.scores.measures import (
    TICKS,
    WHOLE,
    Anchor,
    Column,
    Counts,
    Cursor,
    Measure,
    ScorePart,
    ticks,
)
from livepedal.sources.scores.notes import NoteReader, duration
from livepedal.sources.scores.playing import AsPlayed
from livepedal.sources.scores.repeats import played
from livepedal.sources.scores.written import PrintedBar
from livepedal.sources.scores.xml_units import AT, Unit, document, units
from livepedal.sources.text import clean, counted

_MOVING = ("note", "forward", "backup")  # the elements that move time


def read_musicxml(data: bytes) -> RawSong:
    """Read the bytes of a score (.musicxml, .xml or .mxl).

    Raises:
        Refused: it cannot be read; the message is the rest of a sentence.
    """
    return _scored(units(document(data))).song()


@dataclass(frozen=True, slots=True)
class Places:
    """Where the moments of a score stand in its bytes.

    Attributes:
        starts: for each bar as played, its tick and the number of its measure.
        parts: in the order of the tracks.
    """

    starts: tuple[tuple[int, int], ...]
    parts: Sequence[ScorePart]

    def measure(self, track: int, index: int) -> Measure:
        """A measure of a part, which are counted from 1 and 0; an empty one where the part has no such measure."""
        measures = self.parts[track - 1].measures
        return measures[index] if index < len(measures) else Measure()


def places_in(data: bytes, encoding: str | None) -> Places:
    """Where the moments of a document stand in its bytes, which may be in another encoding than the document says.

    Raises:
        Refused: as `read_musicxml`.
    """
    score = _scored(units(data, encoding, places=True))
    order, starts = score.laid_out()
    return Places(tuple(zip(starts, order, strict=False)), score.with_measures())


def _scored(source: Iterator[Unit]) -> _Score:
    score = _Score()
    if next(source).element.tag == "container":
        raise Refused("is XML but not a MusicXML score (it begins with <container>); export it as MusicXML.")
    for unit in source:
        score.take(unit)
    return score


class _Score:
    """Takes in the units of a document, and makes a song of them."""

    def __init__(self) -> None:
        self.parts: dict[str, ScorePart] = {}
        self.columns: list[Column] = []
        self.counts = Counts()

    def take(self, unit: Unit) -> None:
        """Take in what stands at the second level of the document, or one measure of a part."""
        if unit.part:
            part = self.parts.setdefault(unit.part, ScorePart())
            if len(self.parts) > MAX_TRACKS:
                raise Refused(f"has more than {MAX_TRACKS} parts, which is too many; export fewer.")
            self._measure(part, unit)
        elif unit.element.tag == "part-list":
            for listed in unit.element.iter("score-part"):
                self.parts[listed.get("id", "")] = _listed(listed)

    def _measure(self, part: ScorePart, unit: Unit) -> None:
        number = len(part.measures)
        while len(self.columns) <= number:
            self.columns.append(Column())
        column = self.columns[number]
        column.number = column.number or clean(unit.measure.get("number", ""), 20)
        column.implicit |= unit.measure.get("implicit") == "yes"
        cursor = Cursor(part, Measure(), column, self.counts)
        _read(unit.element, cursor)
        column.length = max(column.length, ticks(cursor.farthest))
        column.endings |= part.ending
        if cursor.ended:
            part.ending = frozenset()
        part.measures.append(cursor.mine)

    # -- as a song

    def song(self) -> RawSong:
        """The score as played. Raises Refused where that is more than is read, or nothing."""
        parts = self.with_measures()
        if not parts:
            raise Refused("has no measures; export it again as MusicXML.")
        order, starts = self.laid_out()
        if starts[-1] > MAX_TICK:
            raise Refused("is longer than any piece, so its durations must be damaged; export it again.")
        times = Counter(order)
        notes = sum(
            len(measure.notes) * times[i] for part in parts for i, measure in enumerate(part.measures)
        )
        if 2 * notes > MAX_EVENTS:
            raise Refused(
                f"holds more than {MAX_EVENTS // 2:,} notes as played, which is too many; export less."
            )
        tempos = list(directions.tempos_of(self.columns, order, starts))
        tracks = []
        for number, part in enumerate(parts, 1):
            metas = _names(part)
            if number == 1:
                metas += self._metas(order, starts, tempos)
            if not part.transpose % 12:
                metas += _keys(part, order, starts)
            laid = AsPlayed(part, order, starts, tempos)
            tracks.append(RawTrack(number, laid.packed(), tuple(metas), starts[-1], laid.written()))
        remarks, bars = tuple(self._remarks(len(order))), tuple(self._bars(order, starts))
        return RawSong(1, Division(per_quarter=TICKS), tuple(tracks), remarks, bars)

    def with_measures(self) -> list[ScorePart]:
        """The parts in which anything stands."""
        return [part for part in self.parts.values() if part.measures]

    def laid_out(self) -> tuple[list[int], list[int]]:
        """The measures in the order of playing, and the tick where each begins, and the end.

        Measures in which nothing stands have the length of their metre; so have those in which only rests go beyond it,
        which some programs write too long.
        """
        beats, unit = 4, 4
        for column in self.columns:
            beats, unit = column.metre or (beats, unit)
            nominal = beats * WHOLE // unit
            if not column.length or column.notes <= nominal < column.length:
                column.length = nominal
        order = list(played(self.columns))
        return order, list(accumulate((self.columns[index].length for index in order), initial=0))

    def _metas(
        self, order: Sequence[int], starts: Sequence[int], tempos: Iterable[tuple[int, int]]
    ) -> list[Meta]:
        metas = [Meta(tick, SET_TEMPO, us.to_bytes(4, "big")[1:]) for tick, us in tempos]
        for index, start in zip(order, starts, strict=False):
            column = self.columns[index]
            if column.metre is not None:
                beats, unit = column.metre
                metas.append(
                    Meta(start, TIME_SIGNATURE, bytes((min(beats, 255), unit.bit_length() - 1, 24, 8)))
                )
            metas += [Meta(start + at, MARKER, text.encode()) for text, at in column.rehearsals.items()]
        return metas

    def _bars(self, order: Sequence[int], starts: Sequence[int]) -> Iterator[PrintedBar]:
        times: Counter[int] = Counter()
        nominal = WHOLE
        before: int | None = None
        number = ""
        for index, start in zip(order, starts, strict=False):
            column = self.columns[index]
            if column.metre is not None:
                nominal = column.metre[0] * WHOLE // column.metre[1]
            times[index] += 1
            first = before is None
            # The second half of a bar that is cut in two goes on with it.
            goes_on = column.implicit and before is not None and before == index - 1
            before = index
            if goes_on:
                continue
            number = number if column.implicit and not first else column.number
            late = max(0, nominal - column.length) if column.implicit else 0
            yield PrintedBar(start, number, times[index], late)
        if order and self.columns[order[-1]].length > nominal:
            yield PrintedBar(starts[-1], "", 1)  # after the end: the last bar is longer than its metre

    def _remarks(self, as_played: int) -> Iterator[str]:
        counts = self.counts
        if as_played != len(self.columns):
            yield f"repeats are unfolded: {len(self.columns)} printed bars are {as_played} as played"
        if counts.fermatas:
            added = "it adds" if counts.fermatas == 1 else "they add"
            yield counted(counts.fermatas, "fermata") + f" counted as written, without the time that {added}"
        if counts.microtones:
            yield counted(counts.microtones, "note") + " between semitones moved to the nearest semitone"
        if counts.outside:
            yield counted(counts.outside, "note") + " left out: no pitch, or one outside MIDI's range"


def _read(element: Element, cursor: Cursor) -> None:
    """Read all that stands in a measure of a part."""
    notes = NoteReader(cursor)
    first_voice = True
    for child in element:
        tag = child.tag
        if first_voice and tag in _MOVING and AT in child.attrib and child.find("chord") is None:
            cursor.mine.anchors.append(_anchor(child, cursor))
        first_voice &= tag != "backup"
        match tag:
            case "note":
                notes.read(child)
            case "backup":
                cursor.go(-duration(child, cursor))
            case "forward":
                cursor.go(duration(child, cursor))
            case "attributes":
                directions.read_attributes(child, cursor)
            case "direction":
                directions.read_direction(child, cursor)
            case "sound":
                directions.read_sound(child, cursor.tick, cursor)
            case "barline":
                directions.read_barline(child, cursor)
    if first_voice and AT in element.attrib and len(element):
        cursor.mine.anchors.append(_anchor(element, cursor))
    notes.finish()


def _anchor(element: Element, cursor: Cursor) -> Anchor:
    return Anchor(cursor.tick, int(element.attrib[AT]), cursor.part.divisions)


def _listed(element: Element) -> ScorePart:
    part = ScorePart(clean(" ".join((element.findtext("part-name") or "").split())))
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


def _names(part: ScorePart) -> list[Meta]:
    named = ((TRACK_NAME, part.name), (INSTRUMENT_NAME, part.instrument))
    return [Meta(0, kind, name.encode()) for kind, name in named if name]


def _keys(part: ScorePart, order: Sequence[int], starts: Sequence[int]) -> Iterator[Meta]:
    known = sorted(part.keys)
    now: tuple[int, bool] | None = None
    for index, start in zip(order, starts, strict=False):
        found = bisect_right(known, index)
        key = part.keys[known[found - 1]] if found else None
        if key is not None and key != now:
            yield Meta(start, KEY_SIGNATURE, bytes((key[0] & 0xFF, key[1])))
            now = key
