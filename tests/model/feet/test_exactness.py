"""The model is exact: it says unplayable where, and only where, the independent judge finds no schedule.

The judge (tests/judge/cpsat.py) states the rules of the feet afresh for OR-Tools CP-SAT and shares no code
with the model. Two solves for each case: up to the first attack that the model cannot play (must be
infeasible) and up to the one before (must be feasible). `python -m tests.benchmarks.exactness --cases 10000`
runs more of them.
"""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from livepedal.harp import Figures
from livepedal.model.findings import Layer, Outcome
from livepedal.model.monitor import BareMonitor
from tests.benchmarks.exactness import NOTIONS, cases, disagreement
from tests.judge import passages
from tests.model import playing, real


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.slow) for seed in (1, 2, 4, 5, 6, 7))])
def test_model_and_judge_agree(seed: int) -> None:
    done, _, wrong = cases(30, 20_000 + seed, plain=False)
    assert done == 30
    assert wrong == []


@pytest.mark.parametrize("seed", range(4))
def test_model_and_judge_agree_on_passages_cut_out_of_the_recordings(seed: int) -> None:
    rng = random.Random(seed)
    cannot = 0
    for number in range(20):
        passage = real.cut(rng, real.RECORDINGS, 24)
        figures = passages.random_figures(rng, plain=number % 2 == 0)
        if number % 2:
            figures = passages.sounding(rng, figures)
        first = playing.first_unplayable(passage, figures)
        for notion in NOTIONS:
            assert disagreement(passage, figures, notion, first[notion]) is None, (number, notion, figures)
            cannot += first[notion] is not None
    assert cannot > 3  # both answers occur


@pytest.mark.parametrize("seed", range(2))
def test_all_six_trackers_side_by_side_agree_with_the_judge(seed: int) -> None:
    """Each of the six is held against the judge, with fingers that damp and wire strings that are loud."""
    base = Figures.builtin()
    ring = passages.ringing()
    harp = playing.harp_of(passages.PLAYERS["working"].harp)
    loud = passages.loudness(600_000, 44)
    three = tuple(
        replace(figures, ring=ring, damp=200_000, loud=loud) for figures in passages.PLAYERS.values()
    )
    own = replace(
        base,
        players=tuple(
            playing.player_of(figures, name) for name, figures in zip(passages.PLAYERS, three, strict=True)
        ),
        ringing=playing.ringing_of(three[0]),
        window=replace(base.window, attack=0),
    )
    failures = 0
    kinds = [kind for kind in passages.KINDS if kind != "busy"]
    for number, kind in enumerate(kinds):
        passage = passages.draw(kind, seed * 1000 + number, three[number % 3].cycle)
        monitor = BareMonitor(own, harp, only=(Layer.PEDALS, Layer.STRINGS))
        for event in playing.events_of(passage):
            monitor.feed(event)
        monitor.finish()
        outcomes = {graded.us: graded.outcomes for graded in monitor.record.graded}
        lost = next(
            (
                k
                for k, a in enumerate(passage.attacks)
                if not all(harp.spellings(note.pitch) for note in a.notes)
            ),
            len(passage.attacks),
        )
        for player, figures in enumerate(three):
            for notion, least in zip(NOTIONS, (Outcome.AUDIBLE, Outcome.CANNOT), strict=True):
                first = next(
                    (
                        k
                        for k, attack in enumerate(passage.attacks)
                        if k == lost or (attack.time in outcomes and outcomes[attack.time][player] >= least)
                    ),
                    None,
                )
                failures += first is not None
                wrong = disagreement(passage, figures, notion, first)
                assert wrong is None, (kind, number, player, notion, wrong)
    assert failures > 10
