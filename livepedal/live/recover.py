"""From a journal back to music: what was heard goes through the same `Session` once more, as if it were
played now.

So the findings are those that there were live, and a journal that breaks off in the middle gives what there
was up to there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from livepedal.errors import LivepedalError
from livepedal.harp import Setting, load_figures
from livepedal.live import saving
from livepedal.live.saving import Saved
from livepedal.live.session import Session
from livepedal.live.take import Setup, Take, with_rest
from livepedal.model.findings import Finding, Layer
from livepedal.sources.journal import Header, Heard, Journal, Word, append_command
from livepedal.views import words

SETTLE = 2_000_000  # µs between two looks at what is settled


@dataclass(frozen=True, slots=True)
class Written:
    """A file that was saved. take: its number; passage: the number of the passage it holds, None for the
    whole take.
    """

    path: Path
    saved: Saved
    take: int
    passage: int | None = None


def setup_of(header: Header, figures: Path | None = None) -> Setup:
    """How a session is judged. figures: a file to use instead of the one that the header names.

    Raises LivepedalError for whatever cannot be had any more.
    """
    path = figures or (Path(header.figures) if header.figures else None)
    known = with_rest(load_figures(path), header.rest)
    known.player(header.player)
    return Setup(
        figures=known,
        instrument=known.instrument(header.harp),
        player=header.player,
        only=tuple(Layer(name) for name in header.only),
        tempo=header.tempo,
        metre=header.metre,
        start=Setting.parse(header.start) if header.start else None,
        channels=frozenset(header.channels),
        middle_c=header.middle_c,
    )


def session_of(setup: Setup) -> Session:
    """A new session; the markers of its files say what the finding is, as the reports do."""

    def describe(finding: Finding) -> str:
        return words.with_verdict(finding, setup.middle_c)

    return Session(setup, describe)


def played_again(
    journal: Journal, setup: Setup, heard: Callable[[Finding], None] = lambda finding: None
) -> Session:
    """The session of a journal, finished at its last record. heard: is given each finding when it is settled."""
    session = session_of(setup)
    last = 0

    def tell() -> None:
        for news in session.news():
            if isinstance(news.what, Finding):
                heard(news.what)

    for record in journal.records:
        if isinstance(record, Heard):
            session.message(record.us, record.source, record.data)
        else:
            session.command(record.us, record.word, record.argument)
        if session.now - last > SETTLE:
            last = session.now
            tell()
    session.finish(session.now)
    tell()
    return session


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


def save_take(take: Take, started: str, folder: Path) -> Written:
    """Write the file of a take. Raises LivepedalError where that is not possible."""
    saved = saving.whole(take, title_of(started, take.number))
    return Written(saving.write_new(folder, stem_of(started, take.number), saved.data), saved, take.number)


def save_passage(take: Take, number: int, started: str, folder: Path) -> Written:
    """Write the file of a passage. Raises LivepedalError where that is not possible."""
    saved = saving.passage(take, number, title_of(started, take.number))
    path = saving.write_new(folder, stem_of(started, take.number, number), saved.data)
    return Written(path, saved, take.number, number)


def recover(journal: Journal, folder: Path, figures: Path | None = None) -> tuple[Written, ...]:
    """Write the files of a journal into a folder, and note in the journal that it was done.

    Raises LivepedalError where there is nothing in it, or nothing can be written.
    """
    session = played_again(journal, setup_of(journal.header, figures))
    if not session.finished:
        raise LivepedalError(
            f"{journal.path}: there are no notes in this journal, so there is nothing to recover."
        )
    started = journal.header.started
    written = [save_take(take, started, folder) for take in session.finished]
    for wish in session.to_keep:
        written.append(save_passage(wish.take, wish.number, started, folder))
    append_command(journal.path, Word.RECOVERED, ", ".join(one.path.name for one in written))
    return tuple(written)
