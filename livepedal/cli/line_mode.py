"""Listening line by line, where there is no screen to draw on: what is found, and the keys that are typed."""

from __future__ import annotations

import contextlib
import os
import select
import sys
import time
from types import FrameType
from typing import TYPE_CHECKING

from livepedal.cli.streams import meanwhile

if TYPE_CHECKING:
    from livepedal.cli.output import Output
    from livepedal.live.listen import Listener
    from livepedal.views.lines import Line

_REST = 0.05  # seconds between two looks for something to print


def run(listener: Listener, out: Output, announcement: list[Line]) -> int:
    """Each finding in a line of its own, once its attack is over, until a key or a signal ends it. Returns the
    number of the signal, or 0.
    """
    from livepedal.live.faults import Stage
    from livepedal.views.endings import noted
    from livepedal.views.plain import wrapped

    ended = 0

    def note(number: int, frame: FrameType | None) -> None:
        nonlocal ended
        ended = number

    with noted(note):
        out.write(wrapped(announcement, out.width))
        sys.stdout.flush()
        keys = _TypedLines()
        going = True
        while going and not ended:
            news = listener.news_lines()
            try:
                news = list(wrapped(news, out.width))
            except Exception as error:
                listener.faults.caught(Stage.SCREEN, error)
            with meanwhile(lambda: ended):
                out.write(news)
            for typed in keys.wait(_REST):
                going = going and listener.typed(typed)
    return ended


class _TypedLines:
    """Whatever is typed, once Return is pressed, or comes down a pipe."""

    def __init__(self) -> None:
        self._input: int | None = None
        if os.name != "nt" and sys.stdin is not None:
            with contextlib.suppress(OSError, ValueError):
                self._input = sys.stdin.fileno()

    def wait(self, seconds: float) -> list[str]:
        """Wait so long, or until something was typed; the lines of it."""
        number = self._input
        # A job in the background that reads from the terminal would be stopped by it.
        if number is None or (os.isatty(number) and os.tcgetpgrp(number) != os.getpgrp()):
            time.sleep(seconds)
            return []
        ready, _, _ = select.select([number], [], [], seconds)
        if not ready:
            return []
        try:
            typed = os.read(number, 256)
        except OSError:
            typed = b""
        if not typed:
            self._input = None  # nothing more will come; never mind, the music goes on
        return typed.decode("utf-8", "replace").splitlines()
