"""Music that is hard to judge, made up: what a player may do to a keyboard, and a harpist never would.

Each kind is a list of events of about so many attacks, the same for the same seed.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence

from livepedal.music.events import Event, NoteOff, NoteOn

MS = 1_000


def _events(attacks: Sequence[tuple[int, int, Sequence[int]]], source: int = 0) -> list[Event]:
    """(moment, length, pitches) of each attack, in ms."""
    timed: list[tuple[int, int, Event]] = []
    for at, length, pitches in attacks:
        for pitch in sorted(set(pitches)):
            timed.append((at, 1, NoteOn(at * MS, pitch, source=source)))
            timed.append((at + length, 0, NoteOff((at + length) * MS, pitch, source=source)))
    timed.sort(key=lambda item: item[:2])
    return [event for *_, event in timed]


def chords(rng: random.Random, count: int) -> list[Event]:
    """Chords of one to ten notes, of any pitch, eight a second."""
    return _events(
        [
            (n * 125, rng.choice((80, 160, 400)), [rng.randint(30, 95) for _ in range(rng.randint(1, 10))])
            for n in range(count)
        ]
    )


def clusters(rng: random.Random, count: int) -> list[Event]:
    """Four to nine neighbouring keys, four a second."""
    found = []
    for n in range(count):
        low = rng.randint(36, 84)
        found.append((n * 250, 200, range(low, low + rng.randint(4, 9))))
    return _events(found)


def tremolos(rng: random.Random, count: int) -> list[Event]:
    """Four notes against four, ten times a second, a semitone higher or lower every 1.5 s."""
    found = []
    hands, shift = ((48, 52, 55, 60), (64, 67, 72, 76)), 0
    for n in range(count):
        if n % 15 == 14:
            shift = max(-6, min(12, shift + rng.choice((1, 1, -1))))
        found.append((n * 100, 90, [pitch + shift for pitch in hands[n % 2]]))
    return _events(found)


def one_note(rng: random.Random, count: int) -> list[Event]:
    """The same key 25 times a second, its neighbour now and then."""
    return _events([(n * 40, 30, [60 if rng.random() < 0.97 else 61]) for n in range(count)])


def two_keyboards(rng: random.Random, count: int) -> list[Event]:
    """Two keyboards that know nothing of each other: a quick line, and chords that are held."""
    line = _events([(n * 80, 100, [rng.randint(60, 90)]) for n in range(count * 2 // 3)])
    below = _events([(n * 160 + 40, 600, rng.sample(range(36, 72), 4)) for n in range(count // 3)], source=1)
    return sorted(line + below, key=lambda event: event.us)


def held(rng: random.Random, count: int) -> list[Event]:
    """Chromatic figures over long held notes, never a rest."""
    found = [(n * 120, 110, [60 + rng.randint(0, 11)]) for n in range(count)]
    found += [(n * 1_000, 3_000, [36 + rng.randint(0, 11)]) for n in range(count * 120 // 1_000)]
    return _events(sorted(found))


def chromatic(rng: random.Random, count: int) -> list[Event]:
    """Runs of semitones in two voices, 12 a second."""
    found = []
    upper, lower, way = 72, 55, 1
    for n in range(count):
        if rng.random() < 0.05 or not 60 < upper < 90:
            way = -1 if upper >= 90 else 1 if upper <= 60 else -way
        upper, lower = upper + way, lower + rng.choice((way, -way))
        lower = min(max(lower, 36), 59)
        found.append((n * 83, 80, [upper, lower]))
    return _events(found)


KINDS: dict[str, Callable[[random.Random, int], list[Event]]] = {
    "chords": chords,
    "clusters": clusters,
    "tremolos": tremolos,
    "one note": one_note,
    "two keyboards": two_keyboards,
    "held": held,
    "chromatic": chromatic,
}


def hard(count: int, seed: int = 1) -> Iterator[tuple[str, list[Event]]]:
    """Each kind with about so many attacks."""
    for name, make in KINDS.items():
        yield name, make(random.Random(f"{name} {seed}"), count)
