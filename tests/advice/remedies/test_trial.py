"""Trying things on with one player alone says what that player's place among the three says."""

from __future__ import annotations

import pytest

from livepedal.advice.judging.basis import Basis
from livepedal.advice.remedies.trial import Trial
from tests.advice.changed import BUILTIN, HARP
from tests.judge.passages import KINDS, PLAYERS, draw
from tests.model.playing import gathered


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in ("long", "longer")])
@pytest.mark.parametrize("number", range(3))
def test_a_player_alone_fares_as_among_the_others(kind: str, number: int) -> None:
    attacks = gathered(draw(kind, 900 + number, PLAYERS["working"].cycle))[:40]
    trial = Trial(attacks, Basis(BUILTIN, HARP, BUILTIN.players[number].name))
    everybody = trial.everybody()
    early = everybody.alone(number)
    for place, event in enumerate(trial.events):
        everybody.feed(event)
        early.feed(event)
        late = everybody.alone(number)
        assert (
            everybody.counts()[number].unplayable
            == early.counts()[number].unplayable
            == late.counts()[number].unplayable
        ), place
    assert len({count.unplayable for count in early.counts()}) == 1
