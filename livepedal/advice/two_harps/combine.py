"""Two harp parts for one player: an orchestra often has one harp where the score asks for two.

The first part is the leading one and comes through whole. Of the second goes, in this order and only until
the player can play it: what both strike at once; octave doublings; inner notes. The outer voices of every
attack stay, but for those that double the first part in octaves. Where the player still cannot play it after
an attack has lost all it can, the attacks just before it are thinned out as well, since a pedal may have been
busy for them; where not even that helps, nothing is dropped, and the place is said. A slower tempo is not tried.

Eight fingers strike eight notes at once. Attacks of more are thinned out to eight, and are said, since rolled they
may be playable whole; where those that stay are more than eight anyway, nothing is dropped for that.

Parts that alternate combine without loss, often better than they play as two, since a hand-over from one harp
to another is hard to make seamless; parts that double lose the doubling; parts that are busy at once do not
combine (common practice; harpcolumn.com, "When 2 become 1": choose the leading part and check
the pedals again).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from heapq import merge

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.two_harps.chair import Chair
from livepedal.advice.two_harps.score import Sounded, Staff, midi_bytes, sounded
from livepedal.advice.two_harps.share import judged
from livepedal.advice.two_harps.thinning import Note, StruckNotes, struck_together, thinned
from livepedal.model.findings import Kind
from livepedal.music.events import Event, NoteOn
from livepedal.music.song import KeySignature, Part
from livepedal.music.timemap import Place, TimeMap

NAME = "Harp"
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
        kept, of_notes: notes of the second part.
        parts: both as they are.
        report: of the new file.
        data: that file.
        full: the bars in which notes were dropped for nothing but that more than `FINGERS` would be struck at once.
        whole: then the report of both parts with nothing dropped, such chords rolled.
    """

    names: tuple[str, str]
    parts: tuple[PartReport, PartReport]
    dropped: tuple[Dropped, ...]
    impossible: tuple[Place, ...]
    kept: int
    of_notes: int
    advice: tuple[Recommendation, ...]
    report: PartReport
    data: bytes
    full: tuple[int, ...] = ()
    whole: PartReport | None = None


def combine_parts(
    first: Part,
    second: Part,
    keys: Sequence[KeySignature],
    title: str,
    basis: Basis,
    *,
    step: Callable[[int, int], None] = lambda done, total: None,
) -> Combined:
    """Make one part of two; the first leads.

    Args:
        first: the attack to start from.
        second: the second part.
        keys: the key signatures of the new file.
        title: its title.
        basis: what it is judged on.
        step: called with (attacks done, attacks in all).
    """
    time_map = first.time_map
    end = max(first.end_us, second.end_us)
    notes = sounded(_together(first.events, second.events), basis.figures, end)
    attacks, twice = struck_together(notes)
    gone, impossible, full = thinned(attacks, Chair(basis), step)
    dropped = _told(twice, [(attacks[number], out) for number, out in gone.items()], time_map)

    def made(gone: Mapping[int, Sequence[Note]]) -> tuple[bytes, PartReport]:
        left = [n for number, one in enumerate(attacks) for n in one.notes if n not in gone.get(number, ())]
        staves = [Staff(NAME, tuple(note.sounded for note in left))]
        data = midi_bytes(title, staves, time_map, keys)
        return data, judged(data, staves, basis, time_map.first_bar)[0]

    data, report = made(gone)
    reports = judge_part(first, basis), judge_part(second, basis)
    of_notes = len(twice) + sum(n.second for attack in attacks for n in attack.notes)
    window = basis.figures.window.attack
    bars = [time_map.place(attack.us + window).bar for attack in attacks]
    cannot = _cannot(report, window) | _clash(impossible, attacks, bars)
    alone = {
        bar: f"{part.name} cannot be played there even alone"
        for part in reports
        for bar in _cannot(part, window)
    }
    lost = [(time_map.place(d.us + window).bar, d) for d in dropped]
    return Combined(
        (first.name, second.name),
        reports,
        tuple(dropped),
        tuple(time_map.place(attacks[n].us) for n in impossible),
        of_notes - len(dropped),
        of_notes,
        _advice(attacks, bars, lost, cannot, alone),
        report,
        data,
        tuple(sorted({bars[n] for n in full})),
        made({})[1] if full else None,
    )


def _clash(impossible: Iterable[int], attacks: Sequence[StruckNotes], bars: Sequence[int]) -> dict[int, str]:
    """The bars of attacks that cannot be played, each with why. impossible: the numbers of the attacks."""
    found: dict[int, str] = {}
    for number in impossible:
        both = len({note.second for note in attacks[number].notes}) == 2
        if both or found.get(bars[number]) != TOGETHER:
            found[bars[number]] = TOGETHER if both else FOLLOWING
    return found


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


def _cannot(report: PartReport, window: int) -> dict[int, str]:
    """The bars that a part's player cannot play, each with why it does not serve. window: of an attack (µs)."""
    found = {
        report.place(finding.us + window).bar: "the combined part cannot be played there"
        for finding in report.findings
        if not finding.audible and finding.kind is not Kind.TOO_MUCH
    }
    for load in report.loads:
        if load.too_much:
            first, last = report.place(load.start + window).bar, report.place(load.end).bar
            for bar in range(first, last + 1):
                found.setdefault(bar, TOO_MUCH)
    return found


def _together(first: Iterable[Event], second: Iterable[Event]) -> Iterable[Event]:
    """The events of both in order of time, releases first; sources are even for the first part, odd for the second."""

    def marked(events: Iterable[Event], odd: int) -> Iterable[Event]:
        for event in events:
            source = getattr(event, "source", None)
            yield replace(event, source=2 * source + odd) if source is not None else event

    return merge(marked(first, 0), marked(second, 1), key=lambda event: (event.us, isinstance(event, NoteOn)))


def _advice(
    attacks: Sequence[StruckNotes],
    bars: Sequence[int],
    lost: Sequence[tuple[int, Dropped]],
    cannot: Mapping[int, str],
    alone: Mapping[int, str],
) -> tuple[Recommendation, ...]:
    """What works best for each bar; bars in a row that are alike are one.

    Args:
        attacks: of the new part.
        bars: that of each attack.
        lost: the notes that are dropped, each with its bar.
        cannot: bars of the new part that one player cannot play, and why.
        alone: bars where one of the parts cannot be played even by itself, and which.
    """
    playing: dict[int, set[bool]] = defaultdict(set)  # whether the second part has notes there, and the first
    seconds: Counter[int] = Counter()  # notes of the second part
    for attack, bar in zip(attacks, bars, strict=True):
        for note in attack.notes:
            playing[bar].add(note.second)
            seconds[bar] += note.second
    for bar, dropped in lost:
        playing[bar].add(True)
        seconds[bar] += dropped.why is Why.TWICE
    rows: list[Recommendation] = []
    for bar in sorted(playing):
        mine = [d for at, d in lost if at == bar]
        if (
            len(mine) == seconds[bar]
            and mine
            and bar not in cannot
            and all(d.why is not Why.INNER for d in mine)
        ):
            serves, because = Serves.ONE, "the second part only doubles the first"
        else:
            serves, because = _best(mine, len(playing[bar]) == 2, cannot.get(bar), alone.get(bar))
        if rows and (rows[-1].serves, rows[-1].because) == (serves, because):
            rows[-1] = replace(rows[-1], last_bar=bar, dropped=rows[-1].dropped + len(mine))
        else:
            rows.append(Recommendation(bar, bar, serves, because, len(mine)))
    return tuple(rows)


def _best(
    dropped: Sequence[Dropped], both: bool, cannot: str | None, alone: str | None
) -> tuple[Serves, str]:
    """What serves a bar best, and why. both: both parts play there; cannot, alone: as for `_advice`."""
    if cannot and alone:
        return Serves.NEITHER, f"{alone}; revise it first"
    if cannot:
        return Serves.TWO, cannot
    if any(one.why is Why.INNER for one in dropped):
        if alone:
            return Serves.COMBINED, f"inner notes are lost; {alone}"
        return Serves.TWO, "combined, inner notes are lost; do that only where there is just one harp"
    if dropped:
        return Serves.COMBINED, "only doublings are lost"
    if both:
        return Serves.COMBINED, "both parts, nothing lost"
    return Serves.COMBINED, "one part at a time, nothing lost, no hand-over is heard"
