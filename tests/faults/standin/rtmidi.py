"""A stand-in for python-rtmidi in a `livepedal listen` of the tests: ports that play a file of messages by themselves.

Real ports are tried in tests/live with JACK; here faults are to strike at chosen moments, on machines without any.

STREAM: file of lines `milliseconds hexadecimal`, the wait before a message and its bytes; LOG: file that each
message is noted in before it is handed over; PORTS: names of the ports, separated by newlines.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable

API_LINUX_ALSA = 1
API_UNIX_JACK = 2
API_MACOSX_CORE = 3
API_WINDOWS_MM = 4


def get_compiled_api() -> list[int]:
    return [API_LINUX_ALSA]


class MidiIn:
    def __init__(self, api: int, name: str = "") -> None:
        self._call: Callable[[object, object], None] | None = None
        self._open = False

    def get_ports(self) -> list[str]:
        return os.environ.get("PORTS", "Keys 20:0").split("\n")

    def ignore_types(self, **kinds: bool) -> None: ...

    def set_callback(self, call: Callable[[object, object], None]) -> None:
        self._call = call

    def cancel_callback(self) -> None:
        self._call = None

    def open_port(self, number: int, name: str = "") -> None:
        self._open = True
        threading.Thread(target=self._play, daemon=True).start()

    def open_virtual_port(self, name: str) -> None:
        self.open_port(0)

    def close_port(self) -> None:
        self._open = False

    def delete(self) -> None:
        self._open = False

    def _play(self) -> None:
        with open(os.environ["STREAM"]) as stream, open(os.environ["LOG"], "w", buffering=1) as log:
            last = None
            for line in stream:
                wait, data = line.split()
                time.sleep(int(wait) / 1000)
                came = time.monotonic()
                delta, last = 0.0 if last is None else came - last, came
                call = self._call
                if not self._open or call is None:
                    return
                log.write(data + "\n")
                call((list(bytes.fromhex(data)), delta), None)


class MidiOut:
    """An output that notes what it is sent in the file SENT; with BLOCKS it takes nothing, and keeps waiting."""

    def __init__(self, api: int, name: str = "") -> None: ...

    def get_ports(self) -> list[str]:
        return ["Synth 30:0"]

    def open_port(self, number: int, name: str = "") -> None: ...

    def send_message(self, message: bytes) -> None:
        if "BLOCKS" in os.environ:
            time.sleep(1000)
        with open(os.environ["SENT"], "a") as sent:
            sent.write(bytes(message).hex() + "\n")

    def close_port(self) -> None: ...

    def delete(self) -> None: ...
