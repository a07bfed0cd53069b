"""The players and harps that come built in, and the two that music is judged for unless others are chosen.

They stand here because `livepedal --help` must be quick, and figures take their time to load.
"""

PLAYERS = ("relaxed", "working", "virtuoso")
"""Slowest first: the three of the verdicts."""

PLAYER = "working"

HARPS = ("47", "46", "44", "40")
"""By their strings, largest first."""

HARP = "47"
