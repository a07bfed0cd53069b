"""A MIDI output, and the process that has it.

Both libraries keep Python's lock while they send. With a JACK server that stood still, python-rtmidi 1.5.8 waited in
`send_message` for good, and no other thread of the process ran any more; on Windows it waits for the end of every long
message. So each output has a process to itself (sender.py hands over to it), and an output that blocks stops neither
hearing nor judging. When its pipe ends, because its parent does so in whatever way, it lets go of all that it has
struck.
"""

from __future__ import annotations

import contextlib
import heapq
import signal
import sys
import time
from collections.abc import Sequence
from multiprocessing.connection import Connection

from livepedal.errors import LivepedalError
from livepedal.sources.ports.libraries import ERRORS, quiet
from livepedal.sources.ports.stamps import clock
from livepedal.sources.ports.system import CLIENT, Ports, chosen
from livepedal.sources.ports.wire import SYSTEM_RESET, Short, Wire
from livepedal.sources.raw import CONTROLLER, LET_GO, NOTE_OFF, NOTE_ON
from livepedal.sources.text import clean

VIRTUAL = "virtual"  # asks for a port of our own
ANSWERS, AGAIN = 254, 255  # voices; below, the number of the input that a message came from
WATCH = 0.2  # seconds between two looks at the ports
_LAST = 0.05  # seconds for the last messages to leave
_PEDALS = range(64, 70)  # controllers that are pedals or switches (MIDI 1.0, table III)

Message = tuple[int, Sequence[int]]
"""When it is due (ns of `stamps.clock`; 0: now), and its bytes. No bytes: switch all off, forget what is due."""


class Outputs(Ports):
    """The outputs of one MIDI system, one of which is opened."""

    kind = "output"

    def open_asked(self, asked: str, role: str) -> str:
        """Open the output whose name is, or contains, what was asked for; returns its name.

        "virtual" makes one of our own, named for its role. Raises LivepedalError where it cannot be opened.
        """
        virtual = asked.strip().casefold() == VIRTUAL
        name = None if virtual else chosen(self.names(), asked, self.kind)
        return self.open(0, name, None, f"{CLIENT} {role}")

    def send(self, data: Sequence[int]) -> bool:
        """Send a whole message; False where the output is not there. Raises ERRORS."""
        port = self._ports[0]
        if not port.there or port.client is None:
            return False
        port.client.send(data)
        return True


class Sounding:
    """What is on at an output, by voice: keys, pedals, and other controllers above 0."""

    def __init__(self) -> None:
        self._wires: dict[int, Wire] = {}
        self._on: dict[int, dict[tuple[int, int], None]] = {}  # voice -> (status, number)

    def took(self, voice: int, data: bytes) -> None:
        """Note that the output has taken a message."""
        on = self._on.setdefault(voice, {})
        for short in self._wires.setdefault(voice, Wire()).feed(data):
            # Answers use no other controllers than switches.
            self._note(on, short, range(128) if voice == ANSWERS else _PEDALS)

    def _note(self, on: dict[tuple[int, int], None], short: Short, switches: range) -> None:
        kind, channel = short.status & 0xF0, short.status & 15
        key = NOTE_ON | channel, short.data1
        if short.status == SYSTEM_RESET:
            on.clear()
        elif kind == NOTE_ON and short.data2:
            on[key] = None
        elif kind in (NOTE_ON, NOTE_OFF):
            on.pop(key, None)
        elif kind == CONTROLLER and short.data1 in LET_GO:
            for sounding in [sounding for sounding in on if sounding[0] == NOTE_ON | channel]:
                del on[sounding]
        elif kind == CONTROLLER and short.data1 in switches:
            on.pop((short.status, short.data1), None)
            if short.data2:
                on[short.status, short.data1] = None

    def let_go(self, voice: int) -> list[bytes]:
        """The messages that switch off what a voice has on."""
        self._wires.pop(voice, None)
        off = []
        for status, number in self._on.pop(voice, {}):
            channel, is_key = status & 15, status & 0xF0 == NOTE_ON
            off.append(bytes((NOTE_OFF | channel, number, 64) if is_key else (status, number, 0)))
        return off

    def let_all_go(self) -> list[bytes]:
        """The same for every voice."""
        return [data for voice in list(self._on) for data in self.let_go(voice)]


def work(pipe: Connection, backend: str | None, asked: str, role: str) -> None:
    """The process: sends its name or a complaint, then takes messages and sends sentences until the pipe ends."""
    for name in ("SIGINT", "SIGHUP"):  # the session ends first, and this with it
        if hasattr(signal, name):  # not on Windows
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(0))
    with quiet(), contextlib.suppress(EOFError, OSError):
        try:
            outputs = Outputs(backend)
        except LivepedalError as error:
            pipe.send(("", str(error)))
            return
        try:
            pipe.send((outputs.open_asked(asked, role), ""))
            _Playing(outputs, pipe).run()
        except LivepedalError as error:
            pipe.send(("", str(error)))
        finally:
            outputs.close()


class _Playing:
    """Sends the messages from the pipe, each when it is due."""

    def __init__(self, outputs: Outputs, pipe: Connection) -> None:
        self._outputs, self._pipe = outputs, pipe
        self._sounding = Sounding()
        self._due: list[tuple[int, int, int, bytes]] = []  # when, in which order, voice, message
        self._count = 0
        self._failed = False

    def run(self) -> None:
        looked = time.monotonic()
        try:
            while True:
                wait = WATCH
                if self._due:
                    wait = min(max(self._due[0][0] - clock(), 0) / 1e9, WATCH)
                if self._pipe.poll(wait):
                    voice, messages = self._pipe.recv()
                    for due, data in messages:
                        self._take(voice, due, data)
                while self._due and self._due[0][0] <= clock():
                    _, _, voice, data = heapq.heappop(self._due)
                    self._send(voice, data)
                if time.monotonic() - looked > WATCH:
                    self._watch()
                    looked = time.monotonic()
        finally:
            for data in self._sounding.let_all_go():
                self._send(0, data)
            time.sleep(_LAST)

    def _take(self, voice: int, due: int, data: bytes) -> None:
        if data and due > clock():
            self._count += 1
            heapq.heappush(self._due, (due, self._count, voice, data))
        elif data:
            self._send(voice, data)
        else:
            self._due = [entry for entry in self._due if entry[2] != voice]
            heapq.heapify(self._due)
            for off in self._sounding.let_go(voice):
                self._send(voice, off)

    def _send(self, voice: int, data: bytes) -> None:
        try:
            sent = self._outputs.send(data)
        except ERRORS as error:
            if not self._failed:
                self._failed = True
                self._pipe.send(f"did not take a message ({clean(str(error))}); everything else continues")
            return
        if sent:
            self._sounding.took(voice, data)

    def _watch(self) -> None:
        for news in self._outputs.watch():
            if news.source is None:
                continue  # the inputs tell of the system
            if not news.back:
                self._sounding = Sounding()
            self._pipe.send("is back" if news.back else "was disconnected; waiting for it")
