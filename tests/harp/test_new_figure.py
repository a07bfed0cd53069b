"""A new figure of a player: one line in livepedal/harp/players.py; its value, meaning and source in figures.toml.

Whatever else it needs and is forgotten fails a test here, in tests/test_documents.py or in mypy, with what to do.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import fields, make_dataclass, replace

import pytest

from livepedal.errors import LivepedalError
from livepedal.harp import Figures, Player, layers
from livepedal.harp.specs import FigureSpec, ValueKind, figure, specs_of
from livepedal.model.monitor import BareMonitor
from livepedal.music.attacks import Gathered, events_of
from tests.judge import cpsat, hands, passages
from tests.model import playing

NOT_JUDGED = {
    "two_notches": "the judge has the product, two_notch_flick",
    "glissando": "the judge of the hands leaves figurations out",
    "tremolo": "the same",
    "trill": "the same",
    "arpeggio": "the same",
    "wire_strokes": "a remark, no verdict",
    "sustained": "a rate over many attacks: tests/model/test_load.py",
}
"""Figures of players that neither judge has, and why it need not."""
NO_VERDICT = {
    "wire_strokes": "a remark",
    "sustained": "a rate over many attacks",
}
"""Figures that decide no single attack for one player and not for another, and why."""


def test_it_says_who_is_abler() -> None:
    for key, spec in specs_of(Player).items():
        # What is compared of two notches is the time of the movement.
        assert spec.abler is not None or key == "two_notches", (
            f"Player.{key}: say whether the abler player has more or less of it: figure(Abler.MORE or Abler.LESS, ...)"
        )


def _struck(rate: float, *attacks: tuple[int, ...]) -> list[Gathered]:
    """Attacks, so many a second, each let go shortly before the next."""
    step = round(1_000_000 / rate)
    return [
        Gathered(n * step, tuple((pitch, n * step + step * 9 // 10) for pitch in pitches))
        for n, pitches in enumerate(attacks)
    ]


def _edges() -> Iterator[list[Gathered]]:
    """Music that a player can just play, or just not, for each figure that a verdict hangs on."""
    scale = (60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79, 81, 83, 84)
    chord = (48, 52, 55, 60, 64, 67, 72, 76, 79)
    thrown = list(passages.passages(61, 5))
    yield from (list(playing.gathered(thrown[number])) for number in (27, 18, 60))
    yield _struck(20, *[(60, 64, 67, 72), (62, 65, 69, 74)] * 5)  # a tremolo of full hands
    yield _struck(5, *[(48, 60, 64, 67, 72, 76, 79, 84, 88), (50, 60, 64, 67, 72, 76, 79, 84, 88)] * 2)
    yield _struck(4, *[(40, 55, 67, 88), (41, 57, 69, 89)] * 3)
    yield _struck(22, *[(pitch,) for pitch in (*chord, 84, *reversed(chord[1:]))])
    yield _struck(22, *[(60,), (62,)] * 10)
    for rate in (12, 70):
        yield _struck(rate, *[(pitch,) for pair in zip(scale, scale[2:], strict=False) for pitch in pair])


@pytest.mark.parametrize("kind", list(ValueKind))
def test_without_a_value_one_sentence_says_so(kind: ValueKind) -> None:
    larger = make_dataclass("larger", [("flick", kind.name.capitalize(), figure())])
    with pytest.raises(LivepedalError) as caught:
        layers.made(larger, {"players.mira": {}}, "players.mira", "mine.toml")
    assert str(caught.value) == f"players.mira.flick in mine.toml is missing; give it {kind.value}."


def test_a_type_that_no_figure_has_is_told_at_once() -> None:
    larger = make_dataclass("Larger", [("flick", "int", figure())])
    with pytest.raises(TypeError, match=r"^Larger\.flick is a figure, so its type is Time, Factor, .*, not int\.$"):
        specs_of(larger)


def _other(value: object, spec: FigureSpec, way: int) -> object:
    """A figure that is more (1) or less (-1) than this one, by much."""
    if spec.kind is ValueKind.FLAG:
        return way > 0
    if spec.kind in (ValueKind.STRINGS, ValueKind.COUNT):
        return max(1, int(str(value)) + way)
    return type(value)(float(str(value)) * 2.0**way)  # type: ignore[call-arg]


@pytest.mark.parametrize("key", [key for key, spec in specs_of(Player).items() if spec.abler is not None])
def test_who_is_abler_by_it_is_never_stopped_where_another_goes_on(key: str) -> None:
    spec, builtin = specs_of(Player)[key], Figures.builtin()
    assert spec.abler is not None
    working = builtin.players[1]
    others = [_other(getattr(working, key), spec, way * spec.abler.value) for way in (-1, 1)]
    less, more = (replace(working, **{"name": str(other), key: other}) for other in others)  # type: ignore[arg-type]
    figures = replace(builtin, players=(less, working, more))
    for music in _edges():
        monitor = BareMonitor(figures, builtin.instrument("47"), "working")
        for event in events_of(music):
            monitor.feed(event)
        monitor.finish()
        stopped = [(one.unplayable, one.unplayable + one.audible) for one in monitor.counts()]
        if stopped[0] != stopped[2]:
            assert stopped[0] > stopped[2], f"{key}: Abler.MORE or Abler.LESS is the wrong way round in players.py"
            assert key not in NO_VERDICT, f"{key} decides a verdict: take it out of NO_VERDICT"
            return
    assert key in NO_VERDICT, f"{key}: add music to _edges that it decides; or say in NO_VERDICT why none can"


def test_a_judge_knows_it() -> None:
    judged = {known.name for judge in (cpsat.Figures, hands.Hand) for known in fields(judge)}
    assert {*NOT_JUDGED, *NO_VERDICT} <= {*specs_of(Player)}, "take out what is no figure any more"
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
