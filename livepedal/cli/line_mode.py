"""A session or a replay while it goes on: on the screen, or line by line where there is none, with typed keys."""

from __future__ import annotations

import errno
import io
import queue
import signal
import sys
import threading
import time
from types import FrameType

from livepedal.cli.output import Output
from livepedal.cli.streams import meanwhile
from livepedal.live.hearing import drained
from livepedal.live.listen import Listener
from livepedal.replay import Replay
from livepedal.views.dashboard.endings import noted
from livepedal.views.lines import Line
from livepedal.views.plain import wrapped

_REST = 0.05  # seconds between two checks for something to print
_BACKGROUND = 0.2  # seconds between two attempts to read from a terminal that another job has
_LONGEST = 4096  # bytes of a line


def shown(
    show: Listener | Replay, out: Output, announcement: list[Line], keys: TypedLines | None = None
) -> int:
    """Show it until it is over, or a key or a signal ends it. Returns the number of the signal, or 0.

    On the screen; where there is none, line by line after an announcement: each finding once its attack is over.
    keys: what is typed there; None where keys do nothing.
    """
    if out.screen is not None:
        from livepedal.views.dashboard import terminal

        return terminal.run(show, out.screen)
    ended = 0

    def note(number: int, frame: FrameType | None) -> None:
        nonlocal ended
        ended = number

    if keys is not None:
        keys.start()
    with noted(note):
        news = [*wrapped(announcement, out.width)]
        going, rung = True, 0
        while not ended and (going or news or show.waits):
            with meanwhile(lambda: ended):
                if show.bells > rung and sys.stdout.isatty():
                    sys.stdout.write("\a")
                out.write(news)
            rung = show.bells
            if keys is None:
                time.sleep(_REST)
            typed = [] if keys is None else keys.wait(_REST)
            going = going and show.goes_on() and all(map(show.typed, typed))
            news = show.news_lines(out.width)
    return ended


class TypedLines:
    """Lines that are typed, or that come down a pipe. A thread reads them: nowhere else can it wait on every system."""

    def __init__(self) -> None:
        self._lines: queue.Queue[str] = queue.Queue()
        # The raw stream has no lock that the thread could still hold when the program ends.
        self._input: io.RawIOBase | None = getattr(getattr(sys.stdin, "buffer", None), "raw", None)

    def start(self) -> None:
        """Start reading."""
        if self._input is None:
            return
        if hasattr(signal, "SIGTTIN"):
            # A job in the background that reads from the terminal would be stopped; so it gets an error instead.
            signal.signal(signal.SIGTTIN, signal.SIG_IGN)
        threading.Thread(target=self._read, args=(self._input,), name="livepedal-typed", daemon=True).start()

    def wait(self, seconds: float) -> list[str]:
        """Wait this long (s), or until something was typed. Returns the lines."""
        return drained(self._lines, seconds)

    def _read(self, stream: io.RawIOBase) -> None:
        """Read until nothing more comes; the music goes on then."""
        begun = b""
        while True:
            try:
                data = stream.read(256)
            except OSError as error:
                if error.errno != errno.EIO:
                    return
                time.sleep(_BACKGROUND)
                continue
            except ValueError:  # it was closed
                return
            *lines, begun = (begun + (data or b"")).split(b"\n")
            if not data:
                lines = [begun] if begun else []
            for line in lines:
                self._lines.put(line.decode("utf-8", "replace").rstrip("\r"))
            begun = begun[:_LONGEST]
            if not data:
                return
