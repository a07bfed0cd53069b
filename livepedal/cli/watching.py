"""`watch`: judge each export as it is written, and say what changed since the last one of the same cue."""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from livepedal.cli import many
from livepedal.cli.options import Asked, common_options, plain_option
from livepedal.cli.output import Output
from livepedal.errors import LivepedalError
from livepedal.sources.text import clean

if TYPE_CHECKING:
    from livepedal.advice.report import FileReport
    from livepedal.views.lines import Line

LOOK_EVERY = 200  # ms between two looks at files that are being written


def add_commands(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the parser of `watch`."""
    watch = commands.add_parser(
        "watch",
        help="judge each export to a folder as it is written",
        description=(
            "Watch a folder, and the folders in it: judge each MIDI file as it is written, one line each,"
            " and say what changed since the last export of the same cue."
        ),
        epilog="Ctrl-C ends it. Exit code: 0; 2, the folder cannot be watched.",
        allow_abbrev=False,
    )
    watch.add_argument("folder", metavar="FOLDER", help="where the sequencer exports to")
    common_options(watch)
    plain_option(watch)
    watch.set_defaults(run=_watch)


@dataclass(frozen=True, slots=True)
class _Export:
    """An export that was judged. at: the time of day."""

    path: str
    at: str
    report: FileReport


def _watch(options: argparse.Namespace) -> int:
    from livepedal.sources.settling import Settling, signature_of

    asked = Asked(options)
    folder = options.folder
    shown = clean(folder, 500)
    if not os.path.isdir(folder):
        raise LivepedalError(
            f"{shown}: is no folder that could be watched; name the one exports are written to."
        )
    settling = Settling()
    watcher = _Watcher(asked, options.plain, folder)
    try:
        watcher.opening(shown)
        for path in many.named([folder]):
            if path != folder:
                settling.known(path, signature_of(path))
                watcher.judge(path)
        watcher.say(f"Watching {shown}; Ctrl-C ends.")
        first = True
        for touched in _changes(folder):
            if not os.path.isdir(folder):
                raise LivepedalError(f"{shown}: is gone, so there is nothing to watch any more.")
            now = time.monotonic()
            # What was written while the first ones were judged has been reported to nobody.
            for path in [*touched, *(many.named([folder]) if first else ())]:
                if path != folder and many.is_midi(os.path.basename(path)):
                    settling.touched(path, now)
            first = False
            for path in settling.ready(time.monotonic()):
                watcher.judge(path, news=True)
    except KeyboardInterrupt:
        pass
    return 0


def _changes(folder: str) -> Iterator[list[str]]:
    """The files that something happened to, again and again; an empty list when nothing did."""
    try:
        from watchfiles import watch
    except ImportError:
        raise LivepedalError("Watching needs the package watchfiles; pip install watchfiles.") from None

    absolute = os.path.abspath(folder)
    watching = watch(
        folder, watch_filter=None, debounce=LOOK_EVERY, rust_timeout=LOOK_EVERY, yield_on_timeout=True
    )
    try:
        for changes in watching:
            # Its paths are absolute; those of the user's own making are what people read.
            paths = {os.path.join(folder, os.path.relpath(path, absolute)) for _, path in changes}
            yield sorted(paths)
    except OSError as error:
        if os.path.isdir(folder):
            raise LivepedalError(f"{clean(folder, 500)}: cannot be watched ({clean(str(error))}).") from None
        yield []  # and whoever listens sees that it is gone


class _Watcher:
    """Judges exports, remembers the last of each cue, and writes a line on each."""

    def __init__(self, asked: Asked, plain: bool, folder: str) -> None:
        from livepedal.views.table import Table

        self._asked = asked
        self._out = Output(sys.stdout, plain)
        self._look = self._out.look(asked.middle_c)
        self._present = [path for path in many.named([folder]) if path != folder]
        # New names are as long as those that are there, more or less.
        self._table = Table.laid_out(
            [*self._present, os.path.join(folder, "a cue of this length")], self._look
        )
        self._last: dict[str, _Export] = {}

    def opening(self, folder: str) -> None:
        """Write what stands over the lines of the exports, and that those that are there come first."""
        from livepedal.views import report
        from livepedal.views.words import counted

        if self._present:
            are = "is" if len(self._present) == 1 else "are"
            self.say(f"First judging {counted(len(self._present), 'MIDI file')} that {are} in {folder}.")
        self._write(
            [*report.opening(self._asked.player, self._asked.instrument, self._look), (), *self._table.head()]
        )

    def say(self, text: str) -> None:
        """Write something about the watching itself."""
        from livepedal.views.lines import Tone
        from livepedal.views.look import wrapped

        self._write([*wrapped(text, self._look, Tone.FAINT, indent="")])

    def judge(self, path: str, news: bool = False) -> None:
        """Judge one export and write its line; news: with what changed since the last of its cue."""
        from livepedal.advice.news import cue_of
        from livepedal.advice.report import FileReport
        from livepedal.advice.summary import FileSummary

        at = time.strftime("%H:%M:%S")
        try:
            export = self._judged(path, at)
        except LivepedalError as error:
            self._write([*self._table.rows(FileSummary.of(FileReport(path, error=str(error))))])
            return
        lines: list[Line] = [*self._table.rows(FileSummary.of(export.report))]
        cue = cue_of(path)
        before = self._last.get(cue)
        self._last[cue] = export
        if news:
            lines += self._news(before, export)
        self._write(lines)

    def _judged(self, path: str, at: str) -> _Export:
        from livepedal.advice.report import FileReport
        from livepedal.music import read_song
        from livepedal.sources.smf import read_bytes

        song = read_song(read_bytes(Path(path)), name=path, first_bar=self._asked.first_bar)
        parts = self._asked.judged(song)
        remarks = song.remarks_on(track for part in parts for track in part.tracks)
        return _Export(path, at, FileReport(path, parts, remarks=remarks))

    def _news(self, before: _Export | None, now: _Export) -> Iterator[Line]:
        from livepedal.advice.compare import Comparison, compare_parts
        from livepedal.advice.news import news
        from livepedal.views.lines import Tone
        from livepedal.views.look import wrapped

        indent = "    "
        if before is None:
            yield from wrapped(f"{now.at}, the first export of this cue", self._look, Tone.FAINT, indent)
            return
        old, new = before.report.parts, now.report.parts
        both = min(len(old), len(new))
        compared = Comparison(
            before.path,
            now.path,
            compare_parts(old, new),
            tuple(part.name for some in (old, new) for part in some[both:]),
        )
        name = "" if before.path == now.path else f" ({os.path.basename(before.path)})"
        said = "; ".join(news(compared)) or "no bar differs"
        yield from wrapped(
            f"{now.at}, since {before.at}{name}: {clean(said, 2000)}", self._look, indent=indent, hang=6
        )

    def _write(self, lines: list[Line]) -> None:
        self._out.write(lines)
        sys.stdout.flush()
