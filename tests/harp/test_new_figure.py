"""A new figure of a player: one line in livepedal/harp/players.py; its value, meaning and source in figures.toml.

Whatever else it needs and is forgotten fails a test here, in tests/test_documents.py or in mypy, with what to do.
"""

from __future__ import annotations

import random
from dataclasses import fields, make_dataclass

import pytest

from livepedal.errors import LivepedalError
from livepedal.harp import Player, layers
from livepedal.harp.specs import Abler, ValueKind, ability, specs_of
from tests.judge import cpsat, hands, passages

NOT_JUDGED = {
    "two_notches": "the judge has the product, two_notch_flick",
    "glissando": "the judge of the hands leaves figurations out",
    "tremolo": "the same",
    "trill": "the same",
    "arpeggio": "the same",
    "wire_strokes": "a remark, no verdict",
    "sustained": "a rate over many attacks: tests/model/hands/test_load.py",
}
"""Figures of players that neither judge has, and why it need not."""


def test_it_says_who_is_abler() -> None:
    for key, spec in specs_of(Player).items():
        # What is compared of two notches is the time of the movement.
        assert spec.abler is not None or key == "two_notches", (
            f"Player.{key}: declare it with ability(..., Abler.MORE or Abler.LESS), not with figure"
        )


@pytest.mark.parametrize("kind", list(ValueKind))
def test_without_a_value_one_sentence_says_so(kind: ValueKind) -> None:
    larger = make_dataclass("larger", [("flick", int, ability(kind, Abler.LESS))])
    with pytest.raises(LivepedalError) as caught:
        layers.made(larger, {"players.mira": {}}, "players.mira", "mine.toml")
    assert str(caught.value) == f"players.mira.flick in mine.toml is missing; give it {kind.value}."


def test_a_judge_knows_it() -> None:
    judged = {known.name for judge in (cpsat.Figures, hands.Hand) for known in fields(judge)}
    for key in specs_of(Player):
        assert (key in judged) != (key in NOT_JUDGED), (
            f"{key}: state its rule, and a field of this name, in tests/judge/cpsat.py (feet) or tests/judge/hands.py"
            " (hands); or say in NOT_JUDGED why no judge needs it"
        )


def test_random_passages_try_it() -> None:
    rng = random.Random(1)
    tried = [passages.sounding(rng, passages.random_figures(rng)) for _ in range(100)]
    for known in fields(cpsat.Figures):
        assert len({getattr(figures, known.name) for figures in tried}) > 1, (
            f"{known.name} is the same in all random passages: vary it in random_figures (tests/judge/passages.py)"
        )
