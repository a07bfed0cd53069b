"""A day at the keyboard in a few minutes: does memory stay flat, and time per note?

    python -m tests.benchmarks.soak [HOURS [JITTER]]        (24 unless told otherwise)

The recordings are played over and over into a `Session`, with rests between them, every message journalled,
as the consumer does it, but with the clock running as fast as the judging goes. Every hour of playing prints:
the memory of the process, the size of the journal, processor time a note, and how many findings and passages
there were; at the end the whole day is saved as one MIDI file. With JITTER (µs) a sequencer's clock is followed too,
at 120 quarters a minute, each of whose pulses may come as much too early or too late. Nothing is asserted.
"""

from __future__ import annotations

import random
import resource
import sys
import tempfile
import time
from pathlib import Path

import mido

from livepedal.live import saving
from livepedal.live.session import Session
from livepedal.live.setup import setup_of
from livepedal.model.findings import Finding
from livepedal.sources.journal import Header, Heard, JournalWriter
from tests.places import RECORDINGS

HOUR = 3_600_000_000
REST = 2_000_000


def music() -> list[tuple[int, bytes]]:
    """All recordings, one after another: (µs since the message before, its bytes)."""
    made: list[tuple[int, bytes]] = []
    for path in sorted(RECORDINGS.glob("*.mid")):
        wait = REST
        for message in mido.MidiFile(path):
            wait += round(message.time * 1e6)
            if not message.is_meta and message.type in ("note_on", "note_off", "control_change"):
                made.append((wait, bytes(message.bytes())))
                wait = 0
        made.append((wait, b"\xff"))  # lets go of all keys: some recordings break off while keys are down
    return made


class Pulses:
    """A sequencer's clock."""

    def __init__(self, jitter: int) -> None:
        self.jitter, self.sent = jitter, 0
        self._random = random.Random(1)

    def until(self, us: int, session: Session) -> None:
        """Send what is due until then."""
        if not self.sent and self.jitter:
            session.message(0, 0, b"\xfa")
        while self.jitter and (due := self.sent * 500_000 // 24) < us:
            session.message(max(due + self._random.randint(-self.jitter, self.jitter), 0), 0, b"\xf8")
            self.sent += 1


def memory() -> float:
    """MiB in use now."""
    try:
        return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() / 2**20
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main() -> None:
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 24.0
    pulses = Pulses(int(sys.argv[2]) if len(sys.argv) > 2 else 0)
    header = Header("2024-05-01T20:15:00+02:00", tempo=500_000)
    session = Session(setup_of(header))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "soak.journal"
        journal = JournalWriter(path, header)
        print(
            f"{'hours':>6} {'notes':>9} {'MiB':>7} {'journal MiB':>12} {'ms a note':>10}"
            f" {'findings':>9} {'passages':>9}"
        )
        us = notes_before = findings = 0
        next_line = HOUR
        cpu = time.process_time()
        pieces = music()
        while us < hours * HOUR:
            for wait, data in pieces:
                us += wait
                pulses.until(us, session)
                if wait > 100_000:
                    session.advance(us - 1)
                journal.write(Heard(us, 0, data))
                session.message(us, 0, data)
                findings += sum(isinstance(news.what, Finding) for news in session.news())
            if us >= next_line:
                now = time.process_time()
                notes = session.take.notes
                print(
                    f"{us / HOUR:6.1f} {notes:9} {memory():7.1f} {path.stat().st_size / 2**20:12.1f}"
                    f" {(now - cpu) * 1000 / (notes - notes_before):10.3f} {findings:9}"
                    f" {len(session.take.monitor.passages):9}",
                    flush=True,
                )
                cpu, notes_before = now, notes
                next_line += HOUR
        journal.close()
        session.finish(us)
        start = time.process_time()
        saved = saving.whole(session.finished[0], "soak")
        print(
            f"saved: {len(saved.data) / 2**20:.1f} MiB, {saved.notes} notes, {saved.findings} markers,"
            f" in {time.process_time() - start:.1f} s of processor time; {memory():.1f} MiB"
        )


if __name__ == "__main__":
    main()
