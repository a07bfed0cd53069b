"""The stage that writes the MIDI files of takes and passages."""

from __future__ import annotations

import queue
import tempfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.live.faults import Faults, Stage
from livepedal.live.saving import Saved, save
from livepedal.live.setup import stem_of
from livepedal.live.take import Take
from livepedal.sources.text import clean


class Clerk:
    """The stage that writes the MIDI files of takes and passages, since planning and the disk may take seconds.

    Attributes:
        folder: where the files go, if it takes them.
        written: what was saved.
        failed: why something could not be saved, a sentence each.
        busy: the name of the file that is being made, "" for none.
    """

    def __init__(self, folder: Path, faults: Faults, say: Callable[[str], None]) -> None:
        self.written: list[Saved] = []
        self.failed: list[str] = []
        self.busy = ""
        self.folder = folder
        self._faults, self._say = faults, say
        self._jobs: queue.SimpleQueue[tuple[Take, int | None] | None] = queue.SimpleQueue()
        self._asked: dict[tuple[int, int | None], object] = {}

    def save(self, take: Take, passage: int | None = None) -> None:
        """Save a take, or one of its passages (from 0), soon, and only once. Never blocks."""
        mine = object()  # two threads may ask for the same: the first one is heard
        if self._asked.setdefault((take.number, passage), mine) is mine:
            self._jobs.put((take, passage))

    def end(self) -> None:
        """Nothing more will come."""
        self._jobs.put(None)

    def run(self) -> None:
        """Save what comes until the end."""
        while (job := self._jobs.get()) is not None:
            take, passage = job
            self.busy = f"{stem_of(take.setup.started, take.number, passage)}.mid"
            try:
                saved = save(take, (self.folder, *_elsewhere()), self._faults, passage)
            except LivepedalError as error:
                self._fail(str(error))
            except Exception as error:
                if passage is None:
                    self._fail(f"A file could not be written ({type(error).__name__}: {clean(str(error))}).")
                self._faults.caught(Stage.PASSAGE if passage is not None else Stage.SAVING, error)
            else:
                self.written.append(saved)
                self._say(f"saved {saved.path}")
            self.busy = ""

    def _fail(self, why: str) -> None:
        self.failed.append(why)
        self._say(why)


def _elsewhere() -> Iterator[Path]:
    """Where a file goes that its folder does not take: what was played must not be lost for want of room."""
    with suppress(RuntimeError):  # nobody has a home everywhere
        yield Path.home()
    yield Path(tempfile.gettempdir())
