"""The command line: understand what is asked, have it judged, write it down.

Exit codes: 0, the chosen player can play it all; 1, not; 2, something could not be judged or was asked for
wrongly. Ended by a signal it is 128 and the signal's number, as usual. Every fault ends in one sentence on
standard error; tracebacks are for those who ask with --debug.

Starting quickly matters in scripts and in the hand, so whatever a command does not need is imported where it
is needed.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, TextIO

from livepedal import __version__
from livepedal.cli_advice import add_commands as add_advice_commands
from livepedal.cli_advice import advice_options
from livepedal.cli_live import add_commands as add_live_commands
from livepedal.cli_spelling import add_commands as add_spelling_commands
from livepedal.cli_spelling import spelling_options, wish
from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress, TaskID

    from livepedal.advice.report import FileReport, Report
    from livepedal.advice.given import Wish
    from livepedal.harp import Figures, Instrument, Player, Setting
    from livepedal.model.findings import Layer
    from livepedal.music import Song, TrackInfo
    from livepedal.replay import Replay
    from livepedal.views.lines import Line
    from livepedal.views.signs import Signs

STDIN = "standard input"
MIDI_ENDINGS = (".mid", ".midi", ".smf", ".kar", ".rmi")
WIDEST_REPORT = 110
MAX_STDIN = (
    256 * 1024 * 1024
)  # far more than is read of a file, so that the reader can say that it is too much


def main(argv: Sequence[str] | None = None) -> int:
    """Run livepedal with these arguments (default: the process's own); the exit code."""
    arguments = sys.argv[1:] if argv is None else list(argv)
    try:
        options = _parser().parse_args(arguments)
        code: int = options.run(options)
        sys.stdout.flush()
        return code
    except LivepedalError as error:
        complain(error)
        return 2
    except BrokenPipeError:
        # Whoever read the output has enough. Python would complain once more when it flushes at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 128 + getattr(signal, "SIGPIPE", 13)
    except KeyboardInterrupt:
        return 128 + signal.SIGINT
    except Exception as error:
        if "--debug" in arguments:
            raise
        _say(
            f"something went wrong that should not ({type(error).__name__}: {error}); please report it with"
            " the file and the command, and see the details with --debug."
        )
        return 2


# -- What is asked ----------------------------------------------------------------------------------------


class _Parser(argparse.ArgumentParser):
    """An argument parser whose complaints are one sentence like all others."""

    def error(self, message: str) -> NoReturn:
        message = message[:1].lower() + message[1:].rstrip(".")
        _say(f"{message}; see {self.prog} --help.")
        raise SystemExit(2)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="livepedal",
        description="Can this be played on one pedal harp, and if not, why not?",
        epilog="Try it: livepedal replay",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"livepedal {__version__}")
    commands = parser.add_subparsers(metavar="COMMAND", required=True)

    check = commands.add_parser(
        "check",
        help="judge MIDI files",
        description="Judge MIDI files: what a harpist cannot play, why, and how the pedals are to be set.",
        epilog="Exit code: 0, the chosen player can play it all; 1, not; 2, something could not be judged.",
        allow_abbrev=False,
    )
    check.add_argument(
        "files", nargs="+", metavar="FILE", help="MIDI file, folder of them, or - for standard input"
    )
    _common(check)
    spelling_options(check)
    advice_options(check)
    check.add_argument(
        "--json", action="store_true", help="write the report as JSON (format livepedal-check)"
    )
    check.add_argument("--plain", action="store_true", help="no colour, no box characters")
    check.set_defaults(run=_check)

    replay = commands.add_parser(
        "replay",
        help="play a MIDI file in real time into the dashboard",
        description=(
            "Play a MIDI file in real time, without sound, and watch the harp follow it."
            " Without FILE, a recording that comes with livepedal."
        ),
        epilog="Space pauses and goes on, q or Ctrl-C ends.",
        allow_abbrev=False,
    )
    replay.add_argument(
        "file", nargs="?", metavar="FILE", help="MIDI file, - for standard input, or a recording's name"
    )
    replay.add_argument(
        "--speed", metavar="X", default="1", help="play X times as fast; verdicts stay those of speed 1"
    )
    _common(replay)
    replay.add_argument("--plain", action="store_true", help="one line a finding instead of the dashboard")
    replay.set_defaults(run=_replay)
    add_spelling_commands(commands, _common)
    add_advice_commands(commands, _common)
    add_live_commands(commands)
    return parser


def _common(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--player", default="working", metavar="NAME", help="relaxed, working (default) or virtuoso"
    )
    parser.add_argument("--harp", default="47", metavar="NAME", help="47 (default), 46, 44 or 40 strings")
    parser.add_argument(
        "--figures", metavar="FILE", help="TOML file with your own figures of players and harps"
    )
    parser.add_argument(
        "--track",
        action="append",
        default=[],
        metavar="NUMBER_OR_NAME",
        help="the harp's track; may be given again",
    )
    parser.add_argument("--merge", action="store_true", help="all harp tracks are played on one harp")
    parser.add_argument(
        "--first-bar", type=int, default=1, metavar="N", help="number of the first bar (0 with a pickup)"
    )
    parser.add_argument(
        "--start",
        metavar="SETTING",
        help='how the pedals stand at the start: "Db C Bb Eb F G Ab" or "Eb major"',
    )
    parser.add_argument(
        "--only",
        action="append",
        default=[],
        metavar="LAYER",
        help="judge this alone: pedals; may be given again",
    )
    parser.add_argument(
        "--middle-c", default="C4", metavar="NAME", help="what middle C is called: C4 (default) or C3"
    )
    parser.add_argument("--debug", action="store_true", help="show tracebacks")


class _Asked:
    """The options that every command shares, checked: a wrong one is told before any file is read."""

    def __init__(self, options: argparse.Namespace) -> None:
        from livepedal.harp import Setting, load_figures, octave_shift
        from livepedal.model.findings import Layer

        octave_shift(options.middle_c)
        self.middle_c: str = options.middle_c.strip().upper()
        self.figures: Figures = load_figures(Path(options.figures) if options.figures is not None else None)
        self.player: Player = self.figures.player(options.player)
        self.instrument: Instrument = self.figures.instrument(options.harp)
        self.start: Setting | None = None if options.start is None else Setting.parse(options.start)
        self.tracks: tuple[str, ...] = tuple(options.track)
        self.merge: bool = options.merge
        self.first_bar: int = options.first_bar
        self.spelling: Wish | None = wish(options)
        self.every: bool = getattr(options, "all", False)
        self.remedies: bool = self.every or getattr(options, "remedies", False)
        self.from_bar: int | None = getattr(options, "from_bar", None)
        names = [name.strip().lower() for asked in options.only for name in asked.split(",") if name.strip()]
        layers = [layer.value for layer in Layer]
        for name in names:
            if name not in layers:
                raise LivepedalError(
                    f"There is no layer {name!r} to judge with --only; known are {', '.join(layers)}."
                )
        self.only: tuple[Layer, ...] = tuple(Layer(name) for name in dict.fromkeys(names))


# -- check ----------------------------------------------------------------------------------------


def _check(options: argparse.Namespace) -> int:
    from livepedal.advice.report import Report

    asked = _Asked(options)
    write = _JsonWriter(asked) if options.json else _TextWriter(asked, options.plain)
    files: list[FileReport] = []
    write.opening()
    sys.stdout.flush()
    for path in _paths(options.files):
        file = _judged(path, asked)
        files.append(file)
        write.file(file)
        # What is done is to be seen while the next file is judged.
        sys.stdout.flush()
    report = Report(asked.instrument, asked.player, tuple(files))
    write.closing(report)
    return report.exit_code


def _paths(arguments: Sequence[str]) -> Iterator[str]:
    """The files that are meant: a folder stands for the MIDI files in it."""
    for argument in arguments:
        path = Path(argument)
        if argument != "-" and path.is_dir():
            inside = sorted(str(file) for file in path.iterdir() if file.suffix.lower() in MIDI_ENDINGS)
            yield from inside or [argument]
        else:
            yield argument


def _judged(path: str, asked: _Asked) -> FileReport:
    """The report on one file.

    Where it cannot be judged, the reason is told at once and stands in the report.
    """
    from livepedal.advice.check import check_source
    from livepedal.advice.report import FileReport

    progress = _Progress(path)
    remedies = _Progress(f"remedies: {path}")

    def advising(done: int, total: int) -> None:
        progress.close()  # one bar at a time
        remedies(done, total)

    try:
        source: Path | bytes = Path(path)
        if path == "-":
            source = _stdin()
        elif Path(path).is_dir():
            raise LivepedalError(
                f"{path}: there are no MIDI files ({', '.join(MIDI_ENDINGS)}) in this folder."
            )
        report = check_source(
            source,
            STDIN if path == "-" else path,
            figures=asked.figures,
            player=asked.player.name,
            harp=asked.instrument.name,
            tracks=asked.tracks,
            merge=asked.merge,
            first_bar=asked.first_bar,
            start=asked.start,
            only=asked.only,
            spelling=asked.spelling,
            from_bar=asked.from_bar,
            remedies=asked.remedies,
            progress=progress,
            advising=advising,
        )
        return report.files[0]
    except LivepedalError as error:
        progress.close()
        remedies.close()
        complain(error)
        return FileReport(STDIN if path == "-" else path, error=str(error))
    finally:
        progress.close()
        remedies.close()


def _stdin() -> bytes:
    if sys.stdin is None or sys.stdin.isatty():
        raise LivepedalError("Nothing is piped into standard input; name a file, or send one with < FILE.")
    return sys.stdin.buffer.read(MAX_STDIN)


class _TextWriter:
    """Writes reports as text, in colour on a terminal."""

    def __init__(self, asked: _Asked, plain: bool) -> None:
        from livepedal.views.look import Look

        self._asked = asked
        self._out = Output(sys.stdout, plain)
        width = self._out.width
        self._look = Look(
            self._out.signs, asked.middle_c, None if width is None else min(width, WIDEST_REPORT), asked.every
        )

    def opening(self) -> None:
        from livepedal.views import report

        self._out.write(report.opening(self._asked.player, self._asked.instrument, self._look))

    def file(self, file: FileReport) -> None:
        from livepedal.views import report

        self._out.write(report.file_lines(file, self._look))

    def closing(self, whole: Report) -> None:
        from livepedal.views import report

        self._out.write(report.closing(whole, self._look))


class _JsonWriter:
    """Writes reports as JSON, which is ASCII and the same everywhere."""

    def __init__(self, asked: _Asked) -> None:
        self._asked = asked
        self._first = True

    def opening(self) -> None:
        from livepedal.views import json_view

        sys.stdout.write(json_view.opening(self._asked.player, self._asked.instrument))

    def file(self, file: FileReport) -> None:
        from livepedal.views import json_view

        sys.stdout.write(json_view.file_text(file, self._first))
        self._first = False

    def closing(self, whole: Report) -> None:
        from livepedal.views import json_view

        sys.stdout.write(json_view.closing())


# -- replay ----------------------------------------------------------------------------------------


def _replay(options: argparse.Namespace) -> int:
    asked = _Asked(options)
    speed = _speed(options.speed)
    song, label = _song(options.file, asked)
    from livepedal.music import choose_parts
    from livepedal.replay import Pace, Replay

    parts = choose_parts(song, asked.tracks, asked.merge)
    title = f"{label}: {parts[0].name}"
    if len(parts) > 1:
        title += f" (1 of {len(parts)} parts; --track or --merge for others)"
    out = Output(sys.stdout, options.plain)
    replay = Replay(
        parts[0],
        title,
        asked.figures,
        asked.instrument,
        asked.player.name,
        only=asked.only,
        start=asked.start,
        pace=Pace(speed),
        middle_c=asked.middle_c,
        signs=out.signs,
    )
    if out.screen is None:
        return _replay_lines(replay, out)
    from livepedal.views import terminal

    number = terminal.run(replay, out.screen)
    if number:
        return 128 + number
    out.write(replay.summary())
    return 0


def _replay_lines(replay: Replay, out: Output) -> int:
    """Line mode: each finding in a line of its own, when it happens."""
    out.write(replay.announcement())
    going = True
    while going:
        going = replay.step()
        out.write(replay.news_lines())
        sys.stdout.flush()
        if going:
            time.sleep(replay.rest())
    out.write(replay.summary())
    return 0


def _speed(text: str) -> float:
    try:
        speed = float(text.removeprefix("x").removeprefix("×"))
    except ValueError:
        speed = 0.0
    if not 0.01 <= speed <= 1000:
        raise LivepedalError(
            f"The speed {text!r} makes no sense; give a number from 0.01 to 1000, such as 0.5 or 2."
        )
    return speed


def _song(asked_for: str | None, asked: _Asked) -> tuple[Song, str]:
    """The piece to replay and its name; without one, a recording that comes with livepedal."""
    from livepedal import bundled
    from livepedal.music import read_song

    if asked_for == "-":
        return read_song(_stdin(), name=STDIN, first_bar=asked.first_bar), STDIN
    path = bundled.folder() / bundled.FIRST if asked_for is None else Path(asked_for)
    if asked_for is not None and not path.exists():
        recording = bundled.find(asked_for)
        if recording is None and path.name == asked_for and not path.suffix:
            known = ", ".join(found.stem for found in bundled.recordings())
            raise LivepedalError(
                f"{asked_for}: there is no such file, and no recording of that name; known are {known}."
            )
        path = recording or path
    return read_song(path, first_bar=asked.first_bar), path.name


# -- Output ----------------------------------------------------------------------------------------


class Output:
    """Where a command writes: in colour on a terminal, as bare text elsewhere.

    signs: what it can show; width: columns, None where lines may be as long as they like; screen: a console
    that can be drawn on as a whole, or None.
    """

    def __init__(self, stream: TextIO, plain: bool) -> None:
        from livepedal.views.signs import signs_for

        self._stream = stream
        self.signs: Signs = signs_for(stream.encoding, plain)
        self.width: int | None = None
        self.screen: Console | None = None
        self._console: Console | None = None
        if stream.isatty():
            if plain:
                self.width = os.get_terminal_size(stream.fileno()).columns or 80
                return
            from rich.console import Console

            from livepedal.views.terminal import can_draw

            self._console = Console(file=stream, highlight=False, markup=False, emoji=False)
            self.width = self._console.width
            if can_draw(self._console):
                self.screen = self._console

    def write(self, lines: Iterable[Line]) -> None:
        """Write lines; what they hold is never taken for markup."""
        from livepedal.views.lines import plain_text, rich_text

        if self._console is None:
            for one in lines:
                self._stream.write(f"{plain_text(one)}\n")
            return
        for one in lines:
            self._console.print(rich_text([one]), soft_wrap=True)


class _Progress:
    """A progress bar on standard error: only on a terminal, and only once the work has taken a second."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._started = time.monotonic()
        self._shows = sys.stderr is not None and sys.stderr.isatty() and os.environ.get("TERM") != "dumb"
        self._bar: Progress | None = None
        self._task: TaskID | None = None

    def __call__(self, done: int, total: int) -> None:
        if not self._shows:
            return
        if self._bar is None:
            if time.monotonic() - self._started < 1 or done >= total:
                return
            from rich.console import Console
            from rich.markup import escape
            from rich.progress import Progress

            from livepedal.sources.text import clean

            self._bar = Progress(console=Console(file=sys.stderr), transient=True)
            self._task = self._bar.add_task(escape(clean(self._name, 40)), total=total)
            self._bar.start()
        if self._task is not None:
            self._bar.update(self._task, completed=done, total=total)

    def close(self) -> None:
        if self._bar is not None:
            self._bar.stop()
            self._bar = None
            self._shows = False


def complain(error: LivepedalError) -> None:
    """Tell what was wrong; where nobody can tell which track is the harp's, with the table to choose from."""
    _say(str(error))
    tracks = getattr(error, "tracks", ())
    if tracks:
        _print_error(*_track_table(tracks))


def _track_table(tracks: Sequence[TrackInfo]) -> list[str]:
    from livepedal.sources.text import clean

    names = [clean(track.name, 40) for track in tracks]
    kind = "channel" if any(track.channel is not None for track in tracks) else "track"
    wide = max(4, *map(len, names))
    rows = [f"  {kind:>7}  {'name':<{wide}}  {'program':>7}  {'notes':>6}"]
    for track, name in zip(tracks, names, strict=True):
        program = "-" if track.program is None else str(track.program)
        drums = "  drums" if track.drums else ""
        rows.append(f"  {track.number:>7}  {name:<{wide}}  {program:>7}  {track.notes:>6}{drums}")
    rows.append("  Programs are counted from 0: the harp is 46.")
    if sum(track.notes > 0 for track in tracks) > 1:
        rows.append("  Give --track again for a further track, and --merge to have them played on one harp.")
    return rows


def _say(message: str) -> None:
    """One sentence on standard error, whatever characters the message holds."""
    from livepedal.sources.text import clean

    _print_error(f"livepedal: {clean(message, 2000)}")


def _print_error(*lines: str) -> None:
    if sys.stderr is None:
        return
    from livepedal.views.signs import signs_for

    signs = signs_for(sys.stderr.encoding)
    try:
        for one in lines:
            print(signs.write(one), file=sys.stderr)
    except OSError:
        pass  # nobody is there to be told
