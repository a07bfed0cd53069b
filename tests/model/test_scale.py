"""Which players are asked and which are not: only who is quicker in nothing and slower in something leads."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from livepedal.harp import Figures, Player
from livepedal.model import Layer, Monitor, scale
from livepedal.model.chords import Chords, Way
from livepedal.model.entries import Judge
from livepedal.model.scale import Scale
from livepedal.music.events import Event, NoteOff, NoteOn
from tests.model.playing import play_both

FIGURES = Figures.builtin()
HARP = FIGURES.instrument("47")
CHORDS = Chords(HARP)
RING = tuple(FIGURES.ringing.ring(pitch) for pitch in range(128))
RELAXED, WORKING, VIRTUOSO = FIGURES.players


def is_led(players: tuple[Player, ...]) -> bool:
    """Whether the virtuoso was left unasked at an attack that everybody can play."""
    six = Scale(players, HARP, RING, whole=False)
    six.open(0)
    six.strike(60, 0)
    assert six.judge(Judge((60,), CHORDS.ways((60,)), 0))
    _, own = six.known(2)
    six.catch_up()
    assert six.known(2)[1]
    return not own


def test_the_built_in_players_are_led() -> None:
    assert is_led((RELAXED, WORKING, VIRTUOSO))
    assert is_led((RELAXED, RELAXED, RELAXED))
    # What they are called, and how much at once is too much for them, is no matter of one attack.
    assert is_led((RELAXED, replace(WORKING, name="me", sustained=0.1), VIRTUOSO))


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


def music(rng: random.Random, notes: int) -> list[Event]:
    """Single notes of many letters, at a pace that makes each of the players fail now and then, and calm stretches."""
    found: list[Event] = []
    now, pitches = 0, range(60, 72)
    pace = 400
    for number in range(notes):
        if number % 12 == 0:
            pace = rng.choice((130, 250, 500, 2000))
        pitch = rng.choice(pitches)
        found.append(NoteOn(now, pitch))
        now += rng.randint(pace // 2, pace) * 1_000
        found.append(NoteOff(now - rng.choice((0, 10, 40)) * 1_000, pitch))
    return found


FEET_AND_WHOLE = pytest.mark.parametrize(
    "layers", [(Layer.PEDALS,), (Layer.PEDALS, Layer.HANDS)], ids=["feet", "whole"]
)


def guide(rng: random.Random, events: list[Event]) -> dict[int, tuple[Way, Way]]:
    """For most of the notes one of their ways, not always the best one; for some a way of another note."""
    found = {}
    for event in events:
        if isinstance(event, NoteOn) and rng.random() < 0.9:
            pitch = event.pitch if rng.random() < 0.95 else event.pitch + 1
            choices = [
                (left, right)
                for sharing in CHORDS.ways((pitch,))
                for left in sharing.left
                for right in sharing.right
            ]
            natural = [pair for pair in choices if all(need[1] == 0 for way in pair for need in way)]
            found[event.us] = rng.choice(natural if natural and rng.random() < 0.8 else choices)
    return found


@FEET_AND_WHOLE
@pytest.mark.parametrize("seed", range(6))
def test_a_guide_changes_no_verdict(
    seed: int, layers: tuple[Layer, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever it says: only who is asked hangs on it."""
    monkeypatch.setattr(scale, "CALM", 2)
    monkeypatch.setattr(scale, "LANDMARK", 2)
    rng = random.Random(seed)
    events = music(rng, 150)
    guided = Monitor(FIGURES, HARP, only=layers, guide=guide(rng, events))
    plain = Monitor(FIGURES, HARP, only=layers)
    led = 0
    for event in events:
        assert guided.feed(event) == plain.feed(event)
        led += not guided._scale.known(0)[1]
    guided.finish()
    plain.finish()
    assert led > 20
    assert guided.graded == plain.graded
    assert guided.troubles == plain.troubles
    assert plain.graded


@FEET_AND_WHOLE
@pytest.mark.parametrize("seed", range(6))
def test_asking_only_some_changes_no_verdict(
    seed: int, layers: tuple[Layer, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Leading again soon, from landmarks close to each other, and catching up at any moment: all as if all were asked."""
    monkeypatch.setattr(scale, "CALM", 2)
    monkeypatch.setattr(scale, "LANDMARK", 2)
    rng = random.Random(seed)
    some, every = (Monitor(FIGURES, HARP, only=layers) for _ in range(2))
    led = play_both(some, every, music(rng, 150), rng)
    some.finish()
    every.finish()
    assert some.graded == every.graded
    assert led > 20
    assert every.graded
