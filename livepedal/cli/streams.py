"""The standard streams, in whatever state livepedal was started with.

Whoever starts it may have closed one (`>&-`, or a service manager). Then the next file that is opened gets its
number: a journal could become standard error, and libraries that print there would print into the journal. So
closed ones are opened again, on nothing. And what is written may find no room (a full disk), or nobody who
reads it any more.
"""

from __future__ import annotations

import codecs
import contextlib
import errno
import os
import sys
import time
from collections.abc import Callable, Iterator
from typing import TextIO

from livepedal.errors import LivepedalError

_NO_ROOM = frozenset(
    getattr(errno, name)
    for name in ("ENOSPC", "EDQUOT", "EFBIG", "EIO", "EBADF", "EROFS", "ENXIO")
    if hasattr(errno, name)
)


def open_closed() -> None:
    """Open standard streams that are closed on the null device, each under its own number."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest number that is free, which is this one
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115


def known_to_python(stream: TextIO) -> None:
    """Raise LivepedalError where a stream has an error handler that Python finds missing only when it needs it."""
    try:
        codecs.lookup_error(stream.errors or "strict")
    except LookupError:
        raise LivepedalError(
            f"PYTHONIOENCODING asks for the error handler {stream.errors!r}, which Python does not have; set it to"
            " utf-8, or unset it."
        ) from None


def unwritable(error: OSError) -> str | None:
    """What to say where standard output takes no more; None where the error is another one.

    A name comes with the errors of opening a file; those of writing to one that is open have none.
    """
    if error.filename is not None or error.errno not in _NO_ROOM:
        return None
    return f"the output cannot be written ({error.strerror}); free some space, or send it somewhere else."


def give_up_output() -> None:
    """Drop the output that is still waiting. Python would try once more at the end, and complain."""
    null = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(null, sys.stdout.fileno())
    except (OSError, ValueError):
        pass  # not a stream of the system's
    finally:
        os.close(null)


@contextlib.contextmanager
def meanwhile(ended: Callable[[], int]) -> Iterator[None]:
    """Around what is said while something runs, which is on its way at once.

    ended: the number of the signal that ends it, 0 while none came: a terminal that was closed takes nothing any more,
    and a signal tells of it a moment later.
    """
    try:
        yield
        sys.stdout.flush()
    except OSError:
        patience = 20
        while not ended():
            if not patience:
                raise
            patience -= 1
            time.sleep(0.01)


@contextlib.contextmanager
def last_words(signal: int) -> Iterator[None]:
    """Around what is said at the end.

    Where a signal brought that about (its number, 0 for none), it may have been
    that of a terminal that was closed, and nobody is there to be told.
    """
    try:
        yield
        sys.stdout.flush()
    except OSError:
        if not signal:
            raise
        give_up_output()
