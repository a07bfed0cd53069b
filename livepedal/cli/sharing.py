"""`share` and `combine`: one part for two harps, two parts for one harp, each as a new MIDI file."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from livepedal.cli.asked import Asked, read_named
from livepedal.cli.new_file import NewFile
from livepedal.cli.options import common_options, plain_option, remedies_command
from livepedal.cli.output import Output, ProgressBar
from livepedal.errors import LivepedalError
from livepedal.sources.text import clean

if TYPE_CHECKING:
    from livepedal.music.song import Part, Song
    from livepedal.views.lines import Line
    from livepedal.views.report.look import Look


def add_commands(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the parsers of both."""
    share = commands.add_parser(
        "share",
        help="share one part between two harps",
        description=(
            "Share a part between two players so that each can play their notes, with few hand-overs, and write"
            " it as a new MIDI file with two tracks."
        ),
        epilog="Exit code: 0, two players can play it all; 1, not even two can; 2, it could not be judged.",
        allow_abbrev=False,
    )
    share.add_argument("file", metavar="FILE", help="MIDI file, or - for standard input")
    _target(share)
    share.add_argument(
        "--double",
        action="store_true",
        help="the resting player doubles the other in octaves, for more weight",
    )
    common_options(share)
    share.add_argument(
        "--json", action="store_true", help="write the result as JSON (format livepedal-share)"
    )
    plain_option(share)
    share.set_defaults(run=_share)

    combine = commands.add_parser(
        "combine",
        help="combine two harp parts into one",
        description=(
            "Combine two harp parts into one for one player. The first leads and keeps every note; of the second"
            " as little as possible is dropped, and each note dropped is listed."
        ),
        epilog="Exit code: 0, one player can play both; 1, not everywhere; 2, something could not be judged.",
        allow_abbrev=False,
    )
    combine.add_argument("file", metavar="FILE", help="MIDI file, or - for standard input")
    _target(combine)
    common_options(combine)
    plain_option(combine)
    combine.set_defaults(run=_combine)


def _target(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("-o", "--output", required=True, metavar="OUT.mid", help="the new MIDI file")
    parser.add_argument("--force", action="store_true", help="replace the new file if it exists")


def _share(options: argparse.Namespace) -> int:
    from livepedal.advice.two_harps.share import share_part
    from livepedal.model.findings import Outcome
    from livepedal.views.report import sharing as view

    asked = Asked(options)
    song, label = read_named(options.file, asked.first_bar)
    new = NewFile(options.output, options.file, options.force)
    parts = asked.parts(song)
    if len(parts) > 1:
        raise LivepedalError(
            f"{label}: has {len(parts)} harp parts; choose one with --track, or share all of"
            " them with --merge."
        )
    with closing(ProgressBar(label)) as progress:
        shared = share_part(
            parts[0].as_midi(),
            song.keys,
            f"{parts[0].name} for two harps",
            asked.basis,
            double=options.double,
            step=progress,
        )
    wanted = shared.alone.outcome is not Outcome.PLAYS or shared.doubled > 0
    if wanted:
        new.write(shared.data)
    written = str(new.path) if wanted else None
    if options.json:
        from livepedal.views import json_view

        about = {"format": "livepedal-share", "version": 1, "harp": asked.instrument.name}
        about |= {"player": asked.player.name, "path": label, "output": written}
        sys.stdout.write(json_view.dumps({**about, **shared.to_dict()}) + "\n")
    else:
        out = Output(sys.stdout, options.plain)
        look = out.look(asked.middle_c)
        mending = remedies_command(clean(str(new.path), 500), vars(options))
        out.write(view.shared_lines(shared, asked.player, label, written, mending, look))
        out.write(_left_aside(song, look))
    return shared.exit_code


def _combine(options: argparse.Namespace) -> int:
    from livepedal.advice.two_harps.combine import combine_parts
    from livepedal.model.findings import Outcome
    from livepedal.music.parts import NoHarpTrack
    from livepedal.views.report import sharing as view

    asked = Asked(options)
    song, label = read_named(options.file, asked.first_bar)
    new = NewFile(options.output, options.file, options.force)
    try:
        first, second = _two_parts(asked, song, label)
    except NoHarpTrack as error:
        error.how = "Give --track twice: the leading part first, then the other."
        error.likeliest = ()
        raise
    with closing(ProgressBar(label)) as progress:
        combined = combine_parts(
            first.as_midi(),
            second.as_midi(),
            song.keys,
            f"{first.name} and {second.name} for one harp",
            asked.basis,
            step=progress,
        )
    new.write(combined.data)
    out = Output(sys.stdout, options.plain)
    look = out.look(asked.middle_c)
    mending = remedies_command(clean(str(new.path), 500), vars(options))
    out.write(view.combined_lines(combined, asked.player, label, str(new.path), mending, look))
    out.write(_left_aside(song, look))
    return int(combined.report.outcome is Outcome.CANNOT)


def _left_aside(song: Song, look: Look) -> Iterator[Line]:
    """What of a score does not count here."""
    from livepedal.views.report.look import wrapped

    if song.is_score:
        yield from wrapped(
            "The score's own spelling and signs are not used, because the new file is MIDI and has none. Each note is"
            " on its best string.",
            look,
        )


def _two_parts(asked: Asked, song: Song, label: str) -> tuple[Part, Part]:
    """The parts to combine, the leading one first. Raises LivepedalError where it is not clear which two."""
    from livepedal.music.parts import parts_wanted

    if asked.tracks and len(asked.tracks) != 2:
        raise LivepedalError("combine takes two parts: give --track twice, the leading part first.")
    if asked.tracks:
        parts = [
            parts_wanted(song, replace(asked.wanted, tracks=(track,), merge=True))[0]
            for track in asked.tracks
        ]
        if parts[0].tracks == parts[1].tracks:
            raise LivepedalError(
                f"{label}: both --track options name the same track, {parts[0].name}; give two, the leading part"
                " first."
            )
    else:
        parts = list(asked.parts(song))
    if len(parts) == 1 and asked.merge:
        raise LivepedalError(
            f"{label}: --merge makes one part of all harp tracks, but combine takes two; leave it out, or name"
            " two tracks with --track A --track B, the leading part first."
        )
    if len(parts) == 1:
        raise LivepedalError(
            f"{label}: has only one harp part ({parts[0].name}), so there is nothing to combine; name a"
            " second track with --track A --track B."
        )
    if len(parts) != 2:
        raise LivepedalError(
            f"{label}: has {len(parts)} harp parts; say which two to combine with --track A --track B, the"
            " leading one first."
        )
    return parts[0], parts[1]
