"""Two harp parts for one player: an orchestra often has one harp where the score asks for two.

The first part is the leading one and comes through whole. Of the second goes, in this order and only until
the player can play it: what both strike at once; octave doublings; inner notes. The outer voices of every
attack stay, but for those that double the first part in octaves (thinning.py). Where that does not help, nothing is
dropped, and the place is said. No note is moved, and a slower tempo is not tried.

Four fingers of each hand strike eight notes at once; the little finger does not reach (Berlioz, Grand traité;
Rimsky-Korsakov, ch. I). Attacks of more are thinned out to eight, and are said, since rolled they
may be playable whole; where those that stay are more than eight anyway, nothing is dropped for that.

Parts that alternate combine without loss, often better than they play as two, since a hand-over from one harp
to another is hard to make seamless; parts that double lose the doubling; parts that are busy at once do not
combine (common practice; harpcolumn.com, "When 2 become 1": choose the leading part and check
the pedals again).
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from heapq import merge
from itertools import groupby
from typing import Any

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import attacks_of, judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.values import place_dict, seconds
from livepedal.advice.two_harps.chair import Chair
from livepedal.advice.two_harps.score import Sounded, Staff, midi_bytes, sounded
from livepedal.advice.two_harps.share import judged, part_dict
from livepedal.advice.two_harps.thinning import Note, StruckNotes, struck_together, thinned
from livepedal.model.findings import Outcome
from livepedal.music.events import Event, NoteOn
from livepedal.music.song import Part
from livepedal.music.timemap import Place, TimeMap

NAME = "Harp"
ROUNDED = 2_000  # µs by which a moment of the new file may be earlier, since it is written in ticks
# Why bars cannot be combined.
TOGETHER = "one player cannot play both parts together there at this tempo"
FOLLOWING = "one player cannot play this right after the other part at this tempo"
TOO_MUCH = "together they have more pedal changes than one player can keep up at this tempo"


class Why(StrEnum):
    """Why a note was dropped."""

    TWICE = "struck by both"
    OCTAVE = "octave doubling"
    INNER = "inner note"


class Serves(StrEnum):
    """What works best for a place."""

    ONE = "one harp"
    TWO = "two harps"
    COMBINED = "combined"
    NEITHER = "none of the three"


@dataclass(frozen=True, slots=True)
class Dropped:
    """A note of the second part that is left out."""

    place: Place
    us: int
    pitch: int
    why: Why


@dataclass(frozen=True, slots=True)
class Recommendation:
    """Bars that are served best in one way. dropped: how many notes are lost there."""

    first_bar: int
    last_bar: int
    serves: Serves
    because: str
    dropped: int


@dataclass(frozen=True, slots=True)
class Combined:
    """Two parts made one.

    Attributes:
        parts: both as they are.
        dropped: what is left out of the second, in order.
        of_notes: how many notes it has.
        report: of the new file.
        data: that file.
        full: the bars in which notes were dropped for nothing but that there are too few fingers.
    """

    names: tuple[str, str]
    parts: tuple[PartReport, PartReport]
    dropped: tuple[Dropped, ...]
    of_notes: int
    advice: tuple[Recommendation, ...]
    report: PartReport
    data: bytes
    full: tuple[int, ...] = ()

    @property
    def impossible(self) -> list[Place]:
        """Where one player cannot play both parts, whatever is dropped."""
        return [self.report.place(us) for us in self.report.attacks_that(Outcome.CANNOT)]

    def to_dict(self) -> dict[str, Any]:
        """What the JSON (format livepedal-combine, version 1) has of it, besides where it was read and written."""
        return {
            "parts": [part_dict(report) for report in self.parts],
            "combined": part_dict(self.report),
            "dropped": [
                {**place_dict(drop.place), "seconds": seconds(drop.us), "note": drop.pitch, "why": drop.why.value}
                for drop in self.dropped
            ],
            "rolled_instead": [int(bar) for bar in self.full],
            "impossible": [place_dict(place) for place in self.impossible],
            "audible": [place_dict(self.report.place(us)) for us in self.report.attacks_that(Outcome.AUDIBLE)],
            "best": [
                {
                    "from_bar": int(one.first_bar),
                    "to_bar": int(one.last_bar),
                    "serves": one.serves.value,
                    "because": one.because,
                    "dropped": one.dropped,
                }
                for one in self.advice
            ],
        }


def combine_parts(
    first: Part,
    second: Part,
    title: str,
    basis: Basis,
    *,
    step: Callable[[int, int], None] = lambda done, total: None,
) -> Combined:
    """Make one part of two; the first leads.

    Args:
        first: the leading part.
        second: the second part.
        title: its title.
        basis: what it is judged on.
        step: called with (attacks done, attacks in all).
    """
    time_map = first.time_map
    events = list(_together(first.events, second.events))
    moments = attacks_of(events, basis.figures).moments
    notes = sounded(events, moments, basis.figures.lowest_note, max(first.end_us, second.end_us))
    attacks, twice = struck_together(notes)
    gone, full = thinned(attacks, Chair(basis), step)
    left = [
        note for number, one in enumerate(attacks) for note in one.notes if note not in gone.get(number, ())
    ]
    staves = [Staff(NAME, tuple(note.sounded for note in left))]
    data = midi_bytes(title, staves, time_map, first.keys)
    (report,) = judged(data, staves, basis, time_map.first_bar)
    parts = judge_part(first, basis), judge_part(second, basis)
    dropped = _told(twice, [(attacks[number], out) for number, out in gone.items()], time_map)

    def bar_of(us: int) -> int:
        """The bar of an attack; one just before a bar line counts as in the next."""
        return time_map.place(us + basis.figures.window.attack).bar

    struck = [note.sounded for attack in attacks for note in attack.notes if note.second]
    second_has = Counter(bar_of(note.us) for note in (*twice, *struck))
    return Combined(
        names=(first.name, second.name),
        parts=parts,
        dropped=tuple(dropped),
        of_notes=second_has.total(),
        advice=tuple(_advice(attacks, second_has, dropped, report, parts, bar_of)),
        report=report,
        data=data,
        full=tuple(sorted({bar_of(attacks[n].us) for n in full})),
    )


def _told(
    twice: Iterable[Sounded], gone: Iterable[tuple[StruckNotes, Iterable[Note]]], time_map: TimeMap
) -> list[Dropped]:
    """The notes that are dropped, in order: what both strike, and what goes of some attacks."""
    found = [(note, Why.TWICE) for note in twice]
    for attack, out in gone:
        doubling = set(attack.octaves())
        found += [(note.sounded, Why.OCTAVE if note in doubling else Why.INNER) for note in out]
    dropped = [Dropped(time_map.place(note.us), note.us, note.pitch, why) for note, why in found]
    return sorted(dropped, key=lambda one: (one.us, one.pitch))


def _stuck(report: PartReport, bar_of: Callable[[int], int]) -> dict[int, str]:
    """The bars that a part's player cannot play, each with why the parts cannot be combined there."""
    found = {
        bar: TOO_MUCH
        for load in report.loads
        if load.too_much
        for bar in range(bar_of(load.start), report.place(load.end).bar + 1)
    }
    return found | {bar_of(us): FOLLOWING for us in report.attacks_that(Outcome.CANNOT)}


def _clash(
    report: PartReport, attacks: Sequence[StruckNotes], bar_of: Callable[[int], int]
) -> dict[int, str]:
    """The bars with an attack of both parts that cannot be played, and that it is so."""
    moments = [attack.us for attack in attacks]
    stuck = {bisect_right(moments, us + ROUNDED) - 1 for us in report.attacks_that(Outcome.CANNOT)}
    return {
        bar_of(moments[number]): TOGETHER
        for number in stuck
        if len({note.second for note in attacks[number].notes}) > 1
    }


def _together(first: Iterable[Event], second: Iterable[Event]) -> Iterable[Event]:
    """The events of both in order of time, releases first; sources are even for the first part, odd for the second."""

    def marked(events: Iterable[Event], odd: int) -> Iterable[Event]:
        for event in events:
            source = getattr(event, "source", None)
            yield replace(event, source=2 * source + odd) if source is not None else event

    return merge(marked(first, 0), marked(second, 1), key=lambda event: (event.us, isinstance(event, NoteOn)))


def _advice(
    attacks: Sequence[StruckNotes],
    second_has: Mapping[int, int],
    dropped: Iterable[Dropped],
    report: PartReport,
    parts: Iterable[PartReport],
    bar_of: Callable[[int], int],
) -> Iterator[Recommendation]:
    """What serves each bar best; bars in a row that are served alike are one.

    Args:
        attacks: of both parts.
        second_has: how many notes the second part has in each bar.
        dropped: those of them that are left out.
        report: of the new part.
        parts: the two as they are.
        bar_of: the bar of a moment (µs).
    """
    alone = {
        bar: f"{one.name} cannot be played there even alone" for one in parts for bar in _stuck(one, bar_of)
    }
    cannot = _stuck(report, bar_of) | _clash(report, attacks, bar_of)
    slides = {bar_of(us) for us in report.attacks_that(Outcome.AUDIBLE)}
    lost: dict[int, list[Why]] = defaultdict(list)
    for drop in dropped:
        lost[bar_of(drop.us)].append(drop.why)
    best = [
        (bar, *_best(lost[bar], second_has[bar], cannot.get(bar), alone.get(bar), bar in slides))
        for bar in sorted({bar_of(attack.us) for attack in attacks})
    ]
    for (serves, because), group in groupby(best, key=lambda one: one[1:]):
        bars = [bar for bar, *_ in group]
        yield Recommendation(bars[0], bars[-1], serves, because, sum(len(lost[bar]) for bar in bars))


def _best(
    dropped: Sequence[Why], notes: int, cannot: str | None, alone: str | None, slides: bool
) -> tuple[Serves, str]:
    """What serves a bar best, and why.

    Args:
        dropped: why notes of the second part are left out.
        notes: how many it has.
        cannot: why one player cannot play the new part; None: they can.
        alone: that one of the parts cannot be played even by itself.
        slides: whether a pedal change will be heard in the new part.
    """
    if cannot:
        return (Serves.NEITHER, f"{alone}; revise it first") if alone else (Serves.TWO, cannot)
    if Why.INNER in dropped:
        if alone:
            return Serves.COMBINED, f"inner notes are lost; {alone}"
        return Serves.TWO, "combined, inner notes are lost; do that only where there is just one harp"
    if dropped and len(dropped) == notes:
        return Serves.ONE, "the second part only doubles the first"
    heard = ", but a pedal change will be heard" if slides else ""
    return Serves.COMBINED, ("only doublings are lost" if dropped else "nothing lost") + heard
