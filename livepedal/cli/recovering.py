"""`recover`: MIDI files of journals that were left behind.

`--list` says which there are, `--delete` deletes those whose music has been saved, `--paused` takes what was played in
pauses alone.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from dataclasses import replace
from pathlib import Path

from livepedal.cli.output import Output, complain, say
from livepedal.cli.sessions import paused_command, saved_lines, state_folder
from livepedal.errors import LivepedalError
from livepedal.live.recover import only_in_journal
from livepedal.live.recover import recover as files_of
from livepedal.live.setup import usable
from livepedal.sources.journal import ENDING, Journal, in_use, read_journal, unfinished
from livepedal.views.lines import line
from livepedal.views.words import counted


def recover(options: argparse.Namespace) -> int:
    """Make MIDI files from journals."""
    out = Output(sys.stdout, True)
    paths: list[Path] = []
    paused: list[Path] = []  # of sessions that ended properly, but for what was played while paused
    for name in options.journals or [str(state_folder())]:
        path = Path(name)
        if not path.is_dir():
            if options.journals or path.exists():
                paths.append(path)
        elif options.delete or options.list:
            paths += sorted(path.glob(f"*{ENDING}"))
        else:
            found = _with_pauses(path)
            paths += found if options.paused else unfinished(path)
            paused += found
    if not paths:
        out.write([line(_nothing(paused))])
        return 0
    code = 0
    for path in paths:
        try:
            journal = read_journal(path)
            if options.list:
                out.write([line(_listed(journal))])
            elif in_use(path):
                raise LivepedalError(f"{path}: a session is writing this journal now; end the session first.")
            elif options.delete:
                out.write([line(_deleted(journal))])
            else:
                folder = Path(options.out) if options.out else path.parent
                header, changed = usable(journal.header)
                if options.figures:
                    header, changed = replace(journal.header, figures=options.figures), ""
                written = files_of(replace(journal, header=header), folder, paused=options.paused, say=say)
                for fault in (*journal.faults, *([changed] if changed else ())):
                    out.write([line(f"{path.name}: {fault}.")])
                for file in written:
                    out.write(saved_lines(file, header))
        except LivepedalError as error:
            complain(error)
            code = 2
        sys.stdout.flush()
    return code


def _with_pauses(folder: Path) -> list[Path]:
    """The journals in a folder with something played while paused that no file has, but those being written now."""
    found = []
    for path in sorted(folder.glob(f"*{ENDING}")):
        with contextlib.suppress(LivepedalError):
            if not in_use(path) and only_in_journal(read_journal(path)):
                found.append(path)
    return found


def _nothing(paused: list[Path]) -> str:
    """paused: journals with something that was played while paused."""
    if not paused:
        return "There is nothing to recover."
    what = "a session" if len(paused) == 1 else f"{len(paused)} sessions"
    return (
        f"There is nothing to recover except what was played while paused in {what};"
        f" {paused_command(paused)} makes MIDI files of it."
    )


def _listed(journal: Journal) -> str:
    left = only_in_journal(journal)
    if in_use(journal.path):
        state = "being written now"
    elif not journal.ended:
        state = "did not end properly"
    elif left:
        state = f"{'saved, but not' if journal.saved else 'not saved:'} {counted(left, 'note')} played while paused"
    else:
        state = "saved" if journal.saved or journal.pauses_saved else "nothing was played"
    size = counted(len(journal.records), "record")
    return f"{journal.path}: {journal.header.started}, {size}, {state}"


def _deleted(journal: Journal) -> str:
    if not journal.ended:
        return f"{journal.path}: kept, because its music has not been saved; recover it first."
    left = only_in_journal(journal)
    if left:
        return (
            f"{journal.path}: kept, because {counted(left, 'note')} played while paused"
            f" {'is' if left == 1 else 'are'} not in a file yet; {paused_command([journal.path])} first."
        )
    try:
        os.unlink(journal.path)
    except OSError as error:
        raise LivepedalError(f"{journal.path} cannot be deleted ({error.strerror}).") from None
    return f"{journal.path}: deleted."
