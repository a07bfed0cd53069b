"""Slower is never harder, over all layers but too-much-at-once (which is a rate over six seconds of its own): the first attack
that is too hard for a player comes no earlier at a slower tempo, also where a run becomes a glissando, a tremolo or a trill.

Said is what is heard at each attack, before the next one comes. What a figuration takes back later may have hidden what came
right after it, since after an attack that cannot be played the hands begin anew: then the law can be broken for what remains
in the end (8 of 360 changes of tempo of such music as `figured` makes, none of the other three kinds).
"""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate, pairwise

import pytest

from livepedal.model.findings import Layer
from livepedal.model.hands.figurations import Finder
from livepedal.model.hands.strokes import NO_STRAIN
from livepedal.model.monitor import BareMonitor
from livepedal.music.attacks import Gathered, events_of
from tests.model import playing, real
from tests.model.test_laws import legato_moved
from tests.music.tempo import scale

from .playing import FIGURES, HARP, NEVER, line
from .sequences import passages
from .test_laws import figured

LAYERS = (Layer.PEDALS, Layer.HANDS, Layer.STRINGS)
TEMPOS = (Fraction(2), Fraction(10, 7), Fraction(10, 9), Fraction(1))  # 2: half the tempo
MS = 1_000


def first_too_hard(music: tuple[Gathered, ...]) -> tuple[int, ...]:
    """For each player the number of the first attack that is too hard, NEVER where none is."""
    monitor = BareMonitor(replace(FIGURES, window=replace(FIGURES.window, attack=0)), HARP, only=LAYERS)
    found = [NEVER] * 3
    events = deque(events_of(music))
    for number, attack in enumerate(music):
        while events and events[0].us <= attack.us:
            monitor.feed(events.popleft())
        for player, count in enumerate(monitor.counts()):
            if count.unplayable:
                found[player] = min(found[player], number)
    return tuple(found)


def quickening(seed: int) -> tuple[Gathered, ...]:
    """A run, a tremolo, a trill or an arpeggio that begins slowly and gets so quick that it can only be a figuration; then
    something to break it off.
    """
    rng = random.Random(seed)
    low = rng.choice((43, 48, 55, 60))
    major = [low + 12 * octave + n for octave in range(3) for n in (0, 2, 4, 5, 7, 9, 11)]
    kinds: list[list[tuple[int, ...]]] = [
        [(pitch,) for pitch in major],
        [(pitch, pitch + 12) for pitch in major[:14]],
        [(pitch,) for pitch in range(low, low + 24)],  # chromatic: no glissando
        [(low, low + 4, low + 7), (low + 12, low + 16)] * 12,
        [(low + 4,), (low + 5,)] * 12,
        [(low + 12 * octave + n,) for octave in range(4) for n in (0, 4, 7)],
    ]
    chords = [*rng.choice(kinds), (low, low + 3, low + 14), (low - 7, low + 22), *rng.choice(kinds)[:10]]
    step = rng.choice((250, 400, 600))
    times = list(accumulate((step * rng.choice((0.8, 0.9)) ** n + 15 for n in range(len(chords))), initial=0))
    return tuple(
        Gathered(round(at) * MS, tuple((pitch, round(until) * MS) for pitch in chord))
        for (at, until), chord in zip(pairwise(times), chords, strict=True)
    )


def pieces(kind: str, seeds: range = range(8)) -> Iterator[tuple[Gathered, ...]]:
    for seed in seeds:
        if kind == "random":
            yield playing.gathered(next(iter(passages(1, seed=500 + seed))))
        elif kind == "figurations":
            yield figured(200 + seed)[:40]
        elif kind == "quickening":
            yield quickening(seed)
        else:
            yield scale(playing.gathered(real.cut(random.Random(seed), real.RECORDINGS, 24)), Fraction(2, 3))


def broken(music: Iterable[tuple[Gathered, ...]]) -> tuple[int, int]:
    """How often the law is broken, and how often anything is too hard."""
    times = hard = 0
    for piece in music:
        before = (0, 0, 0)
        for ratio in reversed(TEMPOS):
            now = first_too_hard(scale(legato_moved(piece), ratio))
            times += any(slow < quick for slow, quick in zip(now, before, strict=True))
            hard += min(now) < NEVER
            before = tuple(map(max, now, before))
    return times, hard


@pytest.mark.parametrize("kind", ["random", "figurations", "quickening", "recordings"])
def test_slower_is_never_harder_over_all_layers(kind: str) -> None:
    times, hard = broken(pieces(kind))
    assert times == 0
    assert hard > 2


def test_a_border_between_run_and_glissando_would_be_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Planted: a figuration is only recognised where it goes quickly."""
    hear = Finder.hear

    def only_quick(
        self: Finder, pitches: tuple[int, ...], us: int
    ) -> tuple[frozenset[int], tuple[float, float, float], tuple[int, int, int]]:
        found = hear(self, pitches, us)
        if self._last and us - self._last[0][1] > 55 * MS:
            self.here = ()
            return frozenset(), NO_STRAIN, (0, 0, 0)
        return found

    monkeypatch.setattr(Finder, "hear", only_quick)
    run = line([36 + 12 * octave + n for octave in range(4) for n in (0, 2, 4, 5, 7, 9, 11)], 40 * MS)
    assert broken([run])[0] > 0
