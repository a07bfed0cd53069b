"""The signals that end a program. While something is shown or listened to they are only noted, so that it ends in an
orderly way; those that are ignored from outside (`nohup`) stay ignored.
"""

from __future__ import annotations

import contextlib
import signal
from collections.abc import Callable, Iterator, Mapping
from types import FrameType

NAMES = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")  # each where the system has it

# As `signal.signal` takes and returns it; None where somebody outside Python had set it.
Handler = Callable[[int, FrameType | None], object] | int | None


def take_over(note: Callable[[int, FrameType | None], None]) -> dict[int, Handler]:
    """Have `note` called for all of them; what there was before, by their numbers."""
    before: dict[int, Handler] = {}
    for name in NAMES:
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
            before[number] = signal.signal(number, note)
    return before


@contextlib.contextmanager
def noted(note: Callable[[int, FrameType | None], None]) -> Iterator[None]:
    """Have `note` called for all of them meanwhile."""
    before = take_over(note)
    try:
        yield
    finally:
        give_back(before)


def give_back(before: Mapping[int, Handler]) -> None:
    """Let everything be as it was before."""
    for number, handler in before.items():
        # What somebody outside Python had set cannot be set again from here.
        signal.signal(number, handler if handler is not None else signal.SIG_DFL)
