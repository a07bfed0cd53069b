"""What is worth knowing about a part but not a fault: a line for each kind, with its bars."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from livepedal.advice.judging.asides import Aside, AsideKind
from livepedal.advice.judging.report import PartReport
from livepedal.music.timemap import Place
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line
from livepedal.views.report.look import INDENT, Look, wrapped

HEAD = "Worth knowing"
MOST_BARS = 12
MOST_TIMES = 4  # where nobody counts bars
MOST_RUNS = 6
FINGERS = 8  # of both hands
TOGETHER = {
    AsideKind.JUST: "only just playable for the hands",
    AsideKind.ROLLED: "chords to be rolled",
    AsideKind.RIGHT_LOW: "the right hand low in the bass",
    AsideKind.WIRE: "low wire strings in quick succession, which blur",
    AsideKind.BUZZ: "low wire strings in quick succession, which blur and buzz",
    AsideKind.SMEAR: "a pedal moves while its letter rings (a smear)",
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
    return texts_of(part.asides, part.place)


def texts_of(asides: Sequence[Aside], place: Callable[[int], Place | None]) -> Iterator[str]:
    """The same of some asides.

    Args:
        place: bar and beat of a moment (µs); None where nobody counts.
    """
    for kind in TOGETHER:
        yield from together([aside for aside in asides if aside.kind is kind], place)
    runs = [aside for aside in asides if aside.kind not in TOGETHER]
    for aside in runs[:MOST_RUNS]:
        yield clean(f"{words.when(place(aside.us), aside.us)}: {aside.what}", 500)
    if len(runs) > MOST_RUNS:
        yield f"and {words.counted(len(runs) - MOST_RUNS, 'more run')}"


def together(asides: Sequence[Aside], place: Callable[[int], Place | None]) -> Iterator[str]:
    """All asides of one kind that is told in one text, with their bars; nothing where there are none."""
    if asides:
        quickest = max(aside.per_second for aside in asides)
        rate = f", up to {quickest:.1f} strokes a second" if quickest else ""
        fullest = max(len(aside.pitches) for aside in asides)
        if asides[0].kind is AsideKind.ROLLED and fullest > FINGERS:
            rate = f", up to {fullest} notes for eight fingers"
        yield f"{TOGETHER[asides[0].kind]}: {_where(asides, place)}{rate}"


def _where(asides: Sequence[Aside], place: Callable[[int], Place | None]) -> str:
    bars: set[int] = set()
    for aside in asides:
        first, last = place(aside.us), place(aside.end or aside.us)
        if first is None or last is None:
            more = f" and {len(asides) - MOST_TIMES} more" if len(asides) > MOST_TIMES else ""
            return ", ".join(words.moment(one.us) for one in asides[:MOST_TIMES]) + more
        bars.update(range(first.bar, last.bar + 1))
    return words.bar_list(sorted(bars), MOST_BARS)
