"""`spell`: the spelling sheet, every note as the harp plays it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from contextlib import closing
from typing import TYPE_CHECKING, Any

from livepedal.cli.asked import Asked, read_named
from livepedal.cli.new_file import NewFile
from livepedal.cli.options import SPELLING, add, common_options, plain_option
from livepedal.cli.output import Output, ProgressBar
from livepedal.errors import LivepedalError
from livepedal.sources.text import clean

if TYPE_CHECKING:
    from livepedal.advice.spelling.sheet import Sheet
    from livepedal.music.song import Part, Song


def add_commands(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the parser of `spell`."""
    spell = commands.add_parser(
        "spell",
        help="write out the spelling: every note as the harp plays it",
        description=(
            "Write out, bar by bar, every note as the harp plays it (string and position), the settings and the"
            " pedal changes, where that differs from ordinary spelling, and whether another written key would help."
        ),
        epilog="Exit code: 0; 2, something could not be judged.",
        allow_abbrev=False,
    )
    spell.add_argument("file", metavar="FILE", help="MIDI file, or - for standard input")
    common_options(spell)
    add(spell, SPELLING)
    spell.add_argument("--json", action="store_true", help="write it as JSON (format livepedal-spelling)")
    spell.add_argument(
        "--musicxml",
        metavar="OUT.musicxml",
        help="also write the part as a score, if its notes lie on a grid",
    )
    spell.add_argument("--force", action="store_true", help="replace the score if it exists")
    plain_option(spell)
    spell.set_defaults(run=_spell)


def _spell(options: argparse.Namespace) -> int:
    asked = Asked(options)
    new = None if options.musicxml is None else _new_score(options)
    song, label = read_named(options.file, asked.first_bar)
    parts = asked.parts(song)
    if new is not None and (len(parts) > 1 or parts[0].written is not None):
        raise LivepedalError(
            f"{label}: has {len(parts)} harp parts, and --musicxml writes one; choose it with --track."
            if len(parts) > 1
            else f"{label}: is a score already; livepedal check --marked OUT.musicxml puts the pedals into it."
        )
    sheets = _sheets(asked, song, parts, label)
    told: tuple[str, ...] = ()
    if new is not None:
        from livepedal.views.written_out import write_out

        written = write_out(sheets[0].report, song.keys, label)
        new.write(written.data)
        told = (*written.remarks, f"Written as a score: {clean(options.musicxml, 500)}")
    if options.json:
        _write_json(asked, song, sheets)
        return 0
    from livepedal.views.report import sheet as view
    from livepedal.views.report.look import wrapped

    out = Output(sys.stdout, options.plain)
    look = out.look(asked.middle_c)
    for sheet in sheets:
        out.write(view.sheet_lines(sheet, label, look))
    out.write(view.closing(asked.player, look))
    if song.is_score and not options.as_written:
        told = (*told, "This is the best spelling; --as-written shows the one that the score prints.")
    for remark in told:
        out.write(wrapped(remark, look, indent=""))
    return 0


def _sheets(asked: Asked, song: Song, parts: Sequence[Part], label: str) -> list[Sheet]:
    """The sheet of each part, with a bar for how far that is."""
    from livepedal.advice.spelling.sheet import make_sheet

    total = sum(len(part.events) for part in parts)
    done = 0

    def step(count: int) -> None:
        nonlocal done
        done += count
        progress(done, total)

    with closing(ProgressBar(label)) as progress:
        return [
            make_sheet(part, song.keys, asked.basis, spelling=asked.spelling, file=label, step=step)
            for part in parts
        ]


def _write_json(asked: Asked, song: Song, sheets: Sequence[Sheet]) -> None:
    from livepedal.views import json_view

    document = {
        "format": "livepedal-spelling",
        "version": 1,
        "harp": asked.instrument.name,
        "player": asked.player.name,
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
