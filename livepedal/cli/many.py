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
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from enum import Enum, auto
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from livepedal.advice.check import check_file
from livepedal.advice.checking import Progress
from livepedal.advice.report import FileReport
from livepedal.advice.summary import FileSummary
from livepedal.cli.asked import STDIN, Asked, read_stdin
from livepedal.cli.files import MIDI_ENDINGS
from livepedal.errors import LivepedalError
from livepedal.sources.text import clean

if TYPE_CHECKING:
    from concurrent.futures import Future, ProcessPoolExecutor
    from multiprocessing.process import BaseProcess


HELD = 64  # files for each process that are under way, or judged and wait for a slow one before them
_LOOK = 0.2  # seconds between two looks how many are done


class Form(Enum):
    """What is needed of each file besides its summary."""

    REPORT = auto()  # the report as objects
    JSON = auto()  # its JSON on one line
    CSV = auto()  # its findings as CSV, a row each
    ROW = auto()  # nothing


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
    """All options for judging a file, in a form that can be passed to any process."""

    asked: Asked
    form: Form
    debug: bool = False
    keep: bool = False  # the report as objects too

    def __call__(
        self,
        path: str,
        data: bytes | None = None,
        progress: Progress | None = None,
        advising: Progress | None = None,
    ) -> Done:
        """Judge one file by its path, or its bytes under that name. Raises nothing, except with --debug."""
        begun = time.process_time()
        done = self._judged(path, data, progress, advising)
        return replace(done, seconds=time.process_time() - begun)

    def _judged(
        self, path: str, data: bytes | None, progress: Progress | None, advising: Progress | None
    ) -> Done:
        asked = self.asked
        try:
            if data is None:
                _readable(path)
            report = check_file(
                Path(path) if data is None else data,
                name=path,
                figures=asked.figures,
                player=asked.player.name,
                harp=asked.instrument.name,
                tracks=asked.tracks_of(path),
                merge=asked.merge,
                channels=asked.channels,
                programs=asked.programs,
                transpose=asked.transpose,
                ignore_below=asked.ignore_below,
                first_bar=asked.first_bar,
                start=asked.start,
                only=asked.only,
                spelling=asked.spelling,
                as_marked=asked.as_marked,
                from_bar=asked.from_bar,
                remedies=asked.remedies,
                sheet=asked.sheet and self.form is Form.JSON,
                pedalling=self.keep or self.form is not Form.ROW,  # a row does not show it
                progress=progress,
                advising=advising,
            )
        except LivepedalError as error:
            return self._failed(path, error)
        except Exception as error:
            if self.debug:
                raise
            fault = f"something went wrong inside livepedal ({type(error).__name__}: {error})"
            return self._failed(path, LivepedalError(f"{path}: {fault}; please report it with the file."))
        (file,) = report.files
        summary = FileSummary.of(file)
        kept = file if self.keep or self.form is Form.REPORT else None
        return Done(summary, kept, self._text(file))

    def _failed(self, path: str, error: LivepedalError) -> Done:
        file = FileReport(path, error=clean(str(error), 2000))
        return Done(FileSummary.of(file), file if self.form is Form.REPORT else None, self._text(file), error)

    def killed(self, path: str) -> Done:
        """A file that killed the process that judged it."""
        message = f"{path}: the process that judged it was killed, perhaps because memory ran out"
        return self._failed(path, LivepedalError(f"{message}; export a shorter stretch."))

    def _text(self, file: FileReport) -> str:
        if self.form is Form.JSON:
            from livepedal.views import json_view

            return json_view.dumps(file.to_dict())
        if self.form is Form.CSV:
            from livepedal.views import csv_view

            return csv_view.rows(file, self.asked.middle_c)
        return ""


def _readable(path: str) -> None:
    """Say what is wrong with a path that could be opened but not judged."""
    if os.path.isdir(path):
        raise LivepedalError(f"{path}: there are no MIDI files ({', '.join(MIDI_ENDINGS)}) in this folder.")
    if glob.has_magic(path) and not os.path.exists(path):
        raise LivepedalError(f"{path}: no file matches this pattern; check the folder and the ending.")


# -- judging many


def judged_here(paths: Sequence[str], judge: Callable[[str, bytes | None], Done]) -> Iterator[Done]:
    """One after the other in this process."""
    for path in paths:
        name, data = source(path)
        yield judge(name, data)


def judged_by_processes(
    paths: Sequence[str],
    judge: Judge,
    jobs: int,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Iterator[Done]:
    """Judge with several processes, in the order of the paths; a slow file does not hold up those after it.
    progress: called with how many are done, and how many there are.
    """
    left, told = iter(paths), 0
    with closing(Pool(judge, jobs)) as pool:
        while True:
            for path in islice(left, HELD * jobs - len(pool)):
                pool.begin(*source(path))
            if not len(pool):
                return
            done = pool.done(_LOOK)
            if done is None:
                progress(told + pool.judged, len(paths))
                continue
            told += 1
            yield done


class Pool:
    """Processes that judge files, of which one hears in the order in which they were begun.

    A process that is killed (most often for want of memory) takes its pool with it. Then the oldest file that
    waits is judged by itself: either it is the one, and that is its report, or another one is, and its turn
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
        done = self._judge.killed(path)
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
    """The name of a file, and its bytes if only this process can read them."""
    return (STDIN, read_stdin()) if path == "-" else (path, None)


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
