"""The libraries that open MIDI ports, behind one class: python-rtmidi where it has wheels, rtmidi2 elsewhere.

Both wrap the C++ library RtMidi, so both name its systems alike. mido can open ports too, but it drops the time that
comes with a message, takes whole messages apart and puts them together again, and makes a new client to ask for names.

They are imported late, because only live listening may depend on them. What was measured:

- An exception in a callback vanishes without a word, so a callback does nothing that can fail.
- Without a JACK server rtmidi2 makes a client all the same and does not raise; `jack` finds that out.
- Asked for a system that it was built without, RtMidi takes another one, so a client's system is checked.
- They print to standard error from C; `quiet` keeps that off the screen.
"""

from __future__ import annotations

import contextlib
import importlib
import os
import platform
import sys
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Any

from livepedal.errors import LivepedalError
from livepedal.sources.ports import jack

ERRORS = (OSError, ValueError, RuntimeError)
"""What a client raises: python-rtmidi's own errors are OSErrors and RuntimeErrors, rtmidi2's are RuntimeErrors; a
ValueError says that the port has gone meanwhile."""

Receive = Callable[[Sequence[int], float | None], None]
"""Takes the bytes of a message and the seconds since the one before it, None for the first one. It is called in one of
the system's threads."""


class Client(ABC):
    """An input or output of ours, which can be opened once.

    All methods but `close` raise ERRORS.

    Args:
        module: the library.
        api: RtMidi's name of the MIDI system.
        client: what it is called in the system.
        output: whether it is for an output, not an input.

    Raises:
        NotImplementedError: the library was built without that system. The message is the library's name.
        OSError: there is no such system here, or another of ERRORS.
    """

    name: str  # of the library

    def __init__(self, module: Any, api: str, client: str, output: bool) -> None:
        before = jack.sockets()
        self._midi = self._made(module, getattr(module, api), client, output)
        self._link: jack.Link | None = None
        if api == "API_UNIX_JACK":
            self._link = jack.Link(tuple(sorted(jack.sockets() - before)))
            if self._link.missing():
                self.close()
                raise OSError

    def server_gone(self) -> bool:
        """Whether the MIDI system itself has gone. Only JACK's server can die alone."""
        return self._link is not None and self._link.hung_up()

    def open(self, number: int, receive: Receive | None) -> None:
        """Open the port of this number in `names`: listen to it, or send to it where `receive` is None."""
        self._listen(receive)
        self._open_port(number, "in" if receive else "out")

    def open_virtual(self, name: str, receive: Receive | None) -> None:
        """Make a port that others can send to, or listen to where `receive` is None."""
        self._listen(receive)
        self._midi.open_virtual_port(name)

    def _open_port(self, number: int, name: str) -> None:
        self._midi.open_port(number, name=name)

    def _listen(self, receive: Receive | None) -> None:
        if receive is None:
            return
        first = True

        def deliver(data: Sequence[int], delta: float) -> None:
            nonlocal first
            receive(data, None if first else delta)  # for the first message both say 0 s, whenever it comes
            first = False

        self._deliver_to(deliver)

    @abstractmethod
    def names(self) -> list[str]:
        """The inputs, or the outputs, that there are now."""

    @abstractmethod
    def send(self, data: Sequence[int]) -> None:
        """Send a whole message. May wait for the system, and Python's lock is held meanwhile."""

    @abstractmethod
    def close(self) -> None:
        """Close it; never raises."""

    @abstractmethod
    def _made(self, module: Any, api: int, client: str, output: bool) -> Any: ...

    @abstractmethod
    def _deliver_to(self, deliver: Callable[[Sequence[int], float], None]) -> None: ...


class PythonRtmidi(Client):
    """python-rtmidi 1.5, module `rtmidi`."""

    name = "python-rtmidi"

    def _made(self, module: Any, api: int, client: str, output: bool) -> Any:
        if api not in module.get_compiled_api():
            raise NotImplementedError(self.name)
        return (module.MidiOut if output else module.MidiIn)(api, name=client)

    def names(self) -> list[str]:
        """As `Client`."""
        return list(self._midi.get_ports())

    def send(self, data: Sequence[int]) -> None:
        """As `Client`."""
        self._midi.send_message(data)

    def close(self) -> None:
        """As `Client`."""
        for end in ("cancel_callback", "close_port", "delete"):  # an output has no callback
            with contextlib.suppress(Exception):
                getattr(self._midi, end)()

    def _deliver_to(self, deliver: Callable[[Sequence[int], float], None]) -> None:
        self._midi.ignore_types(sysex=False, timing=False, active_sense=False)
        self._midi.set_callback(lambda event, _: deliver(*event))


class Rtmidi2(Client):
    """rtmidi2 1.5, module `rtmidi2`."""

    name = "rtmidi2"

    def _made(self, module: Any, api: int, client: str, output: bool) -> Any:
        midi = (module.MidiOut if output else module.MidiIn)(client, api=api)
        if midi.get_current_api() != api:
            raise NotImplementedError(self.name)
        return midi

    def names(self) -> list[str]:
        """As `Client`; none once it is closed."""
        return [] if self._midi is None else [name for name in self._midi.ports if name]

    def _open_port(self, number: int, name: str) -> None:
        self._midi.open_port(number)

    def send(self, data: Sequence[int]) -> None:
        """As `Client`; nothing once it is closed."""
        if self._midi is not None:
            self._midi.send_raw(*data)

    def close(self) -> None:
        """As `Client`."""
        midi, self._midi = self._midi, None  # the only way to end a client is to let go of it
        if midi is None:
            return
        with contextlib.suppress(Exception):
            midi.callback = None
        with contextlib.suppress(Exception):
            midi.close_port()

    def _deliver_to(self, deliver: Callable[[Sequence[int], float], None]) -> None:
        self._midi.ignore_types(midi_sysex=False, midi_time=False, midi_sense=False)
        # It counts the arguments, so a method or a partial function would not do.
        self._midi.callback = lambda data, delta: deliver(data, delta)


Library = Callable[[str, str, bool], Client]
"""Makes a client of an API (RtMidi's name) under a name, for an output or an input."""


def load() -> Library:
    """The library that is installed.

    Raises:
        LivepedalError: there is none, or it cannot be loaded.
    """
    for module, client in (("rtmidi", PythonRtmidi), ("rtmidi2", Rtmidi2)):
        with contextlib.suppress(ImportError):
            return partial(client, importlib.import_module(module))
    raise LivepedalError(_what_to_do(sys.version_info[:2], sys.platform, platform.machine()))


def _what_to_do(python: tuple[int, int], system: str, machine: str) -> str:
    """Which library to install on this Python, system and machine; its wheels decide (as of November 2026)."""
    install = f"{sys.executable} -m pip install"
    if python < (3, 13):
        return f"No library that opens MIDI ports is installed; install one with: {install} python-rtmidi."
    if python < (3, 15) and (machine in ("x86_64", "AMD64") or system == "darwin"):
        return f"No library that opens MIDI ports is installed; install one with: {install} rtmidi2."
    needs = "a C++ compiler and ALSA's headers" if system == "linux" else "a C++ compiler"
    return (
        f"No library that opens MIDI ports is available for Python {python[0]}.{python[1]} on {machine}:"
        f" use Python 3.12, or build one ({needs} needed) with: {install} python-rtmidi."
    )


@contextlib.contextmanager
def quiet() -> Iterator[None]:
    """Drop what C libraries print to standard error; what Python prints there still arrives."""
    try:
        before = os.dup(2)
        nowhere = os.open(os.devnull, os.O_WRONLY)
    except OSError:
        yield
        return
    stderr = sys.stderr
    try:
        os.dup2(nowhere, 2)
        with open(
            before, "w", encoding=getattr(stderr, "encoding", None), errors="replace", closefd=False
        ) as kept:
            if stderr is sys.__stderr__:
                sys.stderr = kept
            yield
    finally:
        sys.stderr = stderr
        os.dup2(before, 2)
        os.close(before)
        os.close(nowhere)
