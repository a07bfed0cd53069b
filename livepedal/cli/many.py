"""Many files: which ones are meant, and judging them one after the other or by several processes.

Reports come in the order in which the files were named, whatever process is done first, and only a few files
are under way at once, so that a pass takes no more memory for ten thousand files than for ten. Whatever
happens to one file is a report on that file: a fault in it, a fault in livepedal, or the death of the process
that judged it.
"""

from __future__ import annotations

import glob
import os
import signal
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from livepedal import bundled
from livepedal.advice.check import report_on
from livepedal.advice.checking import Progress
from livepedal.advice.report import FileReport
from livepedal.advice.summary import FileSummary
from livepedal.cli.files import MIDI_ENDINGS
from livepedal.cli.request import NO_INPUT, STDIN, Request, read_stdin
from livepedal.errors import LivepedalError
from livepedal.sources.text import clean

if TYPE_CHECKING:
    from concurrent.futures import Future, ProcessPoolExecutor
    from multiprocessing.process import BaseProcess


HELD = 64  # files for each process that are under way, or judged and wait for a slow one before them
_LOOK = 0.2  # seconds between two looks how many are done


@dataclass(frozen=True, slots=True)
class Done:
    """One file that was judged, or why it could not be. seconds: processor time."""

    summary: FileSummary
    report: FileReport | None = None
    text: str = ""
    error: LivepedalError | None = None
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Judge:
    """Judges files as requested; it can be passed to any process.

    Attributes:
        render: makes the text of a report; None: none is needed.
        keep: hand on the reports themselves.
        debug: let faults of livepedal through.
    """

    request: Request
    render: Callable[[FileReport], str] | None = None
    keep: bool = False
    debug: bool = False

    def __call__(
        self,
        path: str,
        data: bytes | None = None,
        progress: Progress | None = None,
        advising: Progress | None = None,
    ) -> Done:
        """Judge one file by its path, or its bytes under that name. Raises nothing, except with `debug`."""
        begun = time.process_time()
        try:
            done = self._done(self._report(path, data, progress, advising))
        except LivepedalError as error:
            done = self.failed(path, error)
        except Exception as error:
            if self.debug:
                raise
            fault = f"something went wrong inside livepedal ({type(error).__name__}: {error})"
            done = self.failed(path, LivepedalError(f"{path}: {fault}; please report it with the file."))
        return replace(done, seconds=time.process_time() - begun)

    def _report(
        self, path: str, data: bytes | None, progress: Progress | None, advising: Progress | None
    ) -> FileReport:
        if data is None:
            _readable(path)
        elif not data:
            raise LivepedalError(NO_INPUT)
        task = replace(
            self.request.task,
            wanted=replace(self.request.wanted, tracks=self.request.tracks_of(path)),
            pedalling=self.keep or self.render is not None,  # a summary does without
        )
        return report_on(Path(path) if data is None else data, path, task, progress, advising)

    def failed(self, path: str, error: LivepedalError) -> Done:
        """A file that could not be judged."""
        return self._done(FileReport(path, error=clean(str(error), 2000)), error)

    def _done(self, report: FileReport, error: LivepedalError | None = None) -> Done:
        text = "" if self.render is None else self.render(report)
        return Done(FileSummary.of(report), report if self.keep else None, text, error)


def _readable(path: str) -> None:
    """Say what is wrong with a path that could be opened but not judged."""
    if os.path.isdir(path):
        try:
            os.scandir(path).close()
        except OSError as error:
            raise LivepedalError(
                f"{path}: cannot be read ({error.strerror}); check the permissions of the folder."
            ) from None
        raise LivepedalError(f"{path}: there are no MIDI files ({', '.join(MIDI_ENDINGS)}) in this folder.")
    if glob.has_magic(path) and not os.path.exists(path):
        raise LivepedalError(f"{path}: no file matches this pattern; check the folder and the ending.")
    bundled.path_of(path)  # it may be meant for a recording's name


# -- judging many


def judged_here(
    files: Iterable[tuple[str, bytes | None]], count: int, judge: Judge, progress: Callable[..., None]
) -> Iterator[Done]:
    """One after the other in this process.

    Args:
        files: as `source` has them.
        count: how many they are.
        judge: what judges them.
        progress: called with how much is done, how much there is, and what is done, where that is new.
    """
    for number, (name, data) in enumerate(files):

        def step(done: int, total: int, before: int = number * 1000) -> None:
            progress(before + 1000 * done // max(total, 1), count * 1000)

        yield judge(name, data, step, partial(progress, name=f"remedies: {name}") if count == 1 else None)


def judged_by_processes(
    paths: Sequence[str],
    judge: Judge,
    jobs: int,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Iterator[Done]:
    """Judge with several processes, in the order of the paths; a slow file does not hold up those after it.

    Args:
        paths: the files, - for standard input.
        judge: what judges them; it is sent to each process.
        jobs: how many processes.
        progress: called with how many are done, and how many there are.
    """
    left, yielded = iter(paths), 0
    with closing(Pool(judge, jobs)) as pool:
        while True:
            for path in islice(left, HELD * jobs - len(pool)):
                pool.begin(*source(path))
            if not len(pool):
                return
            done = pool.done(_LOOK)
            if done is None:
                progress(yielded + pool.judged, len(paths))
                continue
            yielded += 1
            yield done


class Pool:
    """Processes that judge files; results come in the order in which the files were begun.

    A process that is killed (most often for want of memory) takes its pool with it. Then the oldest waiting file is
    judged by itself: if it kills its process again, that is its report; if not, another file is to blame, and its turn
    comes.
    """

    def __init__(self, judge: Judge, jobs: int = 1) -> None:
        self._judge, self._jobs = judge, jobs
        self._waiting: deque[tuple[str, bytes | None, Future[Done]]] = deque()
        self._pool = _pool(judge, jobs)

    def __len__(self) -> int:
        return len(self._waiting)

    @property
    def path(self) -> str:
        """The oldest file that waits; "" if there is none."""
        return self._waiting[0][0] if self._waiting else ""

    @property
    def judged(self) -> int:
        """How many of those that wait are judged."""
        return sum(future.done() for _, _, future in self._waiting)

    def begin(self, path: str, data: bytes | None = None) -> None:
        """Have a file judged."""
        from concurrent.futures import Future
        from concurrent.futures.process import BrokenProcessPool

        try:
            future = self._pool.submit(_in_process, path, data)
        except BrokenProcessPool as error:  # found out when its turn comes
            future = Future()
            future.set_exception(error)
        except OSError:  # a process could not be started; those that were would wait for ever
            self._waiting.append((path, data, Future()))
            raise
        self._waiting.append((path, data, future))

    def done(self, seconds: float = 0.0) -> Done | None:
        """The result of the oldest, once; None while it is being judged, for so many seconds."""
        from concurrent.futures import wait
        from concurrent.futures.process import BrokenProcessPool

        if not self._waiting:
            return None
        path, data, future = self._waiting[0]
        if not wait((future,), seconds).done:
            return None
        self._waiting.popleft()
        try:
            return future.result()
        except BrokenProcessPool:
            self._pool.shutdown(wait=False, cancel_futures=True)
        killed = f"{path}: the process that judged it was killed, perhaps because memory ran out"
        done = self._judge.failed(path, LivepedalError(f"{killed}; export a shorter stretch."))
        if self._waiting:  # else nobody else can have been the one
            with _pool(self._judge, 1) as pool, suppress(BrokenProcessPool):
                done = pool.submit(_in_process, path, data).result()
        self._pool = _pool(self._judge, self._jobs)
        again, self._waiting = self._waiting, deque()
        for path, data, _ in again:
            self.begin(path, data)
        return done

    def close(self) -> None:
        """End them, whatever they are doing."""
        import multiprocessing

        if self._waiting:
            for process in multiprocessing.active_children():
                process.terminate()
        self._pool.shutdown(wait=True, cancel_futures=True)


def source(path: str) -> tuple[str, bytes | None]:
    """The name of a file, and its bytes if only this process can read them: none if nothing is there."""
    if path != "-":
        return path, None
    with suppress(LivepedalError):
        return STDIN, read_stdin()
    return STDIN, b""


def _pool(judge: Judge, jobs: int) -> ProcessPoolExecutor:
    from concurrent.futures import ProcessPoolExecutor

    return ProcessPoolExecutor(jobs, initializer=_begin, initargs=(judge,))


_judge: Judge | None = None  # of this process, where it is one of several


def _begin(judge: Judge) -> None:
    """What each process does first. Ctrl-C goes to the process that the user sees, which ends the others."""
    import multiprocessing
    import threading

    global _judge
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _judge = judge
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: BaseProcess) -> None:
    """If the first process is killed it cannot end the others, so each of them watches it."""
    parent.join()
    os._exit(1)


def _in_process(name: str, data: bytes | None) -> Done:
    assert _judge is not None
    return _judge(name, data)
