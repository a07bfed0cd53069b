"""`spell`: the spelling sheet, every note as the harp plays it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from contextlib import closing

from livepedal.advice.spelling.sheet import Sheet, make_sheet
from livepedal.cli.output import Output, ProgressBar
from livepedal.cli.request import Request, read_named, tell_broken_off
from livepedal.errors import LivepedalError
from livepedal.music.parts import choose_parts
from livepedal.music.song import Part, Song
from livepedal.sources.text import clean
from livepedal.sources.writing import NewFile
from livepedal.views import words
from livepedal.views.report import sheet as view


def spell(options: argparse.Namespace) -> int:
    """Write the spelling sheet."""
    request = Request(options)
    new = None if options.musicxml is None else _new_score(options)
    song, label = read_named(options.file, options.first_bar)
    parts = choose_parts(song, request.wanted)
    if new is not None and (len(parts) > 1 or parts[0].written is not None):
        raise LivepedalError(
            f"{label} has {len(parts)} harp parts, and --musicxml writes one; choose it with --track."
            if len(parts) > 1
            else f"{label} is a score already; livepedal check --marked OUT.musicxml puts the pedals into it."
        )
    sheets = _sheets(request, parts, label)
    remarks: tuple[str, ...] = ()
    if new is not None:
        from livepedal.views.written_out import write_out

        written = write_out(sheets[0].report, parts[0].keys, label)
        new.write(written.data)
        remarks = (*written.remarks, f"Written as a score: {clean(options.musicxml, 500)}")
    if options.json:
        _write_json(request, song, sheets)
        return tell_broken_off(song, label)
    out = Output(sys.stdout, options.plain)
    look = out.look(request.middle_c)
    for sheet in sheets:
        out.write(view.sheet_lines(sheet, label, look))
    out.write(view.closing(request.basis.chosen, look))
    if song.is_score and not options.as_written:
        remarks = (*remarks, "This is the best spelling; --as-written shows the one that the score prints.")
    for remark in (*remarks, *song.on_bars):
        out.write(look.text(words.sentence(remark[0].upper() + remark[1:]), 0))
    return tell_broken_off(song, label)


def _sheets(request: Request, parts: Sequence[Part], label: str) -> list[Sheet]:
    """The sheet of each part, with a bar for how far that is."""
    total = sum(len(part.events) for part in parts)
    done = 0

    def step(count: int) -> None:
        nonlocal done
        done += count
        progress(done, total)

    with closing(ProgressBar(label)) as progress:
        return [
            make_sheet(part, request.basis, spelling=request.task.spelling, file=label, step=step)
            for part in parts
        ]


def _write_json(request: Request, song: Song, sheets: Sequence[Sheet]) -> None:
    from livepedal.views import json_view

    document = {
        "format": "livepedal-spelling",
        "version": 1,
        "harp": request.basis.instrument.name,
        "player": request.basis.chosen.name,
        "path": song.path,
        "parts": [sheet.to_dict() for sheet in sheets],
    }
    sys.stdout.write(json_view.dumps(document) + "\n")


def _new_score(options: argparse.Namespace) -> NewFile:
    """Where the score goes. Raises LivepedalError where it cannot be written."""
    from livepedal.views.written_out import HOW, can_write

    if not can_write():
        raise LivepedalError(HOW + ".")
    return NewFile(options.musicxml, options.file, options.force, "--musicxml")
