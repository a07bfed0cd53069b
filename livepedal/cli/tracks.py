"""`tracks`: which tracks of a file are judged, and why."""

from __future__ import annotations

import argparse
import sys

from livepedal.advice.tracklist import list_tracks
from livepedal.cli.output import Output
from livepedal.cli.request import Request, read_named
from livepedal.views.report.tracks import track_lines


def tracks(options: argparse.Namespace) -> int:
    """Show the tracks of a file."""
    request = Request(options)
    song, _ = read_named(options.file, options.first_bar)
    found = list_tracks(song, request.wanted, request.basis.figures, request.basis.instrument)
    if options.json:
        from livepedal.views import json_view

        sys.stdout.write(json_view.dumps(found.to_dict()) + "\n")
    else:
        out = Output(sys.stdout, options.plain)
        out.write(track_lines(found, out.look(request.middle_c)))
    return 0 if found.undecided is None else 2
