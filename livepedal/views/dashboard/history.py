"""The passages that are over: what went wrong in each and what would mend it, for looking back.

`History` gathers them as they close; a `Chapter` is one of them, and never changes but for what somebody works
out in the background: its remedies, the setting before it, and whether it is too much at once. Memory is bounded:
of a long session the last passages are kept, of a passage its first findings.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from livepedal.harp import Setting
from livepedal.model.findings import Finding, Kind, Passage, worst_first
from livepedal.music.timemap import Place
from livepedal.views import words
from livepedal.views.dashboard.canvas import Canvas
from livepedal.views.lines import Line, Tone, tone_of
from livepedal.views.widths import cells

MOST_CHAPTERS = 500
MOST_FINDINGS = 100  # of one passage


def nowhere(us: int) -> Place | None:
    """The bar and beat of a moment where nobody counts."""
    return None


@dataclass(frozen=True, slots=True)
class Chapter:
    """One passage that is over.

    number: from 1; take: of a session, 1 elsewhere; place: bar and beat of its moments; findings: at most
    `MOST_FINDINGS`, with `more` that were not kept; mends: what would make it playable, in the order in which it
    was found, or why nobody looks for that, None while nobody has looked; spelled: how it is best spelled, "" while
    nobody knows; sought: whether somebody is looking for these; entry: how the pedals are to stand before it, ""
    where nobody knows, and full: whether that is all that check would say of it; player: for whom it was judged;
    set_within: the pedals were set by hand in the middle of it.
    """

    number: int
    passage: Passage
    findings: tuple[Finding, ...]
    more: int = 0
    place: Callable[[int], Place | None] = nowhere
    take: int = 1
    mends: tuple[str, ...] | None = None
    spelled: str = ""
    sought: bool = False
    entry: str = ""
    full: bool = False
    player: str = ""
    set_within: bool = False

    @property
    def worst_first(self) -> tuple[Finding, ...]:
        """Its findings in the order in which they are told where there is no room for all."""
        return tuple(sorted(self.findings, key=worst_first))

    @property
    def mend(self) -> str:
        """All of that in one line; "" where nothing is known."""
        return " · ".join(self.mends or ())

    @property
    def too_much(self) -> bool:
        """Whether it has too many pedal changes at once."""
        return any(finding.kind is Kind.TOO_MUCH for finding in self.findings)


class History:
    """The chapters so far. Fed with what is settled, in order of time."""

    def __init__(self) -> None:
        self.chapters: tuple[Chapter, ...] = ()
        self._findings: list[Finding] = []
        self._more = 0
        self._number = 0

    def found(self, finding: Finding) -> None:
        """A finding, whose attack is over; or a withdrawn one, that was told and is taken back."""
        if finding.withdrawn:
            self._findings = [one for one in self._findings if one.id != finding.id]
        elif len(self._findings) < MOST_FINDINGS:
            self._findings.append(finding)
        else:
            self._more += 1

    def over(
        self,
        passage: Passage,
        place: Callable[[int], Place | None] = nowhere,
        take: int = 1,
        entry: Setting | None = None,
        *,
        player: str = "",
        sought: bool = False,
        set_within: bool = False,
    ) -> Chapter:
        """A passage that is over; its findings were told before."""
        self._number += 1
        mine = tuple(f for f in self._findings if f.us <= passage.end)
        self._findings = [f for f in self._findings if f.us > passage.end]
        setting = "" if entry is None or entry == Setting.unset() else str(entry)
        chapter = Chapter(
            self._number,
            passage,
            mine,
            self._more,
            place,
            take,
            sought=sought,
            entry=setting,
            player=player,
            set_within=set_within,
        )
        self._more = 0
        self.chapters = (*self.chapters, chapter)[-MOST_CHAPTERS:]
        return chapter

    def advise(self, number: int, mend: str, spelled: str, sought: bool = False) -> None:
        """What is new about a passage: what would mend it, and how it is best spelled, "" for neither. sought: whether
        there may be more.
        """

        def known(one: Chapter) -> Chapter:
            mends = (*(one.mends or ()), *((mend,) if mend else ()))
            return replace(one, mends=mends, spelled=spelled or one.spelled, sought=sought)

        self._change(number, known)

    def sought(self, number: int, sought: bool) -> None:
        """Whether somebody is looking for remedies."""
        self._change(number, lambda one: replace(one, sought=sought))

    def planned(self, number: int, entry: str, passage: Passage, too_much: Finding | None) -> None:
        """What the pedal changes tell: how the pedals are to stand before the passage, its verdict with too much at
        once, and the finding of that.
        """

        def known(one: Chapter) -> Chapter:
            findings = one.findings
            if too_much is not None and not one.too_much:
                findings = tuple(sorted((*findings, too_much), key=lambda finding: finding.us))
            return replace(one, entry=entry, full=True, passage=passage, findings=findings)

        self._change(number, known)

    def _change(self, number: int, change: Callable[[Chapter], Chapter]) -> None:
        self.chapters = tuple(change(one) if one.number == number else one for one in self.chapters)


def where(chapter: Chapter) -> str:
    """From where to where: "bars 1 to 4"; the times where nobody counts bars."""
    return words.reach(chapter.passage, chapter.place)


def trouble(chapter: Chapter) -> str:
    """How many findings there were: "nothing wrong", "3 findings"."""
    number = len(chapter.findings) + chapter.more
    return words.counted(number, "finding") if number else "nothing wrong"


def listed(canvas: Canvas, chapters: tuple[Chapter, ...], chosen: int, rows: int) -> None:
    """The list, a row each, the newest last; `chosen` (a number) is marked and in sight, and what would mend it
    stands in full below, where there is room.
    """
    canvas.rule("passages", f"{len(chapters)} over")
    rows -= 1
    numbers = [chapter.number for chapter in chapters]
    at = numbers.index(chosen) if chosen in numbers else len(numbers) - 1
    first = max(min(at - rows // 2, len(chapters) - rows), 0)
    if not chapters:
        canvas.row("  No passage is over yet. A passage ends when nothing sounds for a while.")
        return
    takes = len({chapter.take for chapter in chapters}) > 1
    for chapter in chapters[first : first + rows]:
        here = chapter is chapters[at]
        verdict = chapter.passage.verdict
        take = f"take {chapter.take}, " if takes else ""
        advice = chapter.mend or chapter.spelled
        best = f"  {canvas.signs.write('→')} {advice}" if advice else ""
        canvas.row(
            (f" {canvas.signs.chosen if here else ' '} {chapter.number:>3}  ", Tone.STRONG),
            (f"{canvas.signs.verdict(verdict):<14}", tone_of(verdict)),
            (f"{take}{where(chapter)}, {trouble(chapter)}", Tone.STRONG if here else Tone.PLAIN),
            (best, Tone.PLAIN),
        )
    below: list[Line] = [(), *mend_rows(canvas, chapters[at]), *spelled_rows(canvas, chapters[at])]
    if 1 < len(below) <= rows - len(chapters):
        for spans in below:
            canvas.row(*spans)


def opened(canvas: Canvas, chapter: Chapter, first: int, rows: int, middle_c: str, check: str = "") -> None:
    """One passage with its remedies, then its findings with reasons and all; above 0, `first` is the finding
    that is at the top (from 1). check: the command that tells all.
    """
    blocks = _told(canvas, chapter, middle_c, check)
    blocks = blocks[min(first, len(blocks) - 1) :]
    rows -= 1
    shown: list[Line] = []
    for number, block in enumerate(blocks):
        # Whole findings, so that no sentence breaks off at the edge; one that is alone too long is cut.
        if number and len(shown) + len(block) > rows + (not block[-1]):
            break
        shown += block
    else:
        number = len(blocks)
    if shown and not shown[-1]:
        shown.pop()
    title = f"passage {chapter.number}: {where(chapter)}"
    right = f"↓ {len(blocks) - number} more below" if number < len(blocks) else "this is all" if first else ""
    canvas.rule(title, right)
    for spans in clipped(canvas, shown, rows):
        canvas.row(*spans)


def _told(canvas: Canvas, chapter: Chapter, middle_c: str, check: str) -> list[list[Line]]:
    passage = chapter.passage
    verdict = canvas.signs.verdict(passage.verdict)
    slides = ", with audible pedal changes" if passage.audible else ""
    # Who was chosen before, if another one was in the middle of it.
    before = dict.fromkeys(one.player for one in chapter.findings if one.player != chapter.player)
    whom = ", then ".join((*before, chapter.player)) if before else f"the {chapter.player} player"
    for_whom = f", judged for {whom}" if chapter.player else ""
    rows: list[Line] = [
        (
            (f" {verdict}", tone_of(passage.verdict)),
            (f"{slides}: {words.MEANING[passage.verdict]}", Tone.PLAIN),
        ),
        (
            (
                f" {words.counted(passage.attacks, 'attack')}, {trouble(chapter)}{for_whom}",
                Tone.PLAIN,
            ),
        ),
        *setting_rows(canvas, chapter),
        *mend_rows(canvas, chapter),
        *spelled_rows(canvas, chapter),
    ]
    if check:
        folded = canvas.folded(f"all of it: {check}", canvas.width - 2)
        rows += [((f" {row}", Tone.FAINT),) for row in folded]
    rows.append(())
    blocks = [rows]
    for finding in chapter.findings:
        blocks.append([*told(canvas, finding, chapter.place, middle_c, chapter.player), ()])
    if chapter.more:
        blocks[-1].append(((f" and {chapter.more} more", Tone.FAINT),))
    return blocks


def setting_rows(canvas: Canvas, chapter: Chapter) -> list[Line]:
    """How the pedals are to stand before it."""
    if chapter.set_within:
        text = "You set the pedals by hand in this passage, so it has no remedies and no setting."
        return [((f" {row}", Tone.FAINT),) for row in canvas.folded(text, canvas.width - 2)]
    if not chapter.entry:
        return []
    dots = ""
    if "·" in chapter.entry:
        dots = "  (· not used)" if chapter.full else "  (· undecided)"
    return [((f" set before it: {canvas.signs.write(chapter.entry)}", Tone.PLAIN), (dots, Tone.FAINT))]


def mend_rows(canvas: Canvas, chapter: Chapter) -> list[Line]:
    """What would mend it, or that somebody is looking for that."""
    rows = _advised(canvas, chapter.mend)
    # An audible change is no failure and gets no remedy; too much at once says itself what to thin out.
    broken = any(
        not one.audible and one.kind is not Kind.TOO_MUCH and one.player == (chapter.player or one.player)
        for one in chapter.findings
    )
    text = ""
    if chapter.sought and not rows and (broken or not chapter.full):
        text = "working out a remedy" if broken else "working out the setting"
    elif chapter.mends is not None and not chapter.sought and broken and not rows:
        text = "no remedy was found"
    if text:
        rows = [((f" {canvas.signs.write('→')} {text}", Tone.FAINT),)]
    return rows


def spelled_rows(canvas: Canvas, chapter: Chapter) -> list[Line]:
    """How it is best spelled, where that is known."""
    return _advised(canvas, chapter.spelled)


def _advised(canvas: Canvas, text: str) -> list[Line]:
    if not text:
        return []
    first, *others = canvas.folded(text, canvas.width - 5)
    return [
        ((f" {canvas.signs.write('→')} {first}", Tone.STRONG),),
        *(((f"   {other}", Tone.STRONG),) for other in others),
    ]


def told(
    canvas: Canvas,
    finding: Finding,
    place: Callable[[int], Place | None],
    middle_c: str,
    player: str = "",
) -> list[Line]:
    """One finding: where and by how much, what, and why for each spelling. player: whose findings are told; of
    another one's it is said whose they are.
    """
    verdict = f" {canvas.signs.verdict(finding.verdict)}"
    if finding.audible:
        verdict += ", audible"
    numbers = words.figures(finding)
    here = place(finding.us)
    at = f"  {words.when(here, finding.us)}"
    behind = f"  {numbers}" if numbers else ""
    if here is not None and here.mark and cells(verdict + at + behind) > canvas.width:
        at = f"  {words.when(replace(here, mark=None), finding.us)}"
    apart = cells(verdict + at + behind) > canvas.width
    rows: list[Line] = [
        (
            (verdict, tone_of(finding.verdict)),
            (at, Tone.PLAIN),
            ("" if apart else behind, Tone.STRONG),
        )
    ]
    what = words.what(finding, middle_c)
    if player and finding.player != player:
        what += f" (for the {finding.player} player)"
    if apart:
        what += f": {numbers}"
    rows += [((f"   {row}", Tone.STRONG),) for row in canvas.folded(what, canvas.width - 4)]
    for why in words.reasons(finding):
        rows += [((f"     {row}", Tone.PLAIN),) for row in canvas.folded(why, canvas.width - 6)]
    return rows


def clipped(canvas: Canvas, rows: list[Line], most: int) -> list[Line]:
    """At most so many rows; where some are left out, the last one says so, at the end of a clause if it can."""
    if len(rows) <= most or most < 1:
        return rows[:most] if most > 0 else []
    more = canvas.signs.write("…")
    *before, last = rows[:most]
    text = "".join(text for text, _ in last)
    clause = text.rfind("; ")
    if clause > 0:
        text = text[:clause]
    elif cells(text) + len(more) + 1 > canvas.width:
        text = text[: text.rfind(" ", 0, canvas.width - len(more) - 1)]
    return [*before, ((f"{text} {more}", last[0][1] if last else Tone.PLAIN),)]
