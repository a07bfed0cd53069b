"""What `check` does with the parts of one file.

They are judged as they are spelled, proofread, advised on, and laid out as a spelling sheet.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import attacks_of, judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.report import CheckedPart
from livepedal.errors import LivepedalError
from livepedal.model.feet.chords import Chords, Narrowing
from livepedal.model.findings import Layer
from livepedal.music.choosing import Wanted
from livepedal.music.pedal_words import marks_in
from livepedal.music.song import Part, Song

if TYPE_CHECKING:  # what only some runs need is imported there, since starting takes time
    from livepedal.advice.remedies.remedy import PartAdvice
    from livepedal.advice.spelling.given import AskedSpelling, Given

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Task:
    """What is to be found out about a file; the rest is as the arguments of `check_file` say.

    Attributes:
        basis: what it is judged on.
        wanted: which notes of it are the harp's.
    """

    basis: Basis
    wanted: Wanted
    spelling: AskedSpelling | None = None
    first_bar: int = 1
    from_bar: int | None = None
    as_marked: bool = False
    remedies: bool = False
    sheet: bool = False
    pedalling: bool = True


class Check:
    """The parts of one file. Each step takes the parts that the step before it made."""

    def __init__(self, song: Song, parts: Sequence[Part], task: Task) -> None:
        """Raises LivepedalError where there is nothing to proofread and it is asked for."""
        self.song = song
        self.parts = parts
        self.basis = basis = task.basis
        self.spelling = spelling = task.spelling
        self.pedalling, as_marked = task.pedalling, task.as_marked
        self._chords = Chords(basis.instrument)
        # A score is judged as it is printed, but for what somebody asks for.
        self._wishes = [printed_wish(spelling) if part.spelled() else spelling for part in parts]
        self._given: list[Given | None] = []
        self._free: list[PartReport] = []  # what each would be with its spelling left free
        self._marked = [
            marks_in(song.words_of(part), part.name if len(parts) > 1 else "")
            if as_marked or part.written is not None
            else ()
            for part in parts
        ]
        if as_marked and not any(self._marked):
            raise LivepedalError(
                f"{song.path} has no pedal changes in its texts, markers or lyrics, so --as-marked has nothing to go"
                " by; write them as Eb or F#."
            )

    def judged(self, progress: Progress | None) -> tuple[CheckedPart, ...]:
        """Each part as it is spelled, with its printed pedalling proofread."""
        times = [1 if wish is None else 2 for wish in self._wishes]
        total = sum(len(part.events) * often for part, often in zip(self.parts, times, strict=True))
        done = 0

        def step(count: int) -> None:
            nonlocal done
            done += count
            if progress is not None:
                progress(done, total)

        found = [self._spelled(part, wish, step) for part, wish in zip(self.parts, self._wishes, strict=True)]
        if self.basis.layers and Layer.PEDALS not in self.basis.layers:
            return tuple(found)
        return tuple(self._proofread(number, part) for number, part in enumerate(found))

    def _spelled(self, part: Part, wish: AskedSpelling | None, step: Callable[[int], None]) -> CheckedPart:
        """A part as it is wished for, beside the best spelling."""

        def judge(asked: Mapping[int, Narrowing] | None = None) -> PartReport:
            on = replace(self.basis, asked=asked)
            return judge_part(part, on, step=step, chords=self._chords, pedalling=self.pedalling)

        if wish is None:
            self._given.append(None)
            report = judge()
            self._free.append(report)
            if not report.plan.attacks:
                return CheckedPart.of(report)
            from livepedal.advice.spelling.departures import departures

            return CheckedPart.of(report, names=departures(report, self.basis))
        from livepedal.advice.spelling.given import Compared, Outlook, better_strings

        figures = self.basis.figures
        given = wish.laid(part, attacks_of(part.events, figures), figures.window.attack, self.song.path)
        self._given.append(given)
        report, best = judge(given.asked), judge()
        self._free.append(best)
        better = better_strings(report, best) if part.spelled() and self.spelling is None else ()
        remarks = (*given.remarks(report.plan), *better)
        notes, doubled = len(given.named), len(list(given.doubles))
        compared = Compared(wish.what, Outlook.of(report), Outlook.of(best), notes, remarks, doubled)
        return CheckedPart.of(report, compared)

    def _proofread(self, number: int, report: CheckedPart) -> CheckedPart:
        marks, given = self._marked[number], self._given[number]
        if not marks:
            return report
        from livepedal.advice.proofreading.proofread import proofread

        keys = self.parts[number].keys
        on = replace(self.basis, asked=None if given is None else given.asked)
        printed = proofread(marks, report.music, keys[0].fifths if keys else None, report.time_map, on)
        return replace(report, printed=printed)

    def advised(self, judged: Sequence[CheckedPart], progress: Progress | None) -> tuple[CheckedPart, ...]:
        """The parts with remedies."""
        from livepedal.advice.remedies.search import part_advice

        def on(report: CheckedPart, free: PartReport) -> PartAdvice:
            asked = None if report.spelling is None else report
            return part_advice(free, self.basis, asked=asked, progress=progress)

        return tuple(
            replace(report, advice=on(report, free)) for report, free in zip(judged, self._free, strict=True)
        )

    def with_sheets(self, judged: Sequence[CheckedPart]) -> tuple[CheckedPart, ...]:
        """The parts with their spelling sheets."""
        from livepedal.advice.spelling.sheet import sheet_of

        return tuple(
            replace(report, sheet=sheet_of(report, part, self.basis, given=given))
            for part, report, given in zip(self.parts, judged, self._given, strict=True)
        )


def printed_wish(spelling: AskedSpelling | None) -> AskedSpelling:
    """That a score is spelled as it is printed, but for what is asked for."""
    from livepedal.advice.spelling.given import AskedSpelling

    return AskedSpelling(() if spelling is None else spelling.requests, as_written=True)
