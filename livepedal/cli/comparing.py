"""`compare`: two versions of a part side by side."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace

from livepedal.advice.judging.part import judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.spelling.given import printed_spelling
from livepedal.cli.output import Output
from livepedal.cli.request import Request, read_named, tell_broken_off
from livepedal.music.parts import choose_parts
from livepedal.music.song import Song
from livepedal.views.report import side_by_side
from livepedal.views.report import text as report


def compare(options: argparse.Namespace) -> int:
    """Compare two versions of a part."""
    from livepedal.advice.comparing.compare import compare_parts

    request = Request(options)
    songs = [read_named(path, options.first_bar)[0] for path in (options.before, options.after)]
    before, after = (_judged(song, request) for song in songs)
    paths = (options.before, options.after)
    broken = tuple(path for path, song in zip(paths, songs, strict=True) if song.broken_off)
    compared = replace(compare_parts(*paths, before, after), broken_off=broken)
    if options.json:
        from livepedal.views import json_view

        sys.stdout.write(json_view.dumps(compared.to_dict()) + "\n")
        _tell(songs, paths)
        return compared.exit_code
    out = Output(sys.stdout, options.plain)
    look = out.look(request.middle_c)
    out.write(report.opening(request.basis.chosen, request.basis.instrument, look))
    if any(song.is_score for song in songs):
        out.write(look.text("A score is judged as it is printed.", 0))
    for remark in dict.fromkeys(remark for song in songs for remark in song.on_bars):
        out.write(look.remark(remark))
    out.write(side_by_side.comparison_lines(compared, look))
    _tell(songs, paths)
    return compared.exit_code


def _tell(songs: Sequence[Song], paths: Sequence[str]) -> None:
    for song, path in zip(songs, paths, strict=True):
        tell_broken_off(song, path)


def _judged(song: Song, request: Request) -> tuple[PartReport, ...]:
    """Each harp part of a file, a score as it is printed. Raises as `choose_parts` does."""
    return tuple(
        judge_part(
            part,
            replace(request.basis, asked=printed_spelling(part, request.basis.figures)),
        )
        for part in choose_parts(song, request.wanted)
    )
