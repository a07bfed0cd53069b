"""The spelling sheet: what an engraver needs to write the part as the harp plays it.

Bar by bar every note with its string and position, as the plan (model/plan/planner.py) has it; the setting at the
start and at each rehearsal mark; the pedal changes by beat. Where that departs from ordinary spelling
(ordinary.py) is drawn together over bars: F♭ for E, say, or a note that would be written with a double sharp
and is on another string.

Another written key is proposed only where it saves something. The music as ordinarily written is laid out in
stretches that are each in one key (a best path over bars: notes outside the key cost one each, a new key as
much as `NEW_KEY` of them). Keys on the far sharp side can be written twelve fifths lower, those on the far
flat side twelve higher: the same sound, other strings (Berlioz p. 86 has a tutti in B major written in C♭
major for the harp). Each such writing is planned by the model, every note on the string that it is written
for, and held against the ordinary one: fewer attacks that cannot be played, fewer audible changes, or fewer
changes.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import groupby
from typing import Any

from livepedal.advice.judging.part import attacks_of, beats_of, judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.values import bar_dict, place_dict, seconds, setting_dict
from livepedal.advice.spelling.given import Cost, Given, Wish, lay_fifths
from livepedal.harp import Figures, Instrument, Setting, Spelling
from livepedal.model.feet.chords import Narrowing
from livepedal.model.findings import Layer
from livepedal.model.plan.planner import Plan, Planner
from livepedal.model.plan.prepared import Music
from livepedal.model.plan.timing import PedalChange
from livepedal.music.attacks import Gathered
from livepedal.music.ordinary import alteration, in_key, key_name, letter, name, octave, strings
from livepedal.music.song import KeySignature, Part
from livepedal.music.timemap import Place

NEW_KEY = 6  # notes outside a key that are put up with before a new one begins (ours, no source)
MOST_KEYS = 6  # stretches whose key is tried otherwise one by one; beyond that only all together
MOST_PLANNED = 4_000  # attacks; longer parts get no proposals of keys, which take several plans
AROUND = 30  # attacks before and after a place that are planned with it, to see why it is spelled so
FAR_BEFORE = 10_000_000  # µs before, when the pedals were set
FARTHEST = 8  # fifths of the keys looked for: F♭ major to G♯ major, one beyond what signatures can show
SHARPEST, FLATTEST = 4, -5  # from these on a key is tried twelve fifths away: E as F♭, D♭ as C♯


@dataclass(frozen=True, slots=True)
class SheetNote:
    """One note: as the harp plays it (None where the plan leaves it out), and as it is ordinarily written
    (line of fifths).
    """

    pitch: int
    spelling: Spelling | None
    written: int

    @property
    def departs(self) -> bool:
        """Whether the harp plays it under another name than the ordinary one."""
        spelling = self.spelling
        return spelling is not None and (spelling.string.octave, int(spelling.position), spelling.pedal) != (
            octave(self.written, self.pitch),
            alteration(self.written),
            letter(self.written),
        )


@dataclass(frozen=True, slots=True)
class SheetAttack:
    """Notes struck together, upwards. us: their moment."""

    us: int
    place: Place
    notes: tuple[SheetNote, ...]


@dataclass(frozen=True, slots=True)
class SheetChange:
    """A pedal change and where it is made."""

    place: Place
    change: PedalChange


@dataclass(frozen=True, slots=True)
class SheetBar:
    """One bar of the part that has anything in it."""

    number: int
    attacks: tuple[SheetAttack, ...]
    changes: tuple[SheetChange, ...]


@dataclass(frozen=True, slots=True)
class Standing:
    """How the pedals stand at a rehearsal mark."""

    mark: str
    bar: int
    setting: Setting


class Reason(Enum):
    """Why a note has another name than the ordinary one: what that name would bring."""

    UNPLAYABLE = "an attack that cannot be played"
    AUDIBLE = "an audible change"
    CROSSED = "crossed strings"
    TIGHT = "a tight change"
    ASKED = "another spelling than asked for"
    AROUND = "another name than the notes around it have"


@dataclass(frozen=True, slots=True)
class Departure:
    """Notes that the harp plays under another name in some bars: (ordinary name, harp's name, how many).

    doubles: those of the ordinary names that have a double sharp or flat, which no pedal makes. reason: what the
    others save; None where there are no others.
    """

    first_bar: int
    last_bar: int
    names: tuple[tuple[str, str, int], ...]
    doubles: tuple[str, ...]
    reason: Reason | None = None


@dataclass(frozen=True, slots=True)
class Rewriting:
    """One stretch of bars written in another key: both as fifths, and whether it is minor."""

    first_bar: int
    last_bar: int
    ordinary: int
    other: int
    minor: bool

    @property
    def text(self) -> tuple[str, str]:
        """The names of the two keys."""
        return key_name(self.ordinary, self.minor), key_name(self.other, self.minor)


@dataclass(frozen=True, slots=True)
class Proposal:
    """Another way to write the part that saves something."""

    rewritings: tuple[Rewriting, ...]
    before: Cost
    after: Cost


@dataclass(frozen=True, slots=True)
class Sheet:
    """The spelling sheet of one part. proposal: the writing that saves most, if any; plain: the cost of
    ordinary spelling.
    """

    report: PartReport
    bars: tuple[SheetBar, ...]
    standings: tuple[Standing, ...]
    departures: tuple[Departure, ...]
    cost: Cost
    plain: Cost | None
    proposal: Proposal | None
    remarks: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The sheet as the documented JSON (format livepedal-spelling)."""
        return {
            "name": self.report.name,
            "verdict": self.report.verdict.word,
            "setting": setting_dict(self.report.plan.setting),
            **self.under_a_part(),
            "cost": _cost(self.cost),
            "remarks": list(self.remarks),
        }

    def under_a_part(self) -> dict[str, Any]:
        """What the JSON of `check` has of it: all that the part does not say itself."""
        return {
            "marks": [
                {"mark": standing.mark, **bar_dict(standing.bar), "setting": setting_dict(standing.setting)}
                for standing in self.standings
            ],
            "bars": [_bar(bar) for bar in self.bars],
            "departures": [
                {
                    "from_bar": d.first_bar,
                    "to_bar": d.last_bar,
                    "names": [{"ordinary": a, "harp": b, "notes": n} for a, b, n in d.names],
                }
                for d in self.departures
            ],
            "ordinary_cost": None if self.plain is None else _cost(self.plain),
            "proposal": None if self.proposal is None else _proposal(self.proposal),
        }


def make_sheet(
    part: Part,
    keys: Sequence[KeySignature],
    figures: Figures,
    instrument: Instrument,
    player: str,
    *,
    setting: Setting | None = None,
    layers: tuple[Layer, ...] = (),
    spelling: Wish | None = None,
    file: str = "the file",
    step: Callable[[int], None] = lambda count: None,
) -> Sheet:
    """The spelling sheet of a part, judged as `check` does it. spelling: what is asked for, if anything;
    keys: of the file, which messages call `file`. step: called with the number of events just judged.

    Raises LivepedalError where what is asked for does not fit the music (given.py).
    """
    attacks = attacks_of(part.events, figures)
    given = None if spelling is None else spelling.laid(part, attacks, keys, figures.attack_window, file)
    asked = None if given is None else given.asked
    report = judge_part(
        part, figures, instrument, player, setting=setting, layers=layers, step=step, asked=asked, keys=keys
    )
    return sheet_of(report, part, figures, instrument, setting=setting, given=given)


def sheet_of(
    report: PartReport,
    part: Part,
    figures: Figures,
    instrument: Instrument,
    *,
    setting: Setting | None = None,
    given: Given | None = None,
) -> Sheet:
    """The spelling sheet of a part that was judged and planned. given: the spelling that was asked for, as
    laid out on its notes; without one, another written key is looked for.
    """
    attacks = attacks_of(part.events, figures)
    written = report.written
    window = figures.attack_window
    bar_of = [part.time_map.place(attack.us + window).bar for attack in attacks]
    listed = _attacks(attacks, report.plan, written, part)
    writer = _Writer(part, attacks, written, bar_of, figures, instrument, report.player, setting)
    plain, proposal = writer.propose() if given is None else (None, None)
    return Sheet(
        report,
        _bars(listed, bar_of, report.plan, part),
        _standings(part, report.plan),
        _departures(listed, bar_of, report, figures, instrument, given),
        _cost_of(report.plan),
        plain,
        proposal,
        () if given is None else given.remarks(report.plan),
    )


def _attacks(
    attacks: Sequence[Gathered], plan: Plan, written: Sequence[int], part: Part
) -> list[SheetAttack]:
    fifths = iter(written)
    return [
        SheetAttack(
            attack.us,
            part.time_map.place(attack.us),
            tuple(
                SheetNote(pitch, spelling, next(fifths))
                for (pitch, _), spelling in zip(attack.notes, spellings, strict=True)
            ),
        )
        for attack, spellings in zip(attacks, plan.spellings, strict=True)
    ]


def _bars(
    listed: Sequence[SheetAttack], bar_of: Sequence[int], plan: Plan, part: Part
) -> tuple[SheetBar, ...]:
    attacks: dict[int, list[SheetAttack]] = {}
    for attack, bar in zip(listed, bar_of, strict=True):
        attacks.setdefault(bar, []).append(attack)
    changes: dict[int, list[SheetChange]] = {}
    for change in plan.changes:
        place = part.time_map.place(change.us)
        changes.setdefault(place.bar, []).append(SheetChange(place, change))
    return tuple(
        SheetBar(bar, tuple(attacks.get(bar, ())), tuple(changes.get(bar, ())))
        for bar in sorted({*attacks, *changes})
    )


def _standings(part: Part, plan: Plan) -> tuple[Standing, ...]:
    """The setting at each rehearsal mark: with all changes made that start before it."""
    found = []
    for mark in part.time_map.marks:
        us = part.time_map.us(mark.tick)
        setting = plan.setting_at(us)
        found.append(Standing(mark.text, part.time_map.place(us).bar, setting))
    return tuple(found)


def _departures(
    listed: Sequence[SheetAttack],
    bar_of: Sequence[int],
    report: PartReport,
    figures: Figures,
    instrument: Instrument,
    given: Given | None,
) -> tuple[Departure, ...]:
    """Bars in a row whose departures do not contradict one another, drawn together."""
    by_bar: dict[int, Counter[tuple[int, str]]] = {}
    for attack, bar in zip(listed, bar_of, strict=True):
        counter = by_bar.setdefault(bar, Counter())
        for note in attack.notes:
            if note.departs and note.spelling is not None:
                counter[note.written, note.spelling.pedal.letter + note.spelling.position.sign] += 1
    found: list[tuple[int, int, Counter[tuple[int, str]]]] = []
    for bar, counter in by_bar.items():
        if not counter:
            continue
        joined = dict(found[-1][2].keys()) if found else {}
        last = found[-1][1] if found else bar
        between = [other for other in by_bar if last < other < bar and not by_bar[other]]
        if found and not between and all(joined.get(fifth, harp) == harp for fifth, harp in counter):
            found[-1] = found[-1][0], bar, found[-1][2] + counter
        else:
            found.append((bar, bar, counter))
    return tuple(
        Departure(
            first,
            last,
            tuple((name(fifth), harp, count) for (fifth, harp), count in sorted(counter.items())),
            tuple(sorted({name(fifth) for fifth, _ in counter if abs(alteration(fifth)) > 1})),
            None
            if all(abs(alteration(fifth)) > 1 for fifth, _ in counter)
            else Reason.ASKED
            if given is not None
            else _reason(
                bisect_left(bar_of, first), bisect_right(bar_of, last), listed, report, figures, instrument
            ),
        )
        for first, last, counter in found
    )


def _reason(
    start: int,
    end: int,
    listed: Sequence[SheetAttack],
    report: PartReport,
    figures: Figures,
    instrument: Instrument,
) -> Reason:
    """What the ordinary names would bring in the attacks from `start` to before `end`: the same planned with them, with
    some of the music around.
    """
    low, high = max(0, start - AROUND), min(len(listed), end + AROUND)
    before = sum(len(attack.notes) for attack in listed[:low])
    count = sum(len(attack.notes) for attack in listed[low:high])
    attacks = report.music[low:high]
    setting = report.plan.setting_at(attacks[0].us)
    planner = Planner(
        figures.player(report.player), figures.scale(report.player)[0], instrument, figures.ringing
    )
    own = {
        attack.us: tuple(
            (note.pitch, strings(note.written)) for note in attack.notes if abs(alteration(note.written)) < 2
        )
        for attack in listed[start:end]
    }
    plans = [
        planner.plan(
            attacks,
            setting,
            attacks[0].us - FAR_BEFORE,
            music=Music(
                attacks, planner.chords, figures.ringing, asked, report.written[before : before + count]
            ),
        )
        for asked in (None, own)
    ]
    for reason, (free, bound) in zip(
        Reason, zip(*[plan.minded for plan in plans], strict=True), strict=False
    ):
        if bound != free:
            return reason
    return Reason.AROUND


def _cost_of(plan: Plan) -> Cost:
    return Cost(plan.unplayable, plan.audible, len(plan.changes), plan.tight, bool(plan.bounded))


# -- Keys ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Stretch:
    first_bar: int
    last_bar: int
    key: int
    minor: bool


class _Writer:
    """Tries other written keys on one part."""

    def __init__(
        self,
        part: Part,
        attacks: Sequence[Gathered],
        written: Sequence[int],
        bar_of: Sequence[int],
        figures: Figures,
        instrument: Instrument,
        player: str,
        setting: Setting | None,
    ) -> None:
        self.part = part
        self.attacks = attacks
        self.written = written
        self.bars = [bar for attack, bar in zip(attacks, bar_of, strict=True) for _ in attack.notes]
        self.figures = figures
        self.instrument = instrument
        self.player = figures.player(player)
        self.slowest = figures.scale(player)[0]
        self.setting = setting

    def propose(self) -> tuple[Cost | None, Proposal | None]:
        """The cost of ordinary spelling, and the other writing that saves most; None for the first where the
        part is too long.
        """
        if not self.attacks or len(self.attacks) > MOST_PLANNED:
            return None, None
        plain = self._cost(())
        turned = [
            Rewriting(stretch.first_bar, stretch.last_bar, stretch.key, other, stretch.minor)
            for stretch in stretches(self.bars, self.written)
            if (other := _other(stretch.key)) is not None
        ]
        if not turned or not any(plain.order):
            return plain, None
        tries: list[tuple[Rewriting, ...]] = [tuple(turned)]
        if 1 < len(turned) <= MOST_KEYS:
            tries += [(one,) for one in turned]
        costs = [(self._cost(one), one) for one in tries]
        best, rewritings = min(costs, key=lambda item: item[0].order)
        # More of them together, while that saves more.
        while len(rewritings) < len(turned) and len(turned) <= MOST_KEYS:
            more = [
                (self._cost(known), known)
                for one in turned
                if one not in rewritings
                for known in [tuple(sorted((*rewritings, one), key=lambda r: r.first_bar))]
            ]
            cost, known = min(more, key=lambda item: item[0].order)
            if cost.order >= best.order:
                break
            best, rewritings = cost, known
        if best.order >= plain.order:
            return plain, None
        return plain, Proposal(rewritings, plain, best)

    def _cost(self, rewritings: Sequence[Rewriting]) -> Cost:
        planner = Planner(self.player, self.slowest, self.instrument, self.figures.ringing)
        return _cost_of(
            planner.plan(
                self.attacks,
                self.setting,
                beats=beats_of(self.part.time_map),
                asked=self._asked(rewritings),
            )
        )

    def _asked(self, rewritings: Sequence[Rewriting]) -> Mapping[int, Narrowing]:
        fifths = list(self.written)
        for one in rewritings:
            for number, bar in enumerate(self.bars):
                if one.first_bar <= bar <= one.last_bar:
                    fifths[number] += one.other - one.ordinary
        return lay_fifths(self.attacks, fifths, self.part.time_map, self.figures.attack_window).asked


def _other(key: int) -> int | None:
    """The same key twelve fifths away, where the harp could be better off there."""
    if key >= SHARPEST:
        return key - 12
    return key + 12 if key <= FLATTEST else None


def stretches(bars: Sequence[int], written: Sequence[int]) -> tuple[_Stretch, ...]:
    """The bars in stretches that are each in one key: for each note its bar, ascending, and how it is written
    (line of fifths).
    """
    keys = range(-FARTHEST, FARTHEST + 1)
    by_bar = [
        (bar, [fifth for _, fifth in notes])
        for bar, notes in groupby(zip(bars, written, strict=True), lambda n: n[0])
    ]
    # Of keys that fit alike, the one with the fewest accidentals.
    best: dict[int, tuple[float, tuple[int, ...]]] = {key: (0.001 * abs(key), ()) for key in keys}
    for _, fifths in by_bar:
        outside = {key: sum(not _belongs(fifth, key) for fifth in fifths) for key in keys}
        cheapest = min(best.values())
        now = {}
        for key in keys:
            price, path = min(best[key], (cheapest[0] + NEW_KEY, cheapest[1]))
            now[key] = price + outside[key], (*path, key)
        best = now
    if not by_bar:
        return ()
    _, path = min(best.values())
    found: list[_Stretch] = []
    for key, group in groupby(zip(by_bar, path, strict=True), lambda item: item[1]):
        stretch = [bar for bar, _ in group]
        fifths = [fifth for _, notes in stretch for fifth in notes]
        found.append(_Stretch(stretch[0][0], stretch[-1][0], key, _minor(fifths, key)))
    return tuple(found)


def _belongs(fifth: int, key: int) -> bool:
    """Whether a note is of a key; the raised seventh of the minor one is, though its signature does not show
    it.
    """
    return in_key(fifth, key) or fifth == key + 8


def _minor(fifths: Sequence[int], key: int) -> bool:
    """Major or its relative minor: whether the minor tonic and its raised leading note outdo the fifth of the
    major one (ours, no source).
    """
    count = Counter(fifths)
    return count[key + 3] + 2 * count[key + 8] > 2 * count[key + 1]  # in the key of C: A and G♯ against G


# -- JSON ------------------------------------------------------------------------------------------


def _cost(cost: Cost) -> dict[str, int]:
    return {"unplayable": cost.unplayable, "audible": cost.audible, "changes": cost.changes}


def _bar(bar: SheetBar) -> dict[str, Any]:
    return {
        **bar_dict(bar.number),
        "attacks": [
            {
                "seconds": seconds(attack.us),
                **place_dict(attack.place),
                "notes": [
                    {
                        "note": note.pitch,
                        "string": None if note.spelling is None else note.spelling.string.name,
                        "position": None if note.spelling is None else note.spelling.position.word,
                        "ordinary": f"{name(note.written)}{octave(note.written, note.pitch)}",
                    }
                    for note in attack.notes
                ],
            }
            for attack in bar.attacks
        ],
        "changes": [
            {
                "seconds": seconds(item.change.us),
                "beat": [item.place.beat.numerator, item.place.beat.denominator],
                "pedal": item.change.pedal.letter,
                "from": item.change.start.word,
                "to": item.change.goal.word,
                "foot": item.change.foot.value,
                "audible": item.change.audible,
            }
            for item in bar.changes
        ],
    }


def _proposal(proposal: Proposal) -> dict[str, Any]:
    return {
        "keys": [
            {"from_bar": one.first_bar, "to_bar": one.last_bar, "ordinary": one.text[0], "key": one.text[1]}
            for one in proposal.rewritings
        ],
        "before": _cost(proposal.before),
        "after": _cost(proposal.after),
    }
