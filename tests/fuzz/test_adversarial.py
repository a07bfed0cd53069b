"""Music that no one plays is judged too, and soon: a few notes of each kind, and what made the search explode."""

from __future__ import annotations

import pytest

from livepedal import check_file
from livepedal.model.findings import Verdict
from tests.fuzz import adversarial

PIECES = dict(adversarial.pieces(scale=100))
EASY = {"one pitch, 10,000 times at once", "waits of an hour"}


@pytest.mark.slow
@pytest.mark.parametrize("name", PIECES)
def test_is_judged(name: str) -> None:
    (part,) = check_file(PIECES[name]).files[0].parts
    assert part.attacks
    if name in EASY:
        assert part.verdict is Verdict.EASY
    if "128" in name or "20,000" in name:
        assert part.verdict is Verdict.UNPLAYABLE


def test_a_chord_in_every_octave_is_decided() -> None:
    """C♯ minor, each of its pitch classes on either of two letters."""
    thirds = [pitch for pitch in range(24, 104) if pitch % 12 in (1, 4, 8)]
    data = adversarial.midi([(at * 960, pitch, 900) for at in range(2) for pitch in thirds])
    (part,) = check_file(data, only=["pedals"]).files[0].parts
    assert part.bounded == 0
    assert part.verdict is Verdict.EASY
