"""The passages that are over: what went wrong in each and what would mend it, for looking back.

A `Chapter` is one of them; live/chapters.py gathers them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from livepedal.model.findings import Finding, Kind, Passage, Verdict
from livepedal.model.instead import Instead
from livepedal.music.timemap import Place
from livepedal.views import words
from livepedal.views.dashboard.canvas import Canvas
from livepedal.views.lines import Line, Tone, tone_of
from livepedal.views.widths import cells


def nowhere(us: int) -> Place | None:
    """The bar and beat of a moment where nobody counts."""
    return None


# What could be played instead, by the number of the take (0: the present one) and the finding.
Knows = Callable[[int, Finding], Instead | None]


def nobody(take: int, finding: Finding) -> None:
    """Where nobody has worked that out."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """One passage that is over.

    Attributes:
        number: from 1.
        place: bar and beat of its moments.
        take: of a session, 1 elsewhere, and within: its number in that.
        findings: the first of them, with `more` that were not kept.
        player: for whom it was judged.
        anew: whether its findings are another player's, so that they are to be worked out anew.
        sought: whether somebody is at work on what follows.
        mends: what would make it playable, in the order in which it was found, or why nobody looks for that, None
            while nobody has looked.
        remedied: whether any of them is a remedy.
        spelled: how it is best spelled, and entry: how the pedals are to stand before it, "" while nobody knows.
        worth: what is worth knowing, a text each.
        planned: whether its pedal changes are, so that all of this is known, and whether it is too much at once.
        load: whether anybody asks about that.
        set_within: the pedals were set by hand in the middle of it.
    """

    number: int
    passage: Passage
    findings: tuple[Finding, ...]
    more: int = 0
    place: Callable[[int], Place | None] = nowhere
    take: int = 1
    within: int = 0
    player: str = ""
    anew: bool = False
    sought: bool = False
    mends: tuple[str, ...] | None = None
    remedied: bool = False
    spelled: str = ""
    entry: str = ""
    worth: tuple[str, ...] = ()
    planned: bool = False
    load: bool = False
    set_within: bool = False

    @property
    def mend(self) -> str:
        """All of that in one line; "" where nothing is known."""
        return " · ".join(self.mends or ())

    @property
    def too_much(self) -> bool:
        """Whether it has too many pedal changes at once."""
        return any(finding.kind is Kind.TOO_MUCH for finding in self.findings)

    @property
    def says(self) -> bool:
        """Whether there is something to say of it that helps on."""
        return self.remedied

    @property
    def provisional(self) -> bool:
        """Whether its verdict may still get worse: nobody knows yet whether it is too much at once."""
        return self.load and not self.planned and self.passage.verdict is not Verdict.UNPLAYABLE


def kept(chapters: Sequence[Chapter], dismissed: int = 0) -> Chapter | None:
    """The last passage with something to say: it stays on the screen until a later one has, or somebody has dismissed
    all up to this number.
    """
    last = next((one for one in reversed(chapters) if one.says), None)
    return last if last is not None and last.number > dismissed else None


def kept_rows(canvas: Canvas, chapter: Chapter, rows: int) -> None:
    """What would mend a passage that is over, while another one goes on; in so many rows."""
    canvas.rule(f"passage {chapter.number}, {where(chapter)}", "Return in full · Esc close")
    told = clipped(canvas, mend_rows(canvas, chapter), rows - 1)
    for spans in (*told, *((),) * (rows - 1 - len(told))):
        canvas.row(*spans)


def where(chapter: Chapter) -> str:
    """From where to where: "bars 1 to 4"; the times where nobody counts bars."""
    return words.reach(chapter.passage, chapter.place)


def trouble(chapter: Chapter) -> str:
    """How many findings there were: "nothing wrong", "3 findings, too much at once"."""
    if chapter.anew and chapter.sought:
        return "judged again"
    number = (
        len(chapter.findings) - chapter.too_much + chapter.more
    )  # as in the file: that is of the whole passage
    told = [words.counted(number, "finding")] * (number > 0) + ["too much at once"] * chapter.too_much
    return ", ".join(told) or "nothing wrong"


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


def opened(
    canvas: Canvas,
    chapter: Chapter,
    first: int,
    rows: int,
    middle_c: str,
    check: str = "",
    instead: Knows = nobody,
) -> None:
    """One passage with its remedies, then its findings with reasons and all; above 0, `first` is the finding
    that is at the top (from 1). check: the command that tells all; instead: what could be played instead.
    """
    blocks = _told(canvas, chapter, middle_c, check, instead)
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


def _told(canvas: Canvas, chapter: Chapter, middle_c: str, check: str, instead: Knows) -> list[list[Line]]:
    passage = chapter.passage
    verdict = canvas.signs.verdict(passage.verdict) + (", provisional" if chapter.provisional else "")
    slides = ", with audible pedal changes" if passage.audible else ""
    for_whom = f", judged for the {chapter.player} player" if chapter.player else ""
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
    for text in (
        *(f"worth knowing: {one}" for one in chapter.worth),
        *([f"all of it: {check}"] if check else ()),
    ):
        rows += [((f" {row}", Tone.FAINT),) for row in canvas.folded(text, canvas.width - 2)]
    rows.append(())
    blocks = [rows]
    for finding in chapter.findings:
        blocks.append(
            [
                *told(
                    canvas, finding, chapter.place, middle_c, chapter.player, instead(chapter.take, finding)
                ),
                (),
            ]
        )
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
    dots = "  (· not used)" if "·" in chapter.entry else ""
    return [((f" set before it: {canvas.signs.write(chapter.entry)}", Tone.PLAIN), (dots, Tone.FAINT))]


def worth_rows(canvas: Canvas, chapter: Chapter) -> list[Line]:
    """What is worth knowing of it, in one row: the first such thing, and how many more there are."""
    if not chapter.worth:
        return []
    first, *others = chapter.worth
    more = f" · {len(others)} more" if others else ""
    text = canvas.fit(f" worth knowing: {first}", canvas.width - cells(more))
    return [((text + canvas.signs.write(more), Tone.PLAIN),)]


def mend_rows(canvas: Canvas, chapter: Chapter) -> list[Line]:
    """What would mend it, or that somebody is looking for that."""
    rows = _advised(canvas, chapter, chapter.mend)
    # An audible change is no failure and gets no remedy; too much at once says itself what to thin out.
    broken = any(
        not finding.audible
        and finding.kind is not Kind.TOO_MUCH
        and finding.player == (chapter.player or finding.player)
        for finding in chapter.findings
    )
    text = ""
    if chapter.anew and chapter.sought:
        text = f"working it out again for the {chapter.player} player"
    elif chapter.sought and not rows and (broken or not chapter.planned):
        text = "working out a remedy" if broken else "working out the setting"
    elif chapter.mends is not None and not chapter.sought and broken and not rows:
        text = "no remedy was found"
    if text:
        rows = [((f" {canvas.signs.write('→')} {text}", Tone.FAINT),)]
    return rows


def spelled_rows(canvas: Canvas, chapter: Chapter) -> list[Line]:
    """How it is best spelled, where that is known."""
    return _advised(canvas, chapter, chapter.spelled)


def _advised(canvas: Canvas, chapter: Chapter, text: str) -> list[Line]:
    """A piece of advice, with the player that it is for."""
    if not text:
        return []
    first, *others = canvas.folded(
        f"{chapter.player} player: {text}" if chapter.player else text, canvas.width - 5
    )
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
    instead: Instead | None = None,
    most: int | None = None,
) -> list[Line]:
    """One finding: where and by how much, what, what could be played instead, and why for each spelling. player: whose
    findings are told; of another one's it is said whose they are. most: rows; what could be played instead is among
    them.
    """
    verdict = f" {canvas.signs.verdict(finding.verdict)}"
    if finding.audible:
        verdict += ", audible"
    numbers = words.rate(finding)
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
    other = "" if instead is None else words.instead(instead, middle_c)
    here_rows: list[Line] = [((f"   {row}", Tone.STRONG),) for row in canvas.folded(what, canvas.width - 4)]
    rows += clipped(canvas, here_rows, max(most - 2, 1)) if other and most else here_rows
    for why in filter(None, (other, *words.reasons(finding))):
        rows += [((f"     {row}", Tone.PLAIN),) for row in canvas.folded(why, canvas.width - 6)]
    return rows if most is None else clipped(canvas, rows, most)


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
