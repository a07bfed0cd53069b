"""Smears: a pedal that moves while its letter still rings in some octave.

There are no dampers: strings ring until they are muffled by hand or die away, the lower the longer (Volpé
Bligh, item 5), and a pedal moves its letter in every octave (Berlioz, p. 83). So a change can be heard on
strings that nobody wants any more. A player may muffle them, and often others cover it; so this is a
*remark*, graded in words by how much of the ring is left, and never an audible change: that is one whose own
string is still wanted. What of a string's ring is left is taken to fall evenly from its pluck until it has
died away (harp/ringing.py); neither that nor the two grades has a source (figures.toml, [smear]).

A string that only the sustain pedal holds rings on in the same way, so it counts as ringing, and is not told apart.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from enum import StrEnum
from operator import itemgetter

from livepedal.harp import NEVER, HarpString, Pedal, Position, Ringing, SmearFigures, Spelling


class SmearGrade(StrEnum):
    """How well a smear is heard."""

    FAINT = "faint"
    CLEAR = "clear"


@dataclass(frozen=True, slots=True)
class Smear:
    """One pedal change that is heard on ringing strings.

    us: the moment of the change (µs). string, position: the one with most of its ring left, as it was
    plucked. left: how much of its ring is left, in hundredths.
    """

    us: int
    pedal: Pedal
    string: HarpString
    position: Position
    left: int
    grade: SmearGrade


def smears(
    plucks: Iterable[tuple[int, Spelling]],
    changes: Iterable[tuple[int, Pedal]],
    ringing: Ringing,
    figures: SmearFigures,
    damped: Collection[tuple[int, int]] = (),
) -> tuple[Smear, ...]:
    """The smears of a whole part.

    Args:
        plucks: (µs, spelling) of each note as it is played.
        changes: (µs, pedal) of each pedal change that is not audible anyway. Plucks and changes may come in any order;
            at the same moment the change comes first.
        ringing: how long strings sound.
        figures: what counts as a smear.
        damped: the notes (µs, pitch) whose strings do not ring on.
    """
    sounding: dict[Pedal, dict[HarpString, tuple[int, Spelling]]] = {pedal: {} for pedal in Pedal}
    waiting = sorted(plucks, key=lambda pluck: pluck[0])
    found: list[Smear] = []
    done = 0
    for us, pedal in sorted(changes):
        while done < len(waiting) and waiting[done][0] < us:
            then, spelling = waiting[done]
            if (then, spelling.pitch) in damped:
                sounding[spelling.pedal].pop(spelling.string, None)
            elif not spelling.fixed:
                sounding[spelling.pedal][spelling.string] = then, spelling
            done += 1
        rings = [(_left(ringing.ring(one.pitch), us - then), one) for then, one in sounding[pedal].values()]
        left, most = max(rings, key=itemgetter(0), default=(-1, None))
        if most is not None and left >= round(100 * figures.faint):
            grade = SmearGrade.CLEAR if left >= round(100 * figures.clear) else SmearGrade.FAINT
            found.append(Smear(us, pedal, most.string, most.position, left, grade))
    return tuple(found)


def _left(ring: int, since: int) -> int:
    """How much of a string's ring is left (hundredths)."""
    return 100 if ring >= NEVER else max(0, 100 - 100 * since // ring)
