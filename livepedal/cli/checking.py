"""`check`: judge files and write the report on them: in full, as a table of many, or as JSON."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from livepedal.cli import many
from livepedal.cli.beside import Marked, PageFile, beside_options
from livepedal.cli.many import Done, Form, Judge
from livepedal.cli.options import (
    Asked,
    advice_options,
    common_options,
    many_options,
    plain_option,
    spelling_options,
)
from livepedal.cli.output import Output, ProgressBar, complain
from livepedal.cli.project import project_option
from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.advice.summary import FailOn, FileSummary, Tally


def add_commands(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the parser of `check`."""
    check = commands.add_parser(
        "check",
        help="judge MIDI files",
        description="Judge MIDI files: what a harpist cannot play, why, and how to set the pedals.",
        epilog=(
            "Exit code: 0, the chosen player can play it all, or nothing is as bad as --fail-on says; 1, otherwise;"
            " 2, something could not be judged."
        ),
        allow_abbrev=False,
    )
    check.add_argument(
        "files",
        nargs="+",
        metavar="FILE",
        help="MIDI file, folder (with its subfolders), pattern, or - for standard input",
    )
    common_options(check)
    spelling_options(check)
    advice_options(check)
    many_options(check)
    beside_options(check)
    plain_option(check)
    project_option(check, lambda options: many.folder_of(options.files[0]))
    check.set_defaults(run=_check)


def _check(options: argparse.Namespace) -> int:
    from livepedal.advice.summary import Tally

    asked = Asked(options)
    fail_on = _fail_on(options.fail_on)
    jobs = _jobs(options.jobs)
    paths = many.named(options.files)
    if options.changes_as is not None and options.marked is None:
        raise LivepedalError("--changes-as is for --marked OUT.mid.")
    if (options.pedals is not None or options.findings) and options.marked is None:
        raise LivepedalError("--pedals and --findings are for --marked OUT.musicxml.")
    marked = None
    if options.marked is not None:
        marked = Marked(options, paths)
    page = None if options.page is None else PageFile(options.page, paths, options.force)
    if (
        marked is not None
        and page is not None
        and os.path.realpath(options.marked) == os.path.realpath(options.page)
    ):
        raise LivepedalError("--marked and --page name the same file; give them different names.")
    beside = [one for one in (marked, page) if one is not None]
    known = _Known(options)
    write = _writer(options, asked, paths)
    tally = Tally()
    write.opening()
    sys.stdout.flush()
    judge = Judge(asked, write.form, options.debug, keep=bool(beside))
    for done in _judged(paths, judge, jobs) if marked is None else [judge(*marked.source)]:
        code = known.exit_code(done.summary, fail_on)
        tally.add(done.summary, code)
        if done.report is not None and done.error is None:
            for one in beside:
                one.write(done.report, asked)
        if code or done.summary.in_part or not options.quiet:
            write.file(done)
            # Show each result while the next file is judged.
            sys.stdout.flush()
    write.closing(tally)
    if write.form not in (Form.JSON, Form.CSV) and not options.quiet and not tally.failed:
        for one in beside:
            print(one.told)
    told = known.close(tally)
    if told and write.form in (Form.REPORT, Form.ROW) and not options.quiet:
        print(told)
    return tally.code


class _Known:
    """The accepted findings (--accept): read if the file exists, written if not."""

    def __init__(self, options: argparse.Namespace) -> None:
        """Raises LivepedalError where it can be neither read nor written."""
        from livepedal.advice.comparing import baseline
        from livepedal.sources.writing import check_target

        self._path = None if options.accept is None else Path(options.accept)
        self._force = options.force
        self._baseline: baseline.Baseline | None = None
        self._files: list[FileSummary] = []
        self._new = self._all = 0
        if self._path is None:
            return
        if self._path.exists() and not options.force:
            self._baseline = baseline.read(self._path)
        else:
            check_target(self._path, [], options.force, "--accept")

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
        from livepedal.sources.text import clean
        from livepedal.sources.writing import write_new
        from livepedal.views.words import counted

        if self._path is None:
            return ""
        name = clean(str(self._path), 500)
        if self._baseline is not None:
            if not self._new:
                return f"Nothing new: all findings are already accepted in {name}."
            return f"{self._new} of {counted(self._all, 'finding')} new; the others are accepted in {name}."
        if tally.failed:
            return f"{name} was not written, because not everything could be judged."
        write_new(self._path, baseline.written(self._path, self._files), [], self._force, "--accept")
        return f"Accepted in {name}: {counted(self._all, 'finding')}. The same command now fails only on new ones."


def _fail_on(text: str | None) -> FailOn | None:
    from livepedal.advice.summary import FailOn

    if text is None:
        return None
    try:
        return FailOn(text.strip().lower())
    except ValueError:
        known = ", ".join(one.value for one in FailOn)
        raise LivepedalError(f"--fail-on does not know {text!r}; it takes {known}.") from None


def _jobs(number: int) -> int:
    """The number of processes; 0: one per core."""
    if number < 0:
        raise LivepedalError("--jobs takes the number of processes: 1 or more, or 0 for one per core.")
    return number or os.cpu_count() or 1


def _writer(options: argparse.Namespace, asked: Asked, paths: Sequence[str]) -> _Writer:
    if options.jsonl:
        return _LinesWriter(asked)
    if options.json:
        if options.quiet:
            raise LivepedalError("--json always writes the whole document; with --quiet use --jsonl.")
        return _JsonWriter(asked)
    if options.csv:
        return _CsvWriter()
    if options.quiet or (len(paths) > 1 and not options.full and not options.sheet):
        return _TableWriter(asked, options.plain, paths, options.quiet)
    return _TextWriter(asked, options.plain)


def _judged(paths: Sequence[str], judge: Judge, jobs: int) -> Iterator[Done]:
    """The judged files in order, with one progress bar for all of them."""
    if len(paths) == 1:
        yield from many.judged_here(paths, lambda path, data: _with_bars(judge, path, data))
        return
    with closing(ProgressBar(f"{len(paths)} files")) as bar:
        if jobs > 1:
            found = many.judged_by_processes(paths, judge, min(jobs, len(paths)), bar)
        else:
            found = _one_by_one(paths, judge, bar)
        for done in found:
            bar.pause()  # the report goes to the same terminal
            yield done


def _with_bars(judge: Judge, path: str, data: bytes | None) -> Done:
    progress = ProgressBar(path, "planning the pedal changes")
    remedies = ProgressBar(f"remedies: {path}")

    def advising(done: int, total: int) -> None:
        progress.close()  # one bar at a time
        remedies(done, total)

    try:
        return judge(path, data, progress, advising)
    finally:
        progress.close()
        remedies.close()


def _one_by_one(paths: Sequence[str], judge: Judge, bar: ProgressBar) -> Iterator[Done]:
    number = 0

    def step(done: int, total: int) -> None:
        bar(number * 1000 + 1000 * done // max(total, 1), len(paths) * 1000)

    for done in many.judged_here(paths, lambda path, data: judge(path, data, step)):
        number += 1
        yield done


class _Writer(Protocol):
    """Writes the results, file by file. form: what it needs of each."""

    form: Form

    def opening(self) -> None: ...
    def file(self, done: Done) -> None: ...
    def closing(self, tally: Tally) -> None: ...


class _TextWriter:
    """Whole reports, in colour on a terminal."""

    form = Form.REPORT

    def __init__(self, asked: Asked, plain: bool) -> None:
        self._asked = asked
        self._out = Output(sys.stdout, plain)
        self._look = self._out.look(asked.middle_c, asked.every)
        self._opened = False

    def opening(self) -> None:
        pass  # before the first file that could be judged

    def file(self, done: Done) -> None:
        from livepedal.views.report import text as report

        if done.error is not None:
            complain(done.error)
            return
        if not self._opened:
            self._opened = True
            self._out.write(
                report.opening(self._asked.player, self._asked.instrument, self._look, self._asked.only)
            )
        if done.report is not None:
            lines = report.sheet_lines if self._asked.sheet else report.file_lines
            self._out.write(lines(done.report, self._look))

    def closing(self, tally: Tally) -> None:
        from livepedal.views.report import text as report

        if self._opened or tally.files > 1:  # else the error has been told already
            self._out.write(report.closing(tally, self._asked.player, self._look, self._asked.bare))


class _TableWriter:
    """A row for each file; with --quiet only the rows of files that fail."""

    form = Form.ROW

    def __init__(self, asked: Asked, plain: bool, paths: Sequence[str], quiet: bool) -> None:
        from livepedal.views.report.table import Table

        self._asked = asked
        self._out = Output(sys.stdout, plain)
        self._look = self._out.look(asked.middle_c, asked.every)
        self._table = Table.laid_out(paths, self._look, asked.remedies)
        self._quiet = quiet
        self._audible = False

    def opening(self) -> None:
        from livepedal.views.report import text as report

        if not self._quiet:
            self._out.write(
                report.opening(self._asked.player, self._asked.instrument, self._look, self._asked.only)
            )
            self._out.write([(), *self._table.head()])

    def file(self, done: Done) -> None:
        # A file that could not be judged has a row like all others, so standard error stays empty.
        self._audible |= done.summary.audible
        self._out.write(self._table.rows(done.summary))

    def closing(self, tally: Tally) -> None:
        from livepedal.views.lines import Tone, line
        from livepedal.views.report import text as report

        if self._quiet:
            return
        if self._audible:
            text = "~ an audible pedal change: its string is still sounding"
            self._out.write([line((text, Tone.FAINT))])
        if self._asked.remedies and tally.files > tally.failed:
            text = "fastest: in quarters a minute, and as a share of the written tempo"
            self._out.write([line((text, Tone.FAINT))])
        self._out.write(report.closing(tally, self._asked.player, self._look, self._asked.bare))


class _JsonWriter:
    """One JSON document, which is ASCII and the same everywhere."""

    form = Form.JSON

    def __init__(self, asked: Asked) -> None:
        self._asked = asked
        self._first = True

    def opening(self) -> None:
        from livepedal.views import json_view

        sys.stdout.write(json_view.opening(self._asked.player, self._asked.instrument))

    def file(self, done: Done) -> None:
        from livepedal.views import json_view

        if done.error is not None:
            complain(done.error)
        sys.stdout.write(json_view.separated(done.text, self._first))
        self._first = False

    def closing(self, tally: Tally) -> None:
        from livepedal.views import json_view

        sys.stdout.write(json_view.closing())


class _LinesWriter:
    """JSON lines: each file is a document on its own line."""

    form = Form.JSON

    def __init__(self, asked: Asked) -> None:
        from livepedal.views import json_view

        self._head = json_view.line_head(asked.player, asked.instrument, asked.figures)

    def opening(self) -> None:
        pass

    def file(self, done: Done) -> None:
        from livepedal.views import json_view

        if done.error is not None:
            complain(done.error, tracks=False)
        sys.stdout.write(json_view.line_text(self._head, done.text, done.seconds))

    def closing(self, tally: Tally) -> None:
        pass


class _CsvWriter:
    """A row for each finding, and one for each file that could not be judged."""

    form = Form.CSV

    def opening(self) -> None:
        from livepedal.views import csv_view

        sys.stdout.write(csv_view.head())

    def file(self, done: Done) -> None:
        if done.error is not None:
            complain(done.error, tracks=False)
        sys.stdout.write(done.text)

    def closing(self, tally: Tally) -> None:
        pass
