"""A session or a replay while it goes on: on the screen, or line by line where there is none, with typed keys."""

from __future__ import annotations

import contextlib
import os
import select
import sys
import time
from types import FrameType
from typing import Any

from livepedal.cli.output import Output
from livepedal.cli.streams import meanwhile
from livepedal.live.listen import Listener
from livepedal.replay import Replay
from livepedal.views.dashboard.endings import noted
from livepedal.views.lines import Line
from livepedal.views.plain import wrapped

_REST = 0.05  # seconds between two checks for something to print
_KEY = 0.01  # seconds between two checks for a key


def shown(show: Listener | Replay, out: Output, announcement: list[Line], keys: TypedLines) -> int:
    """Show it until it is over, or a key or a signal ends it. Returns the number of the signal, or 0.

    On the screen; where there is none, line by line after an announcement: each finding once its attack is over.
    """
    if out.screen is not None:
        from livepedal.views.dashboard import terminal

        return terminal.run(show, out.screen)
    ended = 0

    def note(number: int, frame: FrameType | None) -> None:
        nonlocal ended
        ended = number

    with noted(note):
        news = [*wrapped(announcement, out.width)]
        going, rung = True, 0
        while not ended and (going or news or show.waits):
            with meanwhile(lambda: ended):
                if show.bells > rung and sys.stdout.isatty():
                    sys.stdout.write("\a")
                out.write(news)
            rung = show.bells
            typed = keys.wait(_REST)
            going = going and show.goes_on() and all(map(show.typed, typed))
            news = show.news_lines(out.width)
    return ended


class TypedLines:
    """Lines that are typed, or that come down a pipe."""

    keys_work = True  # whether keys do anything

    def __init__(self) -> None:
        self._input: int | None = None
        if sys.stdin is not None:
            with contextlib.suppress(OSError, ValueError):
                self._input = sys.stdin.fileno()

    def wait(self, seconds: float) -> list[str]:
        """Wait this long (s), or until something was typed. Returns the lines."""
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
            self._input = None  # nothing more will come, but the music goes on
        return typed.decode("utf-8", "replace").splitlines()


class Console(TypedLines):
    """The same at a console of Windows, which can only be asked for keys, one after the other."""

    def __init__(self) -> None:
        import msvcrt

        self._keys: Any = msvcrt
        self._line = ""

    def wait(self, seconds: float) -> list[str]:
        """As above. What is typed is shown, and can be taken back."""
        end = time.monotonic() + seconds
        lines: list[str] = []
        while not lines and time.monotonic() < end:
            if not self._keys.kbhit():
                time.sleep(_KEY)
                continue
            key = self._keys.getwch()
            if key in "\x00\xe0":
                self._keys.getwch()  # arrows and the like come as two
            elif key in "\r\n":
                self._show("\r\n")
                lines.append(self._line)
                self._line = ""
            elif key == "\b":
                self._show("\b \b" if self._line else "")
                self._line = self._line[:-1]
            elif key.isprintable():
                self._show(key)
                self._line += key
        return lines

    def _show(self, text: str) -> None:
        for character in text:
            self._keys.putwch(character)


class Nobody(TypedLines):
    """A pipe on Windows, where one cannot ask whether anything has arrived."""

    keys_work = False

    def __init__(self) -> None: ...

    def wait(self, seconds: float) -> list[str]:
        """Wait; nothing is typed."""
        time.sleep(seconds)
        return []


def typed_lines() -> TypedLines:
    """The reader of typed lines that works here."""
    if os.name != "nt":
        return TypedLines()
    return Console() if sys.stdin is not None and sys.stdin.isatty() else Nobody()
