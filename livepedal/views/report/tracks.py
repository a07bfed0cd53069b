"""The tracks of a file, a row each: which are judged, and why."""

from __future__ import annotations

from collections.abc import Iterator

from livepedal.advice.tracklist import Entry, TrackList
from livepedal.harp import pitch_name
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line
from livepedal.views.report.look import Look
from livepedal.views.widths import cells, padded

MOST_NAME = 18  # columns of a name on 80


def track_lines(tracks: TrackList, look: Look) -> Iterator[Line]:
    """The table, oddities, and what to do if the guess is wrong."""
    entries = tracks.entries
    judged = [entry for entry in entries if entry.part is not None]
    parts = len({entry.part for entry in judged})
    yield from look.text(_summary(tracks, judged, parts), 0, Tone.STRONG)
    yield ()
    most = MOST_NAME + (40 if look.width is None else max(0, look.width - 80))
    names = [look.signs.write(clean(entry.track.name, most)) for entry in entries]
    wide = max(4, *map(cells, names)) if names else 4
    kind = "track" if all(entry.track.channel is None for entry in entries) else "channel"
    yield line((f"{kind:>7}  {'name':<{wide}}  program  {'notes':>6}  {'compass':<9}  judged", Tone.FAINT))
    for entry, name in zip(entries, names, strict=True):
        track = entry.track
        program = "-" if track.program is None else str(track.program)
        compass = look.signs.write(_compass(entry, look.middle_c))
        head = f"{track.number:>7}  {padded(name, wide)}  {program:>7}  {track.notes:>6}  {compass:<9}  "
        part = "no" if entry.part is None else "yes" if parts == 1 else f"part {entry.part}"
        tone = Tone.FAINT if entry.part is None else Tone.PLAIN
        yield from look.row(head, f"{part}: {clean(entry.why, 200)}", tone)
    hints = [
        (f"{entry.track.label}: " if len(judged) > 1 else "") + hint
        for entry in entries
        for hint in entry.hints
    ]
    for entry in entries:
        if len(entry.channels) > 1:
            every = entry.part is not None and entry.notes == entry.track.notes
            hints.append(
                f"{entry.track.label} carries channels {', '.join(map(str, entry.channels))};"
                f" {'all of them are judged; ' if every else ''}--channel N judges only one"
            )
    hints += tracks.remarks
    if hints:
        yield ()
    for hint in hints:
        yield from look.remark(hint)
    yield ()
    yield from look.faint(
        "Programs are counted from 0: the harp is 46. If this is not what you meant: --track NUMBER_OR_NAME,"
        " --channel N, --program N, --merge, --transpose N, --ignore-below NOTE, here and with livepedal check.",
        0,
    )


def _summary(tracks: TrackList, judged: list[Entry], parts: int) -> str:
    if tracks.undecided is not None:
        return clean(str(tracks.undecided), 2000)
    number = sum(entry.notes for entry in judged)
    text = f"{words.are(number, 'note')} judged"
    notes = words.counted(number, "note")
    if parts != 1:
        text = f"{parts} parts with {notes} are judged, each as a harp of its own"
    elif len(judged) > 1:
        text = f"{words.counted(len(judged), 'track')} with {notes} are judged as one harp"
    return f"{clean(tracks.path, 500)}: {text}."


def _compass(entry: Entry, middle_c: str) -> str:
    if entry.lowest is None or entry.highest is None:
        return ""
    return f"{pitch_name(entry.lowest, middle_c=middle_c)}–{pitch_name(entry.highest, middle_c=middle_c)}"
