"""Did it help? Two versions of a part side by side, bar by bar.

Bars are lined up by what is in them: those that are the same in both (the same pitches on the same beats,
whatever the tempo) hold the versions together, and between them bars go in pairs; what is left over was put
in or taken out. A bar's verdict is that of its worst attack, from the rolling model; pedal changes are those
of the plan, in the bar where the foot starts. A note is *respelt* where both versions have it and the plan
plays it on another string.

Something got worse where a bar has a worse verdict than before, or a new bar is worse than every bar was, or
where the chosen player has more trouble: more attacks that cannot be played, more of those and of the ones that
sound only with an audible pedal change taken together, or more passages with too much at once. An attack that could
not be played and now sounds with an audible pedal change got better, so the audible ones are not counted by themselves.
More pedal changes alone are no fault; they are shown.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from fractions import Fraction
from typing import Any

from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.values import bar_dict
from livepedal.harp import Spelling
from livepedal.model.findings import Outcome, Verdict
from livepedal.music.wording import counted

# A note in its bar: beat and MIDI pitch.
BarNote = tuple[Fraction, int]
MOST = 3  # bars that a short text names one by one
FEW_BARS = 3  # with no more bars than this, one cannot say whether they are of one part
# One note in so many is in both, or these are hardly versions of one part (common practice, no source).
ALIKE = 5


@dataclass(frozen=True, slots=True)
class BarOutlook:
    """One bar of one version.

    Attributes:
        verdict: None where nothing is struck.
        spelled: the string of each note, and its position, as the plan has it.
    """

    bar: int
    verdict: Verdict | None
    audible: int
    unplayable: int
    changes: int
    notes: tuple[BarNote, ...]
    spelled: Mapping[BarNote, Spelling] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BarPair:
    """A bar before and after; None if the version has no such bar."""

    before: BarOutlook | None
    after: BarOutlook | None

    @property
    def dropped(self) -> tuple[BarNote, ...]:
        """Notes that only the bar before has."""
        return _without(self.before, self.after)

    @property
    def added(self) -> tuple[BarNote, ...]:
        """Notes that only the bar after has."""
        return _without(self.after, self.before)

    @property
    def respelt(self) -> tuple[tuple[BarNote, Spelling, Spelling], ...]:
        """Notes of both versions that lie on another string now, with the string before and after."""
        if self.before is None or self.after is None:
            return ()
        was, now = self.before.spelled, self.after.spelled
        return tuple(
            (note, was[note], now[note])
            for note in sorted(was)
            if note in now and was[note].name != now[note].name
        )

    @property
    def worse(self) -> bool:
        """Whether the bar has a worse verdict than before."""
        if self.before is None or self.after is None:
            return False
        if self.before.verdict is None or self.after.verdict is None:
            return False  # music where there was none counts as a new bar
        return self.after.verdict > self.before.verdict

    @property
    def same(self) -> bool:
        """Whether there is nothing to show."""
        before, after = self.before, self.after
        if before is None or after is None:
            return False
        numbers = [(bar.verdict, bar.audible, bar.unplayable, bar.changes) for bar in (before, after)]
        return numbers[0] == numbers[1] and not (self.dropped or self.added or self.respelt)


@dataclass(frozen=True, slots=True)
class Total:
    """A whole version for the chosen player.

    Attributes:
        bounded, note: of the search for its pedal changes, as the report has them.
        too_much: passages with too much at once, which no bar's verdict counts.
    """

    verdict: Verdict
    unplayable: int
    audible: int
    changes: int
    notes: int
    seconds: float
    bounded: int = 0
    note: str = ""
    too_much: int = 0

    @property
    def troubled(self) -> int:
        """Attacks that cannot be played, or only with an audible pedal change."""
        return self.unplayable + self.audible

    @property
    def fails(self) -> bool:
        """Whether the chosen player cannot play it."""
        return bool(self.unplayable or self.too_much)


@dataclass(frozen=True, slots=True)
class PartComparison:
    """A part before and after.

    Attributes:
        player: the name of the chosen one.
    """

    name: str
    before: Total
    after: Total
    bars: tuple[BarPair, ...]
    player: str

    @property
    def worse(self) -> tuple[str, ...]:
        """What got worse, one clause each; empty if nothing did."""
        return (*self._bar_clauses(worse=True), *self._total_clauses(worse=True))

    @property
    def improved(self) -> tuple[str, ...]:
        """What got better, one clause each; empty if nothing did."""
        return (*self._bar_clauses(worse=False), *self._total_clauses(worse=False))

    def in_short(self, *, worse: bool) -> tuple[str, ...]:
        """What got worse, or better: at most `MOST` bars, how many more there are, and the attacks of all of it."""
        bars = list(self._bar_clauses(worse=worse))
        more = len(bars) - MOST
        if more > 0:
            bars[MOST:] = [f"and {counted(more, 'more bar')}"]
        return (*bars, *self._total_clauses(worse=worse))

    @property
    def percent(self) -> int:
        """How fast the later version is, in per cent of the earlier one; 100 where their notes are not the same."""
        if any(None in (pair.before, pair.after) or pair.dropped or pair.added for pair in self.bars):
            return 100
        return round(100 * self.before.seconds / self.after.seconds) if self.after.seconds else 100

    @property
    def strangers(self) -> bool:
        """Whether they have so few notes in common that they may be two pieces."""
        lost = sum(len(pair.dropped) for pair in self.bars)
        found = sum(len(pair.added) for pair in self.bars)
        kept = min(self.before.notes - lost, self.after.notes - found)
        return len(self.bars) >= FEW_BARS and kept * ALIKE < min(self.before.notes, self.after.notes)

    def _bar_clauses(self, *, worse: bool) -> Iterator[str]:
        for pair in self.bars:
            before, after = pair.before, pair.after
            if after is None or after.verdict is None:
                continue
            was = None if before is None else before.verdict
            if was is None:
                if worse and after.verdict > self.before.verdict:
                    yield f"bar {after.bar} is new and {after.verdict.word}"
            elif after.verdict > was if worse else after.verdict < was:
                yield f"bar {after.bar} was {was.word} and is now {after.verdict.word}"

    def _total_clauses(self, *, worse: bool) -> Iterator[str]:
        # What counts is where the version told of stands against the other one: worse, it is the one with more.
        less, more = (self.before, self.after) if worse else (self.after, self.before)
        if more.unplayable > less.unplayable:
            clause = f"attacks that cannot be played: {self._change('unplayable')}"
            if not worse and self.after.audible > self.before.audible:
                clause += f" (but {self._change('audible')} sound only with an audible pedal change)"
            yield clause
        if more.troubled > less.troubled and more.audible > less.audible:
            # What only fell from one kind to the other is told of the first; here there are more of both together.
            both = "cannot be played or " if more.unplayable < less.unplayable else ""
            what = "troubled" if both else "audible"
            yield f"attacks that {both}sound only with an audible pedal change: {self._change(what)}"
        if more.too_much > less.too_much:
            yield f"passages with too many pedal changes at once: {self._change('too_much')}"
        if (self.before.too_much or self.after.too_much) and more.fails and not less.fails:
            can = "can no longer play it" if worse else "can play it now"
            yield f"the {self.player} player {can}"

    def _change(self, what: str) -> str:
        """A total and its former value: "none instead of 6"."""
        return f"{getattr(self.after, what) or 'none'} instead of {getattr(self.before, what) or 'none'}"

    @property
    def better(self) -> bool:
        """Whether the version as a whole is better.

        Fewer attacks that cannot be played count first, then less that is too much at once, then fewer audible
        attacks, then fewer changes.
        """
        before, after = (
            (total.unplayable, total.too_much, total.audible, total.changes)
            for total in (self.before, self.after)
        )
        return after < before


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two files.

    Attributes:
        unmatched: names of parts that only one of them has.
        broken_off: those of the two files that could not be read to their end.
    """

    before: str
    after: str
    parts: tuple[PartComparison, ...]
    unmatched: tuple[str, ...] = ()
    broken_off: tuple[str, ...] = ()

    @property
    def exit_code(self) -> int:
        """0: nothing got worse; 1: something did; 2: a file could not be read to its end."""
        return 2 if self.broken_off else int(self.worse)

    @property
    def worse(self) -> bool:
        """Whether something got worse."""
        return any(part.worse for part in self.parts)

    def to_dict(self) -> dict[str, Any]:
        """The JSON (format livepedal-compare, version 1)."""
        return {
            "format": "livepedal-compare",
            "version": 1,
            "before": self.before,
            "after": self.after,
            "worse": self.worse,
            "parts": [_part_dict(part) for part in self.parts],
            "unmatched": list(self.unmatched),
        }


def compare_parts(
    before: str, after: str, old: Sequence[PartReport], new: Sequence[PartReport]
) -> Comparison:
    """Two files by their names, and their parts in pairs, in their order, as far as both have them."""
    parts = tuple(
        PartComparison(
            after_part.name or before_part.name,
            _total(before_part),
            _total(after_part),
            line_up(bars_of(before_part), bars_of(after_part)),
            after_part.player,
        )
        for before_part, after_part in zip(old, new)  # noqa: B905, as far as both go
    )
    unmatched = (part.name for some in (old, new) for part in some[len(parts) :])
    return Comparison(before, after, parts, tuple(unmatched))


def bars_of(report: PartReport) -> tuple[BarOutlook, ...]:
    """Every bar of a part from the first with notes to the last."""
    number = report.counts.index(report.mine)
    graded = {one.us: one for one in report.graded}
    met: dict[int, list[tuple[Verdict, Outcome]]] = defaultdict(list)
    notes: dict[int, list[BarNote]] = defaultdict(list)
    spelled: dict[int, dict[BarNote, Spelling]] = defaultdict(dict)
    for attack, spellings in report.spelled:
        place = report.place(attack.us)
        known = graded.get(attack.us)
        met[place.bar].append(
            (known.verdict, known.outcomes[number]) if known else (Verdict.EASY, Outcome.PLAYS)
        )
        # As played, no two takes agree to the tick: beats are compared to a sixteenth of one.
        beat = Fraction(round(place.beat * 16), 16)
        for (pitch, _), spelling in zip(attack.notes, spellings, strict=True):
            notes[place.bar].append((beat, pitch))
            if spelling is not None:
                spelled[place.bar][beat, pitch] = spelling
    changes = Counter(report.place(change.us).bar for change in report.plan.changes)
    bars = range(min(notes), max(notes) + 1) if notes else ()
    found = []
    for bar in bars:
        outcomes = [outcome for _, outcome in met[bar]]
        found.append(
            BarOutlook(
                bar,
                max((verdict for verdict, _ in met[bar]), default=None),
                outcomes.count(Outcome.AUDIBLE),
                outcomes.count(Outcome.CANNOT),
                changes[bar],
                tuple(sorted(notes[bar])),
                spelled[bar],
            )
        )
    return tuple(found)


def line_up(before: Sequence[BarOutlook], after: Sequence[BarOutlook]) -> tuple[BarPair, ...]:
    """Bars in pairs: equal bars together, the bars between them in order."""
    if [bar.bar for bar in before] == [bar.bar for bar in after]:
        return tuple(BarPair(one, other) for one, other in zip(before, after, strict=True))
    matcher = SequenceMatcher(
        None, [bar.notes for bar in before], [bar.notes for bar in after], autojunk=False
    )
    pairs: list[BarPair] = []
    for _, a, b, c, d in matcher.get_opcodes():
        for n in range(max(b - a, d - c)):
            pairs.append(BarPair(before[a + n] if a + n < b else None, after[c + n] if c + n < d else None))
    return tuple(pairs)


def _without(bar: BarOutlook | None, other: BarOutlook | None) -> tuple[BarNote, ...]:
    left = Counter(bar.notes if bar is not None else ())
    left.subtract(other.notes if other is not None else ())
    return tuple(sorted(note for note, count in left.items() if count > 0 for _ in range(count)))


def _total(report: PartReport) -> Total:
    mine = report.mine
    return Total(
        report.verdict,
        mine.unplayable,
        mine.audible,
        len(report.plan.changes),
        report.notes,
        report.end / 1_000_000,
        report.plan.bounded,
        report.plan_note,
        mine.too_much,
    )


def _part_dict(part: PartComparison) -> dict[str, Any]:
    return {
        "name": part.name,
        "before": _total_dict(part.before),
        "after": _total_dict(part.after),
        "worse": list(part.worse),
        "better": list(part.improved),
        "bars": [
            {
                "before": _bar_outlook_dict(pair.before),
                "after": _bar_outlook_dict(pair.after),
                "dropped": [_note_dict(note) for note in pair.dropped],
                "added": [_note_dict(note) for note in pair.added],
                "respelt": [
                    {**_note_dict(note), "before": was.name, "after": now.name}
                    for note, was, now in pair.respelt
                ],
            }
            for pair in part.bars
        ],
    }


def _total_dict(version: Total) -> dict[str, Any]:
    return {
        "verdict": version.verdict.word,
        "unplayable": version.unplayable,
        "audible": version.audible,
        "too_much": version.too_much,
        "changes": version.changes,
        "notes": version.notes,
        "seconds": round(version.seconds, 6),
        "plan_bounded": version.bounded,
    }


def _bar_outlook_dict(outlook: BarOutlook | None) -> dict[str, Any] | None:
    if outlook is None:
        return None
    return {
        **bar_dict(outlook.bar),
        "verdict": None if outlook.verdict is None else outlook.verdict.word,
        "unplayable": outlook.unplayable,
        "audible": outlook.audible,
        "changes": outlook.changes,
    }


def _note_dict(note: BarNote) -> dict[str, Any]:
    beat, pitch = note
    return {"beat": [beat.numerator, beat.denominator], "note": pitch}
