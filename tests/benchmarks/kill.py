"""What kill -9 costs: `python -m tests.benchmarks.kill [TIMES]`.

`livepedal listen` at a JACK port with a judge that sleeps, or keeps the interpreter busy, for 60 s at the first note;
a sender plays 250 messages a second (a quarter of what a MIDI cable carries); a random while after some are in the
journal the listener is killed. What had arrived by then, in the port's callback, is held against the journal. `lost`: messages; `age`: how
long before the kill the first of them had arrived (ms). Nothing is asserted; tests/live/test_ports.py does.
"""

from __future__ import annotations

import random
import signal
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from livepedal.sources.journal import read_journal
from tests.benchmarks.measuring import machine, say
from tests.live.jack import Listener, Server, end_all, heard, missing, send, until

RATE = 250
WRITTEN = 20  # messages that are to be in the journal first: the judge is busy with the first one


@dataclass(frozen=True)
class Killed:
    """arrived: messages that a port had handed over; journaled: those in the journal; faults: of the journal; age: ms
    before the kill at which the first that is missing had arrived, 0 where none is.
    """

    arrived: list[str]
    journaled: list[str]
    faults: tuple[str, ...]
    age: float

    @property
    def lost(self) -> int:
        return len(self.arrived) - len(self.journaled)


def kill(server: Server, folder: Path, judge: str, chance: random.Random, longest: float = 2.0) -> Killed:
    """Play, and kill after a random while, at most so many seconds after the first notes are in the journal."""
    folder.mkdir()
    arrived = folder / "arrived"
    slow = {"JUDGE": judge, "SECONDS": "60", "ARRIVED": str(arrived)}
    with Listener(server, "--virtual", "--out", str(folder), slow=slow) as listener:
        sender = send(server, listener.port, folder / "log", "flood", str(RATE * 20), str(RATE))
        until(lambda: len(listener.heard()) >= WRITTEN, "the first notes in the journal")
        time.sleep(chance.uniform(0.0, longest))
        at = time.monotonic_ns()
        listener.process.kill()
        listener.process.wait()
        end_all(sender)
    server.end(signal.SIGKILL)  # it would be held up by each client that was killed
    server.start()
    (path,) = folder.glob("*.journal")
    rows = [line.split() for line in arrived.read_text().splitlines()]
    found = heard(path)
    missed = rows[len(found) :]
    age = (at - int(missed[0][0])) / 1e6 if missed else 0.0
    return Killed([data for _, data in rows], found, read_journal(path).faults, age)


def main() -> None:
    why = missing()
    if why is not None:
        sys.exit(f"No figures: {why}.")
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    say(machine())
    server = Server()
    try:
        with tempfile.TemporaryDirectory() as folder:
            for judge in ("", "sleep", "spin"):
                found = [
                    kill(server, Path(folder) / f"{judge}{n}", judge, random.Random(n)) for n in range(times)
                ]
                lost = [one.lost for one in found]
                ages = sorted(one.age for one in found)
                say(
                    f"{judge or 'as it is':<8} {times} kills, {sum(len(one.arrived) for one in found)} arrived,"
                    f" lost {sum(lost)}, at most {max(lost)} of one; age median {ages[len(ages) // 2]:.1f} ms,"
                    f" maximum {ages[-1]:.1f} ms"
                )
    finally:
        server.close()


if __name__ == "__main__":
    main()
