"""The stage that works out what could be played instead of an attack that cannot be, in a thread of its own.

The judge only copies what is needed (`Case.of`) and goes on. If more comes than can be worked out, the latest
counts, because nobody looks at older ones any more. A fault here costs only these hints.
"""

from __future__ import annotations

import queue
import threading
from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from livepedal.live.faults import Faults, Stage
from livepedal.live.piece import Piece
from livepedal.model.findings import Finding, Layer
from livepedal.model.instead import Case, Instead

MOST_KNOWN = 500
MOST_WAITING = 4

_Key = tuple[int, int, Layer, str]


@dataclass(frozen=True, slots=True)
class _Asked:
    """A case of a take, how long a quarter is then (µs), and until when a note could come later."""

    take: int
    case: Case
    quarter: int | None
    until: int | None = None


class Nearest:
    """The answers so far.

    Attributes:
        here: whether to answer at once, in the thread that asks.
        answered: how many answers there were.
    """

    def __init__(self, faults: Faults | None = None, *, here: bool = False) -> None:
        self.answered = 0
        self.here = here
        self._faults = faults
        # By key, and whether the next attack was known by then.
        self._known: OrderedDict[tuple[_Key, bool], Instead] = OrderedDict()
        self._waiting: dict[_Key, _Asked] = {}
        # On the last attack that cannot be played, until another one comes.
        self._latest: dict[_Key, _Asked] = {}
        self._wakes: queue.SimpleQueue[bool] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None

    def ask(self, piece: Piece, found: Iterable[Finding]) -> None:
        """Take in what came last, and work it out for those of its findings that cannot be played. Returns at once."""
        now = piece.monitor.open
        if now is not None:
            # Where this attack stands no note of an earlier one can be put any more.
            until = now.us - piece.basis.figures.window.attack
            for key in [key for key in self._latest if key[:2] != (piece.number, now.us)]:
                earlier = self._latest.pop(key)
                if earlier.take == piece.number:
                    self._put(key, replace(earlier, until=until))
        for finding in found:
            if not (finding.audible or finding.withdrawn or finding.load):
                asked = _Asked(piece.number, Case.of(piece.monitor, finding), piece.quarter)
                key = _key(piece.number, finding)
                self._latest[key] = asked
                self._put(key, asked)

    def _put(self, key: _Key, asked: _Asked) -> None:
        self._waiting.pop(key, None)
        self._waiting[key] = asked
        for oldest in list(self._waiting)[:-MOST_WAITING]:
            self._waiting.pop(oldest, None)
        if self.here:
            self._work()
            return
        if self._thread is None:
            # Not one of a pool: the program's end waits for those, however long they take.
            self._thread = threading.Thread(target=self._run, name="livepedal-nearest", daemon=True)
            self._thread.start()
        self._wakes.put(True)

    def of(self, take: int, finding: Finding) -> Instead | None:
        """The answer for a finding, with the next attack in mind if that has come; None while there is none."""
        return self._known.get((_key(take, finding), True)) or self.at_once(take, finding)

    def at_once(self, take: int, finding: Finding) -> Instead | None:
        """The answer as it was before the next attack came, however quick the music: for lines, which stay."""
        return self._known.get((_key(take, finding), False))

    def end(self) -> None:
        """Stop."""
        self._waiting.clear()
        self._wakes.put(False)

    def _run(self) -> None:
        while self._wakes.get():
            self._work()

    def _work(self) -> None:
        while keys := list(self._waiting):
            key = keys[-1]  # the latest first
            asked = self._waiting.pop(key, None)
            if asked is None:
                continue  # another thread has dropped it
            try:
                self._known[key, asked.until is not None] = asked.case.instead(asked.quarter, asked.until)
            except Exception as error:
                if self._faults is None:
                    raise
                self._faults.caught(Stage.NEAREST, error)
            if len(self._known) > MOST_KNOWN:
                self._known.popitem(last=False)
            self.answered += 1


def _key(take: int, finding: Finding) -> _Key:
    return take, finding.us, finding.layer, finding.player
