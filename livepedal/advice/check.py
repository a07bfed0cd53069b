"""Judge a file: its harp parts through the rolling model, event by event as if played, and their plans.

`check_file` is a pure function of its inputs: no globals, and a result that can be pickled.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from livepedal.advice.checking import Check, Progress, Task
from livepedal.advice.report import FileReport, Report
from livepedal.advice.spelling.meant import (
    basis_meant,
    function_meant,
    number_meant,
    source_meant,
    spelling_meant,
    wanted_meant,
)
from livepedal.defaults import HARP, PLAYER
from livepedal.errors import LivepedalError
from livepedal.harp import Figures, Setting
from livepedal.music.events import NoteOn
from livepedal.music.parts import choose_parts
from livepedal.music.song import Part, read_song

if TYPE_CHECKING:  # what only some runs need is imported there, since starting takes time
    from livepedal.advice.spelling.given import AskedSpelling


def check_file(
    source: str | os.PathLike[str] | bytes,
    *,
    name: str | None = None,
    player: str = PLAYER,
    harp: str | int = HARP,
    figures: str | os.PathLike[str] | Figures | None = None,
    tracks: Iterable[str | int] | str | int = (),
    merge: bool = False,
    channels: Iterable[int] | int = (),
    programs: Iterable[int] | int = (),
    transpose: int = 0,
    ignore_below: int = 0,
    first_bar: int = 1,
    start: str | Setting | None = None,
    only: Iterable[str] | str = (),
    spelling: AskedSpelling | str | None = None,
    as_marked: bool = False,
    from_bar: int | None = None,
    remedies: bool = False,
    sheet: bool = False,
    pedalling: bool = True,
    progress: Progress | None = None,
    advising: Progress | None = None,
) -> Report:
    """Judge one standard MIDI file or MusicXML score.

    Args:
        source: the path of the file, or its bytes.
        name: the file's name in messages (default: its path).
        player: the name of the player in the figures.
        harp: the name of the harp in the figures.
        figures: a TOML file with figures that replace built-in ones, or Figures.
        tracks: numbers or names of the harp's tracks, if it is not clear which they are.
        merge: judge several tracks as one harp.
        channels: judge only these channels, 1 to 16.
        programs: judge only the notes under these programs, 0 to 127.
        transpose: semitones to add to every note.
        ignore_below: leave out the notes below this MIDI pitch.
        first_bar: the number of the first bar.
        start: the setting at the start (default: as suits the music best).
        only: the layers to judge (default: all).
        spelling: a spelling to use, or the text of one request, such as "3-7: F♭ major" (default: that of a score, or
            the best one for a MIDI file).
        as_marked: proofread the pedal changes in the texts of a MIDI file, as is always done for a score.
        from_bar: judge from this bar on, as if the music began there.
        remedies: look for remedies too.
        sheet: make the spelling sheet of each part too.
        pedalling: plan the pedal changes, which takes longer than the verdicts. If False, `plan` is empty.
        progress: called with the events done and the events in all.
        advising: called with the places done and the places in all, while remedies are sought.

    Returns:
        The report on this one file; it can be pickled.

    Raises:
        LivepedalError: the file cannot be judged, in one clear sentence. Nothing else is raised.
    """
    task = Task(
        basis_meant(figures, player, harp, start, only),
        wanted_meant(tracks, merge, channels, programs, transpose, ignore_below),
        spelling_meant(spelling),
        number_meant("first_bar", first_bar),
        None if from_bar is None else number_meant("from_bar", from_bar),
        as_marked,
        remedies,
        sheet,
        pedalling,
    )
    calls = function_meant("progress", progress), function_meant("advising", advising)
    report = report_on(*source_meant(source, name), task, *calls)
    return Report(task.basis.instrument, task.basis.chosen, (report,))


def report_on(
    source: Path | bytes,
    name: str | None,
    task: Task,
    progress: Progress | None = None,
    advising: Progress | None = None,
) -> FileReport:
    """The report on one file. Raises, and calls `progress` and `advising`, as `check_file` does."""
    song = read_song(source, name=name, first_bar=task.first_bar)
    path = song.path if name is None else name  # as it is, not as it may be shown: programs go by it
    parts = choose_parts(song, task.wanted)
    remarks = song.remarks_on(track for part in parts for track in part.tracks)
    if task.from_bar is not None:
        parts = tuple(part_from(part, task.from_bar, song.path) for part in parts)
    check = Check(song, parts, task)
    judged = check.judged(progress)
    if task.remedies:
        judged = check.advised(judged, advising)
    if task.sheet:
        judged = check.with_sheets(judged)
    if any(part.plan.changes or part.findings or part.asides for part in judged):
        remarks += song.on_bars
    return FileReport(path, judged, remarks=remarks)


def part_from(part: Part, bar: int, path: str) -> Part:
    """The part from a bar on, as if the harp came in there; what was struck before is not heard any more.

    Raises LivepedalError where nothing is left, and for a bar before the first.
    """
    first = part.time_map.first_bar
    bar = part.time_map.bar_printed(bar)
    if bar < first:
        raise LivepedalError(
            f"{path}: there is no bar {bar}: the first bar has the number {first} (--first-bar changes that);"
            f" give --from {first} or a later bar."
        )
    start = part.time_map.us_of_bar(bar)
    events = tuple(event for event in part.events if event.us >= start)
    notes = sum(isinstance(event, NoteOn) for event in events)
    if not notes:
        last = part.time_map.place(part.end_us).bar
        raise LivepedalError(
            f"{path}: there are no notes from bar {bar} on: the music ends in bar {last},"
            " so give --from an earlier bar."
        )
    return replace(part, events=events, notes=notes, begin_us=start)
