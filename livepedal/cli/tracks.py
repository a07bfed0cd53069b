"""`tracks`: which tracks of a file are judged, and why."""

from __future__ import annotations

import argparse
import sys

from livepedal.advice.tracklist import list_tracks
from livepedal.cli.asked import Asked, read_named
from livepedal.cli.output import Output
from livepedal.views.report.tracks import track_lines


def tracks(options: argparse.Namespace) -> int:
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
