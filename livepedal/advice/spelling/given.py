"""A given spelling: asked for bar by bar, or taken from the key signatures; and how it compares with the best one.

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
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from livepedal.advice.judging.part import attacks_of
from livepedal.advice.spelling.requests import Request
from livepedal.errors import LivepedalError
from livepedal.harp import Figures, Pedal, Position, Spelling
from livepedal.harp.fifths import alteration, name, strings
from livepedal.model.feet.chords import Narrowing
from livepedal.model.findings import Verdict
from livepedal.model.plan.planner import Plan
from livepedal.music.attacks import Gathered
from livepedal.music.ordinary import written
from livepedal.music.song import Part
from livepedal.music.timemap import TimeMap, printed_number
from livepedal.music.wording import bar_list, counted
from livepedal.sources.text import clean

if TYPE_CHECKING:
    from livepedal.advice.judging.report import PartReport


# For notes (moment in µs, MIDI pitch): how they are written, each with its bar and its place on the line of fifths.
Named = Mapping[tuple[int, int], tuple[tuple[int, int], ...]]


@dataclass(frozen=True, slots=True)
class Given:
    """A given spelling, laid over the attacks of a part.

    Attributes:
        named: the notes that it settles; where a note is written in several ways, any of them will do.
        unmet: a sentence for each request that names no note there is.
    """

    named: Named = field(default_factory=dict)
    unmet: tuple[str, ...] = ()

    @property
    def asked(self) -> dict[int, Narrowing]:
        """For attacks by their moment (µs): the strings that their notes may be played on."""
        found: dict[int, dict[int, tuple[tuple[int, int], ...]]] = {}
        for (us, pitch), written_notes in self.named.items():
            options = {option for _, fifth in written_notes for option in strings(fifth)}
            found.setdefault(us, {})[pitch] = tuple(sorted(options))
        return {us: tuple(sorted(options.items())) for us, options in found.items()}

    @property
    def doubles(self) -> Iterator[tuple[tuple[int, int], list[tuple[int, int]]]]:
        """The notes that are written with a double sharp or flat, and so played on another string."""
        for note, written_notes in self.named.items():
            some = [(bar, fifth) for bar, fifth in written_notes if abs(alteration(fifth)) > 1]
            if some:
                yield note, some

    def remarks(self, plan: Plan) -> tuple[str, ...]:
        """What is to be said about it, in sentences.

        Args:
            plan: what was made of it; one without attacks where none was made.
        """
        return (*_doubles(self, plan), *self.unmet)


@dataclass(frozen=True, slots=True)
class Cost:
    """What a way of writing costs the chosen player.

    Attributes:
        unplayable: attacks that cannot be played.
        audible: audible pedal changes.
        changes: pedal changes.
        tight: how many of these a relaxed player would not have the time for.
        bounded: it is the least that was found, and nothing proves that there is no less.
    """

    unplayable: int
    audible: int
    changes: int
    tight: int = 0
    bounded: bool = False

    @classmethod
    def of_plan(cls, plan: Plan) -> Cost:
        """What a plan costs."""
        return cls(plan.unplayable, plan.audible, len(plan.changes), plan.tight, bool(plan.bounded))

    @property
    def order(self) -> tuple[int, int, int, int]:
        """For comparing: the less the better."""
        return self.unplayable, self.audible, self.tight, self.changes


@dataclass(frozen=True, slots=True)
class Outlook(Cost):
    """The same of a part as it was judged in one spelling; `audible` counts attacks."""

    verdict: Verdict = Verdict.EASY

    @classmethod
    def of(cls, report: PartReport) -> Outlook:
        """That of a report."""
        mine, plan = report.mine, report.plan
        changes = len(plan.changes)
        return cls(mine.unplayable, mine.audible, changes, plan.tight, bool(plan.bounded), report.verdict)


@dataclass(frozen=True, slots=True)
class Compared:
    """A given spelling beside the best one.

    Attributes:
        notes: how many it settles.
        doubled: how many of them are written with a double sharp or flat, and so played on another string.
        remarks: what was done about these and the like.
    """

    what: str
    given: Outlook
    best: Outlook
    notes: int
    remarks: tuple[str, ...]
    doubled: int = 0


def lay(requests: Sequence[Request], attacks: Sequence[Gathered], time_map: TimeMap, window: int) -> Given:
    """The requests laid over the attacks of a part.

    Args:
        requests: later ones go before earlier ones.
        attacks: as gathered, in order.
        time_map: of the part.
        window: that of an attack (µs); one that begins so shortly before a bar belongs to it.

    Raises:
        LivepedalError: for bars beyond the music.
    """
    bars = [printed_number(time_map.place(attack.us + window).bar) for attack in attacks]
    end = max(bars, default=time_map.first_bar)
    named: dict[tuple[int, int], tuple[tuple[int, int], ...]] = {}
    unmet = []
    for request in requests:
        first = time_map.first_bar if request.first is None else request.first
        last = end if request.last is None else request.last
        if first > end or last < time_map.first_bar:
            raise LivepedalError(
                f"The spelling {clean(request.text, 80)!r} is for bars without music; the music has bars"
                f" {time_map.first_bar} to {end}."
            )
        met = {
            (attack.us, pitch): tuple((bar, note.fifth) for note in request.notes if note.sounds(pitch))
            for attack, bar in zip(attacks, bars, strict=True)
            if first <= bar <= last
            for pitch, _ in attack.notes
        }
        met = {note: written_notes for note, written_notes in met.items() if written_notes}
        named |= met
        if not met:
            text = clean(request.text, 80)
            unmet.append(f"No note there has a pitch that “{text}” names, so it has no effect")
    return Given(named, tuple(unmet))


def lay_fifths(attacks: Sequence[Gathered], fifths: Iterable[int], time_map: TimeMap, window: int) -> Given:
    """A written note (line of fifths) for every note of the attacks, in order and upwards within each."""
    remaining = iter(fifths)
    bars = (time_map.place(attack.us + window).bar for attack in attacks)
    return Given(
        {
            (attack.us, pitch): ((bar, next(remaining)),)
            for attack, bar in zip(attacks, bars, strict=True)
            for pitch, _ in attack.notes
        }
    )


def as_printed(part: Part, attacks: Sequence[Gathered]) -> Given:
    """The spelling that a score prints, laid over its attacks."""
    onsets = [attack.us for attack in attacks]
    named = {}
    for (us, pitch), fifth in part.spelled().items():
        number = bisect_right(onsets, us) - 1  # what comes before the next attack belongs to this one
        if number >= 0:
            named[onsets[number], pitch] = ((part.time_map.place(us).bar, fifth),)
    return Given(named)


def printed_spelling(part: Part, figures: Figures) -> Mapping[int, Narrowing] | None:
    """How the attacks of a score are spelled in print, by their moment (µs); None for a MIDI file."""
    return as_printed(part, attacks_of(part.events, figures)).asked if part.spelled() else None


def _doubles(given: Given, plan: Plan) -> Iterator[str]:
    """A sentence for each double sharp or flat: on which strings the plan plays it, how often, and in which bars."""
    played = {
        (us, spelling.pitch): _letter(spelling)
        for us, spellings in zip(plan.attacks, plan.spellings, strict=True)
        for spelling in spellings
        if spelling is not None
    }
    found: dict[int, dict[str, list[int]]] = {}  # written note -> string -> the bar of each note
    for (us, pitch), written_notes in given.doubles:
        for bar, fifth in written_notes:
            if plan.attacks:
                on = played.get((us, pitch), "no string, because it was left out")
            else:
                on = " or ".join(
                    f"{Pedal(pedal).letter}{Position(position).sign}" for pedal, position in strings(fifth)
                )
            found.setdefault(fifth, {}).setdefault(on, []).append(bar)
    for fifth, places in sorted(found.items()):
        where = " and ".join(
            f"on {on} ({counted(len(bars), 'note')}, {bar_list(sorted(set(bars)))})"
            for on, bars in places.items()
        )
        yield f"{name(fifth)} cannot be set by a pedal, so it is played {where}"


def better_strings(given: PartReport, best: PartReport) -> Iterator[str]:
    """Which notes the best spelling has on another string, near places where the given one costs something more.

    A sentence for each note and string. The best spelling is judged as a whole; that one of its notes alone would do
    is not said.
    """
    less = (best.mine.unplayable, best.mine.audible) < (given.mine.unplayable, given.mine.audible)
    if not less or not (given.planned and best.planned):
        return
    known = {finding.us for finding in best.findings}
    bars = {given.place(finding.us).bar for finding in given.findings if finding.us not in known}
    found: dict[tuple[str, str], list[int]] = {}
    for (attack, mine), (_, theirs) in zip(given.spelled, best.spelled, strict=True):
        bar = given.place(attack.us).bar
        if bar not in bars and bar + 1 not in bars:
            continue
        for as_given, at_best in zip(mine, theirs, strict=True):
            if as_given is not None and at_best is not None and as_given.string != at_best.string:
                found.setdefault((_letter(as_given), _letter(at_best)), []).append(bar)
    for (worse, better), where in sorted(found.items(), key=lambda item: min(item[1])):
        yield f"In {bar_list(sorted(set(where)))}, {worse} is better played as {better}"


def _letter(spelling: Spelling) -> str:
    return f"{spelling.pedal.letter}{spelling.position.sign}"


@dataclass(frozen=True, slots=True)
class AskedSpelling:
    """How music is to be spelled: by the key signatures of the file, and by requests, which go before them."""

    requests: tuple[Request, ...] = ()
    as_written: bool = False

    @property
    def what(self) -> str:
        """What it is called in reports."""
        return "as written" if self.as_written and not self.requests else "as asked for"

    def laid(self, part: Part, attacks: Sequence[Gathered], window: int, file: str) -> Given:
        """This spelling laid over the attacks of a part.

        Args:
            part: the part.
            attacks: as gathered, in order.
            window: as for `lay`.
            file: what messages call the file.

        Raises:
            LivepedalError: for bars beyond the music, or where a file has no key signature to go by.
        """
        named: Named = {}
        if self.as_written and part.spelled():
            named = as_printed(part, attacks).named
        elif self.as_written:
            if not part.keys:
                raise LivepedalError(
                    f"{clean(file, 500)} has no key signature for --as-written to use; give the spelling with --spell."
                )
            named = lay_fifths(attacks, written(attacks, part.keys), part.time_map, window).named
        more = lay(self.requests, attacks, part.time_map, window)
        return Given({**named, **more.named}, more.unmet)  # what is asked for goes before what is written
