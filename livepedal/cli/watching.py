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
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from livepedal.advice.report import FileReport
from livepedal.cli import files
from livepedal.cli.many import Done, Judge, Pool
from livepedal.cli.request import Request
from livepedal.cli.writers import TableWriter, json_lines
from livepedal.errors import LivepedalError
from livepedal.sources.settling import Settling, signature_of
from livepedal.sources.text import clean
from livepedal.views.lines import Line
from livepedal.views.words import counted

LOOK_EVERY = 200  # ms between two checks of files that are being written
LONG = 2.0  # seconds; if judging takes longer, a line says so


def watch(options: argparse.Namespace) -> int:
    """Judge each export in a folder as it is written."""
    request = Request(options)
    folder = options.folder
    shown = clean(folder, 500)
    if not os.path.isdir(folder):
        raise LivepedalError(f"{shown} is not a folder; name the one that exports are written to.")
    present = [path for path in files.named([folder]) if path != folder]
    table = None if options.jsonl else _Table(request, options.plain, folder, present)
    writer = table or json_lines(request)
    queue = _Queue(Pool(Judge(request, writer.render, keep=writer.keep, debug=options.debug)))
    settling = Settling()
    try:
        writer.opening()
        sys.stdout.flush()
        for path in present:
            settling.known(path, signature_of(path))
            queue.add(path, new=False)
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
                queue.add(path)
            done = queue.pool.done()
            if done is not None:
                writer.file(done)
                if table is not None:
                    table.news(done, queue.new)
            said = queue.go_on(shown)
            if said and table is not None:
                table.say(said)
            sys.stdout.flush()
    except KeyboardInterrupt:
        pass
    finally:
        queue.pool.close()
    return 0


def _changes(folder: str) -> Iterator[list[str]]:
    """The files that changed, again and again; an empty list if none did."""
    try:
        from watchfiles import watch
    except ImportError:
        raise LivepedalError("Watching needs the package watchfiles; run pip install watchfiles.") from None

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
            reason = clean(str(error))
            raise LivepedalError(f"{clean(folder, 500)} cannot be watched ({reason}); check its permissions.") from None
        yield []  # and whoever listens sees that it is gone


class _Queue:
    """Exports that wait to be judged, and the one being judged.

    Attributes:
        new: whether that one was written while we watched.
    """

    def __init__(self, pool: Pool) -> None:
        self.pool = pool
        self.new = False
        self._waiting: dict[str, bool] = {}  # path -> whether it is new
        self._known: dict[str, bytes] = {}  # path -> what it held when it was judged
        self._since = 0.0
        self._watching = False

    def add(self, path: str, new: bool = True) -> None:
        """Have an export judged unless it is unchanged. new: it was written while we watched."""
        held = _held(path)
        if new and held and self._known.get(path) == held:
            return
        self._known[path] = held
        self._waiting.pop(path, None)
        self._waiting[path] = new

    def go_on(self, folder: str) -> str:
        """Start on the newest export that waits, if none is being judged. Returns what is worth saying, if anything."""
        if self.pool.path:
            if not self._since or time.monotonic() - self._since <= LONG:
                return ""
            self._since = 0.0
            more = f"; {len(self._waiting)} more to do" if self._waiting else ""
            return f"Judging {clean(self.pool.path, 500)}{more}"
        if self._waiting:
            path = max(self._waiting, key=lambda path: (self._waiting[path], _written(path)))
            self.new = self._waiting.pop(path)
            self._since = time.monotonic()
            self.pool.begin(path)
            return ""
        self._watching, before = True, self._watching
        return "" if before else f"Watching {folder}; Ctrl-C ends."


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


@dataclass(frozen=True, slots=True)
class _Export:
    """An export that was judged. at: the time of day."""

    path: str
    at: str
    report: FileReport


class _Table(TableWriter):
    """A row for each export, and what changed since the last export of its cue."""

    keep = True

    def __init__(self, request: Request, plain: bool, folder: str, present: Sequence[str]) -> None:
        # New names will be about as long as the present ones.
        super().__init__(request, plain, [*present, os.path.join(folder, "a cue of this length")])
        self._folder, self._present = folder, len(present)
        self._last: dict[str, _Export] = {}

    def opening(self) -> None:
        if self._present:
            many = counted(self._present, "MIDI file")
            self.say(f"First judging the {many} already in {clean(self._folder, 500)}.")
        super().opening()

    def say(self, text: str) -> None:
        """Write a message about the watching itself."""
        self._out.write(self._look.faint(text, 0))

    def news(self, done: Done, new: bool) -> None:
        """Write what changed, if that is news. One that breaks off is no version of the cue."""
        from livepedal.advice.comparing.news import cue_of

        if done.report is None or done.error is not None or done.summary.in_part:
            return
        export = _Export(done.summary.path, time.strftime("%H:%M:%S"), done.report)
        cue = cue_of(export.path)
        before = self._last.get(cue)
        # Older files are judged after new ones, and are not news.
        if new or before is None:
            self._last[cue] = export
        if new:
            self._out.write(self._changed(before, export))

    def _changed(self, before: _Export | None, now: _Export) -> Iterator[Line]:
        from livepedal.advice.comparing.compare import compare_parts
        from livepedal.advice.comparing.news import news

        if before is None:
            yield from self._look.faint(f"{now.at}, the first export of this cue")
            return
        compared = compare_parts(before.path, now.path, before.report.parts, now.report.parts)
        name = "" if before.path == now.path else f" ({os.path.basename(before.path)})"
        changed = clean("; ".join(news(compared)) or "no bar differs", 2000)
        yield from self._look.text(f"{now.at}, since {before.at}{name}: {changed}", 2, hang=2)
