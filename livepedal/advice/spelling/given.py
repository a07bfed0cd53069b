"""A spelling that is given: asked for bar by bar, or taken from the key signatures of the file; and how it
compares with the best one.

What is given is a constraint: the notes it names are on the strings it names, everywhere within its bars, and
all that it does not name stays free. A key names its seven notes, a setting those of its pedals, and notes
name themselves, in every octave or in the one they are given with. A double sharp or flat has no notch: it is
put on the string that can play it (Berlioz, Grand traité d'instrumentation, p. 86), and that is said. Where
two of them speak of the same pitch in the same bar, the later one counts.

Key signatures in a file are the written spelling as far as they go: the notes of the key are written as they
have it; the others as they are ordinarily spelled (ordinary.py), laid nearest to the key.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from livepedal.advice.judging.part import attacks_of
from livepedal.advice.spelling.requests import Request
from livepedal.errors import LivepedalError
from livepedal.harp import Figures, Pedal, Position
from livepedal.model.feet.chords import Narrowing
from livepedal.model.findings import Outcome, Verdict
from livepedal.model.plan.planner import Plan
from livepedal.music.attacks import Gathered
from livepedal.music.ordinary import (
    alteration,
    name,
    strings,
    written,
)
from livepedal.music.song import KeySignature, Part
from livepedal.music.timemap import TimeMap, printed_number
from livepedal.music.wording import bar_list, counted
from livepedal.sources.text import clean

if TYPE_CHECKING:
    from livepedal.advice.judging.report import PartReport


@dataclass(frozen=True, slots=True)
class Given:
    """A given spelling, laid over the attacks of a part.

    Attributes:
        asked: for attacks by their moment (µs) what they are to be spelled with.
        doubles: for notes (moment in µs, MIDI pitch) that are written with a double sharp or flat, the bars and
            written notes (line of fifths).
        unmet: a sentence for each request that names no note there is.
    """

    asked: Mapping[int, Narrowing]
    doubles: Mapping[tuple[int, int], tuple[tuple[int, int], ...]] = field(default_factory=dict)
    unmet: tuple[str, ...] = ()

    @property
    def notes(self) -> int:
        """How many notes it settles."""
        return sum(map(len, self.asked.values()))

    @property
    def doubled(self) -> int:
        """How many of them are written with a double sharp or flat, and so on another string than is written."""
        return sum(map(bool, self.doubles.values()))

    def remarks(self, plan: Plan) -> tuple[str, ...]:
        """A sentence for each thing to be said about it.

        Args:
            plan: what was made of it; one without attacks where none was made.
        """
        return (*_doubles(self.doubles, plan), *self.unmet)


@dataclass(frozen=True, slots=True)
class Cost:
    """What a way of writing costs: attacks that the chosen player cannot play, audible changes, changes, and how
    many of these are tight (a relaxed player would not have the time). bounded: it is the least that was found, and
    nothing proves that there is no less.
    """

    unplayable: int
    audible: int
    changes: int
    tight: int = 0
    bounded: bool = False

    @property
    def order(self) -> tuple[int, int, int, int]:
        """For comparing: the less the better."""
        return self.unplayable, self.audible, self.tight, self.changes


@dataclass(frozen=True, slots=True)
class Outlook:
    """How a part fares in one spelling, for the chosen player: attacks that cannot be played or only audibly,
    pedal changes, and how many of these are tight. bounded: as of its cost.
    """

    verdict: Verdict
    outcome: Outcome
    unplayable: int
    audible: int
    changes: int
    tight: int = 0
    bounded: bool = False

    @property
    def cost(self) -> Cost:
        return Cost(self.unplayable, self.audible, self.changes, self.tight, self.bounded)


@dataclass(frozen=True, slots=True)
class Compared:
    """A given spelling beside the best one.

    Attributes:
        notes: how many it settles.
        doubled: how many of them are written with a double sharp or flat.
        remarks: what was done about these and the like.
    """

    what: str
    given: Outlook
    best: Outlook
    notes: int
    remarks: tuple[str, ...]
    doubled: int = 0


# -- Laid over the music ---------------------------------------------------------------------------


def lay(requests: Sequence[Request], attacks: Sequence[Gathered], time_map: TimeMap, window: int) -> Given:
    """The requests laid over the attacks of a part. window: that of an attack (µs); one that begins so
    shortly before a bar belongs to it.

    Raises LivepedalError for bars beyond the music.
    """
    bars = [printed_number(time_map.place(attack.us + window).bar) for attack in attacks]
    end = max(bars, default=time_map.first_bar)
    met = [0] * len(requests)
    doubles: dict[tuple[int, int], tuple[tuple[int, int], ...]] = {}
    per_attack: list[dict[int, tuple[tuple[int, int], ...]]] = [{} for _ in attacks]
    for number, request in enumerate(requests):
        first = time_map.first_bar if request.first is None else request.first
        last = end if request.last is None else request.last
        if first > end or last < time_map.first_bar:
            raise LivepedalError(
                f"The spelling {clean(request.text, 80)!r} is for bars without music; the music has bars"
                f" {time_map.first_bar} to {end}."
            )
        for attack, bar, mine in zip(attacks, bars, per_attack, strict=True):
            if not first <= bar <= last:
                continue
            for pitch, _ in attack.notes:
                named = [note for note in request.notes if note.sounds(pitch)]
                if named:
                    met[number] += 1
                    mine[pitch] = tuple(sorted({option for note in named for option in strings(note.fifth)}))
                    doubles[attack.us, pitch] = tuple(
                        (bar, note.fifth) for note in named if abs(alteration(note.fifth)) > 1
                    )
    unmet = tuple(
        f"No note there has a pitch that “{clean(request.text, 80)}” names, so it has no effect"
        for request, count in zip(requests, met, strict=True)
        if not count
    )
    return Given(_asked(attacks, per_attack), doubles, unmet)


def lay_fifths(attacks: Sequence[Gathered], fifths: Sequence[int], time_map: TimeMap, window: int) -> Given:
    """A written note (line of fifths) for every note of the attacks, in order and upwards within each."""
    written = iter(fifths)
    doubles: dict[tuple[int, int], tuple[tuple[int, int], ...]] = {}
    per_attack: list[dict[int, tuple[tuple[int, int], ...]]] = []
    for attack in attacks:
        mine = {}
        for pitch, _ in attack.notes:
            fifth = next(written)
            mine[pitch] = strings(fifth)
            if abs(alteration(fifth)) > 1:
                bar = time_map.place(attack.us + window).bar
                doubles[attack.us, pitch] = ((bar, fifth),)
        per_attack.append(mine)
    return Given(_asked(attacks, per_attack), doubles)


def _asked(
    attacks: Sequence[Gathered], per_attack: Sequence[Mapping[int, tuple[tuple[int, int], ...]]]
) -> dict[int, Narrowing]:
    return {
        attack.us: tuple(sorted(mine.items()))
        for attack, mine in zip(attacks, per_attack, strict=True)
        if mine
    }


def _doubles(doubles: Mapping[tuple[int, int], tuple[tuple[int, int], ...]], plan: Plan) -> list[str]:
    """A sentence for each double sharp or flat: on which string it is played, how often, and in which bars.

    doubles: as those of `Given`; plan: which of the strings that sound so it takes.
    """
    played = {
        (us, spelling.pitch): f"{spelling.pedal.letter}{spelling.position.sign}"
        for us, spellings in zip(plan.attacks, plan.spellings, strict=True)
        for spelling in spellings
        if spelling is not None
    }
    found: dict[int, dict[str, list[int]]] = {}  # written note -> string -> the bar of each note
    for (us, pitch), some in doubles.items():
        for bar, fifth in some:
            if plan.attacks:
                on = played.get((us, pitch), "no string, because it was left out")
            else:
                on = " or ".join(
                    f"{Pedal(pedal).letter}{Position(position).sign}" for pedal, position in strings(fifth)
                )
            found.setdefault(fifth, {}).setdefault(on, []).append(bar)
    remarks = []
    for fifth, places in sorted(found.items()):
        told = " and ".join(
            f"on {on} ({counted(len(bars), 'note')}, {bar_list(sorted(set(bars)))})"
            for on, bars in places.items()
        )
        remarks.append(f"{name(fifth)} cannot be set by a pedal, so it is played {told}")
    return remarks


def better_strings(given: PartReport, best: PartReport) -> tuple[str, ...]:
    """Where a given spelling costs something that the best one does not: which notes near it the best one has on
    another string.

    A sentence for each note and string. The best spelling is judged as a whole; that one of its notes alone would do
    is not said.
    """
    if outlook_order(best) >= outlook_order(given) or not (given.planned and best.planned):
        return ()
    known = {finding.us for finding in best.findings}
    bars = {
        bar for finding in given.findings if finding.us not in known for bar in (given.place(finding.us).bar,)
    }
    near = {number for bar in bars for number in (bar - 1, bar)}
    found: dict[tuple[str, str], list[int]] = {}
    for (attack, mine), (_, theirs) in zip(given.spelled, best.spelled, strict=True):
        bar = given.place(attack.us).bar
        if bar not in near:
            continue
        for mine_named, other in zip(mine, theirs, strict=True):
            if mine_named is not None and other is not None and mine_named.string != other.string:
                names = (
                    f"{mine_named.pedal.letter}{mine_named.position.sign}",
                    f"{other.pedal.letter}{other.position.sign}",
                )
                found.setdefault(names, []).append(bar)
    return tuple(
        f"In {bar_list(sorted(set(bars)))} {mine_named} is better played as {other}"
        for (mine_named, other), bars in sorted(found.items(), key=lambda item: min(item[1]))
    )


def outlook_order(report: PartReport) -> tuple[int, int]:
    """How many attacks the chosen player cannot play, or only audibly: the less the better."""
    mine = next(count for count in report.counts if count.player == report.player)
    return mine.unplayable, mine.audible


def as_printed(part: Part, attacks: Sequence[Gathered]) -> Given:
    """The spelling that a score prints, laid over its attacks."""
    per_attack: list[dict[int, tuple[tuple[int, int], ...]]] = [{} for _ in attacks]
    doubles: dict[tuple[int, int], tuple[tuple[int, int], ...]] = {}
    onsets = [attack.us for attack in attacks]
    for (us, pitch), fifth in part.spelled().items():
        number = bisect_right(onsets, us) - 1  # what comes before the next attack belongs to this one
        if number >= 0:
            per_attack[number][pitch] = strings(fifth)
            if abs(alteration(fifth)) > 1:
                doubles[onsets[number], pitch] = ((part.time_map.place(us).bar, fifth),)
    return Given(_asked(attacks, per_attack), doubles)


def printed_spelling(part: Part, figures: Figures) -> Mapping[int, Narrowing] | None:
    """How the attacks of a score are spelled in print, by their moment (µs); None for a MIDI file."""
    return as_printed(part, attacks_of(part.events, figures)).asked if part.spelled() else None


def as_written(attacks: Sequence[Gathered], keys: Sequence[KeySignature], file: str) -> tuple[int, ...]:
    """The written notes (line of fifths) of attacks, in order and upwards within each, as key signatures have
    them.

    file: what to call it in messages. Raises LivepedalError where it has no key signature.
    """
    if not keys:
        raise LivepedalError(
            f"{clean(file, 500)}: has no key signature for --as-written to use; give the spelling"
            " with --spell."
        )
    return written(attacks, keys)


@dataclass(frozen=True, slots=True)
class AskedSpelling:
    """How music is to be spelled: by the key signatures of the file, and by what is asked for, which goes
    before them.
    """

    requests: tuple[Request, ...] = ()
    as_written: bool = False

    @property
    def what(self) -> str:
        """What it is called in reports."""
        return "as written" if self.as_written and not self.requests else "as asked for"

    def laid(
        self,
        part: Part,
        attacks: Sequence[Gathered],
        keys: Sequence[KeySignature],
        window: int,
        file: str,
    ) -> Given:
        """This wish laid over the attacks of a part.

        Raises:
            LivepedalError: as `lay` and `as_written` do.
        """
        given = Given({})
        if self.as_written and part.spelled():
            given = as_printed(part, attacks)
        elif self.as_written:
            given = lay_fifths(attacks, as_written(attacks, keys, file), part.time_map, window)
        if not self.requests:
            return given
        more = lay(self.requests, attacks, part.time_map, window)
        asked = dict(given.asked)
        for us, narrowing in more.asked.items():
            asked[us] = tuple(sorted({**dict(asked.get(us, ())), **dict(narrowing)}.items()))
        # A note that both speak of is written as it is asked for.
        return Given(asked, {**given.doubles, **more.doubles}, more.unmet)
