"""What is worth knowing about a part but not a fault: a line for each kind, with its bars."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from livepedal.advice.judging.asides import Aside, AsideKind
from livepedal.advice.judging.report import PartReport
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line
from livepedal.views.report.look import INDENT, Look, wrapped

HEAD = "Worth knowing"
MOST_BARS = 12
MOST_RUNS = 6
TOGETHER = {
    AsideKind.JUST: "only just playable for the hands",
    AsideKind.ROLLED: "chords to roll, too wide or too full to take at once",
    AsideKind.RIGHT_LOW: "the right hand low in the bass",
    AsideKind.WIRE: "low wire strings in quick succession, which blur",
    AsideKind.BUZZ: "low wire strings in quick succession, which blur and buzz",
    AsideKind.SMEAR: "a pedal moves while its letter still rings, heard as a smear",
}


def aside_lines(part: PartReport, look: Look) -> Iterator[Line]:
    """The section of a part's report; nothing if there is nothing to say."""
    if not part.asides:
        return
    yield line()
    yield line((f"{INDENT}{HEAD}", Tone.STRONG))
    for text in aside_texts(part):
        yield from wrapped(text, look, indent=INDENT * 2)


def aside_texts(part: PartReport) -> Iterator[str]:
    """The texts of the section, one for each line."""
    for kind in TOGETHER:
        yield from together(part, kind)
    runs = [aside for aside in part.asides if aside.kind not in TOGETHER]
    for aside in runs[:MOST_RUNS]:
        yield clean(f"{words.when(part.place(aside.us), aside.us)}: {aside.what}", 500)
    if len(runs) > MOST_RUNS:
        yield f"and {words.counted(len(runs) - MOST_RUNS, 'more run')}"


def together(part: PartReport, kind: AsideKind) -> Iterator[str]:
    """All asides of a kind as one text, with their bars; nothing if there are none."""
    some = [aside for aside in part.asides if aside.kind is kind]
    if some:
        quickest = max(aside.per_second for aside in some)
        rate = f", up to {quickest:.1f} strokes a second" if quickest else ""
        yield f"{TOGETHER[kind]}: {_bars(some, part)}{rate}"


def _bars(asides: Sequence[Aside], part: PartReport) -> str:
    bars = {
        bar
        for aside in asides
        for bar in range(part.place(aside.us).bar, part.place(aside.end or aside.us).bar + 1)
    }
    return words.bar_list(sorted(bars), MOST_BARS)
