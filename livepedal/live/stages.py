"""The stages of a session as threads: begun together, and ended so that nothing is lost.

At the end a judge who is behind, or does not come back from a note at all, is left: the files are made from the
journal, with the findings up to there, and `check` judges the rest.
"""

from __future__ import annotations

import queue
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.live.advisor import Advisor
from livepedal.live.faults import Faults, Stage
from livepedal.live.hearing import Hearing
from livepedal.live.judging import Judging
from livepedal.live.nearest import Nearest
from livepedal.live.plugged import Plugged
from livepedal.live.recover import played_again
from livepedal.live.saving import Saved, save
from livepedal.live.session import Session
from livepedal.live.setup import Setup
from livepedal.live.take import Take
from livepedal.sources.journal import Command, JournalWriter, Word
from livepedal.sources.ports.libraries import Receive
from livepedal.sources.text import clean

BEHIND = 300_000  # µs that the judge may be behind before the user is told
SYNC = 1.0  # seconds between two syncs of the journal to the disk
# Seconds between two turns of Python's threads (default: 5 ms), so that neither drawing nor judging holds up a note.
_SWITCH = 0.0005
_LAST_ADVICE = 1.0  # seconds to wait at the end for advice on the last passages
_LAST_VERDICTS = 0.8  # seconds to wait at the end for a judge who is behind
_TURN = 0.1  # seconds between two chances of Ctrl-C: on Windows it ends no wait without an end
_SAID = 1.0  # seconds of writing files after which the user is told


def seconds(us: int) -> str:
    """A length of time: "0.4 s"."""
    return f"{us / 1_000_000:.1f} s"


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
            self.busy = f"{take.setup.stem(take.number, passage)}.mid"
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


class Stages:
    """The threads of a session. `Listener` makes their parts, and sets these attributes, before it starts them."""

    setup: Setup
    journal: JournalWriter
    faults: Faults
    clerk: Clerk
    judging: Judging
    hearing: Hearing
    plugged: Plugged
    session: Session
    nearest: Nearest
    advisor: Advisor | None

    def __init__(self, clock: Callable[[], int]) -> None:
        """clock: ns that never go back."""
        self._clock = clock
        self._over = threading.Event()
        self._threads: dict[str, threading.Thread] = {}
        self._switch = sys.getswitchinterval()

    def receiver(self, source: int) -> Receive:
        """The callback of a source."""
        inputs = self.plugged.inputs
        timed = inputs is None or inputs.backend.timed
        return self.hearing.receiver(source, timed, self.plugged.outs.through)

    def start(self) -> None:
        """Start the threads."""
        sys.setswitchinterval(_SWITCH)
        stages: dict[str, Callable[[], None]] = {
            "hearing": self.hearing.run,
            "judging": self.judging.run,
            "clerk": self.clerk.run,
            "sync": self._sync,
            "ports": lambda: self.plugged.run(self._over),
        }
        for name, run in stages.items():
            thread = threading.Thread(target=run, name=f"livepedal-{name}", daemon=True)
            thread.start()
            self._threads[name] = thread

    def _sync(self) -> None:
        while not self._over.wait(SYNC):
            self.journal.sync()

    def end(self, tell: Callable[[str], None] = lambda text: None) -> None:
        """End the session: close the ports, journal what has come, write the files, close the journal.

        Args:
            tell: is given a sentence where that takes a while.
        """
        if self._over.is_set():
            return
        self._over.set()
        self._runs("ports", 10)
        if self.plugged.inputs is not None:
            self.plugged.inputs.close()
        self.plugged.outs.end()
        self.hearing.end()
        self._runs("hearing")
        since = time.monotonic()
        while judges := self._runs("judging", 0.05):
            if time.monotonic() - since > _LAST_VERDICTS and self.behind() > BEHIND:
                break
        if judges:
            tell(
                f"Judging is {seconds(self.behind())} behind, so the rest is not judged; livepedal check does that."
            )
            self._unjudged()
        if self.session.unkept:
            tell("The passage you asked to keep is in the file of the whole take.")
        if self.judging.lost:
            self.clerk.failed.append("Not all that was played is in the MIDI file.")
        self.clerk.end()
        if self._runs("clerk", _SAID):
            tell(f"Still writing {self.clerk.busy}. Press Ctrl-C to leave it to livepedal recover.")
            self._runs("clerk")
        self._end_journal()
        self.nearest.end()
        if self.advisor is not None:
            self.advisor.end(_LAST_ADVICE)
        sys.setswitchinterval(self._switch)

    def _unjudged(self) -> None:
        """Leave the judge, and make the files from the journal that he has not made."""
        self.judging.leave()
        left, records = self.session.take, self.journal.read_back()
        self.judging.lost |= len(records) < self.journal.count
        self.session = played_again(records, self.setup, judged=False)
        for take in self.session.finished:
            if take.number == left.number:
                take.judged_as(left)
            self.clerk.save(take)

    def _runs(self, stage: str, seconds: float | None = None) -> bool:
        """Whether a stage still runs after so many seconds; None: wait until it has ended."""
        thread = self._threads.get(stage)  # Ctrl-C may come before it was started
        if thread is None:
            return False
        if seconds is None:
            while thread.is_alive():
                thread.join(_TURN)
            return False
        thread.join(seconds)
        return thread.is_alive()

    def _end_journal(self) -> None:
        # Where a file could not be written, only the journal has the music, and must count as unfinished.
        if not self.clerk.failed:
            names = ", ".join(saved.path.name for saved in self.clerk.written)
            self.journal.write(Command(self.hearing.now, Word.END, names))
        self.journal.close()

    def behind(self) -> int:
        """How far the judge is behind (µs)."""
        return self.judging.behind((self._clock() - self.hearing.zero) // 1000)
