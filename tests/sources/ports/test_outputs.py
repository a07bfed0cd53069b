"""Outputs without a process and without a MIDI system: what is sent when, and what is let go of. With real ports it is
tried in tests/live/test_ports.py, with outputs that block in tests/faults/test_listening.py.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Sequence
from multiprocessing import Pipe
from multiprocessing.connection import Connection

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livepedal.errors import LivepedalError
from livepedal.sources import beside
from livepedal.sources.ports import outputs, system
from livepedal.sources.ports import sender as sender_module
from livepedal.sources.ports.outputs import ANSWERS, Outputs, Sounding
from livepedal.sources.ports.sender import Sender

ON, OFF = b"\x90\x3c\x40", b"\x80\x3c\x40"


class Client:
    """An output of a MIDI system that is not there."""

    def __init__(self, library: Library) -> None:
        self.standin = library

    def names(self) -> list[str]:
        return list(self.standin.names)

    def open(self, number: int, deliver: object) -> None:
        self.standin.opened.append(self.standin.names[number])

    def open_virtual(self, name: str, deliver: object) -> None:
        self.standin.opened.append(name)

    def send(self, data: Sequence[int]) -> None:
        if self.standin.fails:
            raise OSError("it is busy")
        self.standin.sent.append(bytes(data))

    def server_gone(self) -> bool:
        return False

    def close(self) -> None: ...


class Library:
    def __init__(self) -> None:
        self.names = ["Synth 20:0", "Pads 24:0"]
        self.opened: list[str] = []
        self.sent: list[bytes] = []
        self.fails = False

    def client(self, api: str, name: str, output: bool) -> Client:
        assert output
        return Client(self)


@pytest.fixture
def library(monkeypatch: pytest.MonkeyPatch) -> Library:
    made = Library()
    monkeypatch.setattr(system, "load", lambda: made.client)
    monkeypatch.setattr(system.sys, "platform", "linux")
    return made


class Played:
    """An output with somebody at the other end of its pipe."""

    def __init__(self) -> None:
        opened = Outputs("alsa")
        opened.open_asked("synth", "answer")
        self.pipe, theirs = Pipe()
        self._thread = threading.Thread(target=self._run, args=(outputs._Playing(opened, theirs),))
        self._thread.start()

    def _run(self, playing: outputs._Playing) -> None:
        with pytest.raises(EOFError):
            playing.run()

    def send(self, voice: int, *messages: tuple[int, bytes]) -> None:
        self.pipe.send((voice, messages))

    def said(self) -> str:
        assert self.pipe.poll(60)
        return str(self.pipe.recv())

    def end(self) -> None:
        self.pipe.close()
        self._thread.join(10)


@pytest.fixture
def played(library: Library, monkeypatch: pytest.MonkeyPatch) -> Iterator[Played]:
    monkeypatch.setattr(outputs, "WATCH", 0.01)
    one = Played()
    yield one
    one.end()


def until(true: Callable[[], object]) -> None:
    end = time.monotonic() + 60
    while not true():
        assert time.monotonic() < end
        time.sleep(0.002)


def test_every_byte_goes_on_unchanged_and_in_order(library: Library, played: Played) -> None:
    messages = [
        ON,
        b"\xf8",
        b"\xf0" + bytes(range(100)) + b"\xf7",
        b"\xfe",
        b"\xe0\x01\x02",
        b"\xc0\x05",
        OFF,
    ]
    for data in messages:
        played.send(0, (0, data))
    until(lambda: len(library.sent) == len(messages))
    assert library.sent == messages


def test_what_is_due_later_waits_and_what_is_let_go_of_never_comes(library: Library, played: Played) -> None:
    """Each voice by itself; of two that are due at once the first comes first."""
    now = time.perf_counter_ns()
    soon, late = now + 30_000_000, now + 3_600_000_000_000
    played.send(255, (late, b"\x90\x40\x01"), (soon, ON), (soon, b"\x90\x3d\x40"), (0, b"\xb0\x40\x7f"))
    played.send(1, (0, b"\x91\x30\x40"))
    until(lambda: len(library.sent) == 4)
    assert time.perf_counter_ns() >= soon
    assert library.sent == [b"\xb0\x40\x7f", b"\x91\x30\x40", ON, b"\x90\x3d\x40"]
    played.send(255, (0, b""))
    until(lambda: len(library.sent) == 7)
    assert library.sent[4:] == [b"\xb0\x40\x00", OFF, b"\x80\x3d\x40"]
    played.end()
    assert library.sent[7:] == [b"\x81\x30\x40"]


def test_nothing_is_left_on_when_the_pipe_ends(library: Library, played: Played) -> None:
    """Pedals are switched off, the modulation wheel is nobody's to touch; an answer may be any controller."""
    played.send(
        0, (0, ON), (0, b"\xb0\x40\x7f"), (0, b"\xb0\x01\x7f"), (0, b"\x95\x10\x01"), (0, b"\x95\x10\x00")
    )
    played.send(ANSWERS, (0, b"\xbf\x14\x7f"))
    until(lambda: len(library.sent) == 6)
    played.end()
    assert library.sent[6:] == [OFF, b"\xb0\x40\x00", b"\xbf\x14\x00"]


def test_an_output_that_goes_away_and_comes_back(library: Library, played: Played) -> None:
    """What is sent meanwhile is nobody's, and nothing is let go of that it no longer holds."""
    played.send(0, (0, ON))
    until(lambda: library.sent)
    synth = library.names.pop(0)
    assert played.said() == "was disconnected; waiting for it"
    played.send(0, (0, b"\x90\x41\x40"))
    library.names.append("Synth 28:0")  # plugged in elsewhere
    assert played.said() == "is back"
    assert library.opened == [synth, "Synth 28:0"]
    played.send(0, (0, b"\x90\x42\x40"))
    played.end()
    assert library.sent == [ON, b"\x90\x42\x40", b"\x80\x42\x40"]


def test_an_output_that_refuses_is_told_of_once(library: Library, played: Played) -> None:
    library.fails = True
    played.send(0, (0, ON), (0, OFF))
    assert played.said() == "did not take a message (it is busy); everything else continues"
    library.fails = False
    played.send(0, (0, ON))
    until(lambda: library.sent)
    assert not played.pipe.poll(0.05)


@pytest.mark.parametrize(("asked", "named"), [("pads", "Pads 24:0"), ("virtual", "livepedal through")])
def test_opened_by_a_part_of_its_name_or_as_our_own(library: Library, asked: str, named: str) -> None:
    assert Outputs("alsa").open_asked(asked, "through") == named
    assert library.opened == [named]


def test_one_that_is_not_there(library: Library) -> None:
    with pytest.raises(
        LivepedalError, match="There is no MIDI output 'organ'; there are: Synth 20:0; Pads 24:0"
    ):
        Outputs("alsa").open_asked("organ", "through")


class Process:
    """One that does nothing."""

    exitcode = None

    def kill(self) -> None: ...

    def join(self, seconds: float) -> None: ...

    def is_alive(self) -> bool:
        return False


@pytest.fixture
def sending(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Sender, Connection]]:
    """A sender, and the end of its pipe where the process would be."""
    ours, theirs = Pipe()
    theirs.send(("Synth 20:0", ""))
    monkeypatch.setattr(beside, "started", lambda *_: (Process(), ours))
    made = Sender("synth", "answer")
    yield made, theirs
    theirs.close()
    made.end()


def test_messages_keep_their_order(sending: tuple[Sender, Connection]) -> None:
    sender, pipe = sending
    for number in range(300):
        sender.send(number % 2, bytes((0x90, number % 128, 1)))
    sender.send(7, [0x90, 1000, 0])  # no MIDI
    sender.let_go(1)
    sent = []
    while len(sent) < 301:
        voice, messages = pipe.recv()
        sent += [(voice, due, data) for due, data in messages]
    assert [data[1] for _, _, data in sent[:-1]] == [number % 128 for number in range(300)]
    assert sent[-1] == (1, 0, b"")
    pipe.send("was disconnected; waiting for it")
    until(lambda: sender.news() == ["Synth 20:0 was disconnected; waiting for it"])
    assert not sender.there


def test_who_sends_never_waits(sending: tuple[Sender, Connection], monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody reads the pipe, which holds some hundred kilobytes: then the queue fills, and what is too much is lost."""
    monkeypatch.setattr(sender_module, "_MOST_WAITING", 500)
    sender, _ = sending
    for _ in range(900):
        sender.send(0, bytes(2000))
    until(lambda: sender.news() == ["Synth 20:0 accepts nothing; messages to it are lost"])
    assert sender.there


MESSAGES = st.one_of(
    st.tuples(st.sampled_from([0x80, 0x90, 0x91]), st.integers(60, 62), st.integers(0, 1)),
    st.tuples(
        st.sampled_from([0xB0, 0xB1]), st.sampled_from([1, 64, 66, 120, 123]), st.sampled_from([0, 127])
    ),
).map(bytes)


@given(st.lists(st.tuples(st.integers(0, 2), MESSAGES)))
def test_after_letting_go_nothing_sounds(sent: list[tuple[int, bytes]]) -> None:
    """By an account of our own over mido's messages. Voices that share a key each let go of it."""
    sounding = Sounding()
    for voice, data in sent:
        sounding.took(voice, data)
    on: set[tuple[int, int]] = set()
    for message in mido.parse_all(b"".join([*(data for _, data in sent), *sounding.let_all_go()])):
        if message.type in ("note_on", "note_off"):
            key = (message.channel, message.note)
            on = on | {key} if message.type == "note_on" and message.velocity else on - {key}
        elif message.control in (64, 66):
            key = (message.channel, -message.control)
            on = on | {key} if message.value else on - {key}
    assert not {key for key in on if key[1] < 0 or not _silenced(sent, key)}
    assert sounding.let_all_go() == []


def _silenced(sent: list[tuple[int, bytes]], key: tuple[int, int]) -> bool:
    """Whether all notes of its channel were switched off after it was struck (controllers 120 and 123)."""
    last = max(n for n, (_, data) in enumerate(sent) if data[0] == 0x90 | key[0] and data[1] == key[1])
    return any(data[0] == 0xB0 | key[0] and data[1] in (120, 123) for _, data in sent[last:])
