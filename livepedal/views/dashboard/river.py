"""The river: the last few seconds as notes that drift to the left, with what the feet did under them.

The newest attack is at the right. Columns are time, a dozen to the second, but where attacks follow so
quickly that their names would not fit, the older ones are pushed on, so that every one can be read. The
higher a note the higher its row. Above them, on the line, each finding's shape stands over the attack that it
is about; below, on a line for each foot, the changes, over which the pedal had to be in its new place.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from livepedal.harp import Foot, Position, pitch_name
from livepedal.model.findings import Finding
from livepedal.model.snapshot import ChangeView, NoteView, Snapshot
from livepedal.views import words
from livepedal.views.dashboard.canvas import LABELS, Canvas
from livepedal.views.lines import Tone, tone_of
from livepedal.views.widths import cells

FIXED_ROWS = 3  # the line above, and one for each foot
_COLUMNS = 12  # to the second
_SECOND = 1_000_000


@dataclass(frozen=True, slots=True)
class _Attack:
    """An attack with its column, and the names of its notes from the highest."""

    us: int
    column: int
    names: tuple[tuple[int, str], ...]


def river(canvas: Canvas, snapshot: Snapshot, rows: int) -> None:
    """The line with the findings, so many rows of notes, and a row for each foot."""
    attacks = _placed(canvas, snapshot)
    found = {finding.us: finding for finding in snapshot.findings}
    columns = {attack.us: attack.column for attack in attacks}
    _marks(canvas, attacks, found, f" middle C is {canvas.middle_c.upper()} ")
    newest = attacks[-1].us if attacks else None
    for number, items in enumerate(_lanes(snapshot, attacks, rows)):
        tones = {us: Tone.STRONG if us == newest else Tone.PLAIN for us, _, _ in items}
        tones |= {us: tone_of(found[us].verdict) for us in tones if us in found}
        spans = [(column, name, tones[us]) for us, column, name in items]
        canvas.placed(("notes" if number == 0 else "", Tone.FAINT), spans, LABELS, (" ", Tone.PLAIN))
    for foot in Foot:
        mine = _by_attack(snapshot, foot)
        changes = [(columns[us], _moved(some), _hurried(some)) for us, some in mine if us in columns]
        canvas.placed((f"{foot.value} ", Tone.FAINT), changes, LABELS, (canvas.signs.rule, Tone.FAINT))


def _by_attack(snapshot: Snapshot, foot: Foot) -> list[tuple[int, list[ChangeView]]]:
    mine = [change for change in snapshot.changes if change.pedal.foot is foot]
    return [(us, list(group)) for us, group in groupby(mine, key=lambda change: change.us)]


def _moved(changes: list[ChangeView]) -> str:
    return "".join(change.pedal.at(change.goal) for change in changes)


def _hurried(changes: list[ChangeView]) -> Tone:
    short = any(c.available is not None and c.available < c.needed for c in changes)
    return Tone.HELD if short else Tone.STRONG


def _placed(canvas: Canvas, snapshot: Snapshot) -> list[_Attack]:
    """The attacks that there is room for, in order of time."""
    room = canvas.width - LABELS
    groups = [(us, list(notes)) for us, notes in groupby(snapshot.notes, key=lambda note: note.us)]
    moved: dict[int, list[str]] = {}
    for foot in Foot:
        for us, changes in _by_attack(snapshot, foot):
            moved.setdefault(us, []).append(canvas.signs.write(_moved(changes)))
    placed: list[_Attack] = []
    before = room + 1
    for us, notes in reversed(groups):
        names = tuple((note.pitch, canvas.signs.write(_name(note))) for note in reversed(notes))
        # One column stays free behind what is widest, so that no two texts of a line become one.
        wide = max(cells(text) for text in (*(name for _, name in names), *moved.get(us, ())))
        column = min(room - wide - (snapshot.us - us) * _COLUMNS // _SECOND, before - wide - 1)
        if column < 0:
            break
        placed.append(_Attack(us, column, names))
        before = column
    placed.reverse()
    return placed


def _name(note: NoteView) -> str:
    """The note as the harp plays it, without its octave; both names while either string may be meant.

    A natural is taken at its word.
    """
    if not note.spellings:
        return pitch_name(note.pitch)[:-1]
    natural = note.spellings[0].position is Position.NATURAL
    return "/".join(map(words.short, note.spellings[:1] if natural else note.spellings))


def _marks(canvas: Canvas, attacks: list[_Attack], found: dict[int, Finding], octaves: str) -> None:
    """The line above: its title, what the octaves are counted by, and the shapes of the findings."""
    signs = canvas.signs
    title = f"{signs.rule * 2} the last few seconds "
    items: list[tuple[int, str, Tone]] = [(0, title, Tone.FAINT)]
    marks = [attack for attack in attacks if attack.us in found]
    free = canvas.width - len(octaves) - 2
    if all(attack.column + LABELS + 3 < free for attack in marks):
        items.append((free, octaves, Tone.FAINT))
    for attack in marks:
        verdict = found[attack.us].verdict
        items.append((attack.column + LABELS, signs.shapes[verdict], tone_of(verdict)))
    items.sort(key=lambda item: item[0])
    canvas.placed(("", Tone.FAINT), items, 0, (signs.rule, Tone.FAINT))


def _lanes(snapshot: Snapshot, attacks: list[_Attack], rows: int) -> list[list[tuple[int, int, str]]]:
    """For each row the notes on it: (moment of the attack, column, name)."""
    pitches = [note.pitch for note in snapshot.notes]
    top, low = max(pitches, default=0), min(pitches, default=0)
    lanes: list[list[tuple[int, int, str]]] = [[] for _ in range(rows)]
    for attack in attacks:
        names = attack.names
        if len(names) > rows:
            # The outer notes matter most; what lies between is counted.
            inner = len(names) - rows + 1
            names = (*names[: rows - 2], (names[rows - 2][0], f"+{inner}"), names[-1])
        at = -1
        for number, (pitch, name) in enumerate(names):
            row = (top - pitch) * (rows - 1) // max(top - low, 1)
            at = min(max(row, at + 1), rows - len(names) + number)
            lanes[at].append((attack.us, attack.column, name))
    return lanes
