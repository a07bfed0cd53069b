"""The stage that works out what could be played instead of an attack that cannot be, in a thread of its own.

The judge only copies what is needed (`Case.of`) and goes on. If more comes than can be worked out, the latest
counts, because nobody looks at older ones any more. A fault here costs only these hints.
"""

from __future__ import annotations

from collections import OrderedDict, deque
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress

from livepedal.live.faults import Faults, Stage
from livepedal.live.piece import Piece
from livepedal.model.findings import Finding, Layer
from livepedal.model.instead import Case, Instead

MOST_KNOWN = 500
MOST_WAITING = 4

_Key = tuple[int, int, Layer, str]


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
        self._known: OrderedDict[_Key, Instead] = OrderedDict()
        self._waiting: deque[tuple[int, Case, int | None]] = deque(maxlen=MOST_WAITING)
        self._worker = ThreadPoolExecutor(1, "livepedal-nearest")

    def ask(self, piece: Piece, found: Iterable[Finding]) -> None:
        """Work it out for those of these new findings that cannot be played. Returns at once."""
        for finding in found:
            if finding.audible or finding.withdrawn:
                continue
            self._waiting.append((piece.number, Case.of(piece.monitor, finding), piece.quarter))
            if self.here:
                self._work()
            else:
                with suppress(RuntimeError):  # it has ended
                    self._worker.submit(self._work)

    def of(self, take: int, finding: Finding) -> Instead | None:
        """The answer for a finding; None while there is none."""
        return self._known.get(_key(take, finding))

    def end(self) -> None:
        """Stop."""
        self._waiting.clear()
        self._worker.shutdown(wait=False, cancel_futures=True)

    def _work(self) -> None:
        while self._waiting:
            take, case, quarter = self._waiting.pop()  # the latest first
            try:
                self._known[_key(take, case.finding)] = case.instead(quarter)
            except Exception as error:
                if self._faults is None:
                    raise
                self._faults.caught(Stage.NEAREST, error)
            if len(self._known) > MOST_KNOWN:
                self._known.popitem(last=False)
            self.answered += 1


def _key(take: int, finding: Finding) -> _Key:
    return take, finding.us, finding.layer, finding.player
