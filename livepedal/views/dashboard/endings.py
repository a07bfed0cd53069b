"""The signals that end a program: Ctrl-C, being told to go, a terminal that is closed.

Whoever shows something for long has them noted instead, and then ends in an orderly way.
"""

from __future__ import annotations

import contextlib
import signal
from collections.abc import Callable, Iterator
from types import FrameType

ENDING = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")  # no system has all of them


@contextlib.contextmanager
def noted(note: Callable[[int, FrameType | None], None]) -> Iterator[None]:
    """These signals do nothing but call `note`; those that are ignored stay so."""
    before = {}
    for name in ENDING:
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
            before[number] = signal.signal(number, note)
    try:
        yield
    finally:
        for number, handler in before.items():
            # None: somebody outside Python had set it; it cannot be set again from here.
            signal.signal(number, handler or signal.SIG_DFL)
