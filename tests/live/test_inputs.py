"""Which port is which, where names carry numbers that change: with stand-ins for ALSA's ports, since those of JACK
have no numbers and no other system can be had in the tests. What really happens is tried in test_ports.py.
"""

from __future__ import annotations

import pytest

from livepedal.errors import LivepedalError
from livepedal.sources.ports import system as ports
from livepedal.sources.ports.libraries import Receive
from livepedal.sources.ports.system import Inputs, chosen

TWO = ["Keystation 49 20:0", "Keystation 49 24:0"]  # two keyboards of one make, as ALSA names them


class System:
    """A library, and a MIDI system with ports that come and go. heard: the name that each open client listens to."""

    def __init__(self, *names: str) -> None:
        self.names = list(names)
        self.clients: list[Client] = []

    def heard(self) -> list[str]:
        return [client.name for client in self.clients if client.name]

    def client(self, api: str, name: str, output: bool) -> Client:
        self.clients.append(Client(self))
        return self.clients[-1]


class Client:
    """An input of that system."""

    def __init__(self, system: System) -> None:
        self.system = system
        self.name = ""

    def names(self) -> list[str]:
        return list(self.system.names)

    def open(self, number: int, deliver: Receive) -> None:
        self.name = self.system.names[number]

    def open_virtual(self, name: str, deliver: Receive) -> None:
        self.name = name

    def server_gone(self) -> bool:
        return False

    def close(self) -> None:
        self.name = ""


@pytest.fixture
def system(monkeypatch: pytest.MonkeyPatch) -> System:
    made = System(*TWO, "Sequencer 30:0")
    monkeypatch.setattr(ports, "load", lambda: made.client)
    monkeypatch.setattr(ports.sys, "platform", "linux")
    return made


def both(system: System) -> Inputs:
    inputs = Inputs()
    for source, name in enumerate(TWO):
        inputs.open(source, name, lambda data, delta: None)
    return inputs


def changes(inputs: Inputs) -> list[tuple[str, int | None]]:
    return [("back" if news.back else "gone", news.source) for news in inputs.watch()]


def test_one_of_two_alike_goes_and_comes_back_under_another_number(system: System) -> None:
    inputs = both(system)
    system.names.remove(TWO[0])
    assert changes(inputs) == [("gone", 0)]
    assert changes(inputs) == []
    system.names.append("Keystation 49 32:0")
    assert changes(inputs) == [("back", 0)]
    assert sorted(system.heard()) == [TWO[1], "Keystation 49 32:0"]


def test_replugged_between_two_looks(system: System) -> None:
    """The old client would stay silent; it is opened again, and its keys have been let go."""
    inputs = both(system)
    system.names[1] = "Keystation 49 40:0"
    assert changes(inputs) == [("gone", 1), ("back", 1)]
    assert sorted(system.heard()) == [TWO[0], "Keystation 49 40:0"]


def test_keyboard_that_goes_is_no_sender_to_the_virtual_port(system: System) -> None:
    """With --port and --virtual together, each source lets go of its own keys."""
    inputs = both(system)
    inputs.open(2, None, lambda data, delta: None)
    system.names.remove(TWO[0])
    assert changes(inputs) == [("gone", 0)]
    system.names.remove("Sequencer 30:0")
    assert changes(inputs) == [("gone", 2)]


def test_name_without_its_number_is_enough_unless_two_have_it() -> None:
    assert chosen(["Sequencer 30:0", *TWO], "sequencer") == "Sequencer 30:0"
    with pytest.raises(LivepedalError, match="Keystation 49 20:0; Keystation 49 24:0"):
        chosen(TWO, "Keystation 49")
