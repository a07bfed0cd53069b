"""Two versions of a part, bar by bar.

Bars are lined up by what is in them (pitches on beats, whatever the tempo): of all ways to pair them in order, the one
that leaves the fewest notes without their like in the other version; a bar without a partner was put in or taken out.
Where that makes no difference, bars go in pairs. A bar's verdict is that of its worst attack, from the rolling model;
pedal changes are those of the plan, in the bar where the foot starts. A note is *respelt* where both versions have it
and the plan plays it on another string.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import takewhile
from typing import Any

from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.values import bar_dict
from livepedal.harp import Spelling
from livepedal.model.findings import Outcome, Verdict

# A note in its bar: beat and MIDI pitch.
BarNote = tuple[Fraction, int]


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

    def to_dict(self) -> dict[str, Any]:
        """As it stands in the JSON."""
        return {
            **bar_dict(self.bar),
            "verdict": None if self.verdict is None else self.verdict.word,
            "unplayable": self.unplayable,
            "audible": self.audible,
            "changes": self.changes,
        }


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

    def to_dict(self) -> dict[str, Any]:
        """As it stands in the JSON."""
        return {
            "before": self.before and self.before.to_dict(),
            "after": self.after and self.after.to_dict(),
            "dropped": [_note_dict(note) for note in self.dropped],
            "added": [_note_dict(note) for note in self.added],
            "respelt": [
                {**_note_dict(note), "before": was.name, "after": now.name} for note, was, now in self.respelt
            ],
        }


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
    """Bars in pairs, in order."""
    # What is the same at both ends is left out of the search.
    head = sum(1 for _ in takewhile(_equal, zip(before, after, strict=False)))
    ends = zip(reversed(before[head:]), reversed(after[head:]), strict=False)
    tail = sum(1 for _ in takewhile(_equal, ends))
    old, new = before[head : len(before) - tail], after[head : len(after) - tail]
    pairs = [*zip(before[:head], after[:head], strict=True), *_best_way(old, new)]
    pairs += zip(before[len(before) - tail :], after[len(after) - tail :], strict=True)
    return tuple(BarPair(one, other) for one, other in pairs)


def _equal(pair: tuple[BarOutlook, BarOutlook]) -> bool:
    return pair[0].notes == pair[1].notes


def _best_way(
    before: Sequence[BarOutlook], after: Sequence[BarOutlook]
) -> list[tuple[BarOutlook | None, BarOutlook | None]]:
    """The bars in pairs with the least difference: a best path, where a bar without a partner differs by half.

    How much a pair differs is the part of its notes (0 to 1) that only one of the two has.
    """
    notes = [frozenset(bar.notes) for bar in after]
    best = [0.5 * n for n in range(len(after) + 1)]
    came: list[bytearray] = []  # for each bar before and after: 0 paired, 1 only before, 2 only after
    for bar in before:
        own = frozenset(bar.notes)
        now, steps = [best[0] + 0.5], bytearray([1])
        for n, other in enumerate(notes):
            most = max(len(own), len(other))
            ways = best[n] + (1 - len(own & other) / most if most else 0), best[n + 1] + 0.5, now[n] + 0.5
            now.append(min(ways))
            steps.append(ways.index(now[-1]))
        best = now
        came.append(steps)
    pairs: list[tuple[BarOutlook | None, BarOutlook | None]] = []
    a, b = len(before), len(after)
    while a or b:
        step = came[a - 1][b] if a else 2
        a, b = a - (step != 2), b - (step != 1)
        pairs.append((before[a] if step != 2 else None, after[b] if step != 1 else None))
    return pairs[::-1]


def _without(bar: BarOutlook | None, other: BarOutlook | None) -> tuple[BarNote, ...]:
    left = Counter(bar.notes if bar is not None else ())
    left.subtract(other.notes if other is not None else ())
    return tuple(sorted(note for note, count in left.items() if count > 0 for _ in range(count)))


def _note_dict(note: BarNote) -> dict[str, Any]:
    beat, pitch = note
    return {"beat": [beat.numerator, beat.denominator], "note": pitch}
