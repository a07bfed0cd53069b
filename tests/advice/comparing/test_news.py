"""What changed since the last export, and which exports are of one cue."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from livepedal.advice.comparing.bars import BarOutlook, BarPair
from livepedal.advice.comparing.compare import Comparison, PartComparison, Total
from livepedal.advice.comparing.news import cue_of, news
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
    return news(Comparison("a.mid", "b.mid", (PartComparison("Harp", before, after, bars, "working"),)))


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
        "worse: bar 2 was easy and is now virtuoso",
        "better: bar 1 was unplayable and is now easy, attacks that cannot be played: 1 instead of 2",
        "5 pedal changes instead of 3",
        "other notes in bars 1 and 2",
        "one bar fewer",
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
    assert worse.endswith("bar 3 was easy and is now unplayable, and 5 more bars")
    assert other == "other notes in bars 1 to 8"


def test_what_could_not_be_played_and_now_is_heard_is_no_worse() -> None:
    before, after = Total(UNPLAYABLE, 6, 0, 8, 64, 8.0), Total(PLAYABLE, 0, 6, 8, 64, 8.0)
    gain = "attacks that cannot be played: none instead of 6"
    heard = "can be played only with an audible pedal change"
    assert of(before, after) == (f"better: {gain} (but 6 instead of none {heard})",)
    assert of(after, before) == ("worse: attacks that cannot be played: 6 instead of none",)
    # One more in all than there were is more trouble, and that fewer cannot be played is said beside it.
    more = replace(after, audible=7)
    assert of(before, more) == (
        f"worse: attacks that cannot be played or {heard}: 7 instead of 6",
        f"better: {gain} (but 7 instead of none {heard})",
    )
    assert of(after, more) == (f"worse: attacks that {heard}: 7 instead of 6",)


def test_too_much_at_once() -> None:
    light, heavy = total(PLAYABLE), replace(total(VIRTUOSO), too_much=1)
    what = "passages with too many pedal changes at once"
    assert of(light, heavy) == (
        f"worse: {what}: 1 instead of none, the working player can no longer play it",
    )
    assert of(heavy, light) == (f"better: {what}: none instead of 1, the working player can play it now",)
    # Less of it, and the player still cannot.
    assert of(replace(heavy, too_much=2), heavy) == (f"better: {what}: 1 instead of 2",)


def test_parts_that_only_one_has() -> None:
    compared = Comparison("a.mid", "b.mid", (), ("Harp II",))
    assert news(compared) == ("only one of the files has Harp II",)


def test_what_is_no_bar_is_not_counted_as_one() -> None:
    """Three bars got better and one is the same; that fewer attacks fail is no fourth bar."""
    pairs = [BarPair(bar(n, UNPLAYABLE, 60), bar(n, PLAYABLE, 60)) for n in (1, 2, 3)]
    pairs.append(BarPair(bar(4, EASY, 60), bar(4, EASY, 60)))
    (better,) = of(total(UNPLAYABLE, 6), total(PLAYABLE), *pairs)
    assert better.endswith(
        "bar 3 was unplayable and is now playable, attacks that cannot be played: none instead of 6"
    )
    assert " more" not in better


def test_a_new_bar_has_no_other_notes() -> None:
    kept = [BarPair(bar(n, EASY, 60, 62), bar(n, EASY, 60, 62)) for n in (1, 2)]
    assert of(total(EASY), total(EASY), *kept, BarPair(None, bar(3, EASY, 60, 62))) == ("a new bar",)


def test_two_pieces_are_not_told_bar_by_bar() -> None:
    """As `compare` says of them."""
    pairs = [BarPair(bar(n, EASY, 60, 62), bar(n, UNPLAYABLE, 61, 63)) for n in range(1, 6)]
    (said,) = of(total(EASY), total(UNPLAYABLE), *pairs)
    assert "hardly a note in common" in said


def test_bars_that_differ_are_no_news_of_nothing() -> None:
    """`compare` shows a bar whose pedal change has gone to another one."""
    one, other = (BarOutlook(n, EASY, 0, 0, 1, ((Fraction(1), 60),)) for n in (1, 2))
    pairs = (BarPair(one, bar(1, EASY, 60)), BarPair(bar(2, EASY, 60), other))
    assert of(total(EASY), total(EASY), *pairs) == (
        "the same notes judged, pedalled or spelled differently in bars 1 and 2",
    )


def test_a_bounded_search_is_said_where_its_changes_are() -> None:
    bounded = replace(total(EASY, changes=8), note="The search was bounded")
    same = BarPair(bar(1, EASY, 60), bar(1, EASY, 60))
    assert of(total(EASY), bounded, same) == ("8 pedal changes instead of 3 (the fewest found)",)
    assert of(replace(bounded, changes=3), total(EASY), same) == ()
