"""The stage that watches the MIDI ports: five times a second it asks which there are, and says what has changed.

Each output has a process of its own (sources/ports/outputs.py), so none of them can hold up the session.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from livepedal.live.faults import Faults, Stage
from livepedal.sources.journal import Word
from livepedal.sources.ports.sender import Sender
from livepedal.sources.ports.system import Inputs, PortNews
from livepedal.sources.raw import NOTE_ON
from livepedal.sources.text import clean

WATCH = 0.2  # seconds between two looks at the ports
_LIT = 0.2  # seconds that the lamp shows a message
_AFTER_FAULT = 5.0  # seconds until the next look after one that failed


@dataclass(frozen=True, slots=True)
class Outs:
    """Where a session sends.

    Attributes:
        through: what is played, as it comes.
        answer: answers to the player.
        again: passages that are heard again.
    """

    through: Sender | None = None
    answer: Sender | None = None
    again: Sender | None = None

    @property
    def roles(self) -> dict[Sender, list[str]]:
        """What each output is for, in words."""
        roles: dict[Sender, list[str]] = {}
        named = {"through": self.through, "answers": self.answer, "passages again": self.again}
        for role, sender in named.items():
            if sender is not None:
                roles.setdefault(sender, []).append(role)
        return roles

    def end(self) -> None:
        """Switch off what is on, and send nothing more."""
        for sender in self.roles:
            sender.end()


class Plugged:
    """The inputs of a session with their names, and its outputs.

    Args:
        command: takes a command of the journal with its argument.
        say: shows a sentence to the user.
    """

    def __init__(
        self,
        inputs: Inputs | None,
        outs: Outs,
        faults: Faults,
        command: Callable[[str, str], None],
        say: Callable[[str], None],
    ) -> None:
        self.inputs, self.outs = inputs, outs
        self._faults, self._command, self._say = faults, command, say
        self._names: dict[int, str] = {}
        self._last: int | None = None  # the source of the last note
        self._came_at = float("-inf")

    def name(self, source: int, name: str) -> None:
        """Name a source, in the journal too."""
        self._names[source] = name
        self._command(Word.PORT, f"{source} {name}")

    def came(self, source: int, data: Sequence[int]) -> None:
        """Note that a message has come. Runs in the thread of the port, so it must not fail or wait."""
        self._came_at = time.monotonic()
        if len(data) == 3 and data[0] & 0xF0 == NOTE_ON and data[2]:
            self._last = source

    def lit(self) -> bool:
        """Whether a message came just now."""
        return time.monotonic() - self._came_at < _LIT

    def title(self) -> str:
        """The inputs, and which of them are gone."""
        return f"{', '.join(self._each(' (gone)', '')) or 'no port'}{self._system()}"

    def inputs_told(self) -> str:
        """The inputs, and which of them the last note came from."""
        each = self._each(", unplugged (waiting for it)", ", source of the last note")
        return f"Inputs{self._system()}: {'; '.join(each) or 'no port'}"

    def outputs_told(self) -> str:
        """The outputs, and what each is for."""
        return "; ".join(
            f"{clean(sender.name, 40)} ({', '.join(roles)}){'' if sender.there else ', unplugged (waiting for it)'}"
            for sender, roles in self.outs.roles.items()
        )

    def gone(self) -> str:
        """Which kind of port is gone: "input gone", "output gone", or ""."""
        if self.inputs is not None and self.inputs.missing():
            return "input gone"
        return "" if all(sender.there for sender in self.outs.roles) else "output gone"

    def _each(self, gone: str, last: str) -> list[str]:
        missing = self.inputs.missing() if self.inputs is not None else ()
        return [
            clean(name, 40) + (gone if source in missing else last if source == self._last else "")
            for source, name in sorted(self._names.items())
        ]

    def _system(self) -> str:
        if self.inputs is None:
            return ""
        return f" ({self.inputs.backend.label}{': the server stopped' if self.inputs.server_gone else ''})"

    def run(self, over: threading.Event) -> None:
        """Watch the ports until the session is over."""
        wait = WATCH
        while self.inputs is not None and not over.wait(wait):
            wait = WATCH
            try:
                for news in self.inputs.watch():
                    self._tell(news)
                for sender in self.outs.roles:
                    for text in sender.news():
                        self._say(text)
            except Exception as error:
                self._faults.caught(Stage.PORTS, error)
                wait = _AFTER_FAULT

    def _tell(self, news: PortNews) -> None:
        name = clean(news.name)
        if news.source is None:
            self._say(f"the {name} server {'is back' if news.back else 'stopped; waiting for it'}")
        elif news.back:
            self._say(f"{name} is back")
        else:
            self._command(Word.GONE, str(news.source))
            if self.outs.through is not None:
                self.outs.through.let_go(news.source)
            self._say(f"{name} was disconnected; its keys were released. Waiting for it")
