"""`replay`: a file in real time through the monitor, on the dashboard or line by line."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace

from livepedal import bundled
from livepedal.advice.spelling.given import printed_spelling
from livepedal.cli.line_mode import shown
from livepedal.cli.options import check_command
from livepedal.cli.output import Output
from livepedal.cli.ports import outputs_opened
from livepedal.cli.request import Request, read_named, tell_broken_off
from livepedal.cli.streams import last_words
from livepedal.errors import LivepedalError
from livepedal.harp import Setting
from livepedal.live.advisor import Advisor
from livepedal.live.playback import Pace
from livepedal.music.parts import choose_parts
from livepedal.music.song import Song
from livepedal.replay import Replay
from livepedal.views.plain import wrapped


def replay(options: argparse.Namespace) -> int:
    """Play a file into the monitor."""
    request = Request(options)
    speed = _speed(options.speed)
    song, label, file = _song(options.file, request)
    parts = choose_parts(song, request.wanted)
    values = dict(vars(options))
    if len(parts) > 1 and not request.wanted.tracks and len(parts[0].tracks) == 1:
        values["track"] = [str(parts[0].tracks[0].number)]  # the one of them that is played

    def check(player: str, start: Setting | None) -> str:
        """The command that tells all of what was played."""
        as_typed = start == request.basis.setting
        said = values["start"] if as_typed else None if start is None else str(start)
        return f"{check_command(file, {**values, 'player': player, 'start': said})} --all"

    title = f"{label}: {parts[0].name}"
    printed = printed_spelling(parts[0], request.basis.figures)
    if printed is not None:
        title += " (as printed)"
    if len(parts) > 1:
        title += f" (1 of {len(parts)} parts; --track or --merge for others)"
    out = Output(sys.stdout, options.plain)
    with outputs_opened(options, options.backend) as outs:
        replay = Replay(
            parts[0],
            title,
            replace(request.basis, asked=printed),
            pace=Pace(speed),
            middle_c=request.middle_c,
            signs=out.signs,
            stays=out.screen is not None and sys.stdin is not None and sys.stdin.isatty(),
            advisor=Advisor,
            check=check,
            piped=file == "-",
            output=outs.again,
        )
        try:
            replay.nearest.here = out.screen is None  # lines are to be the same every time
            replay.start()
            number = shown(replay, out, replay.announcement())
        finally:
            replay.end()
    with last_words(number):
        if out.screen is None:
            out.write(replay.news_lines(out.width))  # what waited for advice that does not come any more
        out.write(wrapped(replay.summary(), out.width))
        out.write(replay.check_line())  # whole, however long it is, for whoever pastes it
    broken = tell_broken_off(song, label)
    return 128 + number if number else broken


def _speed(text: str) -> float:
    try:
        speed = float(text.removeprefix("x").removeprefix("×"))
    except ValueError:
        speed = 0.0
    if not 0.01 <= speed <= 1000:
        raise LivepedalError(
            f"The speed {text!r} is out of range; give a number from 0.01 to 1000, such as 0.5 or 2."
        )
    return speed


def _song(asked_for: str | None, request: Request) -> tuple[Song, str, str]:
    """The piece to replay, its name, and what to give `check` for it; without one, a recording that comes along.

    Raises LivepedalError where there is none, or it cannot be read.
    """
    file = str(bundled.folder() / bundled.FIRST) if asked_for is None else bundled.path_of(asked_for)
    return *read_named(file, request.task.first_bar), file
