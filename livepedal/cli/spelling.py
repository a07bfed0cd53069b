"""The commands and options around spelling and around two harps: `--spell`, `spell`, `share` and `combine`;
see main.py for the rest.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from livepedal.cli.options import spelling_options
from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.advice.sheet import Sheet


def add_commands(
    commands: argparse._SubParsersAction[Any], common: Callable[[argparse.ArgumentParser], None]
) -> None:
    """Add the parsers of the commands. common: adds the options that judging commands share."""
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
    common(spell)
    spelling_options(spell)
    spell.add_argument("--json", action="store_true", help="write it as JSON (format livepedal-spelling)")
    spell.add_argument("--plain", action="store_true", help="no colour, no box characters")
    spell.set_defaults(run=_spell)

    share = commands.add_parser(
        "share",
        help="deal a part out to two harps",
        description=(
            "Deal a part out to two players so that each can play what falls to them, with few hand-overs, and write"
            " it as a new MIDI file with two tracks."
        ),
        epilog="Exit code: 0, two players can play it all; 1, not even two can; 2, it could not be judged.",
        allow_abbrev=False,
    )
    share.add_argument("file", metavar="FILE", help="MIDI file, or - for standard input")
    _target(share)
    share.add_argument(
        "--double", action="store_true", help="for weight, whoever rests doubles the other in octaves"
    )
    common(share)
    share.add_argument("--plain", action="store_true", help="no colour, no box characters")
    share.set_defaults(run=_share)

    combine = commands.add_parser(
        "combine",
        help="make one part of two harps'",
        description=(
            "Make one part for one player of two harp parts. The first leads and comes through whole; of the second"
            " as little as possible is dropped, and each note dropped is listed."
        ),
        epilog="Exit code: 0, one player can play both; 1, in places not; 2, something could not be judged.",
        allow_abbrev=False,
    )
    combine.add_argument("file", metavar="FILE", help="MIDI file, or - for standard input")
    _target(combine)
    common(combine)
    combine.add_argument("--plain", action="store_true", help="no colour, no box characters")
    combine.set_defaults(run=_combine)


def _target(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("-o", "--output", required=True, metavar="OUT.mid", help="the new MIDI file")
    parser.add_argument(
        "--force", action="store_true", help="replace the new file where there is one already"
    )


# -- spell ---------------------------------------------------------------------------------------------------


def _spell(options: argparse.Namespace) -> int:
    from livepedal.advice.sheet import make_sheet
    from livepedal.cli.options import Asked, read_named
    from livepedal.cli.output import Output, ProgressBar

    asked = Asked(options)
    song, label = read_named(options.file, asked.first_bar)
    parts = asked.parts(song)
    total = sum(len(part.events) for part in parts)
    progress = ProgressBar(label)
    done = 0

    def step(count: int) -> None:
        nonlocal done
        done += count
        progress(done, total)

    sheets: list[Sheet] = []
    try:
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
    finally:
        progress.close()
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


# -- share and combine ---------------------------------------------------------------------------------------


def _share(options: argparse.Namespace) -> int:
    from livepedal.advice.share import share_part
    from livepedal.cli.options import Asked, read_named
    from livepedal.cli.output import Output, ProgressBar
    from livepedal.model.findings import Outcome
    from livepedal.sources.writing import check_target, write_new
    from livepedal.views import sharing as view

    asked = Asked(options)
    song, label = read_named(options.file, asked.first_bar)
    target, inputs = Path(options.output), [Path(options.file)] if options.file != "-" else []
    check_target(target, inputs, options.force)
    parts = asked.parts(song)
    if len(parts) > 1:
        raise LivepedalError(
            f"{label}: has {len(parts)} harp parts; choose the one to share with --track, or share all of"
            " them with --merge."
        )
    progress = ProgressBar(label)
    try:
        shared = share_part(
            parts[0],
            song.keys,
            f"{parts[0].name} for two harps",
            asked.figures,
            asked.instrument,
            asked.player.name,
            setting=asked.start,
            layers=asked.only,
            double=options.double,
            step=progress,
        )
    finally:
        progress.close()
    wanted = shared.alone is not Outcome.PLAYS or shared.doubled > 0
    if wanted:
        write_new(target, shared.data, inputs, options.force)
    out = Output(sys.stdout, options.plain)
    look = out.look(asked.middle_c)
    out.write(view.shared_lines(shared, asked.player, label, str(target) if wanted else None, look))
    return int(bool(shared.impossible))


def _combine(options: argparse.Namespace) -> int:
    from livepedal.advice.combine import combine_parts
    from livepedal.cli.options import Asked, read_named
    from livepedal.cli.output import Output, ProgressBar
    from livepedal.model.findings import Outcome
    from livepedal.music.parts import parts_wanted
    from livepedal.sources.writing import check_target, write_new
    from livepedal.views import sharing as view

    asked = Asked(options)
    song, label = read_named(options.file, asked.first_bar)
    target, inputs = Path(options.output), [Path(options.file)] if options.file != "-" else []
    check_target(target, inputs, options.force)
    if asked.tracks and len(asked.tracks) != 2:
        raise LivepedalError("Two parts are combined: give --track twice, the leading part first.")
    if asked.tracks:
        parts = [
            parts_wanted(song, replace(asked.wanted, tracks=(track,), merge=True))[0]
            for track in asked.tracks
        ]
        if parts[0].tracks == parts[1].tracks:
            raise LivepedalError(
                f"{label}: both --track name the same track, {parts[0].name}; give two, the leading part"
                " first."
            )
    else:
        parts = list(asked.parts(song))
    if len(parts) == 1:
        raise LivepedalError(
            f"{label}: has one harp part only ({parts[0].name}), so there is nothing to combine it with; name a"
            " second track with --track A --track B if another one is to be played along."
        )
    if len(parts) != 2:
        raise LivepedalError(
            f"{label}: has {len(parts)} harp parts; say which two to combine with --track A --track B, the"
            " leading one first."
        )
    progress = ProgressBar(label)
    try:
        combined = combine_parts(
            parts[0],
            parts[1],
            song.keys,
            f"{parts[0].name} and {parts[1].name} for one harp",
            asked.figures,
            asked.instrument,
            asked.player.name,
            setting=asked.start,
            layers=asked.only,
            step=progress,
        )
    finally:
        progress.close()
    write_new(target, combined.data, inputs, options.force)
    out = Output(sys.stdout, options.plain)
    look = out.look(asked.middle_c)
    out.write(view.combined_lines(combined, asked.player, label, str(target), look))
    return int(combined.report.outcome is Outcome.CANNOT)
