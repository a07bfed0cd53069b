"""A process beside this one, for what must not hold it up: Python runs one thread at a time.

It is started afresh (not forked, which threads do not survive) and ends with its parent, however that ends, since the
pipe between them does.
"""

from __future__ import annotations

import signal
from collections.abc import Callable
from multiprocessing import get_context, resource_tracker
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess


def started(work: Callable[..., None], name: str, *arguments: object) -> tuple[BaseProcess, Connection]:
    """Start a process that runs `work(pipe, *arguments)`; it, and this end of the pipe.

    Raises:
        OSError: it cannot be started.
    """
    context = get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=work, args=(theirs, *arguments), name=name, daemon=True)
    blocks = hasattr(signal, "pthread_sigmask")  # not on Windows
    if blocks:
        # Ctrl-C in a terminal reaches the process too, before it can say that it does not care. What
        # multiprocessing starts before the first process lifts every block, so that comes first.
        resource_tracker.ensure_running()
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        process.start()
    finally:
        if blocks:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
        theirs.close()
    return process, ours
