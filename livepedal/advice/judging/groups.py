"""Findings told as one: those of one kind, on the same notes, within one passage.

A string that repeats too fast for seven bars is one trouble for whoever reads the report, however many attacks it has.
Each finding stays what it is, in the JSON and to the model.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from livepedal.model.findings import Finding, Kind, Passage, worst_first


@dataclass(frozen=True, slots=True)
class Group:
    """Findings that are told as one.

    Attributes:
        number: among those of the part, the worst first, from 1.
        findings: in order of time.
        worst: the one of them to tell.
    """

    number: int
    findings: tuple[Finding, ...]
    worst: Finding

    @property
    def attacks(self) -> int:
        """How many attacks they are about."""
        return len({finding.us for finding in self.findings})

    @property
    def notes(self) -> tuple[int, ...]:
        """The notes (MIDI) that they all name."""
        return notes_of(self.worst)


def groups_of(findings: Sequence[Finding], passages: Sequence[Passage]) -> tuple[Group, ...]:
    """The findings of a part in groups, the worst first. passages: those of the part, in order."""
    starts = [passage.start for passage in passages]
    found: dict[tuple[object, ...], list[Finding]] = {}
    for finding in sorted(findings, key=lambda one: (one.us, one.id)):
        passage = bisect_right(starts, finding.us)
        key = (finding.kind, finding.audible, passage, notes_of(finding))
        found.setdefault(key, []).append(finding)
    ordered = sorted(
        ((min(some, key=worst_first), some) for some in found.values()), key=lambda one: worst_first(one[0])
    )
    return tuple(Group(number, tuple(some), worst) for number, (worst, some) in enumerate(ordered, 1))


def notes_of(finding: Finding) -> tuple[int, ...]:
    """The notes (MIDI) that a finding names, upwards; none where it is about a whole passage."""
    if finding.load is not None:
        return ()
    if finding.hands is not None:
        return tuple(sorted(finding.hands.pitches))
    if finding.kind is Kind.ONE_LETTER:
        others = {pitch for reason in finding.reasons for pitch in reason.other_pitches}
        return tuple(sorted({finding.note, *others} & set(finding.pitches)))
    return (finding.note,)
