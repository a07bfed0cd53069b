"""The rolling model: readings, feet, findings. A state machine without I/O, clock or threads."""

from livepedal.model.findings import (
    Constraint,
    Finding,
    Kind,
    Layer,
    NoteView,
    Outcome,
    Passage,
    PedalView,
    PlayerCount,
    Reason,
    Snapshot,
    Verdict,
    grade,
    worst,
)
from livepedal.model.monitor import Monitor

__all__ = [
    "Constraint",
    "Finding",
    "Kind",
    "Layer",
    "Monitor",
    "NoteView",
    "Outcome",
    "Passage",
    "PedalView",
    "PlayerCount",
    "Reason",
    "Snapshot",
    "Verdict",
    "grade",
    "worst",
]
