"""The passages that are over: what went wrong in each and what would mend it, for looking back.

`History` gathers them as they close; a `Chapter` is one of them, and never changes but for its remedies, for
which somebody works in the background. Memory is bounded: of a long session the last passages are kept, of a
passage its first findings.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from livepedal.harp import Setting
from livepedal.model.findings import Finding, Passage
from livepedal.music.timemap import Place
from livepedal.views import words
from livepedal.views.canvas import Canvas
from livepedal.views.lines import Line, Span, Tone, tone_of

MOST_CHAPTERS = 500
MOST_FINDINGS = 100  # of one passage


def nowhere(us: int) -> Place | None:
    """The bar and beat of a moment where nobody counts."""
    return None


@dataclass(frozen=True, slots=True)
class Chapter:
    """One passage that is over. number: from 1; take: of a session, 1 elsewhere; place: bar and beat of its
    moments; findings: at most `MOST_FINDINGS`, with `more` that were not kept; remedies: in a line each, the
    best first, None while they are being looked for or where nobody looks; entry: how the pedals are to stand
    before it, "" where nobody knows.
    """

    number: int
    passage: Passage
    findings: tuple[Finding, ...]
    more: int = 0
    place: Callable[[int], Place | None] = nowhere
    take: int = 1
    remedies: tuple[str, ...] | None = None
    entry: str = ""


class History:
    """The chapters so far. Fed with what is settled, in order of time."""

    def __init__(self) -> None:
        self.chapters: tuple[Chapter, ...] = ()
        self._findings: list[Finding] = []
        self._more = 0
        self._number = 0

    def found(self, finding: Finding) -> None:
        """A finding, whose attack is over."""
        if len(self._findings) < MOST_FINDINGS:
            self._findings.append(finding)
        else:
            self._more += 1

    def over(
        self,
        passage: Passage,
        place: Callable[[int], Place | None] = nowhere,
        take: int = 1,
        entry: Setting | None = None,
    ) -> Chapter:
        """A passage that is over; its findings were told before."""
        self._number += 1
        mine = tuple(f for f in self._findings if f.us <= passage.end)
        self._findings = [f for f in self._findings if f.us > passage.end]
        setting = "" if entry is None or entry == Setting.unset() else str(entry)
        chapter = Chapter(self._number, passage, mine, self._more, place, take, entry=setting)
        self._more = 0
        self.chapters = (*self.chapters, chapter)[-MOST_CHAPTERS:]
        return chapter

    def advise(self, number: int, remedies: tuple[str, ...]) -> None:
        """The remedies of a passage, a line each, the best first."""
        self.chapters = tuple(
            replace(one, remedies=remedies) if one.number == number else one for one in self.chapters
        )


def where(chapter: Chapter) -> str:
    """From where to where: "bars 1 to 4"; the times where nobody counts bars."""
    passage = chapter.passage
    start, end = chapter.place(passage.start), chapter.place(passage.end)
    if start is None or end is None:
        return f"{words.moment(passage.start)} to {words.moment(passage.end)}"
    return words.bars(start, end)


def trouble(chapter: Chapter) -> str:
    """How many findings there were: "nothing wrong", "3 findings"."""
    number = len(chapter.findings) + chapter.more
    return words.counted(number, "finding") if number else "nothing wrong"


def listed(canvas: Canvas, chapters: tuple[Chapter, ...], chosen: int, rows: int) -> None:
    """The list, a row each, the newest last; `chosen` (a number) is marked and in sight."""
    canvas.rule("passages", f"{len(chapters)} over")
    rows -= 1
    numbers = [chapter.number for chapter in chapters]
    at = numbers.index(chosen) if chosen in numbers else len(numbers) - 1
    first = max(min(at - rows // 2, len(chapters) - rows), 0)
    if not chapters:
        canvas.row("  No passage is over yet: one ends when nothing sounds for a while.")
    takes = len({chapter.take for chapter in chapters}) > 1
    for chapter in chapters[first : first + rows]:
        here = chapter is chapters[at]
        verdict = chapter.passage.verdict
        take = f"take {chapter.take}, " if takes else ""
        best = f"  {canvas.signs.write('→')} {chapter.remedies[0]}" if chapter.remedies else ""
        canvas.row(
            (f" {canvas.signs.chosen if here else ' '} {chapter.number:>3}  ", Tone.STRONG),
            (f"{canvas.signs.verdict(verdict):<14}", tone_of(verdict)),
            (f"{take}{where(chapter)}, {trouble(chapter)}", Tone.STRONG if here else Tone.PLAIN),
            (best, Tone.PLAIN),
        )


def opened(canvas: Canvas, chapter: Chapter, first: int, rows: int, middle_c: str) -> None:
    """One passage with its remedies, then its findings with reasons and all; above 0, `first` is the finding
    that is at the top (from 1).
    """
    blocks = _told(canvas, chapter, middle_c)
    shown = [line for block in blocks[min(first, len(blocks) - 1) :] for line in block]
    rows -= 1
    more = len(shown) > rows
    title = f"passage {chapter.number}: {where(chapter)}"
    canvas.rule(title, f"{'↓ more below' if more else 'this is all'}" if more or first else "")
    for spans in shown[:rows]:
        canvas.row(*spans)


def _told(canvas: Canvas, chapter: Chapter, middle_c: str) -> list[list[Line]]:
    passage = chapter.passage
    verdict = canvas.signs.verdict(passage.verdict)
    slides = ", with audible pedal changes" if passage.audible else ""
    rows: list[Line] = [
        (
            (f" {verdict}", tone_of(passage.verdict)),
            (f"{slides}: {words.MEANING[passage.verdict]}", Tone.PLAIN),
        ),
        ((f" {words.counted(passage.attacks, 'attack')}, {trouble(chapter)}", Tone.PLAIN),),
    ]
    if chapter.entry:
        rows.append(
            (
                (
                    f" set before it: {canvas.signs.write(chapter.entry)}  (· undecided; check tells all)",
                    Tone.PLAIN,
                ),
            )
        )
    if chapter.findings:
        rows += _remedies(canvas, chapter.remedies)
    rows.append(())
    blocks = [rows]
    for finding in chapter.findings:
        blocks.append([*told(canvas, finding, chapter.place, middle_c), ()])
    if chapter.more:
        blocks[-1].append(((f" and {chapter.more} more", Tone.FAINT),))
    return blocks


def _remedies(canvas: Canvas, remedies: tuple[str, ...] | None) -> list[Line]:
    arrow = canvas.signs.write("→")
    if remedies is None:
        return []
    if not remedies:
        return [((f" {arrow} no remedy was found", Tone.FAINT),)]
    rows: list[Line] = []
    for remedy in remedies:
        first, *others = canvas.folded(remedy, canvas.width - 5)
        rows.append(((f" {arrow} {first}", Tone.STRONG),))
        rows += [((f"   {other}", Tone.STRONG),) for other in others]
    return rows


def told(
    canvas: Canvas, finding: Finding, place: Callable[[int], Place | None], middle_c: str
) -> list[tuple[Span, ...]]:
    """One finding: where and by how much, what, and why for each spelling."""
    verdict = f" {canvas.signs.verdict(finding.verdict)}"
    if finding.audible:
        verdict += ", audible"
    numbers = words.figures(finding)
    rows: list[tuple[Span, ...]] = [
        (
            (verdict, tone_of(finding.verdict)),
            (f"  {words.when(place(finding.us), finding.us)}", Tone.PLAIN),
            (f"  {numbers}" if numbers else "", Tone.STRONG),
        ),
        ((f"   {words.what(finding, middle_c)}", Tone.STRONG),),
    ]
    for why in words.reasons(finding):
        rows += [((f"     {row}", Tone.PLAIN),) for row in canvas.folded(why, canvas.width - 6)]
    return rows
