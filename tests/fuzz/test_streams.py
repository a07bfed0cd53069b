"""Bad streams, a fixed few; `python -m tests.benchmarks.fuzz wire` and `live` send millions."""

from __future__ import annotations

import pytest

from tests.fuzz import streams


def test_the_parser_on_random_bytes_and_messages() -> None:
    assert "heard" in streams.through_the_parser(20_000, seed=3)


@pytest.mark.parametrize("seed", [1, 2])
def test_a_session_on_random_messages(seed: int) -> None:
    """No exception, a whole journal, and no key that stays down after all-notes-off."""
    assert "journal whole" in streams.through_a_session(1_500, seed, check_every=100)
