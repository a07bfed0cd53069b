"""`recover`: MIDI files of journals that were left behind; `--list` says which there are, `--delete` deletes those
whose music has been saved, `--paused` takes what was played in pauses alone.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from livepedal.cli.options import debug_option
from livepedal.cli.output import Output, complain, say
from livepedal.cli.sessions import paused_command, saved_lines, state_folder
from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.sources.journal import Journal


def add_commands(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the parser of `recover`."""
    recover = commands.add_parser(
        "recover",
        help="save the music of sessions that did not end properly",
        description=(
            "Make MIDI files from the journals of sessions that ended in a crash or a power cut."
            " What was played while paused becomes a file of its own."
            " Without JOURNAL: from all journals in livepedal's own folder."
        ),
        epilog="Exit code: 0, all were recovered; 2, one could not be.",
        allow_abbrev=False,
    )
    recover.add_argument("journals", nargs="*", metavar="JOURNAL", help="a journal, or a folder of journals")
    recover.add_argument("--list", action="store_true", help="only list the journals")
    recover.add_argument(
        "--paused",
        action="store_true",
        help="only what was played while paused, which no session saves on its own",
    )
    recover.add_argument(
        "--out", metavar="DIR", help="folder for the MIDI files (default: beside the journal)"
    )
    recover.add_argument(
        "--figures", metavar="FILE", help="judge with these figures instead of those of the session"
    )
    recover.add_argument(
        "--delete",
        action="store_true",
        help="only delete the journals whose music has been saved",
    )
    debug_option(recover)
    recover.set_defaults(run=_recover)


def _recover(options: argparse.Namespace) -> int:
    from livepedal.live.recover import recover
    from livepedal.sources.journal import ENDING, read_journal, unfinished
    from livepedal.views.lines import line

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
            elif options.delete:
                out.write([line(_deleted(journal))])
            else:
                folder = Path(options.out) if options.out else path.parent
                figures = Path(options.figures) if options.figures else None
                written = recover(journal, folder, figures, paused=options.paused, say=say)
                for fault in journal.faults:
                    out.write([line(f"{path.name}: {fault}.")])
                header = journal.header
                if figures is not None:
                    header = replace(header, figures=str(figures))
                for file in written:
                    out.write(saved_lines(file, header))
        except LivepedalError as error:
            complain(error)
            code = 2
        sys.stdout.flush()
    return code


def _with_pauses(folder: Path) -> list[Path]:
    """The journals in a folder with something played while paused that no file has, but those being written now."""
    from livepedal.live.recover import only_in_journal
    from livepedal.sources.journal import ENDING, in_use, read_journal

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
    from livepedal.live.recover import only_in_journal
    from livepedal.views.words import counted

    left = only_in_journal(journal)
    if not journal.ended:
        state = "did not end properly"
    elif left:
        state = f"{'saved, but not' if journal.saved else 'not saved:'} {counted(left, 'note')} played while paused"
    else:
        state = "saved" if journal.saved or journal.pauses_saved else "nothing was played"
    size = counted(len(journal.records), "record")
    return f"{journal.path}: {journal.header.started}, {size}, {state}"


def _deleted(journal: Journal) -> str:
    from livepedal.live.recover import only_in_journal
    from livepedal.views.words import counted

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
