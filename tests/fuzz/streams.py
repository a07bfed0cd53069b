"""What comes down a wire when nobody means well: random bytes, random legal messages, in pieces and at odd moments."""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from livepedal.live.faults import Faults
from livepedal.live.saving import save
from livepedal.live.session import Session
from livepedal.live.setup import setup_of
from livepedal.sources.journal import Command, Header, Heard, JournalWriter, read_journal
from livepedal.sources.ports.wire import Wire

GAPS = (0, 0, 0, 1, 500, 1_000, 5_000, 20_000, 34_999, 36_000, 120_000, 500_000)
RARE_GAPS = (1_600_000, 61_000_000, 3_600_000_000)
STARTED = "2024-05-01T20:15:00+02:00"
_CHANNEL_BYTES = {0x80: 3, 0x90: 3, 0xA0: 3, 0xB0: 3, 0xC0: 2, 0xD0: 2, 0xE0: 3}
_COMMON_BYTES = {0xF1: 2, 0xF2: 3, 0xF3: 2}


def legal(rng: random.Random, notes: float = 0.0) -> bytes:
    """A legal message, of any kind equally; notes: the share that are notes on few keys besides."""
    if rng.random() < notes:
        kind = rng.choice((0x80, 0x90, 0x90, 0x90))
        return bytes((kind | rng.randrange(2), rng.randrange(48, 84), rng.choice((0, 1, 64, 127))))
    status = rng.randrange(0x80, 0x100)
    if status == 0xF0:
        return b"\xf0" + bytes(rng.randrange(128) for _ in range(rng.randrange(20))) + b"\xf7"
    size = _CHANNEL_BYTES.get(status & 0xF0) or _COMMON_BYTES.get(status, 1)
    data1 = (
        rng.choice((7, 64, 120, 121, 123, 124, 125, 126, 127, rng.randrange(128)))
        if status >> 4 == 0xB
        else rng.randrange(128)
    )
    return bytes((status, data1, rng.randrange(128)))[:size]


def bytes_of(rng: random.Random) -> Iterator[bytes]:
    """For ever: messages, garbage, messages cut in pieces or run together."""
    while True:
        match rng.randrange(10):
            case 0:
                yield rng.randbytes(rng.randrange(1, 8))
            case 1:
                message = legal(rng)
                cut = rng.randrange(len(message))
                yield message[:cut]
                yield message[cut:]
            case 2:
                yield legal(rng) + legal(rng) + bytes(rng.randrange(128) for _ in range(rng.randrange(4)))
            case _:
                yield legal(rng)


def through_the_parser(count: int, seed: int) -> str:
    """So many pieces through a `Wire`. Checks that data bytes are data bytes, that nothing is kept but half a
    message, and that after garbage a whole message is heard as it was said.
    """
    rng = random.Random(seed)
    wire = Wire()
    fed = heard = 0
    pieces = bytes_of(rng)
    for number in range(count):
        data = next(pieces)
        fed += len(data)
        for status, data1, data2 in wire.feed(data):
            heard += 1
            assert status >= 0x80
            assert data1 | data2 < 0x80
        if number % 1000 == 999:
            # Whatever stands half said, a status byte begins anew (MIDI 1.0).
            said = bytes((0x90 | rng.randrange(16), rng.randrange(128), rng.randrange(128)))
            assert wire.feed(said) == [tuple(said)]
            assert len(wire._data) < 2
            assert len(wire.ignored) <= 2
    return f"{count:,} messages and pieces of {fed:,} bytes: {heard:,} heard, {sum(wire.ignored.values()):,} ignored"


def through_a_session(
    count: int, seed: int, *, check_every: int = 2_000, tell: Callable[[str], None] = lambda line: None
) -> str:
    """So many messages from three sources through the whole live path: journal, session, model, files.

    Checks every so often that all-notes-off leaves no key down, in the take and in the model. At the end the
    journal is read again, and has to be whole.
    """
    rng = random.Random(seed)
    header = Header(STARTED, tempo=500_000)
    session = Session(setup_of(header))
    pieces = [bytes_of(random.Random(seed + source)) for source in range(3)]
    us = written = found = takes = saved = 0

    def settle() -> None:
        nonlocal takes, saved, found
        found += len(session.news())
        while session.finished:
            take = session.finished.pop(0)
            takes += 1
            if takes % 50 == 1 and take.notes < 500:
                save(take, (folder,), Faults(folder / "fuzz.journal"))
                saved += 1
        session.to_keep.clear()

    def command(word: str, argument: str = "") -> None:
        nonlocal written
        journal.write(Command(us, word, argument))
        session.command(us, word, argument)
        written += 1

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        journal = JournalWriter(folder / "fuzz.journal", header)
        notes = 0.5
        for number in range(count):
            us += rng.choice(GAPS) if rng.randrange(500) else rng.choice(RARE_GAPS)
            source = rng.randrange(3)
            data = legal(rng, notes) if rng.randrange(2) else next(pieces[source])
            # Start and continue begin another take each; all day long they would leave no music.
            if rng.randrange(20):
                data = bytes(byte for byte in data if byte not in (0xFA, 0xFB))
            journal.write(Heard(max(us, session.now), source, data))
            written += 1
            session.message(us, source, data)
            if rng.randrange(200) == 0:
                command(
                    rng.choice(
                        (
                            "tap",
                            "tap",
                            "keep",
                            "pause",
                            "resume",
                            "resume",
                            "gone",
                            "player",
                            "pedals",
                            "afresh",
                            "?",
                        )
                    ),
                    rng.choice(
                        ("", "0", "1", "virtuoso", "working", "D C B | E F G A", "nonsense \x1b", "99")
                    ),
                )
            if rng.randrange(30) == 0:
                session.advance(us + rng.choice((0, -5_000, 1_000)))
                settle()
            if number % check_every == check_every - 1:
                for each in range(3):
                    for channel in range(16):
                        silence = bytes((0xB0 | channel, rng.choice((120, 123, 124, 127)), 0))
                        journal.write(Heard(max(us, session.now), each, silence))
                        written += 1
                        session.message(us, each, silence)
                nothing_sticks(session)
                settle()
            if number % 50_000 == 49_999:
                tell(f"{number + 1:,} messages, {takes} takes, {found:,} news")
        session.finish(us)
        nothing_sticks(session)
        settle()
        journal.close()
        again = read_journal(folder / "fuzz.journal")
        assert len(again.records) == written
        assert not again.faults
    return f"{count:,} messages, {us / 3.6e9:.0f} h played, {takes} takes ({saved} saved), {found:,} news, journal whole"


def nothing_sticks(session: Session) -> None:
    """No key is down, in the take or in the model."""
    assert not session.take._down
    assert session.take.monitor.keys.down == ()
