"""The first stage of a session: messages and commands go into the journal before anything else sees them.

Ports and keys put them into one queue, which gives them one order. One thread takes them out, gives each its moment,
writes them into the journal and passes them on to the judge. It judges nothing and waits for nobody, so however long a
verdict takes, what was played is safe with the operating system. Whatever has come is written in one go, because each
write releases Python's lock, and getting it back from a busy judge takes up to half a millisecond.

The thread also tells the judge how far time has passed. It stays a little behind the clock, since a message may have
been stamped and not be in the queue yet. Time never goes back: an older message counts as played at that moment, in the
journal too. If that moves it too far, it counts as delivered late (stamps.py): `late` stands before such messages in
the journal, and `on-time` after them.
"""

from __future__ import annotations

import queue
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import TypeVar

from livepedal.live.faults import Faults, Stage
from livepedal.sources.journal import Command, Heard, JournalWriter, Record, Word
from livepedal.sources.ports.libraries import Receive
from livepedal.sources.ports.sender import Sender
from livepedal.sources.ports.stamps import SLACK, Alive, Stamp, Stamps
from livepedal.sources.raw import NOTE_ON

_PAUSE = 0.02  # seconds without a message after which the judge is told the time
_LOOK = 50_000_000  # ns between two times that the judge is told while messages keep coming
_MOVED = 20_000  # µs by which a message may be moved (judgement: less than the window of an attack)
_LIT = 200_000_000  # ns that the lamp shows a message
_RETRY = 1_000_000_000  # ns between two attempts to write to a full disk

Item = Record | int | None
"""What the judge is given: a record, time that has passed (µs), or None to wake it."""

_Put = TypeVar("_Put")
_Entry = tuple[Stamp, int | str, Sequence[int] | str]
"""A moment, and a source with its message or a command with its argument."""


def drained(entries: queue.Queue[_Put], seconds: float) -> list[_Put]:
    """What has been put into a queue, as soon as there is anything; [] after so many seconds.

    Not of a SimpleQueue: a wait of that which a signal interrupts may have no end (seen in CPython 3.11).
    """
    taken: list[_Put] = []
    with suppress(queue.Empty):
        taken.append(entries.get(timeout=seconds))
        while True:
            taken.append(entries.get_nowait())
    return taken


class Hearing:
    """Takes messages and commands from any thread, and journals them in its own.

    Attributes:
        zero: the clock at the start of the session (ns).
        alive: when this process was running.
        messages: how many have come.
        last_source: the source of the last note, None before the first.
        now: the moment up to which everything is in the journal (µs since the start).

    Args:
        clock: ns that never go back.
        pass_on: takes each record once it is in the journal; must not block.
        problem: is told why the journal cannot be written, and None when it can be again.
    """

    def __init__(
        self,
        journal: JournalWriter,
        faults: Faults,
        clock: Callable[[], int],
        pass_on: Callable[[Item], None],
        problem: Callable[[str | None], None],
    ) -> None:
        self.zero = clock()
        self.alive = Alive(self.zero)
        self.messages = 0
        self.now = 0
        self.last_source: int | None = None
        self._came_at = self.zero - _LIT
        self._journal, self._faults, self._clock = journal, faults, clock
        self._pass_on, self._problem = pass_on, problem
        self._problem_told: str | None = None
        self._late = False  # as the journal has it
        self._queue: queue.Queue[_Entry | None] = queue.Queue()

    def receiver(self, source: int, timed: bool = True, through: Sender | None = None) -> Receive:
        """The callback of a source. It must not fail or wait: it stamps a message and enqueues it, nothing else.

        Args:
            source: the number that its messages are given.
            timed: as of `Stamps`.
            through: an output that each message goes on to, before anything else is done.
        """
        stamp = Stamps(self.alive, timed).stamp

        def receive(data: Sequence[int], delta: float | None = None) -> None:
            if through is not None:
                through.send(source, data)
            now = self._came_at = self._clock()
            self.receive(source, data, stamp(delta, now))
            if len(data) == 3 and data[0] & 0xF0 == NOTE_ON and data[2]:
                self.last_source = source

        return receive

    def lit(self) -> bool:
        """Whether a message came just now."""
        return self._clock() - self._came_at < _LIT

    def receive(self, source: int, data: Sequence[int], stamp: Stamp) -> None:
        """Enqueue the bytes of a message from a source. Never blocks."""
        self._queue.put((stamp, source, data))

    def command(self, word: str, argument: str = "") -> None:
        """Enqueue a command, as of now. Never blocks."""
        self._queue.put((Stamp(self._clock(), False), word, argument))

    def end(self) -> None:
        """Nothing more will come."""
        self._queue.put(None)

    def run(self) -> None:
        """Journal and pass on what comes until the end, and last a command that ends the session."""
        looked = retried = self._clock()
        while True:
            batch = drained(self._queue, _PAUSE)
            stamp = self._keep(batch)
            if None in batch:
                self._pass_on(Command(max((self._clock() - self.zero) // 1000, self.now), Word.END))
                return
            now = self._clock()
            passed = self.alive.passed(now)
            if not batch or now - looked > _LOOK:
                looked = now
                # What still waits was played when its stamp says, on a busy machine long ago. If time had passed it,
                # it would be moved, and the rhythm would change.
                self._let_pass(passed if self._queue.empty() else stamp)
            if now - retried > _RETRY:
                retried = now
                self._journal.retry()
                self._look_at_journal()

    def _keep(self, batch: list[_Entry | None]) -> int:
        """Journal messages and pass them on; returns the stamp of the last (ns)."""
        records: list[Record] = []
        ns = 0
        for (ns, late), source, data in filter(None, batch):
            us = (ns - self.zero) // 1000
            late = late or self.now - us > _MOVED
            us = self.now = max(us, self.now)
            try:
                if isinstance(source, str):
                    records.append(Command(us, source, str(data)))
                    continue
                message = bytes(data)  # type: ignore[arg-type]
            except Exception as error:
                self._faults.caught(Stage.HEARING, error)
                continue
            if late is not self._late:
                records.append(self._turn(late))
            records.append(Heard(us, source, message))
        self._write(records)
        return ns

    def _turn(self, late: bool) -> Command:
        """The command that messages are late from here on, or on time again."""
        self._late = late
        still = self.alive.until - self.alive.since if self.alive.fresh(self._clock()) else 0
        return Command(self.now, Word.LATE if late else Word.ON_TIME, str(still // 1000) if late else "")

    def _write(self, records: list[Record]) -> None:
        if records:
            try:
                self._journal.write(*records)
            except Exception as error:
                self._faults.caught(Stage.HEARING, error)
            self.messages += sum(isinstance(record, Heard) for record in records)
            for record in records:
                self._pass_on(record)
            self._look_at_journal()

    def _let_pass(self, stamp: int) -> None:
        us = (stamp - SLACK - self.zero) // 1000
        if us > self.now:
            if self._late:
                self._write([self._turn(False)])
            self.now = us
            self._pass_on(us)

    def _look_at_journal(self) -> None:
        problem = self._journal.problem
        if problem != self._problem_told:
            self._problem_told = problem
            self._problem(problem)
