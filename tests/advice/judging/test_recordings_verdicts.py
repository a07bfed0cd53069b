"""The bundled recordings get the verdicts that were worked out for them by hand (recordings/README.md: trade facts
and published figures stand there, with their sources, beside each argument).
"""

from __future__ import annotations

import re

import pytest

from livepedal.advice.check import check_file
from livepedal.model.findings import Verdict
from tests.places import RECORDINGS

FOLDER = RECORDINGS
ROW = re.compile(r"^\| \[([^\]]+)\]\([^)]+\) \|[^|]*\| ([^|]+) \| ([^|]+) \|", re.M)
ROWS = ROW.findall((FOLDER / "README.md").read_text(encoding="utf-8"))


@pytest.mark.parametrize(("name", "feet", "whole"), ROWS, ids=[row[0] for row in ROWS])
def test_the_verdict_is_the_one_worked_out_by_hand(name: str, feet: str, whole: str) -> None:
    for layers, claimed in ((("pedals",), feet), ((), whole)):
        (file,) = check_file(FOLDER / name, only=layers).files
        told = [
            part.verdict.word
            + (", audible" if part.audible and part.verdict is not Verdict.UNPLAYABLE else "")
            for part in file.parts
        ]
        # "easy, easy": one for each part.
        assert ", ".join(told) == claimed.strip()


def test_there_are_rows() -> None:
    assert len(ROWS) == len(list(FOLDER.glob("*.mid")))


@pytest.mark.slow
@pytest.mark.parametrize("name", [row[0] for row in ROWS])
def test_whoever_is_chosen_the_verdict_and_what_each_player_meets_are_the_same(name: str) -> None:
    """Too much at once, too, which comes from each player's own pedal changes and hands."""
    told = [
        [(part.verdict, part.counts, [p.verdict for p in part.passages]) for part in file.parts]
        for player in ("relaxed", "working", "virtuoso")
        for file in check_file(FOLDER / name, player=player).files
    ]
    assert told[0] == told[1] == told[2]
