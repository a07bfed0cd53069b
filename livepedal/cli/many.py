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
from dataclasses import dataclass, replace
from enum import Enum, auto
from pathlib import Path
from typing import TYPE_CHECKING

from livepedal import bundled
from livepedal.cli.asked import STDIN, read_stdin
from livepedal.errors import LivepedalError
from livepedal.sources.text import clean

if TYPE_CHECKING:
    from concurrent.futures import Future, ProcessPoolExecutor
    from multiprocessing.process import BaseProcess

    from livepedal.advice.checking import Progress
    from livepedal.advice.report import FileReport
    from livepedal.advice.summary import FileSummary
    from livepedal.cli.asked import Asked

MIDI_ENDINGS = (".mid", ".midi", ".smf", ".kar", ".rmi", ".musicxml", ".mxl")
UNDER_WAY = 8  # files under way for each process
HELD = 64  # judged files for each process that may wait for a slow one before them


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


# -- which files


def named(arguments: Sequence[str]) -> list[str]:
    """The files that are meant, each once: a folder stands for the MIDI files in it and in its folders, a pattern
    that no shell has expanded for what it matches, the name of a recording for that recording.

    What stands for nothing is kept as it is, so that it is told where the others are judged. Names that begin
    with a dot are passed over in folders: archives put such copies of names beside the files.
    """
    found: dict[str, None] = {}
    for argument in arguments:
        if argument == "-" or os.path.isfile(argument):
            found[argument] = None
        elif os.path.isdir(argument):
            found |= dict.fromkeys(_inside(argument) or [argument])
        elif not os.path.exists(argument) and glob.has_magic(argument):
            matches = sorted(glob.glob(argument, recursive=True))
            for match in matches or [argument]:
                found |= dict.fromkeys(_inside(match) if os.path.isdir(match) else [match])
        else:
            found[bundled.path_of(argument)] = None
    return list(found)


def _inside(folder: str) -> list[str]:
    found: list[str] = []
    for place, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        found += [os.path.join(place, name) for name in files if is_midi(name)]
    return sorted(found)


def folder_of(argument: str) -> str:
    """The folder that an argument is, or lies in; the one we are in for standard input."""
    if argument == "-" or os.path.isdir(argument):
        return os.curdir if argument == "-" else argument
    while glob.has_magic(argument) and not os.path.exists(argument):
        argument = os.path.dirname(argument)
    return argument if os.path.isdir(argument) else os.path.dirname(argument) or os.curdir


def is_midi(name: str) -> bool:
    """Whether a file of this name in a folder is meant."""
    return name.lower().endswith(MIDI_ENDINGS) and not name.startswith(".")


# -- judging one


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
        from livepedal.advice.check import check_file
        from livepedal.advice.summary import FileSummary

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
        from livepedal.advice.report import FileReport
        from livepedal.advice.summary import FileSummary

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

    A process that is killed (most often for want of memory) takes its pool with it. Then the oldest file that
    waits is judged by itself: either it is the one, and that is its report, or another one is, and its turn
    comes.
    """
    from concurrent.futures import FIRST_COMPLETED, wait

    waiting: deque[tuple[str, bytes | None, Future[Done]]] = deque()
    left = iter(paths)
    pool = _pool(judge, jobs)
    told = 0
    try:
        while True:
            running = {future for _, _, future in waiting if not future.done()}
            while len(running) < UNDER_WAY * jobs and len(waiting) < HELD * jobs:
                path = next(left, None)
                if path is None:
                    break
                name, data = source(path)
                waiting.append((name, data, pool.submit(_in_process, name, data)))
                running.add(waiting[-1][2])
            if not waiting:
                return
            name, data, future = waiting[0]
            if not future.done():
                progress(told + len(waiting) - len(running), len(paths))
                wait(running, return_when=FIRST_COMPLETED)
                continue
            waiting.popleft()
            try:
                done = future.result()
            except _broken():
                pool.shutdown(wait=False, cancel_futures=True)
                done = _by_itself(judge, name, data)
                pool = _pool(judge, jobs)
                waiting = deque((n, d, pool.submit(_in_process, n, d)) for n, d, _ in waiting)
            told += 1
            yield done
    finally:
        # Someone who stops early does not want to wait for the files under way.
        if waiting:
            import multiprocessing

            for process in multiprocessing.active_children():
                process.terminate()
        pool.shutdown(wait=True, cancel_futures=True)


class Worker:
    """A second process that judges one file at a time, so that this one can go on listening."""

    def __init__(self, judge: Judge) -> None:
        self._judge = judge
        self._pool = _pool(judge, 1)
        self._path = ""
        self._future: Future[Done] | None = None

    @property
    def path(self) -> str:
        """The file being judged; "" if there is none."""
        return self._path

    def begin(self, path: str) -> None:
        """Have a file judged."""
        self._path = path
        self._future = self._pool.submit(_in_process, path, None)

    def done(self) -> Done | None:
        """The result, once; None while the file is being judged."""
        if self._future is None or not self._future.done():
            return None
        path, future = self._path, self._future
        self._path, self._future = "", None
        try:
            return future.result()
        except _broken():
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = _pool(self._judge, 1)
            return self._judge.killed(path)

    def close(self) -> None:
        """End it, whatever it is doing."""
        import multiprocessing

        if self._future is not None:
            for process in multiprocessing.active_children():
                process.terminate()
        self._pool.shutdown(wait=True, cancel_futures=True)


def source(path: str) -> tuple[str, bytes | None]:
    """The name of a file, and its bytes if only this process can read them."""
    return (STDIN, read_stdin()) if path == "-" else (path, None)


def _by_itself(judge: Judge, name: str, data: bytes | None) -> Done:
    with _pool(judge, 1) as pool:
        try:
            return pool.submit(_in_process, name, data).result()
        except _broken():
            return judge.killed(name)


def _broken() -> type[Exception]:
    from concurrent.futures.process import BrokenProcessPool

    return BrokenProcessPool


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
