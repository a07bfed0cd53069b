"""When a string is free: the rule by itself, case by case (model/feet/free.py says it in words)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livepedal.harp import Figures, Ringing
from livepedal.model.feet.free import FreeRule

MS = 1_000
# flick 150 ms, settle 20 ms, overlap 80 ms, grip 60 ms
WORKING = replace(Figures.builtin().player("working"), damp=200 * MS)
# A string at 60 and above has died away after 4 s; one at 30 and below is loud for 1 s.
RINGING = Ringing(((30, 10_000 * MS), (60, 4_000 * MS)), ((30, 1_000 * MS), (43, 0)))
HELD, SLIDING = FreeRule.held(WORKING, RINGING), FreeRule.sliding(WORKING, RINGING)


@pytest.mark.parametrize(
    ("pitch", "released", "latest", "held", "sliding"),
    [
        (60, 500, 0, 500, 60),
        (60, 40, 0, 40, 40),  # let go within the grip: free under both
        (60, 580, 500, 500, 60),  # legato runs over the next attack
        (60, 581, 500, 581, 60),
        (60, 70, 0, 70, 60),  # the attack of the note itself is no later one
        (60, None, 0, 4_000, 60),  # died away
        (60, 5_000, 4_900, 4_000, 60),
        (30, 500, 0, 1_000, 60),  # a wire string, loud though its key is up
        (30, 1_500, 0, 1_500, 60),
        (30, 40, 0, 1_000, 40),
        (43, 500, 0, 500, 60),  # the first string that is never loud
    ],
)
def test_when_a_string_is_free(
    pitch: int, released: int | None, latest: int, held: int, sliding: int
) -> None:
    up = None if released is None else released * MS
    assert HELD.free(pitch, 0, up, latest * MS) == held * MS
    assert SLIDING.free(pitch, 0, up, latest * MS) == sliding * MS


@pytest.mark.parametrize(
    ("free", "attack", "damped"),
    [
        (900, 1_000, 800),  # the finger is back 200 ms before
        (700, 1_000, 700),  # it was free anyway
        (200, 230, 60),  # not within the grip
        (230, 280, 80),
    ],
)
def test_a_string_that_is_plucked_again_is_damped_before(free: int, attack: int, damped: int) -> None:
    assert HELD.damped(free * MS, 0, attack * MS) == damped * MS
    assert SLIDING.damped(60 * MS, 0, attack * MS) == 60 * MS
    # Who takes longer over a change than the finger damps must have begun before.
    slow = FreeRule.held(replace(WORKING, flick=181 * MS), RINGING)
    assert slow.damped(free * MS, 0, attack * MS) == free * MS
