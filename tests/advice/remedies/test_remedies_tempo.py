"""The fastest tempo, against the independent judge: feasible at it, infeasible two per cent above; and with room for a
hand that is no clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.stretch import WRITTEN, Stretch
from livepedal.advice.remedies.telling import Teller, slower
from livepedal.advice.remedies.tempo import HALF, PlayerTempo, fastest, tempos_of
from livepedal.advice.remedies.trial import Excerpt, Survey, Trial
from livepedal.harp import Figures, TempoFigures
from livepedal.model.findings import Layer
from livepedal.music.attacks import Gathered
from tests.advice.changed import HARP, JUDGED, attacks_in, judged, passage, report_on, slowed
from tests.judge import cpsat
from tests.judge.passages import KINDS, draw
from tests.model.playing import gathered, harp_of, player_of, ringing_of

FEET = (Layer.PEDALS, Layer.STRINGS)
STEADY = replace(Figures.builtin(), tempo=TempoFigures(0))  # with a hand like a clock
SHORT = [kind for kind in KINDS if kind not in ("long", "longer")]


def speeds(attacks: Sequence[Gathered], basis: Basis) -> list[int | None]:
    """How fast each player manages it all (thousandths of the tempo)."""
    trial, survey = Trial(attacks, basis), Survey.of(report_on(attacks, basis))
    return [one.speed for one in tempos_of(trial, survey, trial.everybody(), None, {})]


@pytest.mark.parametrize("kind", SHORT)
@pytest.mark.parametrize("seed", range(3))
def test_the_judge_agrees_at_the_tempo_found_and_above_it(kind: str, seed: int) -> None:
    name = ("relaxed", "working", "virtuoso")[seed % 3]
    player = JUDGED[name]
    found = replace(draw(kind, 7_000 + seed, player.cycle), start=None)
    attacks = gathered(found)[:24]
    if any(pitch < 23 for attack in attacks for pitch, _ in attack.notes):
        pytest.skip("has notes below every harp")
    # All three players with the same figures: only the tempo is asked for here.
    own = player_of(player)
    figures = replace(
        Figures.builtin(),
        players=tuple(replace(own, name=each) for each in ("relaxed", "working", "virtuoso")),
        ringing=ringing_of(player),
        tempo=TempoFigures(0),
    )
    basis = Basis(figures, harp_of(player.harp), layers=FEET)
    trial = Trial(attacks, basis)
    music, speed = Excerpt(trial.fresh(), range(len(attacks))), WRITTEN
    if not trial.plays(music):
        speed = fastest(lambda speed: trial.plays(music, stretch=Stretch(0, None, speed))) or 0
    told = speeds(attacks, basis)[1]
    assert told == (speed if speed >= HALF else None)

    def judge(ratio: Fraction) -> bool:
        return cpsat.feasible(passage(slowed(trial.attacks, ratio)), player, "sliding", len(attacks))

    if not speed:
        assert not judge(Fraction(12, 100))
        return
    assert judge(Fraction(speed, 1000))
    if speed < 1000:
        assert not judge(Fraction(speed, 1000) * Fraction(102, 100))


def test_every_slower_tempo_will_do_too() -> None:
    # G4 is let go 0.07 s after C4, and counts as let go with it (overlap, 0.08 s); G is needed sharp 0.175 s after C4, and
    # takes a working player 0.17 s. Stretched by a fifth the key would run over by 0.084 s, and leave too little time.
    ms = 1_000
    attacks = (
        Gathered(0, ((67, 370 * ms), (69, 100 * ms))),
        Gathered(300 * ms, ((60, 400 * ms),)),
        Gathered(475 * ms, ((69, 900 * ms), (80, 900 * ms))),
    )
    trial = Trial(attacks, Basis(STEADY, HARP, layers=FEET))
    for speed in range(1000, 100, -10):
        music = Excerpt(trial.everybody().alone(audible=True), range(3))
        assert not trial.faults(music, Stretch(0, None, speed), 3)


def test_figures_stay_in_real_time() -> None:
    """recordings/README.md, 03: strokes 0.15 s apart, A-G♯-G; a virtuoso moves one pedal 0.18 s after its
    pluck.

    So 0.15 / 0.18 = 83 % is certain to be possible where only that counts, and every player has a slower
    tempo than the next one. At half the tempo (04) a working player manages, a relaxed one does not.
    """
    attacks = attacks_in("03-paddle-wheel.mid")
    relaxed, working, virtuoso = speeds(attacks, Basis(STEADY, HARP, layers=FEET))
    assert relaxed is None
    assert working is not None
    assert virtuoso is not None
    assert 500 <= working < virtuoso < 1000
    assert virtuoso >= 830
    assert judged(slowed(attacks, Fraction(virtuoso, 1000)), "virtuoso")
    assert not judged(slowed(attacks, Fraction(virtuoso + 10, 1000)), "virtuoso")


def test_fastest_is_the_last_per_cent_that_is_managed() -> None:
    for border in (500, 505, 750, 984, 994):
        assert fastest(lambda speed, border=border: speed <= border) == border // 10 * 10
    for border in (120, 333, 499):  # below half the tempo in fifths of a per cent
        assert fastest(lambda speed, border=border: speed <= border) == border // 2 * 2
    assert fastest(lambda speed: speed <= 100) is None
    assert fastest(lambda speed: True) == 990  # only asked where the written tempo will not do


def test_known_speeds_are_not_asked_again() -> None:
    asked: list[int] = []

    def manages(speed: int) -> bool:
        asked.append(speed)
        return speed <= 700

    assert fastest(manages, known=640) == 700
    assert min(asked) > 640


def test_a_tempo_is_told_as_one_that_will_do_and_not_as_the_fastest() -> None:
    """98% of 66 is 64.68 quarters a minute: 65 lies between two per cent and may do too."""
    teller = Teller(HARP)
    told = teller.tempos((PlayerTempo("working", 980),), Fraction(66))
    assert told == [("working", "at ♩ = 64, or slower")]
    assert teller.tempos((PlayerTempo("working", 980),), None) == [
        ("working", "at 98% of the tempo, or slower")
    ]


def plays(attacks: Sequence[Gathered], speed: int, uneven: int, seed: int) -> bool:
    """Whether a working player can play this at a speed, where each strike and each release is up to so much early or
    late.
    """
    random = Random(seed)
    stretch, last, found = Stretch(0, None, speed), 0, []
    for attack in attacks:
        last = us = max(stretch.at(attack.us) + random.randint(-uneven, uneven), last + 1)
        notes = [
            (pitch, None if end is None else max(stretch.at(end) + random.randint(-uneven, uneven), us + 1))
            for pitch, end in attack.notes
        ]
        found.append(Gathered(us, tuple(notes)))
    trial = Trial(found, Basis(STEADY, HARP))
    return trial.first_trouble(Excerpt(trial.fresh(), range(len(found)))) is None


@pytest.mark.parametrize("name", ["03-paddle-wheel.mid", "again"])
def test_a_tempo_that_is_told_is_one_that_a_hand_can_keep(name: str) -> None:
    """What only just works fails for a hand; what is told never does. Seeds are fixed."""
    figures = Figures.builtin()
    again = [
        Gathered(n * 105_000, ((62, n * 105_000 + 90_000),)) for n in range(24)
    ]  # one string again and again
    attacks = again if name == "again" else attacks_in(name)

    def failed(speed: int | None) -> int:
        assert speed is not None
        return sum(not plays(attacks, speed, figures.tempo.uneven, seed) for seed in range(10))

    border, told = (speeds(attacks, Basis(one, HARP))[1] for one in (STEADY, figures))
    assert failed(border) > 3
    assert failed(told) == 0


@pytest.mark.parametrize(
    ("percent", "said"),
    [
        (96, "about a tenth slower: count 9 where you counted 10"),
        (75, "about a quarter slower: count 3 where you counted 4"),
        (74, "about a third slower: count 2 where you counted 3"),
        (50, "about half as fast: count 1 where you counted 2"),
    ],
)
def test_where_nobody_knows_the_tempo_it_is_told_as_one_counts(percent: int, said: str) -> None:
    assert slower(Fraction(percent, 100)) == said
