"""`share` and `combine`: one part for two harps, two parts for one harp, each as a new MIDI file."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from typing import Any

from livepedal.advice.two_harps.combine import combine_parts
from livepedal.advice.two_harps.share import share_part
from livepedal.cli.options import remedies_command
from livepedal.cli.output import Output, ProgressBar
from livepedal.cli.request import Request, read_named, tell_broken_off
from livepedal.errors import LivepedalError
from livepedal.model.findings import Outcome
from livepedal.music.parts import NoHarpTrack, choose_parts
from livepedal.music.song import Part, Song
from livepedal.sources.text import clean
from livepedal.sources.writing import NewFile
from livepedal.views.lines import Line
from livepedal.views.report import sharing as view
from livepedal.views.report.look import Look


def share(options: argparse.Namespace) -> int:
    """Share one part between two harps."""
    request = Request(options)
    song, label = read_named(options.file, options.first_bar)
    new = NewFile(options.output, options.file, options.force)
    parts = choose_parts(song, request.wanted)
    if len(parts) > 1:
        raise LivepedalError(
            f"{label} has {len(parts)} harp parts; choose one with --track, or share all of"
            " them with --merge."
        )
    with closing(ProgressBar(label)) as progress:
        shared = share_part(
            parts[0].as_midi(),
            f"{parts[0].name} for two harps",
            request.basis,
            double=options.double,
            step=progress,
        )
    needed = shared.alone.outcome is not Outcome.PLAYS or shared.doubled > 0
    if needed:
        new.write(shared.data)
    written = str(new.path) if needed else None
    if options.json:
        _write_json("share", request, label, written, shared.to_dict())
    else:
        out = Output(sys.stdout, options.plain)
        look = out.look(request.middle_c)
        mending = remedies_command(clean(str(new.path), 500), vars(options))
        out.write(view.shared_lines(shared, request.basis.chosen, label, written, mending, look))
        out.write(_left_aside(song, look, bars=needed))
    return tell_broken_off(song, label) or shared.exit_code


def combine(options: argparse.Namespace) -> int:
    """Combine two parts into one."""
    request = Request(options)
    song, label = read_named(options.file, options.first_bar)
    new = NewFile(options.output, options.file, options.force)
    try:
        first, second = _two_parts(request, song, label)
    except NoHarpTrack as error:
        error.how = "Give --track twice: the leading part first, then the other."
        error.likeliest = ()
        raise
    if first.name == second.name:
        first, second = (
            replace(part, name=f"{part.name} (track {part.tracks[0].number})") for part in (first, second)
        )
    with closing(ProgressBar(label)) as progress:
        combined = combine_parts(
            first.as_midi(),
            second.as_midi(),
            f"{first.name} and {second.name} for one harp",
            request.basis,
            step=progress,
        )
    new.write(combined.data)
    if options.json:
        _write_json("combine", request, label, str(new.path), combined.to_dict())
    else:
        out = Output(sys.stdout, options.plain)
        look = out.look(request.middle_c)
        mending = remedies_command(clean(str(new.path), 500), vars(options))
        out.write(view.combined_lines(combined, request.basis.chosen, label, str(new.path), mending, look))
        out.write(_left_aside(song, look))
    return tell_broken_off(song, label) or int(combined.report.outcome is Outcome.CANNOT)


def _write_json(
    command: str, request: Request, label: str, written: str | None, result: dict[str, Any]
) -> None:
    from livepedal.views import json_view

    about = {"format": f"livepedal-{command}", "version": 1, "harp": request.basis.instrument.name}
    about |= {"player": request.basis.chosen.name, "path": label, "output": written}
    sys.stdout.write(json_view.dumps({**about, **result}) + "\n")


def _left_aside(song: Song, look: Look, bars: bool = True) -> Iterator[Line]:
    """What of a score does not count here, and that nobody knows its bars if they are shown."""
    for remark in song.on_bars if bars else ():
        yield from look.remark(remark)
    if song.is_score:
        yield from look.text(
            "A MIDI file has none of the score's spelling and signs, so each note is on its best string here."
        )


def _two_parts(request: Request, song: Song, label: str) -> tuple[Part, Part]:
    """The parts to combine, the leading one first. Raises LivepedalError where it is not clear which two."""
    wanted = request.wanted
    if wanted.tracks:
        if len(wanted.tracks) != 2:
            raise LivepedalError("combine takes two parts: give --track twice, the leading part first.")
        parts = [
            choose_parts(song, replace(wanted, tracks=(track,), merge=True))[0] for track in wanted.tracks
        ]
        if parts[0].tracks == parts[1].tracks:
            raise LivepedalError(
                f"{label}: both --track options name the same track, {parts[0].name}; give two, the leading part"
                " first."
            )
    else:
        parts = list(choose_parts(song, wanted))
    if len(parts) == 1 and wanted.merge:
        raise LivepedalError(
            f"{label}: --merge makes one part of all harp tracks, but combine takes two; leave it out, or name"
            " two tracks with --track A --track B, the leading part first."
        )
    if len(parts) == 1:
        raise LivepedalError(
            f"{label} has only one harp part ({parts[0].name}), so there is nothing to combine; name a"
            " second track with --track A --track B."
        )
    if len(parts) != 2:
        raise LivepedalError(
            f"{label} has {len(parts)} harp parts; say which two to combine with --track A --track B, the"
            " leading one first."
        )
    return parts[0], parts[1]
