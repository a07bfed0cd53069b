"""Findings told as one: issue 21 asks for one line where they are of one kind, on the same notes, in one passage."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from livepedal import check_file
from livepedal.advice.judging.groups import groups_of
from livepedal.harp import HarpString
from livepedal.model.findings import Kind, Layer, Passage, Verdict
from livepedal.model.hands import StringFault
from tests.places import EVERY_RECORDING
from tests.views.making import SECOND, finding

RECORDINGS = EVERY_RECORDING
PASSAGES = tuple(Passage(n * SECOND, n * SECOND, (n + 1) * SECOND, Verdict.EASY, False, 1) for n in (0, 10))


def again(number: int, us: int, available: int = 150_000, pitch: int = 45, **changes: object):
    """A2 again after so many µs, where 167 ms are needed (six strokes a second)."""
    fault = StringFault(pitch, HarpString.parse("A2"), 167_000, available, 1, ())
    made = {"kind": Kind.STRING_AGAIN, "layer": Layer.HANDS, "note": pitch, "string": fault}
    made |= {"needed": 167_000, "available": available, "reasons": (), "pedal": None}
    return finding(number, us, **(made | changes))


def test_one_kind_on_the_same_notes_in_one_passage_is_one_group() -> None:
    same = [again(1, 0), again(2, 200_000, available=100_000), again(3, 400_000)]
    (group,) = groups_of(same, PASSAGES)
    assert group.findings == tuple(same)
    assert group.worst is same[1]
    assert (group.number, group.attacks, group.notes) == (1, 3, (45,))


@pytest.mark.parametrize(
    "other",
    [
        again(2, 10 * SECOND),  # in the next passage
        again(2, 200_000, pitch=47),  # another note
        again(2, 200_000, kind=Kind.PEDAL_TIME, string=None),  # another kind
        again(2, 200_000, audible=True),  # one of them can be heard and no more
    ],
)
def test_anything_else_is_a_group_of_its_own(other) -> None:
    assert len(groups_of([again(1, 0), other], PASSAGES)) == 2


def test_the_worst_come_first_by_how_much_is_missing() -> None:
    little = again(1, 0, available=160_000)
    much = again(2, 200_000, available=20_000, pitch=47)
    never = again(3, 400_000, pitch=48, needed=None, available=None)  # time is not the matter
    heard = again(4, 500_000, available=0, pitch=50, audible=True, verdict=Verdict.UNPLAYABLE)
    worse = replace(again(5, 600_000, available=165_000, pitch=52), verdict=Verdict.UNPLAYABLE)
    found = groups_of([little, much, never, heard, worse], PASSAGES)
    assert [group.worst.id for group in found] == [5, 3, 2, 1, 4]
    assert [group.number for group in found] == [1, 2, 3, 4, 5]


@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_every_finding_is_in_one_group_in_order_of_time(path: Path) -> None:
    for part in check_file(path, player="relaxed", only=("pedals", "strings")).files[0].parts:
        ids = [one.id for group in part.groups for one in group.findings]
        assert sorted(ids) == sorted(one.id for one in part.findings)
        for group in part.groups:
            assert [one.us for one in group.findings] == sorted(one.us for one in group.findings)
