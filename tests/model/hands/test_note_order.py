"""Notes of one attack may reach the program in any order (a standard MIDI file says nothing of the order of events at
one tick, SMF 1.0): verdicts must not hang on it.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest

from livepedal.model.findings import Finding, keep
from livepedal.model.watching import Monitor
from livepedal.music.events import NoteOff, NoteOn
from tests.judge.cpsat import Passage

from .playing import FIGURES, HARP
from .sequences import passages


def told(passage: Passage, order: Sequence[Sequence[int]]) -> tuple[object, ...]:
    """What the monitor says of a passage whose attacks' notes come in this order."""
    monitor = Monitor(FIGURES, HARP)
    found: dict[int, Finding] = {}
    ends: list[tuple[int, int]] = []
    for attack, pitches in zip(passage.attacks, order, strict=True):
        for us, pitch in sorted(end for end in ends if end[0] <= attack.time):
            monitor.feed(NoteOff(us, pitch))
        ends = [end for end in ends if end[0] > attack.time]
        for pitch in pitches:
            keep(found, monitor.feed(NoteOn(attack.time, pitch)))
        ends += [(note.release, note.pitch) for note in attack.notes if note.release is not None]
    keep(found, monitor.finish())
    assert set(monitor.snapshot().findings) == set(found.values())
    return (
        sorted((f.us, f.layer, f.verdict, f.audible) for f in found.values()),
        monitor.counts(),
        monitor.passages,
    )


@pytest.mark.parametrize("passage", list(passages(60, 11)), ids=lambda passage: passage.kind)
def test_verdicts_do_not_hang_on_the_order_of_notes(passage: Passage) -> None:
    rng = random.Random(passage.kind)
    upwards = [sorted(note.pitch for note in attack.notes) for attack in passage.attacks]
    first = told(passage, upwards)
    assert told(passage, [pitches[::-1] for pitches in upwards]) == first
    assert told(passage, [rng.sample(pitches, len(pitches)) for pitches in upwards]) == first


def test_every_finding_of_the_working_player_is_an_attack_that_is_counted() -> None:
    taken_back = 0
    for passage in passages(60, 12):
        monitor = Monitor(FIGURES, HARP)
        found: dict[int, Finding] = {}
        for attack in passage.attacks:
            for pitch in sorted((note.pitch for note in attack.notes), reverse=True):
                said = monitor.feed(NoteOn(attack.time, pitch))
                taken_back += sum(finding.withdrawn for finding in said)
                keep(found, said)
        keep(found, monitor.finish())
        working = monitor.counts()[1]
        unplayable = {finding.us for finding in found.values() if not finding.audible}
        assert len(unplayable) == working.unplayable
        assert len({finding.us for finding in found.values()}) == working.unplayable + working.audible
    assert taken_back  # the music has places where it matters
