"""Repeats, endings, D.C. and D.S. unfolded once: the measures in the order in which they are played.

After D.C. and D.S. repeats are not taken again, and of endings the last one is played (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from livepedal.sources.raw import Refused
from livepedal.sources.scores.measures import Column

MAX_BARS = 100_000  # as played
MAX_TIMES = 100  # that a repeat may be played


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
    while at < len(columns):
        column = columns[at]
        if column.forward and at != start:
            start, times = at, 1
        last_ending = _last_ending(columns, at)
        last = not column.endings or max(column.endings) == last_ending
        if column.endings and ((not last) if returned else times not in column.endings):
            at += 1
            continue
        count += 1
        if count > MAX_BARS:
            raise Refused(
                f"is more than {MAX_BARS:,} bars long as played, which is too long; export a shorter passage."
            )
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
        if not returned and (column.da_capo or column.dal_segno):
            returned = True
            at = 0 if column.da_capo else segno
            continue
        at += 1


def _last_ending(columns: Sequence[Column], at: int) -> int:
    """The highest number in this row of endings; 0 where there is none."""
    most = 0
    while at < len(columns) and columns[at].endings:
        most = max(most, *columns[at].endings)
        at += 1
    return most
