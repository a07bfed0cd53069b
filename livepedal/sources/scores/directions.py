"""What stands between the notes of a measure: attributes, directions, sound, barlines; and the tempos that they give.

A tempo comes from the `sound` element or a metronome mark of any part. Tempo words alone are not guessed at. Source:
MusicXML 4.0; element names are its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from operator import itemgetter
from xml.etree.ElementTree import Element

from livepedal.harp import Pedal
from livepedal.sources.raw import Refused
from livepedal.sources.scores.measures import Column, Cursor, ticks, whole
from livepedal.sources.scores.repeats import MAX_TIMES
from livepedal.sources.scores.written import Words
from livepedal.sources.text import clean

_SYMBOLS = {"accidentalFlat": "♭", "accidentalNatural": "♮", "accidentalSharp": "♯"}  # SMuFL's names
_YES = frozenset({"yes", "true", "1"})

# What words say where a program has not written it as an attribute of `sound` as well.
_DA_CAPO = re.compile(r"\b(?:d\. ?c\.|da capo)", re.IGNORECASE)
_DAL_SEGNO = re.compile(r"\b(?:d\. ?s\.|dal segno)", re.IGNORECASE)
_TO_CODA = re.compile(r"^\W*(?:to coda|al coda|alla coda)\W*$", re.IGNORECASE)
_FINE = re.compile(r"^\W*fine\W*$", re.IGNORECASE)

STANDARD = Fraction(120)  # quarters a minute until another tempo is given, as in a MIDI file
SLOWEST, FASTEST = 2, 2000  # quarters a minute; a mark beyond these is damaged, and ignored
_TYPES = {
    name: 4 / Fraction(2) ** power
    for power, name in enumerate(
        ("long", "breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th", "256th"), -2
    )
}  # quarters


def read_attributes(element: Element, cursor: Cursor) -> None:
    """Divisions, key, metre, staves, transposition."""
    part = cursor.part
    divisions = whole(element.findtext("divisions"))
    if divisions is not None:
        if not 1 <= divisions <= 1_000_000:
            raise Refused("has impossible divisions, so it has no time; export it again.")
        part.divisions = divisions
    fifths = whole(element.findtext("key/fifths"))
    if fifths is not None and abs(fifths) <= 7:
        part.fifths = fifths
        part.keys[len(part.measures)] = fifths, element.findtext("key/mode") == "minor"
    part.staves = max(part.staves, min(whole(element.findtext("staves")) or 1, 9))
    time = element.find("time")
    if time is not None:
        cursor.all.metre = _metre(time) or cursor.all.metre
    transpose = element.find("transpose")
    if transpose is not None:
        semitones = whole(transpose.findtext("chromatic")) or 0
        octaves = whole(transpose.findtext("octave-change")) or 0
        part.transpose = max(-60, min(60, semitones + 12 * octaves))


def _metre(time: Element) -> tuple[int, int] | None:
    total = Fraction(0)
    unit = 1
    for beats, kind in zip(time.findall("beats"), time.findall("beat-type"), strict=False):
        of = whole(kind.text) or 0
        numbers = [whole(number) for number in (beats.text or "").split("+")]
        if of not in (1, 2, 4, 8, 16, 32, 64, 128) or any(number is None for number in numbers):
            return None
        unit = max(unit, of)
        total += Fraction(sum(number or 0 for number in numbers), of)
    return (int(total * unit), unit) if 0 < total * unit <= 255 else None


def read_direction(element: Element, cursor: Cursor) -> None:
    """Words, pedals, marks and tempo at a moment, which an `offset` may move."""
    offset = element.find("offset")
    moved = Fraction(0) if offset is None else _offset(offset, cursor)
    at = ticks(max(Fraction(0), cursor.at + moved))
    sounds_at = at if offset is None or offset.get("sound") == "yes" else cursor.tick
    sound = element.find("sound")
    if sound is not None:
        read_sound(sound, sounds_at, cursor)
    said: list[str] = []
    for child in (child for kind in element.findall("direction-type") for child in kind):
        if child.tag == "words":
            said.append(child.text or "")
        elif child.tag == "symbol":
            said.append(_SYMBOLS.get((child.text or "").strip(), ""))
        elif child.tag == "metronome" and (sound is None or sound.get("tempo") is None):
            tempo = _metronome(child)
            if tempo is not None and not any(other == sounds_at for other, _ in cursor.all.tempos):
                cursor.all.tempos.append((sounds_at, tempo))
        else:
            _sign(child, sound, at, cursor)
    text = " ".join(" ".join(said).split())
    if text:
        cursor.mine.words.append(Words(at, clean(text, 300)))
        _jump(text, cursor)


def _offset(offset: Element, cursor: Cursor) -> Fraction:
    try:
        return Fraction((offset.text or "0").strip()) / cursor.part.divisions
    except (ValueError, ZeroDivisionError):
        return Fraction(0)


def _sign(child: Element, sound: Element | None, at: int, cursor: Cursor) -> None:
    column = cursor.all
    match child.tag:
        case "rehearsal":
            column.rehearsals.setdefault(clean(child.text or "", 60), at)
        case "segno":
            column.segno = True
        case "coda":
            column.coda |= sound is None or sound.get("tocoda") is None
            column.to_coda |= sound is not None and sound.get("tocoda") is not None
        case "damp" | "damp-all":
            cursor.mine.damped.append(at)
        case "harp-pedals":
            stands = _pedals(child)
            if stands:
                cursor.mine.words.append(Words(at, "", stands))


def _pedals(element: Element) -> tuple[tuple[str, int], ...]:
    stands = []
    for tuning in element.findall("pedal-tuning"):
        step = (tuning.findtext("pedal-step") or "").strip()
        altered = whole(tuning.findtext("pedal-alter"))
        if step in Pedal.__members__ and altered in (-1, 0, 1):
            stands.append((step, altered))
    return tuple(stands)


def _jump(text: str, cursor: Cursor) -> None:
    column = cursor.all
    column.da_capo |= _DA_CAPO.search(text) is not None
    column.dal_segno |= _DAL_SEGNO.search(text) is not None
    column.to_coda |= _TO_CODA.match(text) is not None
    column.fine |= _FINE.match(text) is not None


def read_sound(sound: Element, at: int, cursor: Cursor) -> None:
    """What a `sound` element says of tempo and of where playing goes on."""
    column = cursor.all
    tempo = _sounded(sound)
    if tempo is not None:
        column.tempos = [other for other in column.tempos if other[0] != at] + [(at, tempo)]
    column.da_capo |= sound.get("dacapo") in _YES
    column.dal_segno |= sound.get("dalsegno") is not None
    column.segno |= sound.get("segno") is not None
    column.coda |= sound.get("coda") is not None
    column.to_coda |= sound.get("tocoda") is not None
    column.fine |= sound.get("fine") is not None
    column.forward |= sound.get("forward-repeat") in _YES


def read_barline(barline: Element, cursor: Cursor) -> None:
    """Repeats and endings."""
    repeat = barline.find("repeat")
    if repeat is not None:
        if repeat.get("direction") == "forward":
            cursor.all.forward = True
        else:
            times = whole(repeat.get("times")) or 2
            if not 1 <= times <= MAX_TIMES:
                raise Refused(f"repeats a passage {times} times, so it is damaged; export it again.")
            cursor.all.times = max(cursor.all.times, times)
    ending = barline.find("ending")
    if ending is not None:
        numbers = frozenset(int(n) for n in re.findall(r"\d{1,2}", ending.get("number", "")))
        if ending.get("type") == "start":
            cursor.part.ending = numbers
        else:
            cursor.ended = True
            cursor.part.ending = cursor.part.ending or numbers
    cursor.counts.fermatas += barline.find("fermata") is not None


def _sounded(sound: Element) -> Fraction | None:
    """The quarters a minute of a `sound` element."""
    try:
        tempo = Fraction(sound.get("tempo", "0")[:20].strip())
    except (ValueError, ZeroDivisionError):
        return None
    return tempo if tempo > 0 else None


def _metronome(element: Element) -> Fraction | tuple[Fraction, Fraction] | None:
    """Quarters a minute; or the lengths (in quarters) of two note values, where the one becomes the other."""
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


def tempos_of(
    columns: Sequence[Column], order: Sequence[int], starts: Sequence[int]
) -> Iterator[tuple[int, int]]:
    """The tempos (tick, µs a quarter) of the measures in the order of playing, which start at these ticks."""
    now = STANDARD
    for index, start in zip(order, starts, strict=False):
        for at, said in sorted(columns[index].tempos, key=itemgetter(0)):
            now = said if isinstance(said, Fraction) else now / said[0] * said[1]
            if SLOWEST <= now <= FASTEST:
                yield start + at, round(60_000_000 / now)
            else:
                now = STANDARD
