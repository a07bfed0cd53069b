"""`recover`: MIDI files of sessions that were not ended properly; where sessions are kept, and what is said of a file
that was saved.
"""

from __future__ import annotations

import argparse
import os
import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from livepedal.errors import LivepedalError

if TYPE_CHECKING:
    from livepedal.live.recover import Written
    from livepedal.sources.journal import Header, Journal
    from livepedal.views.lines import Line


def add_commands(commands: argparse._SubParsersAction[Any]) -> None:
    """Add the parser of `recover`."""
    recover = commands.add_parser(
        "recover",
        help="make MIDI files of sessions that were not ended properly",
        description=(
            "Make MIDI files of the journals of sessions that ended in a crash or a power cut."
            " Without JOURNAL, of all there are in livepedal's own folder."
        ),
        epilog="Exit code: 0, all of them were recovered; 2, one could not be.",
        allow_abbrev=False,
    )
    recover.add_argument("journals", nargs="*", metavar="JOURNAL", help="journal, or folder of them")
    recover.add_argument("--list", action="store_true", help="only say which journals there are")
    recover.add_argument(
        "--out", metavar="DIR", help="folder for the MIDI files (default: beside the journal)"
    )
    recover.add_argument(
        "--figures", metavar="FILE", help="figures to judge with instead of those of the session"
    )
    recover.add_argument(
        "--delete",
        action="store_true",
        help="delete the journals whose music has been saved, instead of recovering",
    )
    recover.add_argument("--debug", action="store_true", help="show tracebacks")
    recover.set_defaults(run=_recover)


def state_folder() -> Path:
    """Where journals and saved files go unless told otherwise: the state folder of the platform."""
    from platformdirs import user_state_path

    return user_state_path("livepedal", appauthor=False) / "sessions"


def _recover(options: argparse.Namespace) -> int:
    from livepedal.cli.output import Output, complain
    from livepedal.live.recover import recover
    from livepedal.sources.journal import ENDING, read_journal, unfinished
    from livepedal.views.lines import line

    out = Output(sys.stdout, True)
    paths: list[Path] = []
    for name in options.journals or [str(state_folder())]:
        path = Path(name)
        if not path.is_dir():
            if options.journals or path.exists():
                paths.append(path)
        elif options.delete or options.list:
            paths += sorted(path.glob(f"*{ENDING}"))
        else:
            paths += unfinished(path)
    if not paths:
        out.write([line("There is nothing to recover.")])
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
                written = recover(journal, folder, figures)
                for fault in journal.faults:
                    out.write([line(f"{path.name}: {fault}.")])
                for one in written:
                    out.write(saved_lines(one, journal.header))
        except LivepedalError as error:
            complain(error)
            code = 2
        sys.stdout.flush()
    return code


def _listed(journal: Journal) -> str:
    from livepedal.views.words import counted

    state = "saved" if journal.ended else "not ended properly"
    size = counted(len(journal.records), "record")
    return f"{journal.path}: {journal.header.started}, {size}, {state}"


def _deleted(journal: Journal) -> str:
    if not journal.ended:
        return f"{journal.path}: kept, since its music has not been saved; recover it first."
    try:
        os.unlink(journal.path)
    except OSError as error:
        raise LivepedalError(f"{journal.path} cannot be deleted ({error.strerror}).") from None
    return f"{journal.path}: deleted."


def saved_lines(one: Written, header: Header) -> list[Line]:
    """What was saved where, and the command that judges it as it was judged."""
    from livepedal.views.lines import Tone, line
    from livepedal.views.words import counted

    saved = one.saved
    what = f"passage {one.passage + 1}" if one.passage is not None else f"take {one.take}"
    command = ["livepedal", "check", str(one.path)]
    if saved.player != "working":
        command += ["--player", saved.player]
    if header.harp != "47":
        command += ["--harp", header.harp]
    if header.figures:
        command += ["--figures", header.figures]
    if saved.start:
        command += ["--start", saved.start]
    for layer in header.only:
        command += ["--only", layer]
    if saved.first_bar != 1:
        command += ["--first-bar", str(saved.first_bar)]
    return [
        line(
            f"Saved {one.path} ({what}: {counted(saved.notes, 'note')}, {counted(saved.findings, 'finding')})"
        ),
        line((f"  {shlex.join(command)}", Tone.FAINT)),
    ]
