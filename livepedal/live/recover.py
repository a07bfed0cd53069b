"""From a journal back to music: what was heard goes through the same `Session` once more, as if it were played now.

So the findings are those that there were live, and a journal that breaks off in the middle gives what there was up to
there. Where judging fails, the files are made without findings: the music counts most.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from livepedal.defaults import HARP
from livepedal.errors import LivepedalError
from livepedal.harp import Figures
from livepedal.live.faults import Faults, Stage
from livepedal.live.saving import Saved, save
from livepedal.live.session import Session
from livepedal.live.setup import Setup, setup_of
from livepedal.sources.journal import Command, Heard, Journal, Record, Word, append_command

# Messages of a session that `recover` judges: some 5,000 notes, seconds of work. The music comes first; `check` tells
# the rest.
MOST_JUDGED = 10_000


def played_again(
    records: Sequence[Record],
    setup: Setup,
    *,
    most: int | None = None,
    failed: Callable[[Exception], None] | None = None,
) -> Session:
    """The session of a journal's records, finished at the last.

    At most `most` messages and commands are judged (None: all), and of the rest only the notes are kept.
    """
    session = Session(setup, failed=failed)
    for number, record in enumerate(records):
        if number == most:
            session.judge_no_more()
        if isinstance(record, Heard):
            session.message(record.us, record.source, record.data)
        else:
            session.command(record.us, record.word, record.argument)
    session.finish(session.now)
    return session


_TURNED: dict[str, str] = {Word.PAUSE: Word.RESUME, Word.RESUME: Word.PAUSE}


def pauses_of(journal: Journal) -> Journal:
    """The journal turned over: only what was played in pauses counts.

    The wishes to keep a passage are left out, since they meant the other ones.
    """
    turned: list[Heard | Command] = [Command(0, Word.PAUSE)]
    for record in journal.records:
        if isinstance(record, Heard):
            turned.append(record)
        elif record.word != Word.KEEP:
            turned.append(replace(record, word=_TURNED.get(record.word, record.word)))
    return replace(journal, records=tuple(turned))


def only_in_journal(journal: Journal) -> int:
    """How many notes that were played in pauses no file has. Nothing is judged for that, so it is quick."""
    if journal.pauses_saved:
        return 0
    figures = Figures.builtin()
    setup = Setup(figures, figures.instrument(HARP), channels=frozenset(journal.header.channels))
    return played_again(journal.records, setup, most=0).in_pauses


def recover(
    journal: Journal,
    folder: Path,
    *,
    paused: bool = False,
    say: Callable[[str], None] = lambda text: None,
) -> tuple[Saved, ...]:
    """Write the files of a journal into a folder, and note in the journal that it was done.

    What was played in pauses goes into files of its own.

    Args:
        journal: the session's.
        folder: where the files go.
        paused: write only what was played in pauses.
        say: is given a sentence where something goes wrong that costs no music.

    Raises:
        LivepedalError: there is nothing in it, or nothing can be written.
    """
    setup = setup_of(journal.header)
    faults = Faults(journal.path, say)
    written = () if paused else _files_of(journal, setup, folder, faults)
    aside: tuple[Saved, ...] = ()
    if paused or only_in_journal(journal):
        aside = _files_of(pauses_of(journal), setup, folder, faults, paused=True)
    if aside:
        append_command(journal.path, Word.RECOVERED_PAUSES, _names(aside))
    elif paused:
        raise LivepedalError(
            f"{journal.path}: nothing was played while paused, so there is nothing to recover."
        )
    if not (written or aside):
        raise LivepedalError(
            f"{journal.path}: there are no notes in this journal, so there is nothing to recover."
        )
    # Where nothing was judged, nothing is left to recover.
    if not paused or not (journal.ended or played_again(journal.records, setup, most=0).finished):
        append_command(journal.path, Word.RECOVERED, _names(written))
    return (*written, *aside)


def _files_of(
    journal: Journal, setup: Setup, folder: Path, faults: Faults, paused: bool = False
) -> tuple[Saved, ...]:
    """Write the files of a journal, each with the findings up to where judging fails, if it does."""
    failed = partial(faults.caught, Stage.JUDGING)
    session = played_again(journal.records, setup, most=MOST_JUDGED, failed=failed)
    written = [save(take, (folder,), faults, paused=paused) for take in session.finished]
    for take, number in session.to_keep:
        try:
            written.append(save(take, (folder,), faults, number))
        except LivepedalError:
            raise
        except Exception as error:
            faults.caught(Stage.PASSAGE, error)
    return tuple(written)


def _names(written: tuple[Saved, ...]) -> str:
    return ", ".join(saved.path.name for saved in written)
