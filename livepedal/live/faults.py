"""Faults: one in any stage of a session stops no other stage.

It is written to a file with its traceback and told in one sentence, and the rest goes on. What must survive, in this
order: the journal, the MIDI file, the verdicts, the words.
"""

from __future__ import annotations

import contextlib
import traceback
from collections.abc import Callable
from enum import Enum
from pathlib import Path

from livepedal.sources.text import clean

MOST_WRITTEN = 20  # tracebacks; a fault that recurs with every note must not fill the disk


class Stage(Enum):
    """Where something went wrong; the value says what still works."""

    HEARING = "one message could not be recorded"
    JUDGING = "judging has failed (r starts it again); everything is still recorded and goes into the MIDI file"
    TAKE = "one message is in the journal alone; livepedal recover puts it into a MIDI file"
    NEAREST = "there is no hint on what to play instead; judging and recording continue"
    WORDS = "a finding could not be shown; judging and recording continue"
    SCREEN = "something could not be shown; judging and recording continue"
    SAVING = "the MIDI file is written without findings"
    PASSAGE = "the file of a passage could not be written; its music is in the file of the whole take"
    ANSWERS = "answers cannot be sent; judging and recording continue"
    PORTS = "the MIDI ports cannot be watched; what arrives is still recorded"


class Faults:
    """The faults of one session.

    Attributes:
        path: of the file with the tracebacks.
        first: the first fault of each stage.

    Args:
        journal: path of the session's journal; the tracebacks go into a file beside it.
        say: shows a sentence to the user; must not raise.
    """

    def __init__(self, journal: Path, say: Callable[[str], None] = lambda text: None) -> None:
        self.path = journal.with_name(f"{journal.stem}-faults.txt")
        self.first: dict[Stage, Exception] = {}
        self._say = say
        self._written: set[str] = set()

    def caught(self, stage: Stage, error: Exception) -> None:
        """Note a fault, and tell the first one of each stage, of judging every one. Never raises."""
        known = stage in self.first and stage is not Stage.JUDGING
        self.first.setdefault(stage, error)
        text = "".join(traceback.format_exception(error))
        if text not in self._written and len(self._written) < MOST_WRITTEN:
            self._written.add(text)
            with contextlib.suppress(OSError, ValueError), self.path.open("a", encoding="utf-8") as file:
                file.write(f"{stage.name.lower()}: {stage.value}\n{text}\n")
        if not known:
            what = clean(f"{type(error).__name__}: {error}", 200)
            self._say(f"{stage.value} ({what}; details in {self.path})")
