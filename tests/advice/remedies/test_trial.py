"""Trying things on with one player alone says what that player's place among the three says."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from livepedal.advice.judging.basis import Basis
from livepedal.advice.remedies.search import part_advice
from livepedal.advice.remedies.trial import Excerpt, Survey, Trial
from livepedal.model.why import explain
from livepedal.music.attacks import Gathered
from tests.advice.changed import BUILTIN, HARP, report_on
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


def in_turn(groups: Sequence[tuple[int, ...]], rate: int, strokes: int) -> list[Gathered]:
    """Groups of notes in turn, so many strokes a second."""
    gap = 1_000_000 // rate
    return [
        Gathered(n * gap, tuple((pitch, (n + 1) * gap) for pitch in groups[n % len(groups)]))
        for n in range(strokes)
    ]


def all_of(trial: Trial) -> Excerpt:
    return Excerpt(trial.fresh(), range(len(trial.attacks)))


TREMOLOS = [
    ([(52, 55, 59)], 20),
    ([(59,), (64, 73, 75)], 25),
    ([(67, 70, 79), (67,)], 20),
    ([(77, 87), (77, 86, 89)], 12),
]


@pytest.mark.parametrize(("groups", "rate"), TREMOLOS)
def test_what_a_tremolo_takes_back_is_no_trouble(groups: list[tuple[int, ...]], rate: int) -> None:
    """Its first strokes were too fast for anything else, and were withdrawn. Then a chromatic line in quavers, 8 a
    second, which has no time for its pedals, so that there is a trouble to find.
    """
    tremolo = in_turn(groups, rate, 24)
    begin = 3_000_000
    line = [Gathered(begin + n * 125_000, ((60 + n, begin + n * 125_000 + 100_000),)) for n in range(8)]
    basis = Basis(BUILTIN, HARP)
    trial = Trial(tremolo, basis)
    monitor = trial.everybody()
    monitor.explain = explain
    said = [finding for event in trial.events for finding in monitor.feed(event)]
    assert {finding.us for finding in said} == {finding.us for finding in said if finding.withdrawn} != set()
    for player in BUILTIN.players:
        basis = Basis(BUILTIN, HARP, player.name)
        alone = Trial(tremolo, basis)
        troubles = Survey.of(report_on(tremolo, basis)).findings
        assert alone.first_trouble(all_of(alone)) == min(troubles, default=None), player.name
        assert bool(alone.needed(all_of(alone))[1]) == bool(troubles), player.name
    both = Trial([*tremolo, *line], basis)
    first = both.first_trouble(all_of(both))
    assert first is not None
    assert first >= len(tremolo)
    after = Trial(line, basis)
    assert both.needed(all_of(both))[1] == after.needed(all_of(after))[1] > 0
    advice = part_advice(report_on([*tremolo, *line], basis), basis)
    assert {
        us >= begin for passage in advice.passages for place in passage.places for us in place.troubles
    } == {True}
