"""`spell`: the spelling sheet, every note as the harp plays it."""

from __future__ import annotations

import argparse
import sys
from contextlib import closing
from typing import TYPE_CHECKING, Any

from livepedal.cli.options import Asked, common_options, plain_option, read_named, spelling_options
from livepedal.cli.output import Output, ProgressBar

if TYPE_CHECKING:
    from livepedal.advice.sheet import Sheet


def add_commands(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the parser of `spell`."""
    spell = commands.add_parser(
        "spell",
        help="write out the spelling: every note as the harp plays it",
        description=(
            "Write out, bar by bar, every note as the harp plays it (string and position), the settings and the"
            " pedal changes, where that departs from ordinary spelling, and whether another written key would help."
        ),
        epilog="Exit code: 0; 2, something could not be judged.",
        allow_abbrev=False,
    )
    spell.add_argument("file", metavar="FILE", help="MIDI file, or - for standard input")
    common_options(spell)
    spelling_options(spell)
    spell.add_argument("--json", action="store_true", help="write it as JSON (format livepedal-spelling)")
    plain_option(spell)
    spell.set_defaults(run=_spell)


def _spell(options: argparse.Namespace) -> int:
    from livepedal.advice.sheet import make_sheet

    asked = Asked(options)
    song, label = read_named(options.file, asked.first_bar)
    parts = asked.parts(song)
    total = sum(len(part.events) for part in parts)
    done = 0

    def step(count: int) -> None:
        nonlocal done
        done += count
        progress(done, total)

    sheets: list[Sheet] = []
    with closing(ProgressBar(label)) as progress:
        for part in parts:
            sheets.append(
                make_sheet(
                    part,
                    song.keys,
                    asked.figures,
                    asked.instrument,
                    asked.player.name,
                    setting=asked.start,
                    layers=asked.only,
                    spelling=asked.spelling,
                    file=label,
                    step=step,
                )
            )
    if options.json:
        document = {
            "format": "livepedal-spelling",
            "version": 1,
            "harp": asked.instrument.name,
            "player": asked.player.name,
            "path": song.path,
            "parts": [sheet.to_dict() for sheet in sheets],
        }
        from livepedal.views import json_view

        sys.stdout.write(json_view.dumps(document) + "\n")
        return 0
    from livepedal.views import sheet as view

    out = Output(sys.stdout, options.plain)
    look = out.look(asked.middle_c)
    for sheet in sheets:
        out.write(view.sheet_lines(sheet, label, look))
    out.write(view.closing(asked.player, look))
    return 0
