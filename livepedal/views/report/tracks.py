"""The tracks of a file, a row each: which are judged, and why."""

from __future__ import annotations

from collections.abc import Iterator

from livepedal.advice.tracklist import Entry, TrackList
from livepedal.harp import pitch_name
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line
from livepedal.views.report.look import Look, note, wrapped
from livepedal.views.widths import cells, padded

MOST_NAME = 18  # columns of a name on 80


def track_lines(tracks: TrackList, look: Look) -> Iterator[Line]:
    """The table, oddities, and what to do if the guess is wrong."""
    write = look.signs.write
    judged = [one for one in tracks.entries if one.part is not None]
    parts = len({one.part for one in judged})
    yield from wrapped(_says(tracks, judged, parts), look, Tone.STRONG, indent="")
    yield ()
    most = MOST_NAME + (40 if look.width is None else max(0, look.width - 80))
    names = [write(clean(one.track.name, most)) for one in tracks.entries]
    wide = max(4, *map(cells, names)) if names else 4
    by_channel = any(one.track.channel is not None for one in tracks.entries)
    kind = "channel" if by_channel else "track"
    yield line((f"{kind:>7}  {'name':<{wide}}  program  {'notes':>6}  {'compass':<9}  judged", Tone.FAINT))
    for entry, name in zip(tracks.entries, names, strict=True):
        program = "-" if entry.track.program is None else str(entry.track.program)
        head = (
            f"{entry.track.number:>7}  {padded(name, wide)}  {program:>7}  {entry.track.notes:>6}"
            f"  {write(_compass(entry, look.middle_c)):<9}  "
        )
        part = "no" if entry.part is None else "yes" if parts == 1 else f"part {entry.part}"
        tone = Tone.FAINT if entry.part is None else Tone.PLAIN
        yield from wrapped(f"{part}: {clean(entry.why, 200)}", look, tone, indent=head, hang=len(head))
    hints = [
        (f"{entry.track.label}: " if len(judged) > 1 else "") + hint
        for entry in tracks.entries
        for hint in entry.hints
    ]
    several = [one for one in tracks.entries if len(one.channels) > 1]
    hints += [
        f"{entry.track.label} carries channels {', '.join(map(str, entry.channels))};"
        f" {'all of them are judged; ' if entry.part is not None and entry.notes == entry.track.notes else ''}"
        "--channel N judges only one"
        for entry in several
    ]
    hints += tracks.remarks
    if hints:
        yield ()
    for hint in hints:
        yield from note(hint, look)
    yield ()
    yield from wrapped(
        "Programs are counted from 0: the harp is 46. Not what you meant? --track NUMBER_OR_NAME, --channel N,"
        " --program N, --merge, --transpose N, --ignore-below NOTE; livepedal check takes the same.",
        look,
        Tone.FAINT,
        indent="",
    )


def _says(tracks: TrackList, judged: list[Entry], parts: int) -> str:
    name = clean(tracks.path, 500)
    if tracks.undecided is not None:
        return clean(str(tracks.undecided), 2000)
    notes = words.counted(sum(one.notes for one in judged), "note")
    if parts == 1:
        what = f"{words.counted(len(judged), 'track')}, {notes}, as one harp" if len(judged) > 1 else notes
        return f"{name}: would judge {what}."
    return f"{name}: would judge {parts} parts, each as a harp of its own, {notes}."


def _compass(entry: Entry, middle_c: str) -> str:
    if entry.lowest is None or entry.highest is None:
        return ""
    return f"{pitch_name(entry.lowest, middle_c=middle_c)}–{pitch_name(entry.highest, middle_c=middle_c)}"
