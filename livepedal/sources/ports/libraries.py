"""The libraries that open MIDI ports, behind one small interface: python-rtmidi where it has wheels, rtmidi2 elsewhere.

Both wrap the C++ library RtMidi, so what is said here of one API holds for both. mido has backends too, but they
drop the time that comes with a message, take whole messages apart and put them together again, and make a new
client to ask for names. So the libraries are used directly.

They are imported late: nothing but live listening may depend on them. What was measured of them:

- Exceptions raised in a callback vanish without a word, so a callback does nothing that can fail.
- Without a JACK server rtmidi2 gives a client all the same, without raising; jack.py finds that out.
- Asked for an API that it was not built with, RtMidi takes another one, so the API of a client is looked at.
"""

from __future__ import annotations

import contextlib
import importlib
import platform
import sys
from collections.abc import Callable, Sequence
from typing import Any, Protocol

from livepedal.errors import LivepedalError

ERRORS = (OSError, ValueError, RuntimeError)
"""What the methods of a client raise: python-rtmidi's own errors are OSErrors and RuntimeErrors, rtmidi2's are
RuntimeErrors; a ValueError says that a port has gone meanwhile.
"""

Deliver = Callable[[Sequence[int], float], None]
"""Takes the bytes of a message and the seconds since the one before (0 for the first), in a thread of the system's."""


class Client(Protocol):
    """An input of ours, or an output, that can be opened once. Its methods raise ERRORS, except for `close`."""

    def names(self) -> list[str]:
        """The inputs, or the outputs, that there are now."""

    def open(self, number: int, deliver: Deliver | None) -> None:
        """Listen to the input of this number in `names`; None: send to the output of this number."""

    def open_virtual(self, name: str, deliver: Deliver | None) -> None:
        """Make an input that others can send to, or an output that they can listen to."""

    def send(self, data: Sequence[int]) -> None:
        """Send a whole message to the output. May wait for the system, and both libraries keep Python's lock
        meanwhile.
        """

    def close(self) -> None:
        """Close it; never raises."""


class Library(Protocol):
    """name: of the package, for people."""

    name: str

    def client(self, api: str, name: str, output: bool) -> Client:
        """A new client with this name. api: RtMidi's name of the system. Raises ERRORS; NotImplementedError, which is
        one of them, where the library was built without that system.
        """


class PythonRtmidi:
    """python-rtmidi 1.5, module `rtmidi`."""

    name = "python-rtmidi"

    def __init__(self, module: Any) -> None:
        self._module = module

    def client(self, api: str, name: str, output: bool) -> Client:
        wanted = getattr(self._module, api)
        if wanted not in self._module.get_compiled_api():
            raise NotImplementedError
        made = self._module.MidiOut if output else self._module.MidiIn
        return _PythonRtmidiClient(made(wanted, name=name))


class _PythonRtmidiClient:
    def __init__(self, midi: Any) -> None:
        self._midi = midi

    def names(self) -> list[str]:
        return list(self._midi.get_ports())

    def open(self, number: int, deliver: Deliver | None) -> None:
        self._deliver_to(deliver)
        self._midi.open_port(number, name="in" if deliver else "out")

    def open_virtual(self, name: str, deliver: Deliver | None) -> None:
        self._deliver_to(deliver)
        self._midi.open_virtual_port(name)

    def send(self, data: Sequence[int]) -> None:
        self._midi.send_message(data)

    def close(self) -> None:
        for end in ("cancel_callback", "close_port", "delete"):  # an output has no callback
            with contextlib.suppress(Exception):
                getattr(self._midi, end)()

    def _deliver_to(self, deliver: Deliver | None) -> None:
        if deliver is None:
            return
        self._midi.ignore_types(sysex=False, timing=False, active_sense=False)
        self._midi.set_callback(lambda event, _: deliver(*event))


class Rtmidi2:
    """rtmidi2 1.5, module `rtmidi2`."""

    name = "rtmidi2"

    def __init__(self, module: Any) -> None:
        self._module = module

    def client(self, api: str, name: str, output: bool) -> Client:
        wanted = getattr(self._module, api)
        midi = (self._module.MidiOut if output else self._module.MidiIn)(name, api=wanted)
        if midi.get_current_api() != wanted:
            raise NotImplementedError
        return _Rtmidi2Client(midi)


class _Rtmidi2Client:
    def __init__(self, midi: Any) -> None:
        self._midi = midi

    def names(self) -> list[str]:
        return [] if self._midi is None else [name for name in self._midi.ports if name]

    def open(self, number: int, deliver: Deliver | None) -> None:
        self._deliver_to(deliver)
        self._midi.open_port(number)

    def open_virtual(self, name: str, deliver: Deliver | None) -> None:
        self._deliver_to(deliver)
        self._midi.open_virtual_port(name)

    def send(self, data: Sequence[int]) -> None:
        if self._midi is not None:
            self._midi.send_raw(*data)

    def close(self) -> None:
        midi, self._midi = self._midi, None  # it has no other way to end a client than letting go of it
        if midi is None:
            return
        with contextlib.suppress(Exception):
            midi.callback = None
        with contextlib.suppress(Exception):
            midi.close_port()

    def _deliver_to(self, deliver: Deliver | None) -> None:
        if deliver is None:
            return
        self._midi.ignore_types(midi_sysex=False, midi_time=False, midi_sense=False)
        # It counts the arguments, so a method or a partial function would not do.
        self._midi.callback = lambda data, delta: deliver(data, delta)


def load() -> Library:
    """The library that is installed. Raises LivepedalError where none is, or none can be loaded."""
    for module, adapter in (("rtmidi", PythonRtmidi), ("rtmidi2", Rtmidi2)):
        with contextlib.suppress(ImportError):
            return adapter(importlib.import_module(module))
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
