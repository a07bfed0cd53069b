"""The notes of a measure, with the signs at them.

Source: MusicXML 4.0; element names are its own. Some things it leaves to the reader:

- `pitch` is what sounds but for `transpose`, so octave-shift lines change nothing.
- The two chords of a tremolo begin together and last as long as both, and so does a trill's upper note: they are one
  gesture, and all its notes are wanted throughout.
- Of two staves the upper is the right hand's and the lower the left's (common practice, no source).
"""

from __future__ import annotations

from fractions import Fraction
from xml.etree.ElementTree import Element

from livepedal.harp import Key, Pedal
from livepedal.harp.fifths import fifth_of
from livepedal.harp.signs import NO_SIGN, Sign
from livepedal.sources.raw import MAX_EVENTS, Refused
from livepedal.sources.scores.measures import Anchor, Cursor, ScoreNote, ticks, whole
from livepedal.sources.scores.xml_units import AT

_ACCIDENTALS = {"flat": -1, "natural": 0, "sharp": 1, "flat-flat": -2, "double-sharp": 2, "sharp-sharp": 2}
_TIES = {"stop": 1, "start": 2, "continue": 3}
LONGEST = Fraction(100_000)  # quarters


def duration(element: Element, cursor: Cursor) -> Fraction:
    """How long an element lasts, in quarters. What is no number lasts no time."""
    text = element.findtext("duration") or "0"
    if len(text) > 20:
        return Fraction(0)
    try:
        value = Fraction(int(text)) if text.isdigit() else Fraction(text.strip())
    except (ValueError, ZeroDivisionError):
        return Fraction(0)
    return min(max(value / cursor.part.divisions, Fraction(0)), LONGEST)


class NoteReader:
    """Reads the notes of one measure of one part."""

    def __init__(self, cursor: Cursor) -> None:
        self.cursor = cursor
        self.altered: dict[str, int] = {}  # string -> accidental in this bar
        self.begun: dict[str, int] = {}  # by voice: where the first chord of a tremolo begins
        self.tremolos: list[tuple[str, int, int]] = []  # voice, where the first begins, where the second does

    def read(self, element: Element) -> None:
        """Read a `note`."""
        cursor = self.cursor
        tags = {child.tag for child in element}
        grace, chord = "grace" in tags, "chord" in tags
        length = Fraction(0) if grace else duration(element, cursor)
        if not chord:
            cursor.last = cursor.tick
        end = cursor.tick if chord else ticks(cursor.at + length)
        if not chord and not grace:
            cursor.go(length)
        if tags & {"rest", "cue", "unpitched"} or "pitch" not in tags:
            return
        note = self._pitched(element, max(0, end - cursor.last))
        if note is None:
            return
        if grace:
            waiting = cursor.part.graces.setdefault(note.voice, [])
            order = waiting[-1].grace + (not chord) if waiting else 1
            waiting.append(note._replace(length=0, grace=order))
            return
        if not chord:
            self._main(note.voice, cursor.last)
        cursor.mine.notes.append(note)
        cursor.all.notes = max(cursor.all.notes, end)
        for notations in element.findall("notations"):
            self._notations(notations)

    def finish(self) -> None:
        """The measure is over."""
        for voice in list(self.cursor.part.graces):
            self._main(voice, ticks(self.cursor.farthest))
        for tremolo in self.tremolos:
            self._together(*tremolo)

    def _main(self, voice: str, at: int) -> None:
        """Give the waiting grace notes of a voice to the note that begins here."""
        waiting = self.cursor.part.graces.pop(voice, [])
        count = waiting[-1].grace if waiting else 0
        self.cursor.mine.notes += [note._replace(at=at, of=count) for note in waiting]
        if waiting:
            self.cursor.all.notes = max(self.cursor.all.notes, at)

    def _pitched(self, element: Element, length: int) -> ScoreNote | None:
        cursor, part = self.cursor, self.cursor.part
        pitch = element.find("pitch")
        read = None if pitch is None else self._pitch(pitch)
        if read is None:
            return None
        sounding, fifth, string = read
        cursor.counts.notes += 1
        if 2 * cursor.counts.notes > MAX_EVENTS:
            raise Refused(
                f"holds more than {MAX_EVENTS // 2:,} notes, which is too many; export a shorter passage."
            )
        kinds = [tie.get("type", "") for tie in (*element.findall("tie"), *element.findall("notations/tied"))]
        tied = 0
        for kind in kinds:
            tied |= _TIES.get(kind, 0)
        signs = Sign.RINGS if "let-ring" in kinds else NO_SIGN
        if part.staves == 2:
            signs |= Sign.LOWER if element.findtext("staff") == "2" else Sign.UPPER
        if AT in element.attrib:
            place = Anchor(cursor.last, int(element.attrib[AT]), part.divisions, sounding)
            cursor.mine.note_places.append(place)
        voice = element.findtext("voice") or "1"
        return ScoreNote(cursor.last, length, sounding, fifth, string, voice, tied, signs)

    def _pitch(self, element: Element) -> tuple[int, int | None, str] | None:
        """MIDI number, written note on the line of fifths, string."""
        part, counts = self.cursor.part, self.cursor.counts
        step = (element.findtext("step") or "").strip()
        octave = whole(element.findtext("octave"))
        if step not in Pedal.__members__ or octave is None:
            counts.outside += 1
            return None
        try:
            exact = float(element.findtext("alter") or 0)
            altered = round(exact) if abs(exact) <= 3 else 0
        except ValueError:
            exact = altered = 0
        counts.microtones += exact != altered
        sounding = 12 * (octave + 1) + Pedal[step].natural + altered + part.transpose
        if not 0 <= sounding <= 127:
            counts.outside += 1
            return None
        self.altered[f"{step}{octave}"] = altered
        fifth = None if part.transpose % 12 else fifth_of(Pedal[step], altered)
        return sounding, fifth, f"{step}{octave}"

    def _notations(self, notations: Element) -> None:
        """The signs at the note that was read last."""
        for element in notations.iter():
            tag, kind = element.tag, element.get("type")
            if tag == "tremolo":
                self._tremolo(kind or "single")
            elif tag == "arpeggiate":
                self._sign(Sign.ROLLED)
            elif tag in ("glissando", "slide") and kind in ("start", "stop"):
                self._sign(Sign.GLISSANDO if kind == "start" else Sign.GLISSANDO_END)
            elif tag == "trill-mark":
                self._trill(notations)
            elif tag == "harmonic":
                self._harmonic(written_as_sounding=element.find("sounding-pitch") is not None)
            elif tag == "fermata":
                self.cursor.counts.fermatas += 1

    def _sign(self, sign: Sign) -> ScoreNote:
        notes = self.cursor.mine.notes
        notes[-1] = note = notes[-1]._replace(signs=notes[-1].signs | sign)
        return note

    def _harmonic(self, written_as_sounding: bool) -> None:
        note = self._sign(Sign.HARMONIC)
        if written_as_sounding and note.pitch >= 12:
            # An octave above its string.
            string = f"{note.string[0]}{int(note.string[1:]) - 1}"
            self.cursor.mine.notes[-1] = note._replace(pitch=note.pitch - 12, string=string)

    def _tremolo(self, kind: str) -> None:
        note = self._sign(Sign.TREMOLO)
        if kind == "start":
            self.begun[note.voice] = note.at
        elif kind != "stop" or note.voice in self.begun:
            # A chord has its sign at one note only.
            self.tremolos.append((note.voice, self.begun.pop(note.voice, note.at), note.at))

    def _together(self, voice: str, first: int, second: int) -> None:
        """Give all notes of a tremolo its sign; two chords both begin where the first does and last as long as both."""
        notes = self.cursor.mine.notes
        mine = [
            n
            for n, note in enumerate(notes)
            if note.voice == voice and note.at in (first, second) and not note.grace
        ]
        length = max(notes[n].at + notes[n].length for n in mine) - first
        for n in mine:
            signs = notes[n].signs | Sign.TREMOLO
            notes[n] = notes[n]._replace(at=first, length=length, signs=signs)

    def _trill(self, notations: Element) -> None:
        """The upper note is the next letter, as key, bar and accidental have it."""
        part = self.cursor.part
        note = self._sign(Sign.TRILL)
        step = "CDEFGAB"[("CDEFGAB".index(note.string[0]) + 1) % 7]
        octave = int(note.string[1:]) + (step == "C")
        string = f"{step}{octave}"
        altered = self.altered.get(string, Key(part.fifths).alteration(Pedal[step]))
        for mark in notations.iter("accidental-mark"):
            if mark.get("placement") != "below":
                altered = _ACCIDENTALS.get(mark.text or "", altered)
        pitch = 12 * (octave + 1) + Pedal[step].natural + altered + part.transpose
        if note.pitch < pitch <= 127 and note.fifth is not None:
            fifth = fifth_of(Pedal[step], altered)
            upper = note._replace(pitch=pitch, fifth=fifth, string=string, tied=0)
            # Behind the written note, whose other signs may still come.
            self.cursor.mine.notes.insert(len(self.cursor.mine.notes) - 1, upper)
