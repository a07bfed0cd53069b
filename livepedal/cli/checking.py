"""`check`: judge files and write the report on them."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path

from livepedal.advice.summary import FailOn, FileSummary, Tally
from livepedal.cli import files, many
from livepedal.cli.beside import Beside
from livepedal.cli.many import Done, Judge
from livepedal.cli.options import one_of
from livepedal.cli.output import ProgressBar
from livepedal.cli.project import understood
from livepedal.cli.request import Request
from livepedal.cli.writers import writer_for
from livepedal.errors import LivepedalError
from livepedal.sources.text import clean
from livepedal.sources.writing import NewFile
from livepedal.views.words import counted


def check(options: argparse.Namespace) -> int:
    """Judge files."""
    request = Request(options)
    fail_on = understood(options, "fail-on", lambda text: one_of(FailOn, text, "--fail-on"))
    jobs = _jobs(options.jobs)
    if not options.files:
        raise LivepedalError("give a MIDI file; see livepedal check --help.")
    paths = files.named(options.files)
    beside = Beside(options, paths)
    known = _Known(options)
    writer = writer_for(options, request, paths)
    judge = Judge(request, writer.render, writer.keep or beside.source is not None, options.debug)
    tally = Tally()
    written: list[str] = []
    writer.opening()
    sys.stdout.flush()
    for done in _judged(paths, beside.source, judge, jobs):
        code = known.exit_code(done.summary, fail_on)
        tally.add(done.summary, code)
        if done.report is not None and done.error is None:
            written += beside.write(done.report, request)
        if code or done.summary.in_part or not options.quiet:
            writer.file(done)
            # Show each result while the next file is judged.
            sys.stdout.flush()
    writer.closing(tally)
    accepted = known.close(tally)
    if writer.talks and not options.quiet:
        sys.stdout.writelines(f"{sentence}\n" for sentence in (*written, accepted) if sentence)
    return tally.code


class _Known:
    """The accepted findings (--accept): read if the file exists, written if not."""

    def __init__(self, options: argparse.Namespace) -> None:
        """Raises LivepedalError where it can be neither read nor written."""
        from livepedal.advice.comparing import baseline

        self._path = None if options.accept is None else Path(options.accept)
        self._file: NewFile | None = None
        self._baseline: baseline.Baseline | None = None
        self._files: list[FileSummary] = []
        self._new = self._all = 0
        if self._path is None:
            return
        if self._path.exists() and not options.force:
            self._baseline = baseline.read(self._path)
        else:
            self._file = NewFile(options.accept, "-", options.force, "--accept")

    def exit_code(self, file: FileSummary, fail_on: FailOn | None) -> int:
        """The exit code without --accept, leaving out accepted findings."""
        from livepedal.advice.comparing import baseline

        code = file.exit_code(fail_on)
        if self._path is None or file.error is not None:
            return code
        self._all += len(file.troubles)
        if self._baseline is None:
            self._files.append(file)
            return 0
        new = self._baseline.new(file)
        self._new += len(new)
        slips = bool(file.slips) and code and fail_on is not None and fail_on.value == "printed"
        return int(slips or any(baseline.counts(one, fail_on) for one in new))

    def close(self, tally: Tally) -> str:
        """Write what is accepted, unless something could not be judged. Returns the closing sentence."""
        from livepedal.advice.comparing import baseline

        if self._path is None:
            return ""
        name = clean(str(self._path), 500)
        if self._file is None:
            if not self._new:
                return f"Nothing new: all findings are already accepted in {name}."
            return f"{self._new} of {counted(self._all, 'finding')} new; the others are accepted in {name}."
        if tally.failed:
            return f"{name} was not written, because not everything could be judged."
        self._file.write(baseline.written(self._path, self._files))
        return f"Accepted in {name}: {counted(self._all, 'finding')}. The same command now fails only on new ones."


def _jobs(number: int) -> int:
    """The number of processes; 0: one per core."""
    if number < 0:
        raise LivepedalError("--jobs takes the number of processes: 1 or more, or 0 for one per core.")
    return number or os.cpu_count() or 1


def _judged(paths: Sequence[str], one: tuple[str, bytes] | None, judge: Judge, jobs: int) -> Iterator[Done]:
    """The judged files in order, or the one whose bytes are known, with one progress bar for all of them."""
    alone = len(paths) == 1
    name = paths[0] if alone else f"{len(paths)} files"
    with closing(ProgressBar(name, "planning the pedal changes" if alone else "")) as bar:
        if jobs > 1 and not alone:
            found = many.judged_by_processes(paths, judge, min(jobs, len(paths)), bar)
        else:
            sources = map(many.source, paths) if one is None else iter([one])
            found = many.judged_here(sources, len(paths), judge, bar)
        for done in found:
            bar.pause()  # the report goes to the same terminal
            yield done
