"""The libraries that open ports, with stand-ins; with real ports both are tried in test_ports.py. And whose sockets are
taken for JACK's.
"""

from __future__ import annotations

import shutil
import socket
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import pytest
from packaging.requirements import Requirement

from livepedal.errors import LivepedalError
from livepedal.sources.ports import jack, libraries
from livepedal.sources.ports import system as ports
from livepedal.sources.ports.libraries import Rtmidi2
from livepedal.sources.ports.system import Inputs
from tests.places import ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())
PLACES = [
    (f"3.{minor}", system, machine)
    for minor in range(11, 17)
    for system, machine in (
        ("linux", "x86_64"),
        ("linux", "aarch64"),
        ("darwin", "arm64"),
        ("darwin", "x86_64"),
        ("win32", "AMD64"),
        ("win32", "ARM64"),
    )
]


@pytest.mark.parametrize(("python", "system", "machine"), PLACES)
def test_what_is_installed_and_what_is_said_where_it_is_missing_agree(
    python: str, system: str, machine: str
) -> None:
    """One library or none comes along, and the message names that one."""
    where = {"python_version": python, "sys_platform": system, "platform_machine": machine}
    wanted = [Requirement(text) for text in PROJECT["project"]["dependencies"]]
    comes = [one.name for one in wanted if "rtmidi" in one.name and one.marker and one.marker.evaluate(where)]
    major, minor = map(int, python.split("."))
    said = libraries._what_to_do((major, minor), system, machine)
    if comes:
        assert said.endswith(f"pip install {comes[0]}.")
        assert "compiler" not in said
    else:
        assert minor > 12
        assert f"Python {python} on {machine}" in said
        assert "Python 3.12" in said
    assert len(comes) <= 1


def test_without_any_library(monkeypatch: pytest.MonkeyPatch) -> None:
    """One sentence that says what to do, and what works all the same."""
    for name in ("rtmidi", "rtmidi2"):
        monkeypatch.setitem(sys.modules, name, None)
    with pytest.raises(LivepedalError, match=r"pip install (python-rtmidi|rtmidi2)\..*livepedal replay"):
        Inputs()


class _Rtmidi2:
    """What is used of rtmidi2, as it was found to behave: without a server it gives a client all the same."""

    API_UNIX_JACK, API_LINUX_ALSA, API_MACOSX_CORE = 3, 2, 1

    def __init__(self, alsa: bool = False) -> None:
        self.alsa = alsa  # whether ALSA answers; JACK does not
        self.made: list[SimpleNamespace] = []

    def MidiIn(self, name: str, api: int) -> SimpleNamespace:
        if api == self.API_LINUX_ALSA and not self.alsa:
            raise RuntimeError("error creating ALSA sequencer client object")
        midi = SimpleNamespace(
            ports=[],
            callback=None,
            get_current_api=lambda: self.API_LINUX_ALSA if self.alsa else self.API_UNIX_JACK,
            ignore_types=lambda **kinds: None,
            open_virtual_port=lambda name: None,
            close_port=lambda: None,
        )
        self.made.append(midi)
        return midi


def test_a_client_without_a_server_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ports, "load", lambda: partial(Rtmidi2, _Rtmidi2()))
    monkeypatch.setattr(ports.sys, "platform", "linux")
    with pytest.raises(ports.NoSystem, match="no JACK server is running: start one"):
        Inputs()


def test_a_system_that_the_library_was_built_without(monkeypatch: pytest.MonkeyPatch) -> None:
    """RtMidi takes another one then, which must not be taken for the one that was asked for."""
    monkeypatch.setattr(ports, "load", lambda: partial(Rtmidi2, _Rtmidi2()))
    monkeypatch.setattr(ports.sys, "platform", "darwin")
    with pytest.raises(ports.NoSystem, match="rtmidi2 was built without CoreMIDI"):
        Inputs("coremidi")


def test_messages_with_their_times_and_nothing_once_it_is_closed() -> None:
    module = _Rtmidi2(alsa=True)
    client = Rtmidi2(module, "API_LINUX_ALSA", "livepedal", False)
    got: list[tuple[list[int], float | None]] = []
    client.open_virtual("livepedal", lambda data, delta: got.append((list(data), delta)))
    (midi,) = module.made
    midi.callback([0x90, 60, 64], 0.0)
    midi.callback([0x80, 60, 64], 0.25)
    assert got == [([0x90, 60, 64], None), ([0x80, 60, 64], 0.25)]
    client.close()
    client.close()
    assert midi.callback is None
    assert client.names() == []


@pytest.fixture
def folder() -> Iterator[Path]:
    """One with a short name, since those of sockets have to be."""
    path = Path(tempfile.mkdtemp())
    yield path
    shutil.rmtree(path)


def test_other_sockets_are_not_jacks(folder: Path) -> None:
    """A connection that something else opens at the same time is no MIDI server, and neither is one whose number is
    used again.
    """
    before = jack.sockets()
    with (
        socket.create_server(("127.0.0.1", 0)) as web,
        socket.create_connection(web.getsockname()),
        socket.socket(socket.AF_UNIX) as other,
    ):
        other.bind(str(folder / "bus"))
        pair = socket.socketpair()
        assert jack.sockets() == before
        for one in pair:
            one.close()
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(folder / "jack_default_0_0"))
        server.listen()
        with socket.socket(socket.AF_UNIX) as client:
            client.connect(str(folder / "jack_default_0_0"))
            taken, _ = server.accept()
            link = jack.Link(tuple(one for one in jack.sockets() - before if one[0] == client.fileno()))
            assert not link.missing()
            assert not link.hung_up()
            taken.close()
            assert link.hung_up()
        assert link.hung_up()
    assert jack.Link(()).missing()
