"""Fixtures of the live tests."""

from __future__ import annotations

import pytest

from tests.live.jack import own_server, server

__all__ = ["own_server", "server"]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What plays in real time comes first: it takes longest, and one worker is to be at it from the start."""
    items.sort(key=lambda item: {"own_server", "server"}.isdisjoint(getattr(item, "fixturenames", ())))
