"""How wide the bars of the timeline are, and which bars are drawn.

A bar is as wide as its attacks need, whatever the tempo, within limits: 5 to 8 fit a screen of 1280, two a telephone,
and 30 at the most a sheet of A4. One with very many attacks goes on in a second drawing, and bars in which nothing
happens are folded into one rest.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from itertools import pairwise

from livepedal.advice.judging.report import PartReport
from livepedal.harp import Ringing
from livepedal.music.attacks import Gathered
from livepedal.views.page.timeline import BAR, INSET, Drawing

WIDEST = 232  # a drawing, in CSS pixels, so that five stand on a screen of 1280
REST = 60  # wide enough to hide the names beside the bar after it
STEP = 8  # what a short gap between attacks should be wide
CLOSEST = 3  # and is at the least: a bar that cannot have it in one drawing has several
LONGEST_TAIL = 60_000_000  # µs; no string is heard so long


def end_of(attack: Gathered, pitch: int, release: int | None, ringing: Ringing) -> int:
    """When a note is over for the eye: its key is up, or it has died away."""
    dies_away = attack.us + min(ringing.ring(pitch), LONGEST_TAIL)
    return dies_away if release is None else min(release, dies_away)


def drawings_of(part: PartReport, ringing: Ringing) -> Iterator[Drawing]:
    """The drawings of a part, in order of time, with nothing in them."""
    if not part.music:
        return
    time_map = part.time_map
    busy: set[int] = set()
    struck: dict[int, list[int]] = {}
    for attack in part.music:
        end = max(end_of(attack, pitch, release, ringing) for pitch, release in attack.notes)
        # It is drawn where it is played, though what comes just before a bar line is told in the next bar.
        first = time_map.place(attack.us).bar
        struck.setdefault(first, []).append(attack.us)
        # What is let go on the bar line does not reach into the bar.
        busy.update(range(first, max(first, time_map.place(max(end - 1, attack.us)).bar) + 1))
    busy.update(time_map.place(change.us).bar for change in part.plan.changes)
    marks = {time_map.place_of_tick(mark.tick).bar for mark in time_map.marks}
    silent = min(min(busy), time_map.first_bar)
    for bar in sorted(busy):
        while silent < bar:
            # A rest ends where a rehearsal mark stands, as in a printed part.
            until = min((mark for mark in marks if silent < mark < bar), default=bar)
            start, end = time_map.us_of_bar(silent), time_map.us_of_bar(until)
            yield Drawing(silent, True, until - silent, start, end, REST)
            silent = until
        yield from _bar(part, bar, struck.get(bar, ()))
        silent = bar + 1


def number_at(drawings: Sequence[Drawing], us: int) -> int:
    """The number of the drawing that a moment lies in."""
    return max(bisect_right(drawings, us, key=lambda drawing: drawing.start) - 1, 0)


def _bar(part: PartReport, bar: int, struck: Sequence[int]) -> Iterator[Drawing]:
    """A bar, with attacks at these moments, in drawings that are not too wide, cut at beats where it can be."""
    start, end = part.time_map.us_of_bar(bar), part.time_map.us_of_bar(bar + 1)
    gaps = sorted(later - sooner for sooner, later in pairwise(struck))
    # Most gaps between attacks are to be seen; time runs at one scale within a bar.
    short = max(gaps[len(gaps) // 5], 1) if gaps else end - start
    wanted, least = ((end - start) * step / short + INSET for step in (STEP, CLOSEST))
    if least <= WIDEST:
        yield Drawing(bar, True, 0, start, end, round(min(max(wanted, BAR), WIDEST)))
        return
    scale = (least - INSET) / (end - start)
    beats = [part.time_map.us_of_bar(bar, beat) for beat in range(2, part.time_map.metre(start)[0] + 1)]
    at = start
    while at < end:
        most = at + int((WIDEST - INSET) / scale)
        fits = [beat for beat in beats if at < beat <= most]
        until = end if end <= most else fits[-1] if fits else most
        yield Drawing(bar, at == start, 0, at, until, round(max((until - at) * scale + INSET, REST)))
        at = until
