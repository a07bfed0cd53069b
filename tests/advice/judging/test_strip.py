"""The tightest gap of a bar, against the figures worked out by hand in recordings/README.md."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from livepedal import check_file
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.tightness import Gap, gaps_of, tightest_gaps
from livepedal.harp import Figures
from tests.places import RECORDINGS

ALL = sorted(RECORDINGS.glob("*.mid"))
FIGURES = Figures.builtin()
WORKING = FIGURES.player("working")


@cache
def judged(path: Path) -> tuple[PartReport, ...]:
    return check_file(path, only=("pedals",)).files[0].parts


def gaps(name: str) -> dict[int, Gap]:
    (path,) = RECORDINGS.glob(f"*-{name}.mid")
    return dict(tightest_gaps(judged(path)[0], WORKING, FIGURES.ringing))


def test_the_gap_of_the_revised_figure_is_the_one_worked_out_by_hand() -> None:
    # recordings/README.md, 05: "a note of the harmony between G and G♯ leaves 0.255 s: 0.17 s will do".
    found = gaps("paddle-wheel-revised").values()
    assert {(gap.available, gap.needed) for gap in found} == {(255_000, 170_000)}


def test_a_gap_too_short_is_told_as_it_is() -> None:
    # recordings/README.md, 05, of the same figure: a semiquaver is 0.15 s, and a key is down for 0.045 s.
    (path,) = RECORDINGS.glob("*-paddle-wheel.mid")
    given_up = [
        gap
        for gap in gaps_of(judged(path)[0], WORKING, FIGURES.ringing)
        if not gap.change.possible and gap.before is None
    ]
    assert given_up
    for gap in given_up:
        assert (gap.available, gap.needed) == (150_000 - 45_000, 170_000)


def test_an_audible_change_has_no_gap() -> None:
    # recordings/README.md, 12: G3 and A2 are down while G♯4 is struck.
    (gap,) = gaps("moored").values()
    assert gap.change.audible
    assert gap.available <= 0


def test_two_changes_of_one_foot_are_held_against_its_cycle() -> None:
    # recordings/README.md, 02: two right-foot changes within 1.00 s; Volpé Bligh: two a second and foot.
    gap = gaps("upstream")[1]
    assert gap.before is not None
    assert gap.needed == 500_000
    assert 500_000 <= gap.available <= 1_000_000


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_a_gap_is_in_the_bar_where_the_foot_starts(path: Path) -> None:
    for part in judged(path):
        bars = {part.place(change.us).bar for change in part.plan.changes}
        found = tightest_gaps(part, WORKING, FIGURES.ringing)
        assert set(found) <= bars
        for bar, gap in found.items():
            assert part.place(gap.change.us).bar == bar


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_a_quiet_change_has_the_time_that_it_needs(path: Path) -> None:
    """The plan and the gaps are two ways to say the same: only audible or impossible changes are short of time."""
    for part in judged(path):
        for gap in gaps_of(part, WORKING, FIGURES.ringing):
            if gap.change.possible and not gap.change.audible and (gap.before is None or gap.before.possible):
                assert gap.available >= gap.needed, gap
