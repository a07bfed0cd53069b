"""`livepedal`, but judging takes long, for the tests: `python -m tests.live.slow_judge listen ...`.

JUDGE: `sleep`, nothing is done meanwhile; `spin`, the interpreter's lock is held as much as it can be; or "", it is
as quick as it is. SECONDS: how long each note takes. ARRIVED: a file that each message is noted in when a port hands
it over, with the clock (ns).
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Sequence

from livepedal.cli import main
from livepedal.live.hearing import Hearing
from livepedal.live.session import Session
from livepedal.model.findings import Finding


def slow(how: str, seconds: float) -> None:
    message = Session.message

    def slowly(self: Session, us: int, source: int, data: bytes) -> tuple[Finding, ...]:
        until = time.monotonic() + (seconds if self.judged else 0)
        if how == "sleep" and self.judged:
            time.sleep(seconds)
        while time.monotonic() < until:
            sum(range(100))
        return message(self, us, source, data)

    Session.message = slowly  # type: ignore[method-assign]


def noted(path: str) -> None:
    log = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    receive = Hearing.receive

    def note(self: Hearing, source: int, data: Sequence[int], stamp: int) -> None:
        os.write(log, f"{time.monotonic_ns()} {bytes(data).hex()}\n".encode())
        receive(self, source, data, stamp)

    Hearing.receive = note  # type: ignore[method-assign]


if __name__ == "__main__":
    if os.environ.get("JUDGE"):
        slow(os.environ["JUDGE"], float(os.environ["SECONDS"]))
    if "ARRIVED" in os.environ:
        noted(os.environ["ARRIVED"])
    sys.exit(main(sys.argv[1:]))
