"""Fixtures of the live tests."""

from __future__ import annotations

from tests.live.jack import own_server, server

__all__ = ["own_server", "server"]
