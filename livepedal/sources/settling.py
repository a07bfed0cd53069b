"""When has another program finished writing a file?

Sequencers write an export in pieces, and a network folder lets them arrive in pieces, so the news that a file has
changed comes too early, and several times. A file is taken as finished when its size and time of change have stood
still for a moment and it holds a whole MIDI file or score. One that stands still for long without being whole is taken
as it is, and the reader says what is wrong with it.

Reads no clock: the caller says what time it is.
"""

from __future__ import annotations

import os

from livepedal.errors import LivepedalError
from livepedal.sources.reading import read_raw
from livepedal.sources.smf import READ_ON

STILL = 0.25  # seconds that a whole file stands still before it is done
PATIENCE = 10.0  # seconds for one that breaks off

# Size and time of change (ns); None where there is no file.
Signature = tuple[int, int] | None


class Settling:
    """The files that another program is writing."""

    def __init__(self) -> None:
        # By path; and since when it stands still (seconds).
        self._waiting: dict[str, tuple[Signature, float]] = {}
        self._done: dict[str, Signature] = {}

    def __bool__(self) -> bool:
        return bool(self._waiting)

    def known(self, path: str, signature: Signature) -> None:
        """Note that the file was read as it stood then."""
        self._done[path] = signature

    def touched(self, path: str, now: float) -> None:
        """Note that something happened to a file at this time (seconds)."""
        signature = signature_of(path)
        if signature is None or self._done.get(path) == signature:
            self._waiting.pop(path, None)
        elif path not in self._waiting or self._waiting[path][0] != signature:
            self._waiting[path] = signature, now

    def ready(self, now: float) -> list[str]:
        """The files that are finished by now, each once until it changes again."""
        done = []
        for path in sorted(self._waiting):
            self.touched(path, now)
            if path not in self._waiting:
                continue  # it is gone again
            signature, since = self._waiting[path]
            if now - since >= PATIENCE or (now - since >= STILL and is_whole(path)):
                del self._waiting[path]
                self._done[path] = signature
                done.append(path)
        return done


def signature_of(path: str) -> Signature:
    """A value that changes when the file is written to."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns


def is_whole(path: str) -> bool:
    """Whether it can be read to its end."""
    try:
        song = read_raw(path)
        # A score is read as a whole or not at all.
        return bool(song.bars) or all(remark.endswith(READ_ON) for remark in song.remarks)
    except LivepedalError:
        return False
