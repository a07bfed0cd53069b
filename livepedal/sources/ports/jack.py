"""Whether the JACK server at the other end of a client is there.

When a JACK server dies nothing says so, and its ports are still listed, out of shared memory. But libjack talks to its
server over sockets in the file system whose names begin with "jack_" at one end, and these hang up. So the sockets that
come with a client are remembered. A client that brings none has no server: rtmidi2 makes such clients.
"""

from __future__ import annotations

import contextlib
import os
import select
import socket
import stat
from dataclasses import dataclass

_SOCKETS = "/dev/fd"


@dataclass(frozen=True, slots=True)
class Link:
    """The sockets that came with a client: (file descriptor, inode)."""

    sockets: tuple[tuple[int, int], ...]

    def hung_up(self) -> bool:
        """Whether the server is gone."""
        for number, inode in self.sockets:
            try:
                if os.fstat(number).st_ino != inode:
                    return True  # libjack has closed it itself
            except OSError:
                return True
            poll = select.poll()
            poll.register(number, 0)  # hanging up is always reported
            if poll.poll(0):
                return True
        return False

    def missing(self) -> bool:
        """Whether there never was a server. False where the system does not tell."""
        return not self.sockets and os.path.isdir(_SOCKETS)


def sockets() -> frozenset[tuple[int, int]]:
    """The sockets of libjack in this process; none where the system does not tell."""
    found = set()
    with contextlib.suppress(OSError):
        for name in os.listdir(_SOCKETS):
            with contextlib.suppress(OSError, ValueError):
                number = int(name)
                state = os.fstat(number)
                if stat.S_ISSOCK(state.st_mode) and _is_jacks(number):
                    found.add((number, state.st_ino))
    return frozenset(found)


def _is_jacks(number: int) -> bool:
    with socket.socket(fileno=os.dup(number)) as copy:
        if copy.family != getattr(socket, "AF_UNIX", None):
            return False
        ends = [copy.getsockname()]
        with contextlib.suppress(OSError):
            ends.append(copy.getpeername())
    return any(isinstance(end, str) and os.path.basename(end).startswith("jack_") for end in ends)
