"""What is worth knowing about a part but not a fault: a text for each kind, with its bars."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from livepedal.advice.judging.asides import Aside, AsideKind
from livepedal.music.timemap import Place
from livepedal.sources.text import clean
from livepedal.views import words

MOST_BARS = 12
MOST_TIMES = 4  # where nobody counts bars
MOST_RUNS = 6
TOGETHER = {
    AsideKind.JUST: "attacks that the hands only just manage",
    AsideKind.ROLLED: "chords to be rolled",
    AsideKind.RIGHT_LOW: "the right hand low in the bass",
    AsideKind.WIRE: "low wire strings in quick succession, which blur",
    AsideKind.BUZZ: "low wire strings in quick succession, which blur and buzz",
    AsideKind.SMEAR: "a pedal moves while its letter rings (a slide)",
}


def aside_texts(asides: Sequence[Aside], place: Callable[[int], Place | None]) -> Iterator[str]:
    """A text for all asides of a kind, with their bars; those that differ each time have one each."""
    for kind, what in TOGETHER.items():
        some = [aside for aside in asides if aside.kind is kind]
        if not some:
            continue
        quickest = max(aside.per_second for aside in some)
        fullest = max(len(aside.pitches) for aside in some)
        most = f", up to {quickest:.1f} strokes a second" if quickest else ""
        if kind is AsideKind.ROLLED:
            most = f", up to {fullest} notes"
        yield f"{what}: {_where(some, place)}{most}"
    runs = [aside for aside in asides if aside.kind not in TOGETHER]
    for aside in runs[:MOST_RUNS]:
        yield clean(f"{words.when(place(aside.us), aside.us)}: {aside.what}", 500)
    if len(runs) > MOST_RUNS:
        yield f"and {words.counted(len(runs) - MOST_RUNS, 'more figuration')}"


def _where(asides: Sequence[Aside], place: Callable[[int], Place | None]) -> str:
    bars: set[int] = set()
    for aside in asides:
        first, last = place(aside.us), place(aside.end or aside.us)
        if first is None or last is None:
            more = f" and {len(asides) - MOST_TIMES} more" if len(asides) > MOST_TIMES else ""
            return ", ".join(words.moment(aside.us) for aside in asides[:MOST_TIMES]) + more
        bars.update(range(first.bar, last.bar + 1))
    return words.bar_list(sorted(bars), MOST_BARS)
