"""MIDI inputs: opened with whoever takes what comes."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from livepedal.sources.ports.libraries import Deliver
from livepedal.sources.ports.system import CLIENT, Opened, Ports

Receive = Callable[[Sequence[int], float | None], None]
"""Takes the bytes of a message and the seconds since the one before, None for the first after the port was opened; in a
thread of the system's.
"""


class Inputs(Ports):
    """The inputs of one backend."""

    def open(self, source: int, name: str, receive: Receive) -> None:
        """Listen to the input of this name.

        Raises:
            LivepedalError: where it cannot be opened.
        """
        self._add(Opened(source, name, False, lambda: _first_without_time(receive)))

    def open_virtual(self, source: int, receive: Receive) -> None:
        """Make an input named livepedal that other programs can send to.

        Raises:
            LivepedalError: where the system has none.
        """
        self._add(Opened(source, CLIENT, True, lambda: _first_without_time(receive)))


def _first_without_time(receive: Receive) -> Deliver:
    """For the first message the libraries say 0 s, whenever it comes."""
    first = True

    def deliver(data: Sequence[int], delta: float) -> None:
        nonlocal first
        receive(data, None if first else delta)
        first = False

    return deliver
