"""Proofreading a printed pedalling: does each note's string stand right by the marks, and is each mark in its place?

The marks are a plan that somebody else has made. Each letter is followed by itself (letters.py). A proofreader follows
what stands there, so this is not the search that makes plans; that the two agree is a test.

A mark is where the foot moves. A mark of all seven pedals (a diagram) says how they stand from there on, so its
changes are made before, as soon as their strings are free. Changes of one foot come one after another, in the order
in which they are printed, as the player's `cycle` allows (harp/players.py); each takes its flick and is settled
before the note that needs it. When a string is free is found as for the verdict (model/feet/free.py).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from livepedal.advice.judging.basis import Basis
from livepedal.advice.proofreading.letters import Change, Letter, Set, Use, uses_of
from livepedal.advice.proofreading.slips import Fault, Printed, Slip
from livepedal.harp import Pedal, Player
from livepedal.model.feet.free import FreeRule
from livepedal.music.attacks import Gathered
from livepedal.music.pedal_words import PedalMark
from livepedal.music.timemap import TimeMap

MARGIN = 1000  # µs: a mark is a place on paper, and none is wrong by less (judgement)


def proofread(
    marks: Sequence[PedalMark],
    attacks: Sequence[Gathered],
    key: int | None,
    time_map: TimeMap,
    basis: Basis,
) -> Printed:
    """Follow the marks through the music.

    Args:
        marks: as printed.
        attacks: as gathered, in order.
        key: fifths of the key signature, by which notes are written that are not asked for.
        time_map: of the part.
        basis: with the strings that the notes are printed on, as for a judgement.
    """
    rule = FreeRule.held(basis.chosen, basis.figures.ringing)
    uses, others = uses_of(marks, attacks, basis.asked or {}, key, basis.instrument, rule)
    faults: list[Fault] = []
    changes: list[Change] = []
    for pedal in Pedal:
        sets = [
            Set(mark.us, position, mark.whole)
            for mark in marks
            for marked_pedal, position in mark.stands
            if marked_pedal is pedal
        ]
        letter = Letter(pedal, sets, uses[pedal], others[pedal], time_map)
        faults += letter.faults
        changes += letter.changes
    late = {(fault.us, fault.pedal) for fault in faults if fault.slip in (Slip.LATE, Slip.EARLY)}
    faults += _hurried(
        [change for change in changes if (change.us, change.pedal) not in late], uses, basis.chosen, rule
    )
    first = marks[0].us if marks else 0
    shown = sorted(
        (fault for fault in faults if fault.us >= first), key=lambda fault: (fault.us, fault.pedal)
    )
    return Printed(tuple(marks), tuple(shown), len(faults) - len(shown), len(changes))


def _hurried(
    changes: Sequence[Change], uses: Mapping[Pedal, Sequence[Use]], player: Player, rule: FreeRule
) -> Iterator[Fault]:
    """Changes that the player has no time for, and audible ones."""
    jobs: list[tuple[int, int, Change]] = []
    for change in changes:
        before = [use for use in uses[change.pedal] if use.us < change.us]
        free = max((_free(use, uses[change.pedal], change, rule) for use in before), default=0)
        jobs.append((min(change.us, free) if change.whole else change.us, free, change))
    last: dict[str, int] = {}
    for release, free, change in sorted(jobs, key=lambda job: (job[0], job[2].by or 0, job[2].pedal)):
        foot = change.pedal.foot.value
        start = max(release, last[foot] + player.cycle) if foot in last else release
        last[foot] = start
        lead = player.leads[abs(change.goal - change.start)]
        if change.by is not None and start + lead > change.by + MARGIN:
            needed, there = start - release + lead, change.by - release
            yield Fault(
                Slip.HURRIED,
                change.us,
                change.pedal,
                change.goal,
                change.start,
                change.by,
                needed,
                max(0, there),
            )
        elif free > start + MARGIN:
            yield Fault(
                Slip.AUDIBLE,
                change.us,
                change.pedal,
                change.goal,
                change.start,
                needed=free - start,
                pitch=_ringing(uses[change.pedal], free),
            )


def _free(use: Use, uses: Sequence[Use], change: Change, rule: FreeRule) -> int:
    """When the string of a note is free for this change."""
    again = change.by is not None and any(
        other.us == change.by and other.pitch - other.position == use.pitch - use.position for other in uses
    )
    return rule.damped(use.free, use.us, change.by) if again and change.by is not None else use.free


def _ringing(uses: Sequence[Use], free: int) -> int | None:
    return next((use.pitch for use in uses if use.free == free), None)
