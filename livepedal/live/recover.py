"""From a journal back to music: what was heard goes through the same `Session` once more, as if it were
played now.

So the findings are those that there were live, and a journal that breaks off in the middle gives what there
was up to there. Where judging fails, the files are made without findings: the music counts most.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.harp import Figures
from livepedal.live import saving
from livepedal.live.faults import Faults, Stage
from livepedal.live.saving import Saved
from livepedal.live.session import Session
from livepedal.live.setup import Setup, setup_of
from livepedal.live.take import Take
from livepedal.model.findings import Finding
from livepedal.sources.journal import Command, Heard, Journal, Word, append_command
from livepedal.views import words

# Messages of a session that `recover` judges: some 5,000 notes, seconds of work. The music comes first; `check` tells
# the rest.
MOST_JUDGED = 10_000


@dataclass(frozen=True, slots=True)
class SavedFile:
    """A file that was saved.

    Attributes:
        take: its number.
        passage: the number of the passage it holds, None for the whole take.
        paused: it holds what was played in pauses.
    """

    path: Path
    saved: Saved
    take: int
    passage: int | None = None
    paused: bool = False


def session_of(setup: Setup, faults: Faults | None = None, *, judged: bool = True) -> Session:
    """A new session; the markers of its files say what the finding is, as the reports do.

    Args:
        faults: notes a finding that cannot be put into words; without it, that raises.
        judged: False where only the notes of its files are wanted.
    """

    def describe(finding: Finding) -> str:
        try:
            return words.with_verdict(finding, setup.middle_c)
        except Exception as error:
            if faults is None:
                raise
            faults.caught(Stage.WORDS, error)
            return finding.verdict.name.lower()

    return Session(setup, describe, judged=judged)


def played_again(
    journal: Journal,
    setup: Setup,
    faults: Faults | None = None,
    *,
    judged: bool = True,
    most: int | None = None,
) -> Session:
    """The session of a journal, finished at its last record.

    Args:
        faults, judged: as for `session_of`.
        most: messages and commands that are judged at the most; of the rest only the notes are kept. None for all.
    """
    session = session_of(setup, faults, judged=judged)
    for number, record in enumerate(journal.records):
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
    """The journal turned over: what was played in pauses counts, and nothing else. Without wishes to keep a passage,
    which meant the others.
    """
    turned: list[Heard | Command] = [Command(0, Word.PAUSE)]
    for record in journal.records:
        if isinstance(record, Heard):
            turned.append(record)
        elif record.word != Word.KEEP:
            turned.append(replace(record, word=_TURNED.get(record.word, record.word)))
    return replace(journal, records=tuple(turned))


def notes_in_pauses(journal: Journal) -> int:
    """How many notes were played in pauses. Nothing is judged for that, so it is quick."""
    figures = Figures.builtin()
    setup = Setup(figures, figures.instrument("47"), channels=frozenset(journal.header.channels))
    return played_again(journal, setup, judged=False).in_pauses


def only_in_journal(journal: Journal) -> int:
    """How many notes that were played in pauses no file has."""
    return 0 if journal.pauses_saved else notes_in_pauses(journal)


def stem_of(started: str, take: int, passage: int | None = None) -> str:
    """The name of a file without its ending: date and time of the session, take and passage."""
    try:
        stem = datetime.fromisoformat(started).strftime("%Y-%m-%d-%H%M%S")
    except ValueError:
        stem = "session"
    if take > 1:
        stem += f"-take-{take}"
    return stem if passage is None else f"{stem}-passage-{passage + 1}"


def title_of(started: str, take: int) -> str:
    """The name of a file's first track."""
    return f"Played {started.replace('T', ' ')[:19]}" + (f", take {take}" if take > 1 else "")


def save_take(take: Take, started: str, folder: Path, faults: Faults, paused: bool = False) -> SavedFile:
    """Write the file of a take; without findings where they cannot be had.

    Args:
        faults: is told of that.
        paused: it is what was played in pauses.

    Raises:
        LivepedalError: it cannot be written.
    """
    stem, title = stem_of(started, take.number), title_of(started, take.number)
    if paused:
        stem, title = f"{stem}-paused", f"{title}, while paused"
    try:
        saved = saving.whole(take, title)
    except LivepedalError:
        raise
    except Exception as error:
        faults.caught(Stage.SAVING, error)
        saved = saving.bare(take, title)
    return SavedFile(saving.write_new(folder, stem, saved.data), saved, take.number, paused=paused)


def save_passage(take: Take, number: int, started: str, folder: Path) -> SavedFile:
    """Write the file of a passage. Raises LivepedalError where that is not possible."""
    saved = saving.passage(take, number, title_of(started, take.number))
    path = saving.write_new(folder, stem_of(started, take.number, number), saved.data)
    return SavedFile(path, saved, take.number, number)


def recover(
    journal: Journal,
    folder: Path,
    figures: Path | None = None,
    *,
    paused: bool = False,
    say: Callable[[str], None] = lambda text: None,
) -> tuple[SavedFile, ...]:
    """Write the files of a journal into a folder, and note in the journal that it was done: what was judged, and what
    was played in pauses in files of its own.

    Args:
        paused: only the latter.
        say: is given a sentence where something goes wrong that costs no music.

    Raises:
        LivepedalError: there is nothing in it, or nothing can be written.
    """
    setup = setup_of(journal.header, figures)
    faults = Faults(journal.path, say)
    written: tuple[SavedFile, ...] = ()
    if not paused:
        session = _judged_again(journal, setup, faults)
        written = _save(session, journal.header.started, folder, faults)
    aside: tuple[SavedFile, ...] = ()
    if paused or only_in_journal(journal):
        session = _judged_again(pauses_of(journal), setup, faults)
        aside = _save(session, journal.header.started, folder, faults, paused=True)
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
    if not paused or not (journal.ended or played_again(journal, setup, judged=False).finished):
        append_command(journal.path, Word.RECOVERED, _names(written))
    return (*written, *aside)


def _judged_again(journal: Journal, setup: Setup, faults: Faults) -> Session:
    """The session of a journal; without findings and passages where judging it fails."""
    try:
        return played_again(journal, setup, faults=faults, most=MOST_JUDGED)
    except Exception as error:
        faults.caught(Stage.JUDGING, error)
        return played_again(journal, setup, judged=False)


def _save(
    session: Session, started: str, folder: Path, faults: Faults, paused: bool = False
) -> tuple[SavedFile, ...]:
    written = [save_take(take, started, folder, faults, paused) for take in session.finished]
    for wish in () if paused else session.to_keep:
        try:
            written.append(save_passage(wish.take, wish.number, started, folder))
        except LivepedalError:
            raise
        except Exception as error:
            faults.caught(Stage.PASSAGE, error)
    return tuple(written)


def _names(written: tuple[SavedFile, ...]) -> str:
    return ", ".join(one.path.name for one in written)
