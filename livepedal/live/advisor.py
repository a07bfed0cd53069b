"""A process beside the session that works out advice (advising.py) while music goes on.

Python runs one thread at a time, so what takes seconds has a process of its own, with a lower priority (`nice`).

    judge      ask()      puts the passage's events and time map into a queue
    thread     _serve     starts the process with the first music, sends it questions and waits for answers
    process    _work      tries a tempo, plans, tries other remedies; sends an `Advice` for each step

Nothing here can stop a session: a failure is told in one line, and after `MOST_FAILURES` there is no more advice. The
process ends with its parent, however that ends, because the pipe between them does.
"""

from __future__ import annotations

import contextlib
import os
import queue
import signal
import threading
import time
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

from livepedal.live.advising import Advice, advise
from livepedal.live.question import Question
from livepedal.sources.beside import started
from livepedal.sources.text import clean

MOST_FAILURES = 3
MOST_WAITING = 8  # passages; nobody waits for advice on older ones any more
NICE = 5


def _work(pipe: Connection) -> None:
    """The process: questions in, advice or a sentence about a failure out, until the pipe is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C ends the session, which then ends this
    with contextlib.suppress(AttributeError, OSError):
        os.nice(NICE)
    with contextlib.suppress(EOFError, OSError):
        while True:
            question: Question = pipe.recv()
            try:
                for advice in advise(question):
                    pipe.send(advice)
            except OSError:
                raise  # nobody is there any more
            except Exception as error:
                pipe.send(f"{type(error).__name__}: {error}")


class Advisor:
    """Asks the process, and hands on its answers.

    Args:
        tell: takes each Advice, in another thread.
        say: takes a sentence when something failed.
        done: takes a question that no more advice will come on.
        patient: leave no question out, since all advice is waited for.
    """

    def __init__(
        self,
        tell: Callable[[Advice], None],
        say: Callable[[str], None],
        done: Callable[[Question], None] = lambda question: None,
        *,
        patient: bool = False,
    ) -> None:
        self._tell = tell
        self._say = say
        self._done = done
        self._patient = patient
        self._queue: queue.SimpleQueue[Question | None] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._failures = 0
        self._asked = 0  # questions, and how many of them are done with
        self._answered = 0
        self._ending = False

    def wake(self) -> None:
        """Start the process, so that it is ready when a passage is over. Returns at once."""
        if self._thread is None and not self._ending:
            self._thread = threading.Thread(target=self._serve, name="livepedal-advice", daemon=True)
            self._thread.start()

    def ask(self, question: Question) -> None:
        """Ask for advice on a closed passage. Returns at once."""
        self.wake()
        self._asked += 1
        self._queue.put(question)

    def end(self, wait: float = 0.0) -> None:
        """End it, after waiting at most so many seconds for what is being worked out."""
        until = time.monotonic() + wait
        while self._answered < self._asked and time.monotonic() < until:
            time.sleep(0.01)
        self._ending = True
        self._queue.put(None)
        process, pipe = self._process, self._pipe
        if process is not None:
            process.kill()  # it would only notice when it is done with what it is at
            process.join(5)
        if self._thread is not None and self._thread.is_alive():  # Ctrl-C may come before it was started
            self._thread.join(5)
        if pipe is not None:
            pipe.close()

    def _serve(self) -> None:
        try:
            self._start()
        except Exception as error:
            self._failed(f"{type(error).__name__}: {error}")
        while not self._ending and (question := self._queue.get()) is not None:
            try:
                # Only of the latest passages is advice still of use while somebody plays.
                late = self._queue.qsize() >= MOST_WAITING and not self._patient
                if self._failures < MOST_FAILURES and not late:
                    self._answer(question)
            except Exception as error:
                if not self._ending:
                    self._stop()
                    gone = isinstance(error, EOFError | OSError)
                    self._failed("the process that works on it ended" if gone else f"{error}")
            self._done(question)
            self._answered += 1

    def _answer(self, question: Question) -> None:
        if self._process is None:
            self._start()
        assert self._pipe is not None
        self._pipe.send(question)
        while True:
            said: Advice | str = self._pipe.recv()
            if isinstance(said, str):
                self._failed(said)
                return
            self._tell(said)
            if said.last:
                return

    def _start(self) -> None:
        self._process, self._pipe = started(_work, "livepedal-advice")
        if self._ending:
            self._process.kill()

    def _stop(self) -> None:
        process, pipe = self._process, self._pipe
        self._process = self._pipe = None
        if process is not None:
            process.kill()
            process.join(5)
        if pipe is not None:
            pipe.close()

    def _failed(self, why: str) -> None:
        self._failures += 1
        more = "; there will be no more advice" if self._failures >= MOST_FAILURES else ""
        self._say(f"no advice on this passage ({clean(why)}){more}; everything else continues")
