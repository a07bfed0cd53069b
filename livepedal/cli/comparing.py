"""`compare`: two versions of a part side by side."""

from __future__ import annotations

import argparse
import sys

from livepedal.cli.asked import Asked, read_named
from livepedal.cli.output import Output
from livepedal.views.report import side_by_side
from livepedal.views.report import text as report


def compare(options: argparse.Namespace) -> int:
    from livepedal.advice.comparing.compare import compare_parts

    asked = Asked(options)
    songs = [read_named(path, asked.first_bar)[0] for path in (options.before, options.after)]
    before, after = (asked.judged(song) for song in songs)
    compared = compare_parts(options.before, options.after, before, after)
    if options.json:
        from livepedal.views import json_view

        sys.stdout.write(json_view.dumps(compared.to_dict()) + "\n")
        return compared.exit_code
    out = Output(sys.stdout, options.plain)
    look = out.look(asked.middle_c)
    out.write(report.opening(asked.player, asked.instrument, look))
    if any(song.is_score for song in songs):
        out.write(look.text("A score is judged as it is printed.", 0))
    out.write(side_by_side.comparison_lines(compared, look))
    return compared.exit_code
