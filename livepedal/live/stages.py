"""The stages of a session as threads: begun together, and ended so that nothing is lost.

When it is over, files are made from what was judged; where the judge is behind then, or has failed, from the journal,
which needs no judging.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Sequence

from livepedal.live.advisor import Advisor
from livepedal.live.clerk import Clerk, sync
from livepedal.live.faults import Faults, Stage
from livepedal.live.hearing import Hearing
from livepedal.live.judging import Judging
from livepedal.live.nearest import Nearest
from livepedal.live.plugged import Plugged
from livepedal.live.recover import played_again
from livepedal.live.saving import Saved
from livepedal.live.session import Session
from livepedal.live.setup import Setup
from livepedal.sources.journal import Command, JournalWriter, Word, read_journal
from livepedal.sources.ports.libraries import Receive
from livepedal.sources.ports.stamps import Stamps

BEHIND = 300_000  # µs that the judge is behind before that is said
# Seconds: Python's threads take turns so often, so that neither drawing nor judging holds up a note (5 ms by default).
_SWITCH = 0.0005
_LAST_ADVICE = 1.0  # seconds that advice on the last passages is waited for at the end
_LAST_VERDICTS = 0.8  # seconds at the end after which a judge who is behind is not waited for any more
_SAID = 1.0  # seconds of writing files after which that is said


def seconds(us: int) -> str:
    """A length of time: "0.4 s"."""
    return f"{us / 1_000_000:.1f} s"


class Stages:
    """What `Listener` puts together, which sets these attributes before it starts them."""

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
        """What takes the messages of a source, in whatever thread: it stamps and enqueues, for the output through which
        they go on before all else, and does nothing more.
        """
        hear, came, clock, inputs = self.hearing.receive, self.plugged.came, self._clock, self.plugged.inputs
        stamp = Stamps(self.hearing.alive, inputs is None or inputs.backend.timed).stamp
        through = self.plugged.outs.through

        def receive(data: Sequence[int], delta: float | None = None) -> None:
            if through is not None:
                through.send(source, data)
            hear(source, data, stamp(delta, clock()))
            came(source, data)

        return receive

    def start(self) -> None:
        """Start the threads."""
        sys.setswitchinterval(_SWITCH)
        stages: dict[str, Callable[[], None]] = {
            "hearing": self.hearing.run,
            "judging": self.judging.run,
            "clerk": self.clerk.run,
            "sync": lambda: sync(self.journal, self._over),
            "ports": lambda: self.plugged.run(self._over),
        }
        for name, run in stages.items():
            thread = threading.Thread(target=run, name=f"livepedal-{name}", daemon=True)
            thread.start()
            self._threads[name] = thread

    def end(self, tell: Callable[[str], None] = lambda text: None) -> None:
        """Listening is over: close the ports, journal what has come, write the files, close the journal.

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
        if judges or self.judging.broken:
            self._save_from_journal(tell, behind=judges)
        self.clerk.end()
        if self._runs("clerk", _SAID):
            tell(f"Still writing {self.clerk.busy}. Press Ctrl-C to leave it to livepedal recover.")
            self._runs("clerk")
        self.nearest.end()
        if self.advisor is not None:
            self.advisor.end(_LAST_ADVICE)
        self._end_journal()
        sys.setswitchinterval(self._switch)

    def _runs(self, stage: str, seconds: float | None = None) -> bool:
        """Whether a stage still runs after so many seconds; None: wait until it does not."""
        thread = self._threads.get(stage)  # Ctrl-C may come before it was started
        if thread is None:
            return False
        thread.join(seconds)
        return thread.is_alive()

    def _save_from_journal(self, tell: Callable[[str], None], *, behind: bool) -> None:
        """Have the takes saved that the judge has not handed on: their notes as the journal has them, and the findings
        that there are.
        """
        judging = self.judging
        if behind:
            tell(f"Judging is {seconds(self.behind())} behind, so the MIDI file is made from the journal.")
        try:
            if self.journal.waiting or self.journal.lost:
                raise OSError("the journal is not complete")
            journal = read_journal(self.journal.path)
            session = played_again(journal, self.setup, judged=False)
        except Exception as error:
            self.faults.caught(Stage.SAVING, error)
            self._runs("judging")  # then it is the only one who has the music
            for take in judging.broken.values():
                self.clerk.save(take)
            return
        judging.stop()
        unkept = (r for r in journal.records if isinstance(r, Command) and r.word == Word.KEEP)
        if judging.session.keeps_next or any(command.us > judging.until for command in unkept):
            tell("The passage you asked to keep is in the file of the whole take.")
        known = judging.session.take
        for take in session.finished:
            if take.number in judging.handed:
                continue
            broken = judging.broken.get(take.number, known)
            if take.number == broken.number:
                take.judged_until = (
                    broken.moment(judging.until) if broken.judged_until is None else broken.judged_until
                )
                take.found = list(broken.found)
            self.clerk.save(take)
        self.session = session

    def _end_journal(self) -> None:
        # Where a file could not be written the journal is the only place where the music is, and has to be found again.
        if not self.failed:
            saved = ", ".join(one.path.name for one in self.written)
            self.journal.command(self.hearing.now, Word.END, saved)
        self.journal.close()

    @property
    def written(self) -> list[Saved]:
        """What was saved."""
        return self.clerk.written

    @property
    def failed(self) -> list[str]:
        """Why files could not be written, a sentence each."""
        return self.clerk.failed

    def behind(self) -> int:
        """How far the judge is behind (µs)."""
        return self.judging.behind((self._clock() - self.hearing.zero) // 1000)
