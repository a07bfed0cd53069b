"""MIDI ports: which there are, opening them, and noticing when they go away and come back.

What was measured of the libraries, and shapes this file:

- When a sender goes away nothing says so and the port claims to be open; when it comes back the port stays silent
  until it is closed and opened again. So a client that is there anyway is asked a few times a second which ports there
  are, which takes 0.02 ms.
- After a JACK server has died, every client must be closed before a new one is made; otherwise the process crashes.
- With several clients, a server that waits for them all (-S) stalled now and then while they started. So there is one
  client for each port, and no other.

One thread owns a `Ports`; only the callbacks of inputs run elsewhere.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Sequence
from dataclasses import dataclass

from livepedal.errors import LivepedalError
from livepedal.sources.ports.libraries import ERRORS, Client, Receive, load
from livepedal.sources.text import clean

CLIENT = "livepedal"


@dataclass(frozen=True, slots=True)
class Backend:
    """A MIDI system.

    Attributes:
        name: for --backend.
        label: for people.
        api: RtMidi's name of it.
        systems: where it may be, as in `sys.platform`.
        missing: what to do without it.
        virtual: whether it has ports of our own.
        timed: whether its times are taken where a message comes in (stamps.py).
    """

    name: str
    label: str
    api: str
    systems: tuple[str, ...]
    missing: str
    virtual: bool = True
    timed: bool = True


# ALSA's sequencer stamps what comes in, CoreMIDI's packets and Windows' drivers carry a time, and for JACK RtMidi asks
# its clock on delivery (read in RtMidi's source; JACK alone could be tried).
BACKENDS = (
    Backend(
        "alsa",
        "ALSA",
        "API_LINUX_ALSA",
        ("linux",),
        "ALSA's sequencer does not answer: load it with modprobe snd-seq",
    ),
    Backend(
        "jack",
        "JACK",
        "API_UNIX_JACK",
        ("linux", "darwin"),
        "no JACK server is running: start one",
        timed=False,
    ),
    Backend(
        "coremidi",
        "CoreMIDI",
        "API_MACOSX_CORE",
        ("darwin",),
        "CoreMIDI does not answer: restart the computer",
    ),
    Backend(
        "winmm",
        "Windows MIDI",
        "API_WINDOWS_MM",
        ("win32",),
        "Windows MIDI does not answer: restart the computer",
        virtual=False,
    ),
)
ELSEWHERE = "livepedal replay and livepedal check work without a MIDI port"
_NO_VIRTUAL = (
    "Windows has no virtual MIDI ports: make one with a loopback MIDI driver, use it in the sequencer too, and name"
    " it."
)


@dataclass(frozen=True, slots=True)
class PortNews:
    """A port has gone, or is back.

    Attributes:
        source: whose port; None for the MIDI system itself.
    """

    source: int | None
    name: str
    back: bool


@dataclass(slots=True)
class Opened:
    """A port of ours.

    Attributes:
        source: the number that an input's messages are given.
        receive: takes what comes; None for an output.
    """

    source: int
    name: str
    virtual: bool
    receive: Receive | None
    client: Client | None = None
    there: bool = True

    @property
    def title(self) -> str:
        """Its name in a sentence."""
        return f"the port {self.name}" if self.virtual else self.name


def plain_name(name: str) -> str:
    """The name without the number that ALSA (" 20:0") and Windows (" 1") put behind it.

    The number changes when the port is plugged in again; the rest tells whether it is the same port.
    """
    return re.sub(r"\s+\d+(:\d+)?$", "", name)


class NoSystem(LivepedalError):
    """No MIDI system answers; one may later.

    Attributes:
        why: what was tried, without a full stop.
    """

    def __init__(self, why: str) -> None:
        super().__init__(f"There is no MIDI system ({why}); {ELSEWHERE}.")
        self.why = why


class Ports:
    """The inputs, or the outputs, of one MIDI system.

    Attributes:
        kind: "input" or "output".
        backend: the system that answers.
        server_gone: whether it has gone and is waited for.

    Args:
        backend: the name of the one to use; None: the first that answers.

    Raises:
        LivepedalError: there is no library, no system of that name, or (NoSystem) none that answers.
    """

    kind = "input"

    def __init__(self, backend: str | None = None) -> None:
        # libjack would start a server of its own, with settings that nobody chose.
        os.environ.setdefault("JACK_NO_START_SERVER", "1")
        try:
            self._library = load()
        except LivepedalError as error:
            raise LivepedalError(f"{error} Until then: {ELSEWHERE}.") from None
        known = [system for system in BACKENDS if sys.platform in system.systems]
        candidates = [system for system in known if backend in (None, system.name)]
        if not candidates:
            names = ", ".join(system.name for system in known) or "none"
            raise LivepedalError(f"There is no MIDI system {backend!r} here; known are {names}.")
        self.server_gone = False
        self._ports: list[Opened] = []
        self._spare: Client | None = None  # one that has no port yet
        failures = []
        for self.backend in candidates:
            try:
                self._connect()
                return
            except NotImplementedError as error:
                failures.append(f"{error} was built without {self.backend.label}")
            except ERRORS:
                failures.append(self.backend.missing)
        raise NoSystem("; ".join(failures))

    def open(self, source: int, name: str | None, receive: Receive | None, ours: str = CLIENT) -> str:
        """Open a port; returns its name.

        Args:
            source: the number that its messages are given.
            name: as `names` has it; None makes a port of our own, for other programs.
            receive: takes what comes; None for an output.
            ours: the name of a port of our own.

        Raises:
            LivepedalError: it cannot be opened, or the system has no ports of our own.
        """
        if name is None and not self.backend.virtual:
            raise LivepedalError(_NO_VIRTUAL)
        port = Opened(source, name or ours, name is None, receive)
        try:
            self._open(port)
        except ERRORS as error:
            raise LivepedalError(
                f"The MIDI {self.kind} {clean(port.name)} cannot be opened ({clean(str(error))});"
                " see with livepedal ports whether it is there, and close other programs that use it."
            ) from None
        self._ports.append(port)
        return port.name

    def names(self) -> list[str]:
        """The ports that there are now."""
        return next((client.names() for client in self._clients), [])

    def missing(self) -> frozenset[int]:
        """The sources whose ports have gone and are waited for. From any thread."""
        return frozenset(port.source for port in list(self._ports) if not port.there)

    def watch(self) -> list[PortNews]:
        """What has changed since the last call; reopens what came back. To be called a few times a second."""
        if self.server_gone:
            return self._server_back()
        if any(client.server_gone() for client in self._clients):
            self._drop_all()
            self.server_gone = True
            news = [PortNews(None, self.backend.label, back=False)]
            news += [PortNews(port.source, port.title, back=False) for port in self._ports if port.there]
            for port in self._ports:
                port.there = False
            return news
        return self._compare(self.names())

    def close(self) -> None:
        """Close everything; never raises."""
        self._drop_all()
        self._ports.clear()

    # -- inside ----------------------------------------------------------------------------------------------

    @property
    def _clients(self) -> list[Client]:
        """The clients that are open."""
        return [
            client for client in (*(port.client for port in self._ports), self._spare) if client is not None
        ]

    def _client(self) -> Client:
        return self._library(self.backend.api, CLIENT, self.kind == "output")

    def _connect(self) -> None:
        self._spare = self._client()
        self._seen = frozenset(self.names())

    def _open(self, port: Opened) -> None:
        """Open a port with a client of its own."""
        client, self._spare = self._spare or self._client(), None
        try:
            if port.virtual:
                client.open_virtual(port.name, port.receive)
            else:
                names = client.names()
                name = self._found(port, names)
                if name is None:
                    raise ValueError("it does not exist")
                client.open(names.index(name), port.receive)
                port.name = name
        except BaseException:
            client.close()
            raise
        port.client = client

    def _found(self, port: Opened, names: list[str]) -> str | None:
        """What the port is called now; None where it is not there."""
        if port.name in names:
            return port.name
        # Of two keyboards of one make, the other one may be the one that another source listens to.
        taken = {
            other.name for other in self._ports if other is not port and other.there and not other.virtual
        }
        return next(
            (name for name in names if plain_name(name) == plain_name(port.name) and name not in taken), None
        )

    def _compare(self, names: list[str]) -> list[PortNews]:
        news: list[PortNews] = []
        own = {port.name for port in self._ports if not port.virtual}
        vanished = self._seen - set(names) - own
        self._seen = frozenset(names)
        for port in self._ports:
            if port.virtual:
                # Nobody says who sends to a virtual port. When any sender goes, keys may have been left down.
                senders = sorted(vanished)[:1] if port.receive is not None else ()
                news += [PortNews(port.source, name, back=False) for name in senders]
                continue
            if port.there and port.name not in names:
                port.there = False
                news.append(PortNews(port.source, port.name, back=False))
            # It may be back already, under a name with another number.
            if not port.there and self._found(port, names) is not None and self._reopened(port):
                news.append(PortNews(port.source, port.name, back=True))
        return news

    def _reopened(self, port: Opened) -> bool:
        if port.client is not None:
            port.client.close()
            port.client = None
        try:
            self._open(port)
        except ERRORS:
            return False
        port.there = True
        return True

    def _server_back(self) -> list[PortNews]:
        try:
            self._connect()
        except ERRORS:
            return []
        self.server_gone = False
        news = [PortNews(None, self.backend.label, back=True)]
        for port in self._ports:
            if port.virtual and self._reopened(port):
                news.append(PortNews(port.source, port.title, back=True))
        return news + self._compare(self.names())

    def _drop_all(self) -> None:
        for client in self._clients:
            client.close()
        for port in self._ports:
            port.client = None
        self._spare = None


class Inputs(Ports):
    """The inputs of one MIDI system."""


def chosen(names: Sequence[str], asked: str, kind: str = Ports.kind) -> str:
    """The port whose name is, or contains, what was asked for.

    Raises:
        LivepedalError: no port has such a name, or several have.
    """
    wanted = asked.strip().casefold()
    whole = [name for name in names if wanted in (name.casefold(), plain_name(name).casefold())]
    found = whole or [name for name in names if wanted in name.casefold()]
    if len(found) == 1:
        return found[0]
    if found:
        listed = "; ".join(clean(name) for name in found)
        raise LivepedalError(
            f"Several MIDI {kind}s have {clean(asked)!r} in their names: {listed}; give more of the name."
        )
    listed = "; ".join(clean(name) for name in names) or "none"
    raise LivepedalError(f"There is no MIDI {kind} {clean(asked)!r}; there are: {listed}.")
