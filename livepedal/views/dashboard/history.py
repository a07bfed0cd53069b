"""The passages that are over: what went wrong in each and what would mend it, for looking back.

A `Chapter` is one of them; live/chapters.py gathers them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from livepedal.advice.judging.groups import Group, groups_of
from livepedal.model.findings import Finding, Kind, Passage, Verdict
from livepedal.model.instead import Instead
from livepedal.music.timemap import Place
from livepedal.views import words
from livepedal.views.dashboard.canvas import Canvas
from livepedal.views.lines import Line, Tone, tone_of
from livepedal.views.widths import cells

# What could be played instead, by the number of the take (0: the present one) and the finding.
Knows = Callable[[int, Finding], Instead | None]


def nobody(take: int, finding: Finding) -> None:
    """Where nobody has worked that out."""


def nowhere(us: int) -> Place | None:
    """The bar and beat of a moment where nobody counts."""
    return None


@dataclass(frozen=True, slots=True)
class Chapter:
    """One passage that is over.

    Attributes:
        number: from 1.
        findings: the first of them, with `more` that were not kept.
        place: bar and beat of its moments.
        take: of a session, 1 elsewhere.
        player: for whom it was judged.
        anew: whether its findings are another player's, so that they are to be worked out anew.
        sought: whether somebody is at work on what follows.
        mends: what would make it playable, in the order in which it was found, or why nobody looks for that; None
            while nobody has looked.
        remedied: whether any of them is a remedy.
        spelled: how it is best spelled; "" while nobody knows.
        entry: how the pedals are to stand before it; "" while nobody knows.
        worth: what is worth knowing, a text each.
        planned: whether its pedal changes are, so that all of this is known.
        set_within: the pedals were set by hand in the middle of it.
    """

    number: int
    passage: Passage
    findings: tuple[Finding, ...]
    more: int = 0
    place: Callable[[int], Place | None] = nowhere
    take: int = 1
    player: str = ""
    anew: bool = False
    sought: bool = False
    mends: tuple[str, ...] | None = None
    remedied: bool = False
    spelled: str = ""
    entry: str = ""
    worth: tuple[str, ...] = ()
    planned: bool = False
    set_within: bool = False

    @property
    def mend(self) -> str:
        """All that would mend it in one line; "" where nothing is known."""
        return "; ".join(self.mends or ())

    @property
    def too_much(self) -> bool:
        """Whether it has too many pedal changes at once."""
        return any(finding.kind is Kind.TOO_MUCH for finding in self.findings)

    @property
    def where(self) -> str:
        """From where to where: "bars 1 to 4"; the times where nobody counts bars."""
        return words.reach(self.passage, self.place)

    @property
    def groups(self) -> tuple[Group, ...]:
        """Its findings as the report of `check` numbers them, the worst first."""
        return groups_of(self.findings, (self.passage,))

    @property
    def trouble(self) -> str:
        """How many findings there were: "nothing wrong", "4 findings, one of them too much at once"."""
        if self.anew and self.sought:
            return "being judged again"
        number = len(self.groups) + self.more
        if self.too_much:
            return "too much at once" if number == 1 else f"{number} findings, one of them too much at once"
        if number:
            return words.counted(number, "finding")
        only = self.passage.verdict > Verdict.PLAYABLE  # for others something is wrong
        return f"nothing wrong for the {self.player} player" if only and self.player else "nothing wrong"


def kept(chapters: Sequence[Chapter], dismissed: int = 0) -> Chapter | None:
    """The last passage with a remedy: it stays on the screen until a later one has one, or it is dismissed."""
    last = next((chapter for chapter in reversed(chapters) if chapter.remedied), None)
    return last if last is not None and last.number > dismissed else None


def draw_kept(canvas: Canvas, chapter: Chapter, rows: int) -> None:
    """What would mend a passage that is over, while another one goes on; in so many rows."""
    canvas.rule(f"passage {chapter.number}, {chapter.where}", "Return in full · Esc close")
    canvas.rows(canvas.clipped(mend_rows(canvas, chapter), rows - 1), rows - 1)


def draw_passages(canvas: Canvas, chapters: tuple[Chapter, ...], chosen: int, rows: int) -> None:
    """The list, a row each, the newest last; the chosen one (by its number) is marked and in sight.

    What would mend it stands below, where there is room.
    """
    canvas.rule("passages", f"{len(chapters)} over")
    if not chapters:
        canvas.row("  No passage is over yet. A passage ends when nothing sounds for a while.")
        return
    rows -= 1
    numbers = [chapter.number for chapter in chapters]
    at = numbers.index(chosen) if chosen in numbers else len(numbers) - 1
    first = max(min(at - rows // 2, len(chapters) - rows), 0)
    takes = len({chapter.take for chapter in chapters}) > 1
    for chapter in chapters[first : first + rows]:
        here = chapter is chapters[at]
        verdict = chapter.passage.verdict
        take = f"take {chapter.take}, " if takes else ""
        advice = chapter.mend or chapter.spelled
        canvas.row(
            (f" {canvas.signs.chosen if here else ' '} {chapter.number:>3}  ", Tone.STRONG),
            (f"{canvas.signs.verdict(verdict):<14}", tone_of(verdict)),
            (f"{take}{chapter.where}, {chapter.trouble}", Tone.STRONG if here else Tone.PLAIN),
            f"  → {advice}" if advice else "",
        )
    below: list[Line] = [(), *mend_rows(canvas, chapters[at]), *spelled_rows(canvas, chapters[at])]
    if 1 < len(below) <= rows - len(chapters):
        canvas.rows(below)


def draw_passage(
    canvas: Canvas,
    chapter: Chapter,
    first: int,
    rows: int,
    check: str = "",
    instead: Knows = nobody,
) -> None:
    """One passage with its remedies, then its findings with reasons.

    The first one shown is the finding of that number, from 1; 0: the passage itself. `check` is the command that tells
    all.
    """
    blocks = [_head(canvas, chapter, check)]
    blocks += [[*group_rows(canvas, group, chapter, instead), ()] for group in chapter.groups]
    if chapter.more:
        blocks[-1].append(((f" and {words.counted(chapter.more, 'more finding')}", Tone.FAINT),))
    blocks = blocks[min(first, len(blocks) - 1) :]
    rows -= 1
    shown, *others = blocks
    while others and len(shown) + len(others[0]) <= rows + (not others[0][-1]):
        # Whole findings, so that no sentence breaks off at the edge; one that is alone too long is cut.
        shown += others.pop(0)
    if shown and not shown[-1]:
        shown.pop()
    right = f"↓ {len(others)} more below" if others else "this is all" if first else ""
    canvas.rule(f"passage {chapter.number}: {chapter.where}", right)
    canvas.rows(canvas.clipped(shown, rows))


def _head(canvas: Canvas, chapter: Chapter, check: str) -> list[Line]:
    """A passage by itself."""
    passage = chapter.passage
    verdict = canvas.signs.verdict(passage.verdict)
    slides = ", with audible pedal changes" if passage.audible else ""
    for_whom = f", for the {chapter.player} player" if chapter.player else ""
    attacks = words.counted(passage.attacks, "attack")
    rows: list[Line] = [
        (
            (f" {verdict}", tone_of(passage.verdict)),
            (f"{slides}: {words.MEANING[passage.verdict]}", Tone.PLAIN),
        ),
        ((f" {attacks}, {chapter.trouble}{for_whom}", Tone.PLAIN),),
        *setting_rows(canvas, chapter),
        *mend_rows(canvas, chapter),
        *spelled_rows(canvas, chapter),
    ]
    for text in (
        *(f"worth knowing: {text}" for text in chapter.worth),
        f"in full: {check}" if check else "",
    ):
        rows += canvas.block(text, Tone.FAINT) if text else []
    return [*rows, ()]


def setting_rows(canvas: Canvas, chapter: Chapter) -> list[Line]:
    """How the pedals are to stand before it."""
    if chapter.set_within:
        text = "You set the pedals by hand in this passage, so it has no remedies and no setting."
        return canvas.block(text, Tone.FAINT)
    if not chapter.entry:
        return []
    dots = "  (· not used)" if "·" in chapter.entry else ""
    return [((f" set before it: {chapter.entry}", Tone.PLAIN), (dots, Tone.FAINT))]


def worth_rows(canvas: Canvas, chapter: Chapter) -> list[Line]:
    """What is worth knowing of it, in one row: the first such thing, and how many more there are."""
    if not chapter.worth:
        return []
    more = f" · {len(chapter.worth) - 1} more" if len(chapter.worth) > 1 else ""
    text = canvas.fit(f" worth knowing: {chapter.worth[0]}", canvas.width - cells(more))
    return [((text + more, Tone.PLAIN),)]


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
    return [((f" → {text}", Tone.FAINT),)] if text else rows


def spelled_rows(canvas: Canvas, chapter: Chapter) -> list[Line]:
    """How it is best spelled, where that is known."""
    return _advised(canvas, chapter, chapter.spelled)


def _advised(canvas: Canvas, chapter: Chapter, text: str) -> list[Line]:
    """A piece of advice, with the player that it is for."""
    who = f"{chapter.player} player: " if chapter.player else ""
    return canvas.block(who + text, Tone.STRONG, " → ") if text else []


def group_rows(
    canvas: Canvas, group: Group, chapter: Chapter, instead: Knows, most: int | None = None
) -> list[Line]:
    """A finding of a passage that is over, as `finding_rows` has it, with all its attacks."""
    other = instead(chapter.take, group.worst)
    where = "" if group.attacks == 1 else words.spread(group, chapter.place)
    return finding_rows(canvas, group.worst, chapter.place, chapter.player, other, most, where)


def finding_rows(
    canvas: Canvas,
    finding: Finding,
    place: Callable[[int], Place | None],
    player: str = "",
    instead: Instead | None = None,
    most: int | None = None,
    where: str = "",
) -> list[Line]:
    """One finding: where and by how much, what, what could be played instead, and why for each spelling.

    Of a finding of another player than this one it is said whose it is. There are no more than `most` rows, what could
    be played instead among them.
    """
    verdict = canvas.signs.verdict(finding.verdict) + (", audible" if finding.audible else "")
    numbers = words.rate(finding)
    at = place(finding.us)
    where = where or words.when(None if at is None else replace(at, mark=None), finding.us)
    beside, below = numbers, ""
    if cells(f" {verdict}  {where}  {numbers}") > canvas.width:
        beside, below = "", f": {numbers}"
    whose = f" (for the {finding.player} player)" if player and finding.player != player else ""
    rows: list[Line] = [
        (
            (f" {verdict}", tone_of(finding.verdict)),
            (f"  {where}", Tone.PLAIN),
            (f"  {beside}".rstrip(), Tone.STRONG),
        )
    ]
    other = "" if instead is None else words.instead(instead, canvas.middle_c)
    what = canvas.block(f"{words.what(finding, canvas.middle_c)}{whose}{below}", Tone.STRONG, "   ")
    rows += canvas.clipped(what, max(most - 2, 1)) if other and most else what
    for why in filter(None, (other, *words.reasons(finding))):
        rows += canvas.block(why, indent=" " * 5)
    return rows if most is None else canvas.clipped(rows, most)
