"""Nothing is called too hard for the hands because the search left out a way: an attack that is not certain is not decided,
and counts as no fault.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest

from livepedal.model import Layer, Monitor
from livepedal.model.hands import certain, placing
from livepedal.model.hands.strokes import MARGIN
from livepedal.music.attacks import events_of
from tests.judge import hands as judge

from .playing import FIGURES, HARP, line, played
from .test_judged import figures_of, music

MS = 1_000


@pytest.mark.parametrize("kept", [1, 2, placing.KEPT])
def test_what_the_search_left_out_makes_no_fault(monkeypatch: pytest.MonkeyPatch, kept: int) -> None:
    """With one or two histories the search goes wrong often, and still no attack is called too hard that is not."""
    monkeypatch.setattr(placing, "KEPT", kept)
    rng = random.Random(7)
    undecided = faults = 0
    for _ in range(25):
        piece = music(rng, 6)
        attacks = [line([chord], MS, us)[0] for us, chord in piece]
        strains, cut = [], []
        for hands in played(attacks):
            strains.append(hands.parts[0])
            cut.append(hands.cut)
            if hands.here:
                break  # what stands in figures is not for this judge
        slow = figures_of(FIGURES.players[0])
        for number, player in enumerate(FIGURES.players):
            undecided += sum(one[number] for one in cut)
            first = next((n for n, one in enumerate(strains) if one[number] > MARGIN), None)
            if first is not None:
                faults += 1
                assert judge.easiest(piece[: first + 1], figures_of(player), slow)[-1] > MARGIN
    assert undecided > 0 or kept > 2
    assert faults > 10


def test_too_many_ways_are_not_decided_and_said_so(monkeypatch: pytest.MonkeyPatch) -> None:
    chords: Sequence[tuple[int, ...]] = [(48, 52, 55, 60, 64, 67), (50, 53, 57, 62, 65, 69)] * 3
    music = line([*chords[:3], (36, 60, 84)], 60 * MS)

    def counted() -> tuple[int, tuple[int, int, int]]:
        monitor = Monitor(FIGURES, HARP, only=(Layer.HANDS,))
        for event in events_of(music):
            monitor.feed(event)
        monitor.finish()
        return monitor.counts()[1].unplayable, monitor.undecided

    unplayable, undecided = counted()
    assert (unplayable > 0, undecided) == (True, (0, 0, 0))
    monkeypatch.setattr(certain, "MOST", 0)
    unplayable, undecided = counted()
    assert unplayable == 0
    assert min(undecided) > 0
