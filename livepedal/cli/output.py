"""Output for all commands: lines on standard output, errors and progress on standard error."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, TextIO

from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress, TaskID

    from livepedal.music.tracks import TrackInfo
    from livepedal.views.lines import Line
    from livepedal.views.report.look import Look
    from livepedal.views.signs import Signs

WIDEST_REPORT = 110  # columns; longer lines are hard to read


class Output:
    """Where a command writes: in colour on a terminal, as bare text elsewhere.

    signs: what it can show; width: columns, None where lines may be as long as they like; screen: a console
    that can be drawn on as a whole, or None.
    """

    def __init__(self, stream: TextIO, plain: bool) -> None:
        from livepedal.views.signs import signs_for

        self._stream = stream
        self.signs: Signs = signs_for(_encoding(stream), plain)
        self.width: int | None = None
        self.screen: Console | None = None
        self._console: Console | None = None
        if stream.isatty():
            if plain:
                self.width = os.get_terminal_size(stream.fileno()).columns or 80
                return
            from rich.console import Console, ConsoleDimensions

            from livepedal.views.dashboard.terminal import can_draw

            self._console = Console(file=stream, highlight=False, markup=False, emoji=False)
            if not all(0 < side < 10_000 for side in self._console.size):  # COLUMNS or LINES is set, but to no size
                columns, rows = os.get_terminal_size(stream.fileno())
                self._console.size = ConsoleDimensions(columns or 80, rows or 24)
            self.width = self._console.width
            if can_draw(self._console):
                self.screen = self._console

    def look(self, middle_c: str, every: bool = False) -> Look:
        """How a report is written here. every: show all remedies."""
        from livepedal.views.report.look import Look

        width = None if self.width is None else min(self.width, WIDEST_REPORT)
        return Look(self.signs, middle_c, width, every)

    def write(self, lines: Iterable[Line]) -> None:
        """Write lines; their text is never taken for markup."""
        from livepedal.views.lines import plain_text, segments

        if self._console is None:
            for row in lines:
                self._stream.write(f"{self.signs.write(plain_text(row))}\n")
            return
        from rich.segment import Segment, Segments

        for row in lines:
            self._console.print(Segments([*segments(row), Segment.line()]), soft_wrap=True)


def _encoding(stream: TextIO) -> str:
    """What a stream can show.

    Python writes UTF-8 even where somebody has asked for the C locale, which has ASCII alone; two variables of Python's
    own say that it is wanted nonetheless.
    """
    locale = next((os.environ[name] for name in ("LC_ALL", "LC_CTYPE", "LANG") if os.environ.get(name)), "")
    if locale in ("C", "POSIX") and not ({"PYTHONUTF8", "PYTHONIOENCODING"} & os.environ.keys()):
        return "ascii"
    return stream.encoding


class ProgressBar:
    """A progress bar on standard error: only on a terminal, and only once the work has taken a second."""

    def __init__(self, name: str, then: str = "") -> None:
        """name: what is done; then: what follows when all is done, and nobody knows how long it takes."""
        self._name, self._then = name, then
        self._started = time.monotonic()
        self._shows = sys.stderr is not None and sys.stderr.isatty() and os.environ.get("TERM") != "dumb"
        self._bar: Progress | None = None
        self._task: TaskID | None = None

    def __call__(self, done: int, total: int, name: str = "") -> None:
        """Show how much of the total is done. name: what is done now, where that is something else."""
        from livepedal.sources.text import clean

        follows = self._then if done >= total and not name else ""
        if not self._shows or time.monotonic() - self._started < 1:
            return
        if self._bar is None or self._task is None:
            if done >= total and not follows:
                return
            from rich.console import Console
            from rich.progress import Progress

            self._bar = Progress(console=Console(file=sys.stderr), transient=True)
            self._task = self._bar.add_task("", total=total)
        from rich.markup import escape

        shown = escape(follows or clean(name or self._name, 40))
        self._bar.update(self._task, completed=done, total=total, description=shown)
        if follows:
            self._bar.reset(self._task, total=None)
        self._bar.start()

    def pause(self) -> None:
        """Hide it until the next call."""
        if self._bar is not None:
            self._bar.stop()

    def close(self) -> None:
        """Hide it for good."""
        self.pause()
        self._shows = False


typed: list[str] = []  # the arguments of this run, for the command that is suggested
_shown: list[str] = []  # the last table of tracks; for a folder of similar files it is shown once


def begin(arguments: Sequence[str]) -> None:
    """A run of livepedal with these arguments begins."""
    typed[:] = arguments
    _shown.clear()


def complain(error: LivepedalError, tracks: bool = True) -> None:
    """Tell what was wrong.

    Where nobody can tell which track is the harp's, with the table to choose from, and the command for the likeliest
    choice (`tracks`: unless there are many files, and a line has to do for each).
    """
    say(str(error))
    table = getattr(error, "tracks", ())
    if table and tracks:
        rows = _track_table(table, getattr(error, "how", ""))
        if rows != _shown:
            _print_error(*rows)
        _shown[:] = rows
        choice = getattr(error, "likeliest", ())
        if choice and typed:
            from livepedal.sources.text import clean, shell_line

            command = shell_line("livepedal", *_without_tracks(typed), *choice)
            _print_error(f"  {clean(command, 2000)}")


def _without_tracks(arguments: Sequence[str]) -> list[str]:
    """The arguments without the choice of a track that they make."""
    kept: list[str] = []
    skip = False
    for argument in arguments:
        if not skip and argument != "--track" and not argument.startswith("--track="):
            kept.append(argument)
        skip = argument == "--track"
    return kept


def _track_table(tracks: Sequence[TrackInfo], how: str) -> list[str]:
    """The tracks of a file in rows, and how to choose several of them."""
    from livepedal.sources.text import clean
    from livepedal.views.widths import cells, padded

    names = [clean(track.name, 40) for track in tracks]
    kind = "channel" if any(track.channel is not None for track in tracks) else "track"
    wide = max(4, *map(cells, names))
    rows = [f"  {kind:>7}  {'name':<{wide}}  {'program':>7}  {'notes':>6}"]
    for track, name in zip(tracks, names, strict=True):
        program = "-" if track.program is None else str(track.program)
        drums = "  drums" if track.drums else ""
        rows.append(f"  {track.number:>7}  {padded(name, wide)}  {program:>7}  {track.notes:>6}{drums}")
    rows.append("  Programs are counted from 0: the harp is 46.")
    if sum(track.notes > 0 for track in tracks) > 1:
        rows.append(f"  {how}")
    return rows


def say(message: str) -> None:
    """Write one sentence to standard error, whatever characters it holds."""
    from livepedal.sources.text import clean

    text = f"livepedal: {clean(message, 2000)}"
    if sys.stderr is None or not sys.stderr.isatty():
        _print_error(text)
        return
    from shutil import get_terminal_size

    from livepedal.views.widths import folded

    _print_error(*folded(text, get_terminal_size().columns, 0, 2))


def _print_error(*lines: str) -> None:
    """Write lines to standard error, in signs that it can show."""
    if sys.stderr is None:
        return
    from livepedal.views.signs import signs_for

    signs = signs_for(_encoding(sys.stderr))
    try:
        for row in lines:
            print(signs.write(row), file=sys.stderr)
    except OSError:
        pass  # nobody is there to be told
