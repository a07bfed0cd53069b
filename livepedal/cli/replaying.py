"""`replay`: a file in real time through the monitor, on the dashboard or line by line."""

from __future__ import annotations

import argparse
import os
import sys
import time
from dataclasses import replace
from types import FrameType
from typing import TYPE_CHECKING, Any

from livepedal.cli.asked import Asked, read_named
from livepedal.cli.inputs import backend_option
from livepedal.cli.options import check_command, common_options
from livepedal.cli.output import Output
from livepedal.cli.outputs import again_option, opened
from livepedal.cli.streams import last_words, meanwhile
from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.harp import Setting
    from livepedal.music.song import Song
    from livepedal.replay import Replay

_LOOK = 0.02  # seconds between two looks whether advice has come


def add_commands(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the parser of `replay`."""
    replay = commands.add_parser(
        "replay",
        help="play a MIDI file in real time into the dashboard",
        description=(
            "Play a MIDI file in real time, without sound unless an --output is named, and watch the harp follow it."
            " Without FILE: a recording that comes with livepedal."
        ),
        epilog=(
            "Space pauses and continues, a plays a passage again, q or Ctrl-C ends."
            " Exit code: 0; 130, ended by Ctrl-C; 2, the file cannot be read or judged."
        ),
        allow_abbrev=False,
    )
    replay.add_argument(
        "file", nargs="?", metavar="FILE", help="MIDI file, - for standard input, or a recording's name"
    )
    replay.add_argument(
        "--speed",
        metavar="X",
        default="1",
        help="play X times as fast; the verdicts are still those of speed 1",
    )
    again_option(replay)
    backend_option(replay)
    common_options(replay)
    replay.add_argument(
        "--plain", action="store_true", help="one line for each finding instead of the dashboard"
    )
    replay.set_defaults(run=_replay)


def _replay(options: argparse.Namespace) -> int:
    asked = Asked(options)
    speed = _speed(options.speed)
    song, label, file = _song(options.file, asked)
    from livepedal.advice.spelling.given import printed_spelling
    from livepedal.live.advisor import Advisor
    from livepedal.live.pace import Pace
    from livepedal.replay import Replay

    parts = asked.parts(song)
    values = dict(vars(options))
    if len(parts) > 1 and not asked.tracks and len(parts[0].tracks) == 1:
        values["track"] = [str(parts[0].tracks[0].number)]  # the one of them that is played

    def check(player: str, start: Setting | None) -> str:
        """The command for what was played."""
        as_typed = start == asked.start
        said = values["start"] if as_typed else None if start is None else str(start)
        return check_command(file, {**values, "player": player, "start": said})

    title = f"{label}: {parts[0].name}"
    printed = printed_spelling(parts[0], asked.figures)
    if printed is not None:
        title += " (as printed)"
    if len(parts) > 1:
        title += f" (1 of {len(parts)} parts; --track or --merge for others)"
    out = Output(sys.stdout, options.plain)
    with opened(options, options.backend) as outs:
        replay = Replay(
            parts[0],
            title,
            replace(asked.basis, asked=printed),
            pace=Pace(speed),
            middle_c=asked.middle_c,
            signs=out.signs,
            stays=out.screen is not None and sys.stdin is not None and sys.stdin.isatty(),
            advisor=Advisor,
            check=check,
            piped=file == "-",
            output=outs.again,
        )
        number = _played(replay, out)
    with last_words(number):
        _write_summary(replay, out)
    return 128 + number if number else 0


def _played(replay: Replay, out: Output) -> int:
    """Until it is over; the number of the signal that ended it, or 0."""
    try:
        if out.screen is None:
            return _replay_lines(replay, out)
        from livepedal.views.dashboard import terminal

        replay.start()
        return terminal.run(replay, out.screen)
    finally:
        replay.end()


def _write_summary(replay: Replay, out: Output) -> None:
    from livepedal.views.plain import wrapped

    if out.screen is None:
        out.write(
            wrapped(replay.news_lines(), out.width)
        )  # what waited for advice that does not come any more
    out.write(wrapped(replay.summary(), out.width))
    out.write(replay.check_line())  # whole, however long it is, for whoever pastes it


def _replay_lines(replay: Replay, out: Output) -> int:
    """Line mode: each finding in a line of its own, when it happens. Returns the number of the signal that ended it, or
    0.
    """
    from livepedal.views.dashboard.endings import noted
    from livepedal.views.plain import wrapped

    ended = 0

    def note(number: int, frame: FrameType | None) -> None:
        nonlocal ended
        ended = number

    with noted(note):
        news = replay.announcement()
        going = True
        while not ended and (going or news or replay.waits):  # for advice on the last passages
            with meanwhile(lambda: ended):
                out.write(wrapped(news, out.width))
            time.sleep(replay.rest() if going else _LOOK)
            going = going and replay.step()
            news = replay.news_lines()
    return ended


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


def _song(asked_for: str | None, asked: Asked) -> tuple[Song, str, str]:
    """The piece to replay, its name, and what to give `check` for it; without one, a recording that comes along.

    Raises LivepedalError where there is none, or it cannot be read.
    """
    from livepedal import bundled

    file = str(bundled.folder() / bundled.FIRST) if asked_for is None else bundled.path_of(asked_for)
    song, label = read_named(file, asked.first_bar)
    return song, os.path.basename(label), file
