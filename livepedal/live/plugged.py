"""The stage that looks after the MIDI inputs: five times a second it asks which there are, and says what changed."""

from __future__ import annotations

import threading
from collections.abc import Callable

from livepedal.live.faults import Faults, Stage
from livepedal.sources.journal import Word
from livepedal.sources.ports import Change, Inputs, PortNews
from livepedal.sources.text import clean

WATCH = 0.2  # seconds between two looks at the ports
_AFTER_FAULT = 5.0  # the same after one that failed


class Plugged:
    """The inputs of a session, with their names."""

    def __init__(
        self,
        inputs: Inputs | None,
        faults: Faults,
        command: Callable[[str, str], None],
        say: Callable[[str], None],
    ) -> None:
        """Args:
        command: takes a word of the journal with its argument.
        say: shows a sentence to the user.
        """
        self.inputs = inputs
        self._faults, self._command, self._say = faults, command, say
        self._names: dict[int, str] = {}

    def name(self, source: int, name: str) -> None:
        """A source has a name; it goes into the journal."""
        self._names[source] = name
        self._command(Word.PORT, f"{source} {name}")

    def title(self) -> str:
        """What is listened to."""
        names = ", ".join(clean(name, 40) for _, name in sorted(self._names.items()))
        backend = f" ({self.inputs.backend.label})" if self.inputs is not None else ""
        return f"{names or 'no port'}{backend}"

    def run(self, over: threading.Event) -> None:
        """Look after the inputs until it is over."""
        wait = WATCH
        while self.inputs is not None and not over.wait(wait):
            wait = WATCH
            try:
                for news in self.inputs.watch():
                    self._tell(news)
            except Exception as error:
                self._faults.caught(Stage.PORTS, error)
                wait = _AFTER_FAULT

    def _tell(self, news: PortNews) -> None:
        name = clean(news.name)
        match news.change:
            case Change.GONE:
                self._command(Word.GONE, str(news.source))
                self._say(f"{name} went away; its keys were let go, and it is waited for")
            case Change.BACK:
                self._say(f"{name} is back, listening")
            case Change.SERVER_GONE:
                self._say(f"the {name} server stopped; waiting for it")
            case Change.SERVER_BACK:
                self._say(f"the {name} server is back")
