"""What changed since the last export, and which exports are of one cue."""

from __future__ import annotations

from fractions import Fraction

import pytest

from livepedal.advice.compare import BarOutlook, BarPair, Comparison, PartComparison, Total
from livepedal.advice.news import cue_of, news
from livepedal.model.findings import Verdict

EASY, PLAYABLE, VIRTUOSO, UNPLAYABLE = Verdict


@pytest.mark.parametrize(
    "name",
    ["Cue 7.mid", "cue 7 v2.mid", "cue 7_v12.midi", "Cue 7 (3).mid", "cue 7 copy.mid", "cue 7 - copy 2.mid",
     "CUE 7 rev 4.mid", "cue 7 v2 (1).mid", "cue 7.version 3.mid"],
)  # fmt: skip
def test_exports_of_one_cue(name: str) -> None:
    assert cue_of(f"reel/{name}") == cue_of("reel/cue 7.mid")


@pytest.mark.parametrize(
    "name", ["reel/cue 8.mid", "reel/cue 17.mid", "other/cue 7.mid", "reel/cue 7 harp.mid"]
)
def test_other_cues(name: str) -> None:
    assert cue_of(name) != cue_of("reel/cue 7.mid")


def test_a_name_that_is_nothing_but_a_version() -> None:
    assert cue_of("v2.mid") == "v2"


def bar(number: int, verdict: Verdict, *pitches: int) -> BarOutlook:
    return BarOutlook(number, verdict, 0, 0, 0, tuple((Fraction(1), pitch) for pitch in pitches))


def total(verdict: Verdict, unplayable: int = 0, changes: int = 3, seconds: float = 8.0) -> Total:
    return Total(verdict, unplayable, 0, changes, 10, seconds)


def of(before: Total, after: Total, *bars: BarPair) -> tuple[str, ...]:
    return news(Comparison("a.mid", "b.mid", (PartComparison("Harp", before, after, bars),)))


def test_nothing() -> None:
    assert of(total(EASY), total(EASY), BarPair(bar(1, EASY, 60), bar(1, EASY, 60))) == ()


def test_worse_before_better() -> None:
    said = of(
        total(UNPLAYABLE, 2),
        total(UNPLAYABLE, 1, changes=5),
        BarPair(bar(1, UNPLAYABLE, 60), bar(1, EASY, 60, 62)),
        BarPair(bar(2, EASY, 60), bar(2, VIRTUOSO, 61)),
        BarPair(bar(3, EASY, 60), None),
    )
    assert said == (
        "worse: bar 2 is virtuoso and was easy",
        "better: bar 1 is easy and was unplayable, attacks that cannot be played: 1 instead of 2",
        "5 pedal changes instead of 3",
        "other notes in bars 1 and 2",
        "a bar fewer",
    )


def test_another_tempo() -> None:
    same = BarPair(bar(1, EASY, 60), bar(1, EASY, 60))
    assert of(total(EASY), total(EASY, seconds=4.0), same) == ("4.00 s long instead of 8.00 s",)


def test_one_pedal_change() -> None:
    same = BarPair(bar(1, EASY, 60), bar(1, EASY, 60))
    assert of(total(EASY), total(EASY, changes=1), same) == ("1 pedal change instead of 3",)


def test_much_is_counted() -> None:
    pairs = [BarPair(bar(n, EASY, 60), bar(n, UNPLAYABLE, 61)) for n in range(1, 9)]
    worse, other = of(total(EASY), total(UNPLAYABLE), *pairs)
    assert worse.endswith("bar 3 is unplayable and was easy, and 5 more")
    assert other == "other notes in 8 bars from 1 to 8"


def test_parts_that_only_one_has() -> None:
    compared = Comparison("a.mid", "b.mid", (), ("Harp II",))
    assert news(compared) == ("only one of them has Harp II",)
