"""What sessions leave behind: the folder of their journals and files, and what is said of a file that was saved."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Sequence
from pathlib import Path

from livepedal.cli.options import check_command
from livepedal.live.saving import Saved
from livepedal.live.setup import stem_of
from livepedal.sources.journal import ENDING, Header
from livepedal.sources.text import shell_line
from livepedal.sources.writing import names
from livepedal.views.lines import Line, Tone, line
from livepedal.views.words import counted


def state_folder() -> Path:
    """Where journals and saved files go unless told otherwise: the state folder of the platform."""
    from platformdirs import user_state_path

    return user_state_path("livepedal", appauthor=False) / "sessions"


def new_journal(folder: Path, header: Header) -> Path:
    """A name for the journal of a session that begins, which no other one has."""
    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
    for path in names(folder, stem_of(header.started), ENDING):
        try:
            # Made at once, so that of two that start in the same second each has its own.
            os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        except FileExistsError:
            continue
        except OSError:
            pass  # whoever writes it says what is wrong
        return path
    raise AssertionError("there is always another name")


def paused_command(journals: Sequence[Path]) -> str:
    """The command that makes MIDI files of what was played while paused."""
    return shell_line("livepedal", "recover", "--paused", *map(str, journals))


def saved_lines(saved: Saved, header: Header) -> list[Line]:
    """Where it is, what is in it, and the command that checks it as it was judged in the session."""
    what = f"passage {saved.passage + 1}" if saved.passage is not None else f"take {saved.take}"
    if saved.paused:
        what += ", played while paused"
    # Where not all was judged, the command below tells the rest.
    until = (
        ""
        if saved.judged_until is None
        else f" in the first {saved.judged_until:.1f} s; the rest is not judged yet"
    )
    late = f"; {counted(saved.late, 'more note')} came late and are on a muted track" if saved.late else ""
    asked = {
        "player": saved.player,
        "harp": header.harp,
        "figures": header.figures or None,
        "start": saved.start or None,
        "only": list(header.only),
        "middle_c": header.middle_c,
        "first_bar": saved.first_bar,
    }
    return [
        line(
            f"Saved {saved.path} ({what}: {counted(saved.notes, 'note')},"
            f" {counted(saved.findings, 'attack')} marked{until}{late})"
        ),
        line((f"  {check_command(str(saved.path), asked)}", Tone.FAINT)),
    ]
