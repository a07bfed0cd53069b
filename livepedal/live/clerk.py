"""The stage that writes files: the MIDI files of takes and passages as they are over, in a thread of its own, since
planning and the disk may take seconds. Another thread brings the journal to the disk once a second.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.live.faults import Faults, Stage
from livepedal.live.saving import Saved, save, stem_of
from livepedal.live.take import Take
from livepedal.sources.journal import JournalWriter
from livepedal.sources.text import clean

SYNC = 1.0  # seconds between two times that the journal is brought to the disk


class Clerk:
    """Saves takes and passages, in order.

    Attributes:
        written: what was saved.
        failed: why something could not be, a sentence each.
        busy: the name of the file that is being made, "" for none.
    """

    def __init__(self, started: str, folder: Path, faults: Faults, say: Callable[[str], None]) -> None:
        """Args:
        started: date and time of the session, for the names of the files.
        folder: where they go.
        """
        self.written: list[Saved] = []
        self.failed: list[str] = []
        self.busy = ""
        self._started, self._folder, self._faults, self._say = started, folder, faults, say
        self._jobs: queue.SimpleQueue[tuple[Take, int | None] | None] = queue.SimpleQueue()

    def save(self, take: Take, passage: int | None = None) -> None:
        """Save a finished take, or one of its passages (numbered from 0), soon. Never blocks."""
        self._jobs.put((take, passage))

    def end(self) -> None:
        """Nothing more will come."""
        self._jobs.put(None)

    def run(self) -> None:
        """Save what comes until the end."""
        while (job := self._jobs.get()) is not None:
            take, passage = job
            self.busy = f"{stem_of(self._started, take.number, passage)}.mid"
            try:
                written = save(take, self._started, self._folder, self._faults, passage)
            except LivepedalError as error:
                self._fail(str(error))
            except Exception as error:
                if passage is None:
                    self._fail(f"A file could not be written ({type(error).__name__}: {clean(str(error))}).")
                self._faults.caught(Stage.PASSAGE if passage is not None else Stage.SAVING, error)
            else:
                self.written.append(written)
                self._say(f"saved {written.path}")
            self.busy = ""

    def _fail(self, why: str) -> None:
        self.failed.append(why)
        self._say(why)


def sync(journal: JournalWriter, over: threading.Event) -> None:
    """Bring the journal to the disk every second until it is over."""
    while not over.wait(SYNC):
        journal.sync()
