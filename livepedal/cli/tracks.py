"""`tracks`: which tracks of a file are judged, and why."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from livepedal.cli.asked import Asked, read_named
from livepedal.cli.options import common_options, plain_option
from livepedal.cli.output import Output


def add_commands(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the parser of `tracks`."""
    tracks = commands.add_parser(
        "tracks",
        help="show which tracks of a file are judged, and why",
        description="Show the tracks of a MIDI file: which are judged as a harp's, which are not, and why.",
        epilog="Exit code: 0; 2, it is not clear which track is the harp's, or the file cannot be read.",
        allow_abbrev=False,
    )
    tracks.add_argument("file", metavar="FILE", help="MIDI file, or - for standard input")
    common_options(tracks)
    tracks.add_argument("--json", action="store_true", help="write it as JSON (format livepedal-tracks)")
    plain_option(tracks)
    tracks.set_defaults(run=_tracks)


def _tracks(options: argparse.Namespace) -> int:
    from livepedal.advice.tracklist import list_tracks
    from livepedal.views.report.tracks import track_lines

    asked = Asked(options)
    song, _ = read_named(options.file, asked.first_bar)
    found = list_tracks(song, asked.wanted, asked.figures, asked.instrument)
    if options.json:
        from livepedal.views import json_view

        sys.stdout.write(json_view.dumps(found.to_dict()) + "\n")
    else:
        out = Output(sys.stdout, options.plain)
        out.write(track_lines(found, out.look(asked.middle_c)))
    return 0 if found.undecided is None else 2
