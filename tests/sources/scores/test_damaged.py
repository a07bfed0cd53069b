"""Damaged scores get one sentence or a verdict, and nothing escapes. The large ones, with time and memory, are in
tests/benchmarks/damaged_scores.py.
"""

from __future__ import annotations

import random

import pytest

from tests.benchmarks.damaged_scores import judged
from tests.sources.scores.damaging import DAMAGES

SMALL = [damage for damage in DAMAGES if damage.__name__ not in ("zip_bomb", "much")]


@pytest.mark.parametrize("damage", SMALL, ids=lambda damage: damage.__name__)
@pytest.mark.parametrize("seed", range(4))
def test_a_damaged_score_gets_one_sentence_or_a_verdict(damage: object, seed: int) -> None:
    assert callable(damage)
    assert judged(damage(random.Random(seed))) in ("one sentence", "judged")
