"""MIDI ports of the system: which there are, opening them, and noticing when they go away and come back.

What was measured of the libraries (libraries.py), and shapes this file:

- When a sender goes away nothing is said, the port says it is open, and when the sender comes back it stays
  silent until it is closed and opened again. So a few times a second a client that is there anyway is asked
  which ports there are, which takes 0.02 ms.
- After a JACK server has died (jack.py), every client must be closed before a new one is made; otherwise the process
  crashes.
- With several clients a server that waits for them all (-S) stalled now and then while they started. So there
  is one for each port, and none besides.
- The C libraries print to standard error by themselves, which `quiet` keeps off the screen.

One thread owns a `Ports`; only the callbacks of inputs run elsewhere.
"""

from __future__ import annotations

import contextlib
import os
import re
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from enum import Enum, auto

from livepedal.errors import LivepedalError
from livepedal.sources.ports import jack
from livepedal.sources.ports.libraries import ERRORS, Client, Deliver, load
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


class PortChange(Enum):
    """What happened to a port."""

    GONE = auto()
    BACK = auto()
    SERVER_GONE = auto()
    SERVER_BACK = auto()


@dataclass(frozen=True, slots=True)
class PortNews:
    """A change, of one source or (None) of the whole MIDI system."""

    change: PortChange
    source: int | None
    name: str


@dataclass(slots=True)
class Opened:
    """A port of ours. deliver: of an input, makes who takes what comes, for each time that it is opened."""

    source: int
    name: str
    virtual: bool
    deliver: Callable[[], Deliver] | None
    client: Client | None = None
    there: bool = True

    @property
    def title(self) -> str:
        """Its name in a sentence."""
        return f"the port {self.name}" if self.virtual else self.name


def same_port(name: str, other: str) -> bool:
    """Whether two names are those of one port, plugged in at different times: the numbers behind a name
    change.
    """
    return plain_name(name) == plain_name(other)


def plain_name(name: str) -> str:
    """The name without the numbers that ALSA (" 20:0") and Windows (" 1") put behind it."""
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
    """The inputs, or the outputs, of one backend.

    Attributes:
        backend: the one that answers; kind: "input" or "output".
    """

    kind = "input"

    def __init__(self, backend: str | None = None) -> None:
        """backend: name of the one to use; None: the first that answers.

        Raises LivepedalError where none does, saying what is missing.
        """
        # libjack would start a server of its own, with whatever settings.
        os.environ.setdefault("JACK_NO_START_SERVER", "1")
        try:
            self._library = load()
        except LivepedalError as error:
            raise LivepedalError(f"{error} Until then: {ELSEWHERE}.") from None
        known = [one for one in BACKENDS if sys.platform in one.systems]
        wanted = [one for one in known if backend in (None, one.name)]
        if not wanted:
            names = ", ".join(one.name for one in known) or "none"
            raise LivepedalError(f"There is no MIDI system {backend!r} here; known are {names}.")
        self._ports: list[Opened] = []
        self._spare: Client | None = None  # one that has no port yet
        self._links: dict[Client, jack.Link] = {}
        self._server_gone = False
        failures = []
        for tried in wanted:
            self.backend = tried
            try:
                self._connect()
                return
            except NotImplementedError:
                failures.append(f"{self._library.name} was built without {tried.label}")
            except ERRORS:
                failures.append(tried.missing)
        raise NoSystem("; ".join(failures))

    def names(self) -> list[str]:
        """Those that there are now."""
        client = next((port.client for port in self._ports if port.client is not None), self._spare)
        return [] if client is None else client.names()

    @property
    def server_gone(self) -> bool:
        """Whether the MIDI system itself has gone and is waited for."""
        return self._server_gone

    def missing(self) -> frozenset[int]:
        """The sources whose ports have gone and are waited for. From any thread."""
        return frozenset(port.source for port in list(self._ports) if not port.there)

    def watch(self) -> list[PortNews]:
        """What has changed since the last time; reopens what came back. To be called a few times a second."""
        if self._server_gone:
            return self._server_back()
        if self._server_died():
            self._drop_all()
            self._server_gone = True
            news = [PortNews(PortChange.SERVER_GONE, None, self.backend.label)]
            news += [PortNews(PortChange.GONE, port.source, port.title) for port in self._ports if port.there]
            for port in self._ports:
                port.there = False
            return news
        return self._compare(self.names())

    def close(self) -> None:
        """Close everything; never raises."""
        self._drop_all()
        self._ports.clear()

    # -- inside ----------------------------------------------------------------------------------------------

    def _client(self) -> Client:
        output = self.kind == "output"
        if self.backend.name != "jack":
            return self._library.client(self.backend.api, CLIENT, output)
        before = jack.sockets()
        client = self._library.client(self.backend.api, CLIENT, output)
        link = jack.Link(tuple(sorted(jack.sockets() - before)))
        if link.missing():
            client.close()
            raise OSError
        self._links[client] = link
        return client

    def _connect(self) -> None:
        self._spare = self._client()
        self._seen = frozenset(self.names())

    def _add(self, port: Opened) -> None:
        if port.virtual and not self.backend.virtual:
            raise LivepedalError(_NO_VIRTUAL)
        try:
            self._open(port)
        except ERRORS as error:
            raise LivepedalError(
                f"The MIDI {self.kind} {clean(port.name)} cannot be opened ({clean(str(error))});"
                " see with livepedal ports whether it is there, and close other programs that use it."
            ) from None
        self._ports.append(port)

    def _open(self, port: Opened) -> None:
        """Open a port with a client of its own."""
        client, self._spare = self._spare or self._client(), None
        deliver = None if port.deliver is None else port.deliver()
        try:
            if port.virtual:
                client.open_virtual(port.name, deliver)
            else:
                names = client.names()
                name = self._found(port, names)
                if name is None:
                    raise ValueError("it does not exist")
                client.open(names.index(name), deliver)
                port.name = name
        except BaseException:
            self._close(client)
            raise
        port.client = client

    def _found(self, port: Opened, names: list[str]) -> str | None:
        """What the port is called now, None where it is not there. Of two keyboards of one make, the other may
        be the one that another source listens to.
        """
        if port.name in names:
            return port.name
        taken = {one.name for one in self._ports if one is not port and one.there and not one.virtual}
        return next((name for name in names if same_port(name, port.name) and name not in taken), None)

    def _server_died(self) -> bool:
        """Only JACK's server can die alone."""
        return any(link.hung_up() for link in self._links.values())

    def _compare(self, names: list[str]) -> list[PortNews]:
        news: list[PortNews] = []
        own = {port.name for port in self._ports if not port.virtual}
        vanished = self._seen - set(names) - own
        self._seen = frozenset(names)
        for port in self._ports:
            if port.virtual:
                # Nobody says who sends to a virtual port. When any sender goes, keys may have been left down.
                senders = sorted(vanished)[:1] if port.deliver is not None else ()
                news += [PortNews(PortChange.GONE, port.source, name) for name in senders]
                continue
            if port.there and port.name not in names:
                port.there = False
                news.append(PortNews(PortChange.GONE, port.source, port.name))
            # It may be back already, under a name with another number.
            if not port.there and self._found(port, names) is not None and self._reopened(port):
                news.append(PortNews(PortChange.BACK, port.source, port.name))
        return news

    def _reopened(self, port: Opened) -> bool:
        self._drop(port)
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
        self._server_gone = False
        news = [PortNews(PortChange.SERVER_BACK, None, self.backend.label)]
        for port in self._ports:
            if port.virtual and self._reopened(port):
                news.append(PortNews(PortChange.BACK, port.source, port.title))
        return news + self._compare(self.names())

    def _drop(self, port: Opened) -> None:
        if port.client is not None:
            self._close(port.client)
            port.client = None

    def _drop_all(self) -> None:
        for port in self._ports:
            self._drop(port)
        if self._spare is not None:
            self._close(self._spare)
            self._spare = None

    def _close(self, client: Client) -> None:
        self._links.pop(client, None)
        client.close()


@contextlib.contextmanager
def quiet() -> Iterator[None]:
    """What C libraries print to standard error goes nowhere; what Python prints there still arrives."""
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


def chosen(names: Sequence[str], asked: str, kind: str = Ports.kind) -> str:
    """The port whose name is, or holds, what was asked for.

    Raises:
        LivepedalError: where none or several do.
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
