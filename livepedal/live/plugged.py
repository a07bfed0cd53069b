"""The stage that watches the MIDI ports: five times a second it asks which there are, and says what has changed.

Each output has a process of its own (sources/ports/outputs.py), so none of them can hold up the session.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

from livepedal.live.faults import Faults, Stage
from livepedal.live.hearing import Hearing
from livepedal.sources.journal import Word
from livepedal.sources.ports.outputs import WATCH
from livepedal.sources.ports.sender import Sender
from livepedal.sources.ports.system import Inputs, PortNews
from livepedal.sources.text import clean

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
        say: shows a sentence to the user.
    """

    def __init__(
        self,
        inputs: Inputs | None,
        outs: Outs,
        faults: Faults,
        hearing: Hearing,
        say: Callable[[str], None],
    ) -> None:
        self.inputs, self.outs = inputs, outs
        self._faults, self._hearing, self._say = faults, hearing, say
        self._names: dict[int, str] = {}

    def name(self, source: int, name: str) -> None:
        """Name a source, in the journal too."""
        self._names[source] = name
        self._hearing.command(Word.PORT, f"{source} {name}")

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
            clean(name, 40)
            + (gone if source in missing else last if source == self._hearing.last_source else "")
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
            self._hearing.command(Word.GONE, str(news.source))
            if self.outs.through is not None:
                self.outs.through.let_go(news.source)
            self._say(f"{name} was disconnected; its keys were released. Waiting for it")
