"""Music that no one plays: everything at once, one key thousands of times, clusters, waits of hours."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence

from tests.fuzz.inputs import HARP, file, number

Struck = tuple[int, int, int]
"""Tick, pitch, ticks that the key is down (0: for good); 480 ticks a quarter, 960 a second."""


def midi(notes: Iterable[Struck]) -> bytes:
    """A file of one harp track with these notes."""
    events = []
    for tick, pitch, held in notes:
        events.append((tick, 1, bytes((0x90, pitch, 64))))
        if held:
            events.append((tick + held, 0, bytes((0x80, pitch, 0))))
    body, now = [HARP], 0
    for tick, _, data in sorted(events, key=lambda event: event[:2]):
        body.append(number(tick - now) + data)
        now = tick
    return file([b"".join(body)])


def clusters(count: int, low: int = 0, high: int = 127, every: int = 480, held: int = 240) -> list[Struck]:
    return [(at * every, pitch, held) for at in range(count) for pitch in range(low, high + 1)]


def scattered(seed: int, count: int, span: int, held: int, low: int = 24, high: int = 103) -> list[Struck]:
    """Notes anywhere in so many ticks."""
    rng = random.Random(seed)
    return [(rng.randrange(span), rng.randint(low, high), rng.randint(1, held)) for _ in range(count)]


def chords(seed: int, count: int, size: int, pitches: Sequence[int], every: int = 480) -> list[Struck]:
    rng = random.Random(seed)
    return [(at * every, pitch, every - 10) for at in range(count) for pitch in rng.sample(pitches, size)]


def pieces(scale: int = 1) -> Iterable[tuple[str, bytes]]:
    """(name, file). scale: how many times less than thousands of notes, for tests."""
    whole = range(24, 104)
    thirds = [pitch for pitch in whole if pitch % 12 in (1, 4, 8)]
    shared = [pitch for pitch in whole if pitch % 12 in (3, 10)]
    white = [pitch for pitch in whole if pitch % 12 in (0, 2, 4, 5, 7, 9, 11)]
    many = 5_000 // scale
    yield "one pitch, 10,000 times in 104 s", midi([(at * 10, 60, 5) for at in range(10_000 // scale)])
    yield "one pitch, 10,000 times in 1,000 s", midi([(at * 96, 60, 90) for at in range(10_000 // scale)])
    yield "one pitch, 10,000 times at once", midi([(0, 60, 0)] * 10_000)
    yield "128 notes at once", midi(clusters(1))
    yield "128 notes at once, 200 times", midi(clusters(200 // scale))
    yield "128 notes at once, 100 times, held", midi(clusters(100 // scale, held=0))
    yield "20,000 notes at once", midi(scattered(1, 20_000, 1, 1))
    yield (
        "C# minor in all octaves, 20 times",
        midi([(at * 960, pitch, 900) for at in range(max(2, 20 // scale)) for pitch in thirds]),
    )
    yield (
        "D# and A# in all octaves, 20 times",
        midi([(at * 960, pitch, 900) for at in range(max(2, 20 // scale)) for pitch in shared]),
    )
    yield "unisons of two hands, 200 chords", midi(chords(2, 200 // scale, 8, thirds, 960))
    yield "waits of an hour", midi([(at * 3_456_000, 60 + at % 12, 100) for at in range(50)])
    yield "5,000 notes in 10 s", midi(scattered(3, many, 9_600, 100))
    yield "5,000 notes in 60 s", midi(scattered(4, many, 57_600, 2_000))
    yield "5,000 notes in 1,000 s", midi(scattered(5, many, 960_000, 500))
    yield "5,000 notes in 1,000 s, all held long", midi(scattered(6, many, 960_000, 960_000))
    yield "5,000 notes of one octave in 1,000 s", midi(scattered(7, many, 960_000, 300, 60, 71))
    yield "5,000 notes in a day", midi(scattered(8, many, 82_944_000, 300))
    yield "a note each 34 ms", midi([(at * 33, 24 + at * 7 % 80, 400) for at in range(4_000 // scale)])
    yield "chords of 4, 1,000", midi(chords(9, 1_000 // scale, 4, whole))
    yield "chords of 8, 1,000", midi(chords(10, 1_000 // scale, 8, whole))
    yield "chords of 16, 500", midi(chords(11, 500 // scale, 16, whole))
    yield "white chords of 8, 1,000", midi(chords(12, 1_000 // scale, 8, white, 960))
    yield "single notes, slow, 2,000", midi(chords(13, 2_000 // scale, 1, whole, 960))
    yield "pairs, slow, 2,000", midi(chords(14, 2_000 // scale, 2, whole, 1_920))
