"""The stage that works out what could be played instead of an attack that cannot be, in a thread of its own.

The judge only copies what is needed (`Monitor.case`) and goes on. If more comes than can be worked out, the latest
counts, because nobody looks at older ones any more. A fault here costs only these hints.
"""

from __future__ import annotations

import threading
from collections import OrderedDict, deque
from collections.abc import Iterable

from livepedal.live.faults import Faults, Stage
from livepedal.live.question import Followed
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
        self._wake = threading.Event()
        self._over = False
        self._thread: threading.Thread | None = None

    def ask(self, music: Followed, found: Iterable[Finding]) -> None:
        """Work it out for those of these new findings that cannot be played. Returns at once."""
        for finding in found:
            if not finding.audible and not finding.withdrawn:
                self._ask(music.number, music.monitor.case(finding), music.quarter)

    def _ask(self, take: int, case: Case, quarter: int | None) -> None:
        if self.here:
            self._answer(take, case, quarter)
            return
        self._waiting.append((take, case, quarter))
        self._wake.set()
        if self._thread is None and not self._over:
            self._thread = threading.Thread(target=self._run, name="livepedal-nearest", daemon=True)
            self._thread.start()

    def of(self, take: int, finding: Finding) -> Instead | None:
        """The answer for a finding; None while there is none."""
        return self._known.get(_key(take, finding))

    def end(self) -> None:
        """Stop."""
        self._over = True
        self._wake.set()

    def _run(self) -> None:
        while not self._over:
            self._wake.wait()
            self._wake.clear()
            while self._waiting and not self._over:
                try:
                    self._answer(*self._waiting.pop())  # the latest first
                except Exception as error:
                    if self._faults is not None:
                        self._faults.caught(Stage.NEAREST, error)

    def _answer(self, take: int, case: Case, quarter: int | None) -> None:
        self._known[_key(take, case.finding)] = case.instead(quarter)
        while len(self._known) > MOST_KNOWN:
            self._known.popitem(last=False)
        self.answered += 1


def _key(take: int, finding: Finding) -> _Key:
    return take, finding.us, finding.layer, finding.player
