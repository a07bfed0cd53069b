"""A part of a MIDI file written out as a score (MusicXML): two staves, the harp's spelling, its pedal changes.

Only music that lies on a grid can be written out: a sequencer's export, not a performance. Grid points are the 32nds
of a quarter's beat and its triplets and sextuplets (judgement: what harp parts are written in). A note ends where its
key comes up, or where the next one on its staff begins when that is near. Notes from middle C upwards are on the
upper staff (common practice, no source).

The notation (ties over bar lines, rests, beams, tuplets) is made by music21, which the extra `livepedal[score]`
installs. Diagrams and pedal changes are put in as `--marked` puts them into a score.
"""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from livepedal.advice.judging.report import PartReport
from livepedal.advice.report import CheckedPart, FileReport
from livepedal.errors import LivepedalError
from livepedal.harp import Position, Spelling, pitch_name
from livepedal.music.song import KeySignature
from livepedal.music.wording import counted
from livepedal.sources.scores.marking import marked_score
from livepedal.sources.scores.measures import TICKS
from livepedal.views import words
from livepedal.views.score_marks import PedalsAs, pedal_puts

HOW = "--musicxml needs music21, which writes the notation; install it with: pip install 'livepedal[score]'"
GRIDS = (Fraction(1, 8), Fraction(1, 6))  # of a quarter
NEAR = Fraction(1, 48)  # of a quarter: an onset this near to a grid point is meant there (judgement)
MOST_OFF = Fraction(1, 4)  # of all attacks: if more lie on no grid, it was played freely (judgement)
MIDDLE_C = 60


@dataclass(frozen=True, slots=True)
class WrittenOut:
    """A score, and the remarks on it."""

    data: bytes
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Chord:
    """Notes of one staff that begin together. at, length: in quarters; names: as music21 has them."""

    at: Fraction
    length: Fraction
    names: tuple[str, ...]


def can_write() -> bool:
    """Whether music21 is installed."""
    return importlib.util.find_spec("music21") is not None


def write_out(part: PartReport, keys: Sequence[KeySignature], path: str) -> WrittenOut:
    """The part as a score.

    Args:
        part: its report.
        keys: its key signatures.
        path: of its file, for messages and the title.

    Raises:
        LivepedalError: where its notes lie on no grid.
    """
    per_quarter = part.time_map.division.per_quarter
    if per_quarter is None:
        raise LivepedalError(
            f"{path} counts time in film frames and not in crotchets, so it cannot be written out."
        )
    onsets = [Fraction(part.time_map.tick(attack.us), per_quarter) for attack in part.music]
    placed = [_on_grid(onset) for onset in onsets]
    off = [n for n, (onset, at) in enumerate(zip(onsets, placed, strict=True)) if abs(onset - at) > NEAR]
    if len(off) > MOST_OFF * len(onsets):
        raise LivepedalError(
            f"{path}: {len(off)} of its {counted(len(onsets), 'attack')} fit no grid of 32nds or triplets, so it"
            " seems to be played freely; quantise it in the sequencer first."
        )
    remarks = []
    if off:
        first = words.where(part.place(part.music[off[0]].us))
        which = counted(len(off), "attack")
        remarks.append(
            f"{which} on no grid of 32nds or triplets, moved to the nearest point (the first: {first})"
        )
    staves = [list(_staff(part, placed, upper, per_quarter)) for upper in (True, False)]
    data = _notated(part, staves, keys, path, per_quarter)
    file = FileReport(path, (CheckedPart.of(part),))
    puts = [
        replace(put, track=1, tick=round(Fraction(put.tick * TICKS, per_quarter)))
        for put in pedal_puts(file, PedalsAs.WORDS)
    ]
    return WrittenOut(marked_score(data, path, puts, [], archive=False), tuple(remarks))


def _on_grid(at: Fraction) -> Fraction:
    """The nearest point; of two that are equally near the one of the coarser grid."""
    points = [round(at / grid) * grid for grid in GRIDS]
    return min(points, key=lambda point: (abs(point - at), point.denominator))


def _staff(part: PartReport, placed: Sequence[Fraction], upper: bool, per_quarter: int) -> Iterator[_Chord]:
    chords: list[tuple[Fraction, Fraction, tuple[str, ...]]] = []
    for (attack, spellings), at in zip(part.spelled, placed, strict=True):
        here = [
            (pitch, end, spelling)
            for (pitch, end), spelling in zip(attack.notes, spellings, strict=True)
            if (pitch >= MIDDLE_C) is upper
        ]
        if not here:
            continue
        ends = [end for _, end, _ in here if end is not None]
        end = Fraction(part.time_map.tick(max(ends)), per_quarter) if ends else at + 1
        names = tuple(_name(pitch, spelling) for pitch, _, spelling in here)
        if chords and chords[-1][0] == at:
            at, before, others = chords.pop()
            end, names = max(end, before), (*others, *names)
        chords.append((at, end, names))
    for number, (at, end, names) in enumerate(chords):
        following = chords[number + 1][0] if number + 1 < len(chords) else None
        end = max(_on_grid(end), at + GRIDS[0])
        # A short gap before the next note comes from playing; a written rest would mean damping.
        if following is not None and (end > following or following - end < Fraction(1, 2)):
            end = following
        yield _Chord(at, end - at, names)


def _name(pitch: int, spelling: Spelling | None) -> str:
    """Such as "F#4" or "B-3"."""
    name = pitch_name(pitch) if spelling is None else spelling.name
    for position, sign in ((Position.FLAT, "-"), (Position.NATURAL, ""), (Position.SHARP, "#")):
        name = name.replace(position.sign, sign)
    return name


def _notated(
    part: PartReport,
    staves: Sequence[Sequence[_Chord]],
    keys: Sequence[KeySignature],
    path: str,
    per_quarter: int,
) -> bytes:
    """The score without pedals, as music21 writes it."""
    music21: Any = importlib.import_module("music21")  # its types are only partly told
    score = music21.stream.Score()
    score.metadata = music21.metadata.Metadata(title=path.rpartition("/")[2], composer=" ")
    made = []
    for number, chords in enumerate(staves):
        staff = music21.stream.PartStaff()
        staff.partName = "Harp"
        staff.insert(0, music21.clef.TrebleClef() if number == 0 else music21.clef.BassClef())
        for metre in part.time_map.metres:
            at = Fraction(metre.tick, per_quarter)
            staff.insert(at, music21.meter.TimeSignature(f"{metre.numerator}/{metre.denominator}"))
        for key in keys:
            at = Fraction(part.time_map.tick(key.us), per_quarter)
            staff.insert(at, music21.key.KeySignature(key.fifths))
        if number == 0:
            for tempo in part.time_map.tempos:
                mark = music21.tempo.MetronomeMark(number=round(60_000_000 / tempo.per_quarter, 2))
                staff.insert(Fraction(tempo.tick, per_quarter), mark)
            for rehearsal in part.time_map.marks:
                sign = music21.expressions.RehearsalMark(rehearsal.text)
                staff.insert(Fraction(rehearsal.tick, per_quarter), sign)
        for chord in chords:
            note: Any = (
                music21.note.Note(chord.names[0])
                if len(chord.names) == 1
                else music21.chord.Chord(chord.names)
            )
            note.quarterLength = chord.length
            staff.insert(chord.at, note)
        end = max((one.at + one.length for some in staves for one in some), default=Fraction(0))
        if staff.highestTime < end:
            rest = music21.note.Rest()
            rest.quarterLength = end - Fraction(staff.highestTime)
            staff.insert(staff.highestTime, rest)
        made.append(staff)
    for staff in made:
        score.insert(0, staff)
    score.insert(0, music21.layout.StaffGroup(made, symbol="brace", name="Harp"))
    exporter = music21.musicxml.m21ToXml.GeneralObjectExporter(score)
    written: bytes = exporter.parse()
    return written
