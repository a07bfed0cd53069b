"""What a bar asks of the feet and hands, against the figures worked out by hand in recordings/README.md."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from livepedal import check_file
from livepedal.advice.report import LayerCount, PartReport
from livepedal.advice.strip import BarLoad, gaps_of, hands_judged, loads_of
from livepedal.harp import Figures
from livepedal.model.findings import Layer

RECORDINGS = Path(__file__).parents[2] / "recordings"
ALL = sorted(RECORDINGS.glob("*.mid"))
FIGURES = Figures.builtin()
WORKING = FIGURES.player("working")


@cache
def judged(path: Path) -> tuple[PartReport, ...]:
    return check_file(path, only=("pedals",)).files[0].parts


def loads(name: str) -> dict[int, BarLoad]:
    (path,) = RECORDINGS.glob(f"*-{name}.mid")
    return dict(loads_of(judged(path)[0], WORKING, FIGURES.ringing))


def test_the_gap_of_the_revised_figure_is_the_one_worked_out_by_hand() -> None:
    # recordings/README.md, 05: "a note of the harmony between G and G♯ leaves 0.255 s: 0.17 s will do".
    gaps = [load.tightest for load in loads("paddle-wheel-revised").values()]
    assert {(gap.available, gap.needed) for gap in gaps if gap} == {(255_000, 170_000)}


def test_a_gap_too_short_is_told_as_it_is() -> None:
    # recordings/README.md, 05, of the same figure: a semiquaver is 0.15 s, and a key is down for 0.045 s.
    gaps = [load.tightest for load in loads("paddle-wheel").values()]
    for gap in gaps[:2]:
        assert gap is not None
        assert (gap.available, gap.needed) == (150_000 - 45_000, 170_000)
        assert not gap.change.possible


def test_an_audible_change_has_no_gap() -> None:
    # recordings/README.md, 12: G3 and A2 are down while G♯4 is struck.
    (load,) = loads("moored").values()
    assert load.tightest is not None
    assert load.tightest.change.audible
    assert load.tightest.available <= 0


def test_two_changes_of_one_foot_are_held_against_its_cycle() -> None:
    # recordings/README.md, 02: two right-foot changes within 1.00 s; Volpé Bligh: two a second and foot.
    load = loads("upstream")[1]
    assert load.tightest is not None
    assert load.tightest.before is not None
    assert load.tightest.needed == 500_000
    assert 500_000 <= load.tightest.available <= 1_000_000


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_every_change_is_in_the_bar_where_the_foot_starts(path: Path) -> None:
    for part in judged(path):
        counted = Counter(part.place(change.us).bar for change in part.plan.changes)
        found = loads_of(part, WORKING, FIGURES.ringing)
        assert {bar: len(load.changes) for bar, load in found.items()} == counted


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_a_quiet_change_has_the_time_that_it_needs(path: Path) -> None:
    """The plan and the gaps are two ways to say the same: only audible or impossible changes are short of time."""
    for part in judged(path):
        for gap in gaps_of(part, WORKING, FIGURES.ringing):
            if gap.change.possible and not gap.change.audible and (gap.before is None or gap.before.possible):
                assert gap.available >= gap.needed, gap


def test_hands_are_told_where_they_were_judged_and_nowhere_else() -> None:
    (path,) = RECORDINGS.glob("*-paddle-wheel.mid")
    part = judged(path)[0]
    assert not hands_judged(part)
    assert {load.hands for load in loads_of(part, WORKING, FIGURES.ringing).values()} == {None}
    layer = Layer.HANDS
    finding = replace(part.findings[0], layer=layer)
    counts = tuple(replace(count, layers=(*count.layers, LayerCount(layer, 1, 0))) for count in part.counts)
    changes: dict[str, Any] = {"counts": counts, "findings": (finding, *part.findings[1:])}
    with_hands = loads_of(replace(part, **changes), WORKING, FIGURES.ringing)
    assert hands_judged(replace(part, **changes))
    assert [bar for bar, load in with_hands.items() if load.hands is False] == [part.place(finding.us).bar]
    assert with_hands[4].hands is True
