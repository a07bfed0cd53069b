"""Which players are asked and which are not: only who is quicker in nothing and slower in something leads."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livepedal.harp import Figures, Player
from livepedal.model.chords import Chords
from livepedal.model.scale import Scale

FIGURES = Figures.builtin()
HARP = FIGURES.instrument("47")
CHORDS = Chords(HARP)
RING = tuple(FIGURES.ringing.ring(pitch) for pitch in range(128))
RELAXED, WORKING, VIRTUOSO = FIGURES.players


def is_led(players: tuple[Player, ...]) -> bool:
    """Whether the virtuoso was left unasked at an attack that everybody can play."""
    scale = Scale(players, HARP, RING, whole=False)
    scale.open(0)
    scale.strike(60, 0)
    assert scale.judge((60,), CHORDS.ways((60,)), 0)
    _, own = scale.known(2)
    scale.catch_up()
    assert scale.known(2)[1]
    return not own


def test_the_built_in_players_are_led() -> None:
    assert is_led((RELAXED, WORKING, VIRTUOSO))
    assert is_led((RELAXED, RELAXED, RELAXED))
    # What they are called, and how much at once is too much for them, is no matter of one attack.
    assert is_led((RELAXED, replace(WORKING, name="me", load=0.1), VIRTUOSO))


@pytest.mark.parametrize(
    "figure", ["flick", "two_notch_flick", "cycle", "settle", "grip", "place", "leap", "restrike"]
)
def test_nobody_leads_who_is_quicker_in_something(figure: str) -> None:
    slower = replace(VIRTUOSO, **{figure: getattr(WORKING, figure) + 1})
    assert not is_led((RELAXED, WORKING, slower))
    assert is_led((RELAXED, WORKING, replace(VIRTUOSO, **{figure: getattr(WORKING, figure)})))


@pytest.mark.parametrize("figure", ["overlap", "reach", "rolled_reach", "fingers", "roll"])
def test_nobody_leads_who_reaches_farther(figure: str) -> None:
    slower = replace(VIRTUOSO, **{figure: getattr(WORKING, figure) - 1})
    assert not is_led((RELAXED, WORKING, slower))
    assert is_led((RELAXED, WORKING, replace(VIRTUOSO, **{figure: getattr(WORKING, figure)})))


@pytest.mark.parametrize("technique", ["two_at_once", "reach_across"])
def test_with_techniques_nobody_leads(technique: str) -> None:
    # Their changes are told apart by pedal, so one player's readings are not another's.
    assert not is_led((RELAXED, WORKING, replace(VIRTUOSO, **{technique: True})))
    assert not is_led(tuple(replace(player, **{technique: True}) for player in FIGURES.players))
