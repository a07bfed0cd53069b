"""Repeats, endings, D.C. and D.S. unfolded once: the measures in the order in which they are played.

After D.C. and D.S. repeats are not taken again, and of endings the last one is played (common practice, no source).
Where the numbers of endings leave one out, the nearest one is played, so that no bar is lost.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from livepedal.sources.raw import Refused
from livepedal.sources.scores.measures import Column

MAX_BARS = 100_000  # as played
MAX_TIMES = 100  # that a repeat may be played
_TOO_LONG = f"is more than {MAX_BARS:,} bars long as played, which is too long; export a shorter passage."


def played(columns: Sequence[Column]) -> Iterator[int]:
    """The measures in the order in which they are played.

    Raises:
        Refused: they are more than any piece has.
    """
    at = start = count = 0
    times = 1  # which time the open repeat is being played
    returned = False  # after D.C. or D.S.
    segno = next((n for n, column in enumerate(columns) if column.segno), 0)
    codas = [n for n, column in enumerate(columns) if column.coda]
    jumps = {
        n + _early(columns, n): 0 if column.da_capo else segno
        for n, column in enumerate(columns)
        if column.da_capo or column.dal_segno
    }
    while at < len(columns):
        column = columns[at]
        if column.forward and at != start:
            start, times = at, 1
        endings = _endings(columns, at)
        last_ending = max(endings, default=0)
        last = not column.endings or max(column.endings) == last_ending
        nearest = min(endings, key=lambda number: abs(number - times), default=0)
        if column.endings and ((not last) if returned else nearest not in column.endings):
            at += 1
            continue
        count += 1
        if count > MAX_BARS:
            raise Refused(_TOO_LONG)
        yield at
        if column.times and not returned:
            if times < max(column.times, last_ending):
                times += 1
                at = start
                continue
            if last:
                start, times = at + 1, 1
        if returned and column.fine:
            return
        if returned and column.to_coda and (coda := next((n for n in codas if n > at), None)) is not None:
            at = coda
            continue
        if not returned and at in jumps:
            returned, at = True, jumps[at]
            continue
        at += 1
        if column.endings and not (at < len(columns) and columns[at].endings):  # the last ending is over
            start, times = at, 1


def _early(columns: Sequence[Column], at: int) -> bool:
    """Whether D.C. or D.S. stands in the bar before the one whose sign of repetition it belongs to."""
    return not columns[at].times and any(one.times and not one.forward for one in columns[at + 1 : at + 2])


def _endings(columns: Sequence[Column], at: int) -> set[int]:
    """The numbers in the rest of this row of endings."""
    found: set[int] = set()
    while at < len(columns) and columns[at].endings:
        found |= columns[at].endings
        at += 1
    return found
