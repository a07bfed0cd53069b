"""The options and the command around remedies: `check --remedies`, `--all`, `--from`, and `compare`; see
main.py for the rest.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from livepedal.advice.compare import BarOutlook
    from livepedal.advice.report import PartReport
    from livepedal.cli.options import Asked


def add_commands(
    commands: argparse._SubParsersAction[Any], common: Callable[[argparse.ArgumentParser], None]
) -> None:
    """Add the parser of `compare`. common: adds the options that judging commands share."""
    compare = commands.add_parser(
        "compare",
        help="two versions of a part side by side: did the revision help?",
        description="Judge two versions of a part, line up their bars, and say what became better or worse.",
        epilog="Exit code: 0, nothing got worse; 1, something did; 2, something could not be judged.",
        allow_abbrev=False,
    )
    compare.add_argument("before", metavar="BEFORE", help="MIDI file")
    compare.add_argument("after", metavar="AFTER", help="MIDI file, the revision")
    common(compare)
    compare.add_argument(
        "--json", action="store_true", help="write the comparison as JSON (format livepedal-compare)"
    )
    compare.add_argument("--plain", action="store_true", help="no colour, no box characters")
    compare.set_defaults(run=_compare)


def _compare(options: argparse.Namespace) -> int:
    from livepedal.advice.compare import Comparison, compare_parts
    from livepedal.cli.options import Asked
    from livepedal.cli.output import WIDEST_REPORT, Output

    asked = Asked(options)
    reports: list[tuple[PartReport, ...]] = []
    bars: list[list[tuple[BarOutlook, ...]]] = []
    for path in (options.before, options.after):
        found = _judged(path, asked)
        reports.append(tuple(report for report, _ in found))
        bars.append([outlooks for _, outlooks in found])
    both = min(len(reports[0]), len(reports[1]))
    parts = compare_parts(
        reports[0][:both], reports[1][:both], list(zip(bars[0][:both], bars[1][:both], strict=True))
    )
    unmatched = tuple(report.name for one in reports for report in one[both:])
    compared = Comparison(options.before, options.after, parts, unmatched)
    if options.json:
        sys.stdout.write(json.dumps(compared.to_dict(), ensure_ascii=True, allow_nan=False) + "\n")
        return compared.exit_code
    from livepedal.views import report, side_by_side
    from livepedal.views.look import Look

    out = Output(sys.stdout, options.plain)
    width = None if out.width is None else min(out.width, WIDEST_REPORT)
    look = Look(out.signs, asked.middle_c, width)
    out.write(report.opening(asked.player, asked.instrument, look))
    out.write(side_by_side.comparison_lines(compared, look))
    return compared.exit_code


def _judged(path: str, asked: Asked) -> list[tuple[PartReport, tuple[BarOutlook, ...]]]:
    """Each part of a file, judged, with its bars."""
    from livepedal.advice.check import attacks_of, judge_part
    from livepedal.advice.compare import bars_of
    from livepedal.music import read_song

    song = read_song(Path(path), name=path, first_bar=asked.first_bar)
    found = []
    for part in asked.parts(song):
        judged = judge_part(
            part, asked.figures, asked.instrument, asked.player.name, setting=asked.start, layers=asked.only
        )
        attacks = attacks_of(part.events, asked.figures.attack_window)
        outlooks = bars_of(part, judged, attacks, asked.figures, asked.instrument, asked.start, asked.only)
        found.append((judged, outlooks))
    return found
