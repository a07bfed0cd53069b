"""A take, or a passage of it, as a standard MIDI file that is judged as the music was judged live.

The file (type 1, 960 ticks a quarter; "Standard MIDI Files 1.0", RP-001) holds a first track with tempos,
metre, a marker at each finding and what else is worth knowing as text, and the harp's track, with General
MIDI's harp on every channel in use. Keyboards stay apart by channel. Notes that came late and were not judged stand
on a third track, whose name says that it is muted, so that it is not judged here either.

A passage is only judged as it was, when nothing before it still mattered: a foot that was busy when it began.
So a file that is to hold a passage is judged before it is written, and where it is judged otherwise than it
was live, the passages before it are taken in too, as many as it takes. Starting at the beginning is always
right.

Files are written beside their place and then put there, so no half file ever bears the name, and never in the
place of another file.
"""

from __future__ import annotations

import os
from array import array
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from livepedal import __version__
from livepedal.advice.judging.part import attacks_of, heard
from livepedal.errors import LivepedalError
from livepedal.harp import Setting
from livepedal.live.grid import TICKS
from livepedal.live.take import SLOTS, KeptFinding, Take
from livepedal.model.findings import Finding, Passage
from livepedal.model.plan.planner import Planner
from livepedal.music.attacks import Gathering
from livepedal.music.events import Event, NoteOn
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from livepedal.music.tracks import HARP_PROGRAM
from livepedal.sources.raw import (
    CONTROLLER,
    MARKER,
    NOTE_OFF,
    NOTE_ON,
    OWN_MARK,
    PROGRAM,
    SET_TEMPO,
    TEXT,
    TICK,
    TIME_SIGNATURE,
    TRACK_NAME,
    unpacked,
)
from livepedal.sources.smf_writing import Row, meta_event, midi_file, text_event
from livepedal.sources.text import clean
from livepedal.sources.writing import names, put

# Attacks that the entry setting is worked out for at the most; of more music the file says so.
PLANNED = 1_000


@dataclass(frozen=True, slots=True)
class Saved:
    """A file as it is to be written. findings: how many markers it has; entry: the setting to start with.

    player: the one who was chosen last. start: how the pedals were said to stand at first, "" where nobody did.
    judged_until: seconds of the take that were judged, None for all. late: notes that came late, besides `notes`.
    """

    data: bytes
    findings: int
    entry: Setting
    first_bar: int
    notes: int
    player: str
    start: str = ""
    judged_until: float | None = None
    late: int = 0


def whole(take: Take, title: str) -> Saved:
    """The file of a take that is over. title: name of its first track."""
    return _file(take, title, 0, 0, take.end, take.marks)


def bare(take: Take, title: str) -> Saved:
    """The same without findings and entry setting, for which nothing is judged or planned."""
    return _file(take, title, 0, 0, take.end, (), bare=True)


def passage(take: Take, number: int, title: str) -> Saved:
    """The file of one passage (its number from 0), with as much before it as it needs to be judged alike."""
    passages = [p for p in take.passages if not p.open]
    last = passages[number]
    marks = _between(take.marks, last.start, last.end)
    back = 0
    while True:
        first = passages[max(number - back, 0)]
        music = take.grid.tick(first.start) if back <= number else 0
        start = _bar_line(take, music)
        end = take.grid.tick(last.end) + 1
        made = _file(take, title, start, music, end, _between(take.marks, first.start, last.end))
        if music == 0 or _judged_alike(take, made.data, start, last, marks):
            return made
        back = 2 * back + 1


def _between(marks: Sequence[KeptFinding], start: int, end: int) -> list[KeptFinding]:
    return [mark for mark in marks if start <= mark.us <= end]


def _bar_line(take: Take, tick: int) -> int:
    """The last tick that starts a bar at or before this one."""
    numerator, denominator = take.setup.metre
    return tick - tick % (4 * TICKS * numerator // denominator)


def _judged_alike(take: Take, data: bytes, start: int, last: Passage, marks: Sequence[KeptFinding]) -> bool:
    """Whether the findings of the file, within the passage, are those that there were live."""
    offset = take.grid.us(start)
    found = [finding for finding in _findings(take, data) if finding.us + offset >= last.start - 1]
    if len(found) != len(marks):
        return False
    return all(
        mark.same() == (f.kind, f.verdict, f.audible, f.note, f.revised) and abs(f.us + offset - mark.us) <= 1
        for mark, f in zip(marks, found, strict=True)
    )


def _findings(take: Take, data: bytes) -> list[Finding]:
    part = choose_parts(read_song(data, name="the file"))[0]
    _, found = heard(part, replace(take.setup, player=take.players[-1]))
    return found


def _file(
    take: Take, title: str, start: int, music: int, end: int, marks: Sequence[KeptFinding], bare: bool = False
) -> Saved:
    """From tick `start`, where a bar starts, to `end`, with the notes from tick `music` on."""
    grid, setup = take.grid, take.setup
    bar = 4 * TICKS * setup.metre[0] // setup.metre[1]
    first_bar = take.first_bar + start // bar
    harp, notes = _harp_track(take.kept, "Harp", start, music, end)
    tracks = [harp]
    late = 0
    if take.came_late:
        track, late = _harp_track(take.came_late, "Harp (muted: came late, not judged)", start, music, end)
        tracks += [track] if late else []
    entry, cut = Setting.unset() if setup.setting is None else setup.setting, False
    if not bare and (setup.setting is None or music > 0):
        entry, cut = entry_setting(take, music, end)
    reach = f" (for the first {PLANNED} attacks)" if cut else ""
    until = 0.0 if bare else None if take.judged_until is None else take.judged_until / 1_000_000
    facts = (
        f"livepedal {__version__}: {'' if bare else f'entry setting {entry}{reach}; '}"
        f"player {', then '.join(take.players)}; harp {setup.instrument.name}; first bar {first_bar}"
        f"{'' if until is None else f'; judged up to {until:.2f} s'}"
    )
    timed = [(grid.tick(mark.us), mark.text) for mark in marks]
    head = _head_track(take, title, start, end, timed, facts)
    said = "" if setup.setting is None else str(setup.setting)
    data = midi_file(TICKS, [(rows, end - start) for rows in (head, *tracks)])
    return Saved(data, len(marks), entry, first_bar, notes, take.players[-1], said, until, late)


def entry_setting(take: Take, music: int, end: int) -> tuple[Setting, bool]:
    """How the pedals should stand at tick `music`, as `check` plans it; letters that are not used are not set.

    And whether that was planned from the first `PLANNED` attacks alone, since there are more.
    """
    figures = take.setup.figures
    events: list[Event] = []
    attacks = 0
    gathering = Gathering(figures.attack_window, figures.glissando)
    for event in take.events(bisect_left(take.kept, music << TICK), end):
        attacks += isinstance(event, NoteOn) and gathering.opens(event.us, event.pitch)
        if attacks > PLANNED:
            break
        events.append(event)
    setup = take.setup
    relaxed = figures.player(take.players_known[0])
    planner = Planner(figures.player(take.players[-1]), relaxed, setup.instrument, figures.ringing)
    plan = planner.plan(attacks_of(events, figures), setup.setting if music == 0 else None)
    return plan.setting, attacks > PLANNED


def _head_track(
    take: Take, title: str, start: int, end: int, marks: Iterable[tuple[int, str]], facts: str
) -> list[Row]:
    numerator, denominator = take.setup.metre
    rows: list[Row] = [(0, text_event(TRACK_NAME, title))]
    if facts:
        rows.append((0, text_event(TEXT, facts)))
    rows.append((0, meta_event(TIME_SIGNATURE, bytes((numerator, denominator.bit_length() - 1, 24, 8)))))
    rows.append((0, meta_event(SET_TEMPO, take.grid.per_quarter(start).to_bytes(3, "big"))))
    for tick, per_quarter in take.grid.tempos:
        if start < tick <= end:
            rows.append((tick - start, meta_event(SET_TEMPO, per_quarter.to_bytes(3, "big"))))
    for tick, text in marks:
        rows.append((tick - start, text_event(MARKER, OWN_MARK + text)))
    rows.sort(key=lambda row: row[0])
    return rows


def _harp_track(kept: array[int], name: str, start: int, music: int, end: int) -> tuple[list[Row], int]:
    """Those messages from tick `music` to `end`, counted from `start`, and how many notes are in them.

    Keys that are down at the end come up there; a release whose note is not in it is left out.
    """
    messages = [*map(unpacked, kept[bisect_left(kept, music << TICK) : bisect_left(kept, end + 1 << TICK)])]
    down: set[tuple[int, int]] = set()  # channel and pitch
    rows: list[Row] = [(0, text_event(TRACK_NAME, name))]
    for channel in sorted({message.status & 15 for message in messages} or {SLOTS[0]}):
        rows.append((0, bytes((PROGRAM | channel, HARP_PROGRAM))))
    notes = 0
    for tick, status, data1, data2 in messages:
        key = status & 15, data1
        if status < CONTROLLER:
            if status >= NOTE_ON:
                down.add(key)
                notes += 1
            elif key in down:
                down.discard(key)
            else:
                continue
        rows.append((tick - start, bytes((status, data1, data2))))
    rows += [(end - start, bytes((NOTE_OFF | channel, pitch, 64))) for channel, pitch in sorted(down)]
    return rows, notes


# -- To the disk ---------------------------------------------------------------------------------------------


def write_new(folder: Path, stem: str, data: bytes) -> Path:
    """Write a file `stem`.mid, or with -2, -3 behind it where there is one already; its path.

    Raises LivepedalError, and leaves nothing behind, where that is not possible.
    """
    path = folder / f"{stem}.mid"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path in names(folder, stem, ".mid"):
            with suppress(FileExistsError):
                if not os.path.lexists(path):
                    put(path, data)
                    return path
    except OSError as error:
        reason = clean(error.strerror or str(error))
        raise LivepedalError(
            f"{path} cannot be written ({reason}); free some space, or name another folder with --out."
        ) from None
    raise AssertionError("numbers do not end")
