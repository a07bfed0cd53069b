"""A take, or a passage of it, as a standard MIDI file that is judged as the music was judged live.

The file (type 1, 960 ticks a quarter; "Standard MIDI Files 1.0", RP-001) holds a first track with tempos, metre, a
marker at each finding and the rest that is worth knowing as text, and the harp's track, with General MIDI's harp on
every channel in use. Keyboards stay apart by channel. Notes that came late and were not judged stand on a third track,
whose name says that it is muted, so that it is not judged here either.

A passage alone is judged as it was only if nothing before it still mattered, such as a foot that was busy when it
began. So its file is judged before it is written. Where the verdicts differ from the live ones, passages before it
are taken in too, as many as it takes; to start at the beginning is always right.
"""

from __future__ import annotations

import os
from array import array
from bisect import bisect_left
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

import mido

from livepedal import __version__
from livepedal.advice.judging.part import attacks_of, monitor_of
from livepedal.errors import LivepedalError
from livepedal.harp import Setting
from livepedal.live.faults import Faults, Stage
from livepedal.live.grid import TICKS, bar_ticks
from livepedal.live.setup import stem_of
from livepedal.live.take import SLOTS, Take
from livepedal.model.findings import Finding, Passage
from livepedal.model.plan.planner import Planner
from livepedal.music.attacks import Gathering
from livepedal.music.events import Event, NoteOn
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from livepedal.music.tracks import HARP_PROGRAM
from livepedal.sources.raw import CONTROLLER, NOTE_OFF, NOTE_ON, OWN_MARK, TICK, unpacked
from livepedal.sources.smf_writing import Row, midi_file, text_event
from livepedal.sources.text import clean
from livepedal.sources.writing import names, put
from livepedal.views import words

# The entry setting is worked out for this many attacks at the most; of more music the file says so.
PLANNED = 1_000


@dataclass(frozen=True, slots=True)
class Saved:
    """The file of a take or a passage.

    Attributes:
        take: the number of the take.
        data: the file's bytes.
        findings: how many markers it has.
        entry: the setting to start with; None where it is not known.
        notes: how many it has, without those that came late.
        player: the one who was chosen last.
        start: how the pedals were said to stand at first, "" where nobody said so.
        judged_until: seconds of the take that were judged, None for all.
        late: notes that came late.
        passage: the number of the passage that it holds, from 0; None for the whole take.
        paused: whether it holds what was played in pauses.
        path: where it is, once it is written.
    """

    take: int
    data: bytes = field(repr=False)
    findings: int
    entry: Setting | None
    first_bar: int
    notes: int
    player: str
    start: str = ""
    judged_until: float | None = None
    late: int = 0
    passage: int | None = None
    paused: bool = False
    path: Path = Path()


def save(
    take: Take, folders: Sequence[Path], faults: Faults, number: int | None = None, *, paused: bool = False
) -> Saved:
    """Write the file of a take, or of one of its passages.

    Args:
        take: it, or a copy of it as far as it is now.
        folders: where the file goes; the first that takes it.
        faults: is told where the file of a take has to do without findings.
        number: of the passage, from 0; None for the whole take.
        paused: whether it is what was played in pauses.

    Raises:
        LivepedalError: it cannot be written.
    """
    stem = stem_of(take.setup.started, take.number, number)
    title = f"Played {take.setup.started.replace('T', ' ')[:19]}"
    if take.number > 1:
        title += f", take {take.number}"
    if paused:
        stem, title = f"{stem}-paused", f"{title}, while paused"
    if number is not None:
        saved = passage(take, number, title)
    else:
        try:
            saved = whole(take, title)
        except LivepedalError:
            raise
        except Exception as error:
            faults.caught(Stage.SAVING, error)
            take.found, take.judged_until = {}, 0
            saved = whole(take, title)
    return replace(saved, passage=number, paused=paused, path=_written(folders, stem, saved.data))


def whole(take: Take, title: str) -> Saved:
    """The file of a take that is over, with this title."""
    return _file(take, title, 0, 0, take.end, tuple(take.found.values()))


def passage(take: Take, number: int, title: str) -> Saved:
    """The file of one passage (from 0), with as much before it as it needs to be judged alike."""
    last = take.closed[number]
    back = 0
    while True:
        first = take.closed[max(number - back, 0)]
        music = take.time_map.tick(first.start) if back <= number else 0
        start = music - music % bar_ticks(take.setup.metre)
        end = take.time_map.tick(last.end) + 1
        made = _file(take, title, start, music, end, _between(take, first.start, last.end))
        if music == 0 or _judged_alike(take, made.data, start, last):
            return made
        back = 2 * back + 1


def _between(take: Take, start: int, end: int) -> list[Finding]:
    found = tuple(take.found.values())  # at once, since the take goes on in another thread
    return [finding for finding in found if start <= finding.us <= end]


def _judged_alike(take: Take, data: bytes, start: int, last: Passage) -> bool:
    """Whether the findings of a file that starts at a tick are, in its last passage, those that there were live."""
    part = choose_parts(read_song(data, name="the file"))[0]
    _, found = monitor_of(part, replace(take.setup, player=take.players[-1]))
    offset = take.time_map.us(start)
    there = [finding for finding in found if finding.us + offset >= last.start - 1]
    live = _between(take, last.start, last.end)
    return len(there) == len(live) and all(
        abs(saved.us + offset - played.us) <= 1
        and (saved.kind, saved.verdict, saved.audible, saved.note, saved.revised)
        == (played.kind, played.verdict, played.audible, played.note, played.revised)
        for saved, played in zip(there, live, strict=True)
    )


def _file(
    take: Take, title: str, start: int, music: int, end: int, findings: Sequence[Finding]
) -> Saved:
    """From tick `start`, where a bar starts, to `end`, with the notes from tick `music` on."""
    setup = take.setup
    first_bar = take.time_map.first_bar + start // bar_ticks(setup.metre)
    harp, notes = _harp_track(take.kept, "Harp", start, music, end)
    tracks = [harp]
    late = 0
    if take.came_late:
        track, late = _harp_track(take.came_late, "Harp (muted: came late, not judged)", start, music, end)
        tracks += [track] if late else []
    until = None if take.judged_until is None else take.judged_until / 1_000_000
    entry, cut = setup.setting if music == 0 else None, False
    if entry is None and until is None:  # what was not judged is not planned either: `check` does both
        entry, cut = entry_setting(take, music, end)
    reach = f" (for the first {PLANNED} attacks)" if cut else ""
    facts = (
        f"livepedal {__version__}: {'' if entry is None else f'entry setting {entry}{reach}; '}"
        f"player {', then '.join(take.players)}; harp {setup.instrument.name}; first bar {first_bar}"
        f"{'' if until is None else f'; judged up to {until:.2f} s'}"
    )
    head = _head_track(take, title, start, end, findings, facts)
    return Saved(
        take.number,
        midi_file(TICKS, [(rows, end - start) for rows in (head, *tracks)]),
        len(findings),
        entry,
        first_bar,
        notes,
        take.players[-1],
        "" if setup.setting is None else str(setup.setting),
        until,
        late,
    )


def entry_setting(take: Take, music: int, end: int) -> tuple[Setting, bool]:
    """How the pedals should stand at tick `music`, as `check` plans it; letters that are not used are not set.

    Returns:
        The setting, and whether it was planned from the first `PLANNED` attacks alone, since there are more.
    """
    setup, figures = take.setup, take.setup.figures
    events: list[Event] = []
    attacks = 0
    gathering = Gathering(figures.window.attack, figures.glissando)
    for event in take.events(*(bisect_left(take.kept, tick << TICK) for tick in (music, end + 1))):
        attacks += isinstance(event, NoteOn) and gathering.opens(event.us, event.pitch)
        if attacks > PLANNED:
            break
        events.append(event)
    relaxed = figures.player(take.players_known[0])
    planner = Planner(figures.player(take.players[-1]), relaxed, setup.instrument, figures.ringing)
    plan = planner.plan(attacks_of(events, figures), setup.setting if music == 0 else None)
    return plan.setting, attacks > PLANNED


def _head_track(
    take: Take, title: str, start: int, end: int, findings: Sequence[Finding], facts: str
) -> list[Row]:
    time_map, (numerator, denominator) = take.time_map, take.setup.metre
    before = [tempo for tempo in time_map.tempos if tempo.tick <= start]
    after = [tempo for tempo in time_map.tempos if start < tempo.tick <= end]
    rows: list[Row] = [
        (0, text_event("track_name", title)),
        (0, text_event("text", facts)),
        (0, mido.MetaMessage("time_signature", numerator=numerator, denominator=denominator)),
    ]
    for tick, per_quarter in (before[-1], *after):
        rows.append((max(tick - start, 0), mido.MetaMessage("set_tempo", tempo=per_quarter)))
    for finding in findings:
        text = OWN_MARK + words.with_verdict(finding, take.setup.middle_c)
        rows.append((time_map.tick(finding.us) - start, text_event("marker", text)))
    return sorted(rows, key=lambda row: row[0])


def _harp_track(kept: array[int], name: str, start: int, music: int, end: int) -> tuple[list[Row], int]:
    """The messages from tick `music` to `end`, counted from `start`, and how many notes are in them.

    Keys that are down at the end come up there; a release whose note is not in it is left out.
    """
    messages = [*map(unpacked, kept[bisect_left(kept, music << TICK) : bisect_left(kept, end + 1 << TICK)])]
    down: set[tuple[int, int]] = set()  # channel and pitch
    rows: list[Row] = [(0, text_event("track_name", name))]
    for channel in sorted({message.status & 15 for message in messages} or {SLOTS[0]}):
        rows.append((0, mido.Message("program_change", channel=channel, program=HARP_PROGRAM)))
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
        rows.append((tick - start, mido.Message.from_bytes((status, data1, data2))))
    for channel, pitch in sorted(down):
        rows.append((end - start, mido.Message.from_bytes((NOTE_OFF | channel, pitch, 64))))
    return rows, notes


def _written(folders: Sequence[Path], stem: str, data: bytes) -> Path:
    """Write a file into the first folder that takes it. Raises what is wrong with the first of them."""
    wrong: LivepedalError | None = None
    for folder in folders:
        try:
            return write_new(folder, stem, data)
        except LivepedalError as error:
            wrong = wrong or error
    assert wrong is not None
    raise wrong


def write_new(folder: Path, stem: str, data: bytes) -> Path:
    """Write a file `stem`.mid, or with -2, -3 behind it where there is one already; its path.

    Raises:
        LivepedalError: it cannot be written; nothing is left behind.
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
