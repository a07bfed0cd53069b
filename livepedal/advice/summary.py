"""A file's report in short: its row in a table of many files, and whether it fails.

Small, so that a pass over any number of files holds no more than the file at hand; `Tally` counts them for
the closing words.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from livepedal.advice.report import CheckedPart, FileReport
from livepedal.model.findings import Finding, Kind, Layer, Outcome, Verdict, worst, worst_first
from livepedal.music.song import NO_METRE, NO_TEMPO
from livepedal.music.timemap import Place
from livepedal.sources.smf import IN_PART


class FailOn(StrEnum):
    """What makes a pass over files fail; each of the first three includes the ones before it."""

    UNPLAYABLE = "unplayable"  # no player can
    VIRTUOSO = "virtuoso"  # a working player cannot
    AUDIBLE = "audible"  # or an audible pedal change is heard
    PRINTED = "printed"  # the player cannot play it, or a printed pedalling has a mistake


@dataclass(frozen=True, slots=True)
class Trouble:
    """A group of findings (groups.py) in short; part: the name of its part."""

    part: str
    kind: Kind
    audible: bool
    verdict: Verdict
    notes: tuple[int, ...]
    attacks: int


@dataclass(frozen=True, slots=True)
class Fastest:
    """How fast the chosen player manages a file.

    Attributes:
        ratio: of the written tempo, None: not even at half of it.
        bpm: quarters a minute, where the tempo is steady.
        sensible: at least half the tempo.
        missing: no string gives one of its notes, so that no tempo will do.
    """

    ratio: Fraction | None
    bpm: int | None
    sensible: bool
    missing: bool = False


@dataclass(frozen=True, slots=True)
class FileSummary:
    """One file.

    Attributes:
        error: why it could not be judged; then the rest says nothing.
        outcomes: of the chosen player, a part each, with its verdict.
        audible_changes: how many attacks of parts that it can play are played only with an audible pedal change.
        worst: the worst finding, in the part of this name (empty where it is the only one) and at this place.
        fastest: where remedies were looked for.
        remark: the first oddity of its parts or the file; what is missing of it before all else, a tempo or metre
            that nobody knows last.
        in_part: it could not be read to its end, so all of this is about what there is.
        slips: in printed pedallings.
        troubles: all groups of findings.
        spelling: "as written", where another spelling than the given one would have a better verdict; else "".
        free: that verdict.
    """

    path: str
    error: str | None = None
    outcomes: tuple[tuple[Verdict, Outcome], ...] = ()
    audible: bool = False
    audible_changes: int = 0
    worst: Finding | None = None
    place: Place | None = None
    part: str = ""
    fastest: Fastest | None = None
    remark: str = ""
    in_part: bool = False
    slips: int = 0
    troubles: tuple[Trouble, ...] = ()
    spelling: str = ""
    free: Verdict = Verdict.EASY

    @classmethod
    def of(cls, file: FileReport) -> FileSummary:
        """The summary of a report."""
        if file.error is not None:
            return cls(file.path, file.error)
        found = [(finding, part) for part in file.parts for finding in part.findings]
        finding, part = min(found, key=lambda one: worst_first(one[0]), default=(None, None))
        remarks = [*(remark for one in file.parts for remark in one.remarks), *file.remarks]
        remarks.sort(
            key=lambda remark: (not remark.endswith(IN_PART), remark.startswith((NO_TEMPO, NO_METRE)))
        )
        free = worst(one.verdict if one.spelling is None else one.spelling.best.verdict for one in file.parts)
        given = (one.spelling.what for one in file.parts if one.spelling is not None)
        tempos = [fastest for one in file.parts if (fastest := _fastest(one)) is not None]
        return cls(
            file.path,
            outcomes=tuple((one.verdict, one.outcome) for one in file.parts),
            audible=any(one.audible or one.outcome is Outcome.AUDIBLE for one in file.parts),
            audible_changes=sum(one.mine.audible for one in file.parts if one.outcome is Outcome.AUDIBLE),
            worst=finding,
            place=None if finding is None or part is None else part.place(finding.us),
            part=part.name if part is not None and len(file.parts) > 1 else "",
            fastest=min(tempos, key=lambda one: one.ratio or 0, default=None),
            remark=remarks[0] if remarks else "",
            in_part=any(remark.endswith(IN_PART) for remark in file.remarks),
            slips=sum(len(one.printed.faults) for one in file.parts if one.printed is not None),
            troubles=tuple(
                Trouble(
                    part.name,
                    group.worst.kind,
                    group.worst.audible,
                    group.worst.verdict,
                    group.notes,
                    group.attacks,
                )
                for part in file.parts
                for group in part.groups
            ),
            spelling=next(given, "") if free < file.verdict else "",
            free=free,
        )

    @property
    def verdict(self) -> Verdict:
        """The worst of its parts."""
        return worst(verdict for verdict, _ in self.outcomes)

    def exit_code(self, fail_on: FailOn | None = None) -> int:
        """2: it could not be judged, or not to its end; 1: it fails; 0: neither.

        By default it fails where the chosen player cannot play it.
        """
        if self.error is not None or self.in_part:
            return 2
        if fail_on is FailOn.PRINTED and self.slips:
            return 1
        if fail_on in (None, FailOn.PRINTED):
            return int(any(outcome is Outcome.CANNOT for _, outcome in self.outcomes))
        if fail_on is FailOn.UNPLAYABLE:
            return int(self.verdict is Verdict.UNPLAYABLE)
        return int(self.verdict >= Verdict.VIRTUOSO or (fail_on is FailOn.AUDIBLE and self.audible))


@dataclass(slots=True)
class Tally:
    """Counts files as they are judged.

    Attributes:
        hint: the first file that could be mended and nobody has asked how.
        audible_changes: attacks with an audible pedal change.
        in_part: files that break off.
    """

    files: int = 0
    failed: int = 0
    verdicts: Counter[Verdict] = field(default_factory=Counter)
    cannot: int = 0
    audible: int = 0
    audible_changes: int = 0
    in_part: int = 0
    hint: str = ""
    code: int = 0

    @classmethod
    def of(cls, files: Iterable[FileReport]) -> Tally:
        """The tally of complete reports."""
        tally = cls()
        for file in files:
            summary = FileSummary.of(file)
            tally.add(summary, summary.exit_code())
        return tally

    def add(self, file: FileSummary, code: int = 0) -> None:
        """Count one more file, which has this exit code."""
        self.files += 1
        self.in_part += file.in_part
        self.failed += file.error is not None
        for verdict, outcome in file.outcomes:
            self.verdicts[verdict] += 1
            self.cannot += outcome is Outcome.CANNOT
            self.audible += outcome is Outcome.AUDIBLE
            if outcome is Outcome.CANNOT and file.fastest is None:
                self.hint = self.hint or file.path
        self.audible_changes += file.audible_changes
        self.code = max(self.code, code)


def _fastest(part: CheckedPart) -> Fastest | None:
    if part.advice is None:
        return None
    mine = next((one for one in part.advice.tempos if one.player == part.player), None)
    if mine is None:
        return Fastest(Fraction(1), None, True)  # no trouble at all
    from livepedal.advice.remedies.telling import Teller  # few passes look for remedies

    written = Teller(part.advice.instrument, part.time_map).steady(0, part.end)
    missing = any(finding.layer is Layer.STRINGS for finding in part.findings)
    return Fastest(mine.ratio, None if written is None else mine.bpm(written), mine.sensible, missing)
