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

from collections import deque
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from heapq import merge
from itertools import groupby

from livepedal.advice.judging.part import judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.two_harps.chair import FINGERS, Chair
from livepedal.advice.two_harps.score import Sounded, Staff, midi_bytes, sounded
from livepedal.advice.two_harps.share import judged
from livepedal.harp import Figures, Instrument, Setting
from livepedal.model.findings import Kind, Layer, Outcome
from livepedal.music.attacks import Gathered
from livepedal.music.events import Event, NoteOn
from livepedal.music.song import KeySignature, Part
from livepedal.music.timemap import Place

BACK = 6  # attacks before one that cannot be played that are thinned out for its sake
BACK_US = 2_000_000  # and no further back than this (µs): the longest cycle, and time for two changes
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
class Advice:
    """Bars that are served best in one way. playing: which parts have notes there, by their numbers 1 and 2;
    dropped: notes lost there.
    """

    first_bar: int
    last_bar: int
    serves: Serves
    because: str
    dropped: int


@dataclass(frozen=True, slots=True)
class Combined:
    """Two parts made one. kept, of_notes: notes of the second part; parts: both as they are; report: of the
    new file; data: that file. full: the bars in which notes were dropped for nothing but that more than `FINGERS`
    would be struck at once; whole: then the report of both parts with nothing dropped, such chords rolled.
    """

    names: tuple[str, str]
    parts: tuple[PartReport, PartReport]
    dropped: tuple[Dropped, ...]
    impossible: tuple[Place, ...]
    kept: int
    of_notes: int
    advice: tuple[Advice, ...]
    report: PartReport
    data: bytes
    full: tuple[int, ...] = ()
    whole: PartReport | None = None


@dataclass(frozen=True, slots=True)
class _Note:
    sounded: Sounded
    second: bool


@dataclass(frozen=True, slots=True)
class _Attack:
    """Notes struck together, upwards, each pitch once."""

    us: int
    notes: tuple[_Note, ...]

    def without(self, dropped: Iterable[_Note]) -> Gathered:
        out = set(dropped)
        return Gathered(self.us, tuple((n.sounded.pitch, n.sounded.end) for n in self.notes if n not in out))

    def octaves(self) -> tuple[_Note, ...]:
        """Notes of the second part that double others in octaves: inner ones first, then outer voices that
        double the first part.
        """
        leading = {n.sounded.pitch % 12 for n in self.notes if not n.second}
        seen: set[int] = set()
        inner: list[_Note] = []
        for note in self.notes[1:-1]:
            pitch_class = note.sounded.pitch % 12
            others = [n for n in self.notes if n is not note and n.sounded.pitch % 12 == pitch_class]
            if note.second and (pitch_class in leading or (others and pitch_class not in seen)):
                seen.add(pitch_class)
                inner.append(note)
        outer = [n for n in (self.notes[0], self.notes[-1]) if n.second and n.sounded.pitch % 12 in leading]
        return (*inner, *dict.fromkeys(outer))

    def inner(self) -> tuple[_Note, ...]:
        """Notes of the second part that are neither the highest nor the lowest."""
        return tuple(n for n in self.notes[1:-1] if n.second)

    def crowded(self, dropped: Iterable[_Note]) -> bool:
        """Whether it has more notes than fingers without these, and would have few enough without all that may be
        dropped.
        """
        if len(self.notes) <= FINGERS or len(self.without(dropped).notes) <= FINGERS:
            return False
        return len(self.without((*self.octaves(), *self.inner())).notes) <= FINGERS


def combine_parts(
    first: Part,
    second: Part,
    keys: Sequence[KeySignature],
    title: str,
    figures: Figures,
    instrument: Instrument,
    player: str,
    *,
    setting: Setting | None = None,
    layers: tuple[Layer, ...] = (),
    step: Callable[[int, int], None] = lambda done, total: None,
) -> Combined:
    """Make one part of two; the first leads."""
    time_map = first.time_map
    end = max(first.end_us, second.end_us)
    notes = sounded(_together(first.events, second.events), figures, end)
    attacks, twice = _attacks(notes)
    chair = Chair(figures, instrument, player, setting, layers)
    gone, impossible, full = _thin(attacks, chair, step)
    dropped = [Dropped(time_map.place(n.us), n.us, n.pitch, Why.TWICE) for n in twice]
    for number, out in gone.items():
        attack = attacks[number]
        doubling = set(attack.octaves())
        dropped += [
            Dropped(
                time_map.place(n.sounded.us),
                n.sounded.us,
                n.sounded.pitch,
                Why.OCTAVE if n in doubling else Why.INNER,
            )
            for n in out
        ]
    dropped.sort(key=lambda d: (d.us, d.pitch))
    left = [
        n.sounded
        for number, attack in enumerate(attacks)
        for n in attack.notes
        if n not in gone.get(number, ())
    ]

    def made(notes: Iterable[Sounded]) -> tuple[bytes, PartReport]:
        staves = [Staff(NAME, tuple(notes))]
        data = midi_bytes(title, staves, time_map, keys)
        return data, judged(data, staves, figures, instrument, player, setting, layers, time_map.first_bar)[0]

    data, report = made(left)
    reports = tuple(
        judge_part(part, figures, instrument, player, setting=setting, layers=layers)
        for part in (first, second)
    )
    of_notes = len(twice) + sum(n.second for attack in attacks for n in attack.notes)
    window = figures.attack_window
    bars = [time_map.place(attack.us + window).bar for attack in attacks]
    alone = {
        bar: f"{one.name} cannot be played there even alone"
        for one in reports
        for bar in _cannot(one, window)
    }
    cannot = _cannot(report, window)
    for n in impossible:
        both = len({note.second for note in attacks[n].notes}) == 2
        known = cannot.get(bars[n])
        cannot[bars[n]] = TOGETHER if both or known == TOGETHER else FOLLOWING
    lost = [(time_map.place(d.us + window).bar, d) for d in dropped]
    return Combined(
        (first.name, second.name),
        (reports[0], reports[1]),
        tuple(dropped),
        tuple(time_map.place(attacks[n].us) for n in impossible),
        of_notes - len(dropped),
        of_notes,
        _advice(attacks, bars, lost, cannot, alone),
        report,
        data,
        tuple(sorted({bars[n] for n in full})),
        made(n.sounded for attack in attacks for n in attack.notes)[1] if full else None,
    )


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
    """The events of both in order of time, releases before strikes; sources even for the first part, odd for
    the second.
    """

    def marked(events: Iterable[Event], odd: int) -> Iterable[Event]:
        for event in events:
            source = getattr(event, "source", None)
            yield replace(event, source=2 * source + odd) if source is not None else event

    return merge(marked(first, 0), marked(second, 1), key=lambda event: (event.us, isinstance(event, NoteOn)))


def _attacks(notes: Sequence[Sounded]) -> tuple[list[_Attack], list[Sounded]]:
    """The attacks, and the notes of the second part that the first strikes too."""
    attacks: list[_Attack] = []
    twice: list[Sounded] = []
    for _, group in groupby(notes, key=lambda n: n.attack):
        struck = list(group)
        by_pitch: dict[int, _Note] = {}
        for note in sorted(struck, key=lambda n: n.source % 2):
            known = by_pitch.get(note.pitch)
            if known is None:
                by_pitch[note.pitch] = _Note(note, bool(note.source % 2))
                continue
            if note.source % 2 and not known.second:
                twice.append(note)
            # Whoever holds it longer decides how long it sounds.
            by_pitch[note.pitch] = replace(
                known, sounded=replace(known.sounded, end=max(known.sounded.end, note.end))
            )
        attacks.append(_Attack(struck[0].us, tuple(by_pitch[pitch] for pitch in sorted(by_pitch))))
    return attacks, twice


def _thin(
    attacks: Sequence[_Attack], chair: Chair, step: Callable[[int, int], None]
) -> tuple[dict[int, tuple[_Note, ...]], list[int], list[int]]:
    """The notes to drop, by attack; the attacks that cannot be played for all that; and those that could, but have
    more notes than fingers.
    """
    gone: dict[int, tuple[_Note, ...]] = {}
    impossible: list[int] = []
    full: list[int] = []
    before: deque[tuple[int, Chair]] = deque(maxlen=BACK + 1)
    for number, attack in enumerate(attacks):
        if number % 50 == 0:
            step(number, len(attacks))
        before.append((number, chair.fork()))
        playable = chair.play(attack.without(())) is not Outcome.CANNOT
        if playable and not attack.crowded(()):
            continue
        found = _cheapest(attack, before[-1][1])
        start = len(before) - 1
        drops: dict[int, tuple[_Note, ...]] = {} if found is None else {number: found}
        if found is None:
            start, drops = _further_back(attacks, before, gone)
        if not drops:
            if not playable:
                impossible.append(number)
            continue
        if playable:
            full.append(number)
        gone.update(drops)
        chair = before[start][1].fork()
        for place in range(start, len(before)):
            where = before[place][0]
            before[place] = where, chair.fork()
            chair.play(attacks[where].without(gone.get(where, ())))
    return gone, impossible, full


def _plays(chair: Chair, attack: _Attack, dropped: Iterable[_Note]) -> bool:
    """Whether the chair, which plays it, can play an attack without these notes, and has fingers for it."""
    left = tuple(dropped)
    return chair.play(attack.without(left)) is not Outcome.CANNOT and not attack.crowded(left)


def _cheapest(attack: _Attack, chair: Chair) -> tuple[_Note, ...] | None:
    """The fewest notes whose loss lets the attack through: octave doublings first, then inner notes; None
    where it does not.
    """
    octaves = attack.octaves()
    inner = tuple(n for n in attack.inner() if n not in octaves)
    for ladder in (octaves, (*octaves, *inner)):
        for one in ladder:
            if _plays(chair.fork(), attack, (one,)):
                return (one,)
        if ladder and _plays(chair.fork(), attack, ladder):
            return _fewest(ladder, lambda dropped: _plays(chair.fork(), attack, dropped))
    return None


def _fewest(dropped: Sequence[_Note], enough: Callable[[Sequence[_Note]], bool]) -> tuple[_Note, ...]:
    """Of notes whose loss is enough, those that cannot come back: inner notes are the first to be kept."""
    left = list(dropped)
    for note in reversed(dropped):
        fewer = [other for other in left if other is not note]
        if enough(fewer):
            left = fewer
    return tuple(left)


def _further_back(
    attacks: Sequence[_Attack], before: deque[tuple[int, Chair]], gone: dict[int, tuple[_Note, ...]]
) -> tuple[int, dict[int, tuple[_Note, ...]]]:
    """Where to start again (a place in `before`), and what to drop from there on; nothing where that does not
    help.
    """
    number = before[-1][0]
    for start in range(len(before) - 2, -1, -1):
        begin, chair = before[start]
        if attacks[number].us - attacks[begin].us > BACK_US:
            break
        candidates = [
            (where, note)
            for where in range(begin, number + 1)
            for note in dict.fromkeys((*attacks[where].octaves(), *attacks[where].inner()))
            if note not in gone.get(where, ())
        ]

        def through(out: Sequence[tuple[int, _Note]], begin: int = begin, chair: Chair = chair) -> bool:
            trial = chair.fork()
            return all(
                _plays(
                    trial,
                    attacks[where],
                    (*gone.get(where, ()), *(note for at, note in out if at == where)),
                )
                for where in range(begin, number + 1)
            )

        if not candidates or not through(candidates):
            continue
        left = list(candidates)
        for item in reversed(candidates):
            fewer = [other for other in left if other is not item]
            if through(fewer):
                left = fewer
        drops: dict[int, tuple[_Note, ...]] = {}
        for where, note in left:
            drops[where] = (*drops.get(where, gone.get(where, ())), note)
        return start, drops
    return len(before) - 1, {}


def _advice(
    attacks: Sequence[_Attack],
    bars: Sequence[int],
    lost: Sequence[tuple[int, Dropped]],
    cannot: Mapping[int, str],
    alone: Mapping[int, str],
) -> tuple[Advice, ...]:
    """For each bar what serves it best, bars that are alike drawn together. cannot: bars of the new part that one
    player cannot play, and a clause that says why; alone: those where one of the parts cannot be played even by
    itself, and a clause that says which.
    """
    playing: dict[int, set[int]] = {}
    seconds: dict[int, int] = {}
    for attack, bar in zip(attacks, bars, strict=True):
        for note in attack.notes:
            playing.setdefault(bar, set()).add(1 + note.second)
            seconds[bar] = seconds.get(bar, 0) + note.second
    for bar, dropped in lost:
        playing.setdefault(bar, set()).add(2)
        seconds[bar] = seconds.get(bar, 0) + (dropped.why is Why.TWICE)
    rows: list[Advice] = []
    for bar in sorted(playing):
        mine = [d for at, d in lost if at == bar]
        inner = sum(d.why is Why.INNER for d in mine)
        if bar in cannot and bar in alone:
            serves, because = Serves.NEITHER, f"{alone[bar]}; revise it first"
        elif bar in cannot:
            serves, because = Serves.TWO, cannot[bar]
        elif len(mine) == seconds.get(bar, 0) and mine and not inner:
            serves, because = Serves.ONE, "the second part only doubles the first"
        elif inner and bar in alone:
            serves, because = Serves.COMBINED, f"inner notes are lost; {alone[bar]}"
        elif inner:
            serves, because = (
                Serves.TWO,
                "combined, inner notes are lost; do that only where there is just one harp",
            )
        elif mine:
            serves, because = Serves.COMBINED, "only doublings are lost"
        elif len(playing[bar]) == 2:
            serves, because = Serves.COMBINED, "both parts, nothing lost"
        else:
            serves, because = (
                Serves.COMBINED,
                "one part at a time, nothing lost, no hand-over is heard",
            )
        if rows and (rows[-1].serves, rows[-1].because) == (serves, because):
            rows[-1] = replace(rows[-1], last_bar=bar, dropped=rows[-1].dropped + len(mine))
        else:
            rows.append(Advice(bar, bar, serves, because, len(mine)))
    return tuple(rows)
