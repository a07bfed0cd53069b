"""Did it help? Two versions of a part side by side.

Something got worse where a bar has a worse verdict than before, or a new bar is worse than every bar was, or
where the chosen player has more trouble: more attacks that cannot be played, more of those and of the ones that
sound only with an audible pedal change taken together, or more passages with too much at once. An attack that could
not be played and now sounds with an audible pedal change got better, so the audible ones are not counted by themselves.
More pedal changes alone are no fault; they are shown.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from livepedal.advice.comparing.bars import BarPair, bars_of, line_up
from livepedal.advice.judging.report import PartReport
from livepedal.model.findings import Verdict
from livepedal.music.wording import counted

MOST = 3  # bars that a short text names one by one
FEW_BARS = 3  # with no more bars than this, one cannot say whether they are of one part
# One note in so many is in both, or these are hardly versions of one part (common practice, no source).
ALIKE = 5


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

    @classmethod
    def of(cls, report: PartReport) -> Total:
        """The total of a version that was judged."""
        mine = report.mine
        return cls(
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

    def to_dict(self) -> dict[str, Any]:
        """As it stands in the JSON."""
        return {
            "verdict": self.verdict.word,
            "unplayable": self.unplayable,
            "audible": self.audible,
            "too_much": self.too_much,
            "changes": self.changes,
            "notes": self.notes,
            "seconds": round(self.seconds, 6),
            "plan_bounded": self.bounded,
        }


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
                clause += f" (but {self._change('audible')} can be played only with an audible pedal change)"
            yield clause
        if more.troubled > less.troubled and more.audible > less.audible:
            # What only fell from one kind to the other is told of the first; here there are more of both together.
            both = "cannot be played or " if more.unplayable < less.unplayable else ""
            what = "troubled" if both else "audible"
            yield f"attacks that {both}can be played only with an audible pedal change: {self._change(what)}"
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

    def to_dict(self) -> dict[str, Any]:
        """As it stands in the JSON."""
        return {
            "name": self.name,
            "before": self.before.to_dict(),
            "after": self.after.to_dict(),
            "worse": list(self.worse),
            "better": list(self.improved),
            "bars": [pair.to_dict() for pair in self.bars],
        }


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
            "parts": [part.to_dict() for part in self.parts],
            "unmatched": list(self.unmatched),
        }


def compare_parts(
    before: str, after: str, old: Sequence[PartReport], new: Sequence[PartReport]
) -> Comparison:
    """Two files by their names, and their parts in pairs: those of one name, then the others in their order."""
    pairs: dict[int, int] = {}
    left = list(range(len(new)))
    for of_one_name in (True, False):
        for number, part in enumerate(old):
            others = [other for other in left if not of_one_name or new[other].name == part.name]
            if number not in pairs and others:
                pairs[number] = others[0]
                left.remove(others[0])
    parts = tuple(
        PartComparison(
            after_part.name or before_part.name,
            Total.of(before_part),
            Total.of(after_part),
            line_up(bars_of(before_part), bars_of(after_part)),
            after_part.player,
        )
        for before_part, after_part in ((old[a], new[b]) for a, b in sorted(pairs.items()))
    )
    alone = [old[number].name for number in range(len(old)) if number not in pairs]
    return Comparison(before, after, parts, (*alone, *(new[number].name for number in left)))
