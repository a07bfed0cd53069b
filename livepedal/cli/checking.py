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
from livepedal.cli.beside import Marked, PageFile
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
    marked, page = _new_files(options, paths)
    new_files = [file for file in (marked, page) if file is not None]
    known = _Known(options)
    writer = writer_for(options, request, paths)
    sheet = request.task.sheet and (options.json or options.jsonl)
    judge = Judge(request, writer.render, writer.keep or bool(new_files), sheet, options.debug)
    tally = Tally()
    writer.opening()
    sys.stdout.flush()
    for done in _judged(paths, judge, jobs) if marked is None else [judge(*marked.source)]:
        code = known.exit_code(done.summary, fail_on)
        tally.add(done.summary, code)
        if done.report is not None and done.error is None:
            for file in new_files:
                file.write(done.report, request)
        if code or done.summary.in_part or not options.quiet:
            writer.file(done)
            # Show each result while the next file is judged.
            sys.stdout.flush()
    writer.closing(tally)
    accepted = known.close(tally)
    if writer.talks and not options.quiet:
        written = [file.written for file in new_files if not tally.failed]
        sys.stdout.writelines(f"{sentence}\n" for sentence in (*written, accepted) if sentence)
    return tally.code


def _new_files(options: argparse.Namespace, paths: Sequence[str]) -> tuple[Marked | None, PageFile | None]:
    """What is to be written beside the report."""
    if options.marked is None:
        if options.changes_as is not None:
            raise LivepedalError("--changes-as is for --marked OUT.mid.")
        if options.pedals is not None or options.findings:
            raise LivepedalError("--pedals and --findings are for --marked OUT.musicxml.")
    marked = None if options.marked is None else Marked(options, paths)
    page = None if options.page is None else PageFile(options, paths)
    if marked and page and os.path.realpath(options.marked) == os.path.realpath(options.page):
        raise LivepedalError("--marked and --page name the same file; give them different names.")
    return marked, page


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


def _judged(paths: Sequence[str], judge: Judge, jobs: int) -> Iterator[Done]:
    """The judged files in order, with one progress bar for all of them."""
    alone = len(paths) == 1
    name = paths[0] if alone else f"{len(paths)} files"
    with closing(ProgressBar(name, "planning the pedal changes" if alone else "")) as bar:
        if jobs > 1 and not alone:
            found = many.judged_by_processes(paths, judge, min(jobs, len(paths)), bar)
        else:
            found = many.judged_here(paths, judge, bar)
        for done in found:
            bar.pause()  # the report goes to the same terminal
            yield done
