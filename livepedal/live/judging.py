"""The second stage of a session: a thread that feeds the `Session` what is in the journal; no other touches the model.

It may fall behind when music comes faster than it can be judged. Then it says by how much, and its pictures are of that
moment. If judging fails, there are no more verdicts on that take, and nothing else is lost; the next take is judged
again.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from copy import copy
from dataclasses import dataclass
from functools import partial

from livepedal.live.faults import Faults, Stage
from livepedal.live.hearing import Item
from livepedal.live.nearest import Nearest
from livepedal.live.session import News, Session
from livepedal.live.setup import Setup
from livepedal.live.take import Take
from livepedal.model.findings import Finding
from livepedal.model.snapshot import Snapshot
from livepedal.music.timemap import TimeMap
from livepedal.sources.journal import Command, Heard, Word

_PATIENCE = 0.02  # seconds that the screen waits for a picture


@dataclass(frozen=True, slots=True)
class Shown:
    """A picture of the session.

    Attributes:
        time_map: None where nobody counts bars.
        ignored: kinds of messages that are not judged and how many, the most frequent first.
        clocked: whether a sequencer's clock is followed.
        take: the number of the take.
    """

    snapshot: Snapshot
    time_map: TimeMap | None
    ignored: tuple[tuple[str, int], ...]
    clocked: bool
    take: int


class Judging:
    """Judges what it is given, in order.

    Attributes:
        session: for other threads only once `run` has ended.
        shown: the latest picture.
        lost: whether a message could not even be put into its take.

    Args:
        nearest: works out what could be played instead, in its own thread.
        tell: takes the news.
        save: takes a take that is over (and None), or a copy of a take and the number of a passage.
        judged: takes each message with its findings, as soon as there are any; must not fail.
    """

    def __init__(
        self,
        setup: Setup,
        faults: Faults,
        nearest: Nearest,
        tell: Callable[[News], None],
        save: Callable[[Take, int | None], None],
        judged: Callable[[Heard, tuple[Finding, ...]], None] = lambda heard, found: None,
    ) -> None:
        self.session = Session(setup, failed=partial(faults.caught, Stage.JUDGING))
        self.lost = False
        self._faults, self._nearest, self._tell, self._save = faults, nearest, tell, save
        self.judged = judged
        self._queue: queue.SimpleQueue[Item] = queue.SimpleQueue()
        self._at: int | None = None  # the moment (µs) of what is being judged
        self._asked = False  # whether a picture that was asked for is still to come
        self._made = threading.Event()  # set when it is made
        self._left = False
        nothing = Snapshot(0, setup.player, (), (), None, (), (), 0)
        self.shown = Shown(nothing, None, (), clocked=False, take=1)
        self._picture()

    @property
    def failed(self) -> bool:
        """Whether judging has failed in the present take."""
        return self.session.take.judged_until is not None

    # -- from any thread -------------------------------------------------------------------------------------

    def put(self, item: Item) -> None:
        """Enqueue a record, time that has passed (µs), or None to wake the judge. Never blocks."""
        self._queue.put(item)

    def look(self, seconds: float = _PATIENCE) -> Shown:
        """A picture, made after what is being judged now; where that takes longer than this, the latest."""
        self._made.clear()
        self._asked = True
        self._queue.put(None)
        self._made.wait(seconds)
        return self.shown

    def behind(self, now: int) -> int:
        """How long (µs) what is being judged has waited, at this moment of the session (µs)."""
        at = self._at
        return 0 if at is None else max(now - at, 0)

    def leave(self) -> None:
        """Have no more judged than what is being judged now."""
        self._left = True

    # -- in its own thread -----------------------------------------------------------------------------------

    def run(self) -> None:
        """Judge until the end."""
        over = False
        while not (over or self._left):
            if self._queue.empty():
                self._at = None
            item = self._queue.get()
            if item is not None:
                over = isinstance(item, Command) and item.word == Word.END
                try:
                    self._judge(item)
                except Exception as error:
                    self.lost = True
                    self._faults.caught(Stage.TAKE, error)
            if self._asked or over:
                self._picture()
        self._at = None

    def _judge(self, item: Heard | Command | int) -> None:
        session = self.session
        us = self._at = item if isinstance(item, int) else item.us
        if isinstance(item, int):
            session.advance(us)
        elif isinstance(item, Heard):
            found = session.message(us, item.source, item.data)
            self.judged(item, found)
            try:
                if not self.failed:
                    self._nearest.ask(session.take, found)
            except Exception as error:
                self._faults.caught(Stage.NEAREST, error)
        elif item.word == Word.END:
            session.finish(us)
        else:
            session.command(us, item.word, item.argument)
        for news in session.news():
            try:
                self._tell(news)
            except Exception as error:
                self._faults.caught(Stage.WORDS, error)
        while session.finished:
            self._save(session.finished.pop(0), None)
        while session.to_keep:
            take, number = session.to_keep.pop(0)
            self._save(copy(take), number)  # as far as it is now: it goes on, in this thread

    def _picture(self) -> None:
        self._asked = False
        try:
            if not self.failed:
                self.shown = self._look()
        except Exception as error:  # an old picture is better than none
            self._faults.caught(Stage.SCREEN, error)
        self._made.set()

    def _look(self) -> Shown:
        session = self.session
        take = session.take
        return Shown(
            take.snapshot(),
            take.bars,
            tuple(session.ignored.most_common()),
            session.clocked,
            take.number,
        )
