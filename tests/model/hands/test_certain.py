"""Nothing is called too hard for the hands because the histories kept left out a way; they decide nothing."""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest

from livepedal.model.hands import certain, histories
from livepedal.model.hands.strokes import MARGIN
from tests.judge import hands as judge

from .playing import FIGURES, hands_trouble, line, played
from .test_judged import figures_of, music

MS = 1_000


@pytest.mark.parametrize("kept", [1, 2, histories.KEPT])
def test_what_the_search_left_out_makes_no_fault(monkeypatch: pytest.MonkeyPatch, kept: int) -> None:
    """With one or two histories the search goes wrong often, and still no attack is called too hard that is not."""
    monkeypatch.setattr(histories, "KEPT", kept)
    rng = random.Random(7)
    faults = 0
    for _ in range(25):
        piece = music(rng, 6)
        attacks = [line([chord], MS, us)[0] for us, chord in piece]
        strains = []
        for hands in played(attacks):
            strains.append(hands.parts[0])
            if hands.here:
                break  # what stands in figurations is not for this judge
        slow = figures_of(FIGURES.players[0])
        for number, player in enumerate(FIGURES.players):
            first = next((n for n, one in enumerate(strains) if one[number] > MARGIN), None)
            if first is not None:
                faults += 1
                assert judge.easiest(piece[: first + 1], figures_of(player), slow)[-1] > MARGIN
    assert faults > 10


@pytest.mark.parametrize("kept", [1, histories.KEPT])
def test_the_histories_decide_nothing(monkeypatch: pytest.MonkeyPatch, kept: int) -> None:
    """What fails does not hang on how many histories are kept, also after attacks that all of them failed at."""
    rng = random.Random(11)
    pieces = [[line([chord], MS, us)[0] for us, chord in music(rng, 40)] for _ in range(20)]

    def failing() -> list[tuple[bool, bool, bool]]:
        return [hands.failed for piece in pieces for hands in played(piece)]

    monkeypatch.setattr(histories, "KEPT", 40)
    said = failing()
    assert sum(failed[0] and not failed[2] for failed in said) > 10
    monkeypatch.setattr(histories, "KEPT", kept)
    assert failing() == said


def test_over_too_many_ways_no_fault_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    chords: Sequence[tuple[int, ...]] = [(48, 52, 55, 60, 64, 67), (50, 53, 57, 62, 65, 69)] * 3
    attacks = line([*chords[:3], (36, 60, 84)], 60 * MS)
    assert hands_trouble(attacks)
    monkeypatch.setattr(certain, "MOST", 0)
    assert not hands_trouble(attacks)
