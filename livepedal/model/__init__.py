"""The rolling model: readings, feet, findings. A state machine without I/O, clock or threads."""

from livepedal.model.findings import (
    ChangeView,
    Constraint,
    Finding,
    Kind,
    Layer,
    NextNote,
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
    "ChangeView",
    "Constraint",
    "Finding",
    "Kind",
    "Layer",
    "Monitor",
    "NextNote",
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
