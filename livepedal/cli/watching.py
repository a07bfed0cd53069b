"""`watch`: judge each export as it is written, and say what changed since the last one of the same cue.

Exports are judged by a process beside this one, one at a time and the newest first, so that the export that somebody
waits for never waits for older ones. One that was only touched, or written again as it was, is not judged again.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from livepedal.advice.report import FileReport
from livepedal.cli import files, many
from livepedal.cli.asked import Asked
from livepedal.cli.output import Output
from livepedal.errors import LivepedalError
from livepedal.sources.settling import Settling, signature_of
from livepedal.sources.text import clean
from livepedal.views.lines import Line
from livepedal.views.report import text as report
from livepedal.views.words import counted

LOOK_EVERY = 200  # ms between two checks of files that are being written
LONG = 2.0  # seconds; if judging takes longer, a line says so


@dataclass(frozen=True, slots=True)
class _Export:
    """An export that was judged. at: the time of day."""

    path: str
    at: str
    report: FileReport


def watch(options: argparse.Namespace) -> int:
    asked = Asked(options)
    folder = options.folder
    shown = clean(folder, 500)
    if not os.path.isdir(folder):
        raise LivepedalError(f"{shown}: is not a folder; name the one that exports are written to.")
    settling = Settling()
    watcher = _JsonWatcher(asked, options) if options.jsonl else _Watcher(asked, options, folder)
    try:
        watcher.opening(shown)
        for path in files.named([folder]):
            if path != folder:
                settling.known(path, signature_of(path))
                watcher.wait(path, new=False)
        first = True
        for touched in _changes(folder):
            if not os.path.isdir(folder):
                raise LivepedalError(f"{shown}: the folder is gone, so there is nothing left to watch.")
            now = time.monotonic()
            # Files written just before watching began would otherwise be missed.
            for path in [*touched, *(files.named([folder]) if first else ())]:
                if path != folder and files.is_midi(os.path.basename(path)):
                    settling.touched(path, now)
            first = False
            for path in settling.ready(time.monotonic()):
                watcher.wait(path)
            watcher.go_on(shown)
    except KeyboardInterrupt:
        pass
    finally:
        watcher.close()
    return 0


def _changes(folder: str) -> Iterator[list[str]]:
    """The files that changed, again and again; an empty list if none did."""
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


class _Queue:
    """Exports that wait to be judged, and the one being judged. `told` gets each result."""

    def __init__(self, judge: many.Judge) -> None:
        self._worker = many.Pool(judge)
        self._waiting: dict[str, bool] = {}  # path -> whether it is new
        self._known: dict[str, bytes] = {}  # path -> what it held when it was judged
        self._new = False
        self._since = 0.0
        self._watching = False

    def wait(self, path: str, new: bool = True) -> None:
        """Have an export judged unless it is unchanged. new: it was written while we watched."""
        held = _held(path)
        if new and held and self._known.get(path) == held:
            return
        self._known[path] = held
        self._waiting.pop(path, None)
        self._waiting[path] = new

    def go_on(self, folder: str) -> None:
        """Report what is done, and start on the newest that waits."""
        done = self._worker.done()
        if done is not None:
            self.told(done, self._new)
        elif self._worker.path:
            if self._since and time.monotonic() - self._since > LONG:
                self._since = 0.0
                more = f"; {len(self._waiting)} more to do" if self._waiting else ""
                self.say(f"Judging {clean(self._worker.path, 500)}{more}")
            return
        if self._waiting:
            path = max(self._waiting, key=lambda one: (self._waiting[one], _written(one)))
            self._new = self._waiting.pop(path)
            self._since = time.monotonic()
            self._worker.begin(path)
        elif not self._watching:
            self._watching = True
            self.say(f"Watching {folder}; Ctrl-C ends.")

    def close(self) -> None:
        """End the process beside."""
        self._worker.close()

    def opening(self, folder: str) -> None:
        """Write the heading above all exports."""

    def say(self, text: str) -> None:
        """Write a message about the watching itself."""

    def told(self, done: many.Done, new: bool) -> None:
        """Write the line for an export."""
        raise NotImplementedError


def _held(path: str) -> bytes:
    """A digest of a file; empty if it cannot be read."""
    try:
        return hashlib.sha256(Path(path).read_bytes()).digest()
    except OSError:
        return b""


def _written(path: str) -> float:
    try:
        return os.path.getmtime(path)
    except OSError:
        return 0.0


class _JsonWatcher(_Queue):
    """Writes a JSON line on each export."""

    def __init__(self, asked: Asked, options: argparse.Namespace) -> None:
        from livepedal.views import json_view

        super().__init__(many.Judge(asked, many.Form.JSON, options.debug))
        self._head = json_view.line_head(asked.player, asked.instrument, asked.figures)

    def told(self, done: many.Done, new: bool) -> None:
        from livepedal.views import json_view

        sys.stdout.write(json_view.line_text(self._head, done.text, done.seconds))
        sys.stdout.flush()


class _Watcher(_Queue):
    """Remembers the last export of each cue, and writes a row on each."""

    def __init__(self, asked: Asked, options: argparse.Namespace, folder: str) -> None:
        from livepedal.views.report.table import Table

        super().__init__(many.Judge(asked, many.Form.ROW, options.debug, keep=True))
        self._asked = asked
        self._out = Output(sys.stdout, options.plain)
        self._look = self._out.look(asked.middle_c)
        self._present = [path for path in files.named([folder]) if path != folder]
        # New names will be about as long as the present ones.
        self._table = Table.laid_out(
            [*self._present, os.path.join(folder, "a cue of this length")], self._look
        )
        self._last: dict[str, _Export] = {}

    def opening(self, folder: str) -> None:
        if self._present:
            are = "is" if len(self._present) == 1 else "are"
            self.say(f"First judging {counted(len(self._present), 'MIDI file')} that {are} in {folder}.")
        self._write(
            [*report.opening(self._asked.player, self._asked.instrument, self._look), (), *self._table.head()]
        )

    def say(self, text: str) -> None:
        self._write([*self._look.faint(text, 0)])

    def told(self, done: many.Done, new: bool) -> None:
        from livepedal.advice.comparing.news import cue_of

        lines: list[Line] = [*self._table.rows(done.summary)]
        # One that breaks off is no version of the cue.
        if done.report is not None and done.error is None and not done.summary.in_part:
            export = _Export(done.summary.path, time.strftime("%H:%M:%S"), done.report)
            cue = cue_of(export.path)
            before = self._last.get(cue)
            # Older files are judged after new ones, and are not news.
            if new or before is None:
                self._last[cue] = export
            if new:
                lines += self._news(before, export)
        self._write(lines)

    def _news(self, before: _Export | None, now: _Export) -> Iterator[Line]:
        from livepedal.advice.comparing.compare import compare_parts
        from livepedal.advice.comparing.news import news

        if before is None:
            yield from self._look.faint(f"{now.at}, the first export of this cue")
            return
        compared = compare_parts(before.path, now.path, before.report.parts, now.report.parts)
        name = "" if before.path == now.path else f" ({os.path.basename(before.path)})"
        said = "; ".join(news(compared)) or "no bar differs"
        yield from self._look.text(f"{now.at}, since {before.at}{name}: {clean(said, 2000)}", 2, hang=2)

    def _write(self, lines: list[Line]) -> None:
        self._out.write(lines)
        sys.stdout.flush()
