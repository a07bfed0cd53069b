"""Remedies, below the findings of a report: one line for each place, or all of them with `--all`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from livepedal.advice.remedies.remedy import PartAdvice, PlaceAdvice
from livepedal.advice.remedies.telling import NO_WAY, Teller
from livepedal.music.timemap import TimeMap
from livepedal.views.lines import Line
from livepedal.views.report.look import Look


def remedy_lines(
    advice: PartAdvice, time_map: TimeMap, look: Look, struck: Sequence[int] = ()
) -> Iterator[Line]:
    """The remedies of a part with attacks at these moments (µs): all of them, or the best of each place."""
    passages = advice.passages
    if not passages:
        return
    teller = Teller(advice.instrument, time_map, look.middle_c, struck)
    yield from look.heading(teller.head(advice))
    if advice.tempos:
        tempos = teller.tempos(advice.tempos, teller.steady(passages[0].start, passages[-1].end))
        yield from look.text(f"As a whole, {tempos}", 2, hang=2)
    for passage in passages:
        if look.every and passage.tempos and passage.tempos != advice.tempos:
            tempos = teller.tempos(passage.tempos, teller.steady(passage.start, passage.end))
            yield from look.text(f"In {teller.bars(passage.start, passage.end)}, {tempos}", 2, hang=2)
        for place in passage.places:
            yield from _place(place, advice, teller, look)
    places = [place for passage in passages for place in passage.places]
    if not all(place.one_harp for place in places):
        text = (
            "Where one harp is not enough, livepedal share FILE -o OUT.mid shares the whole part between two."
        )
        yield from look.text(text, 2)
    more = sum(max(0, len(place.remedies) - 1) for place in places)
    hint = f"{more} more with --all. " if more and not look.every else ""
    if hint or any(passage.remedies for passage in passages):
        yield from look.faint(f"{hint}Each was tried in its place and found playable.")


def _place(place: PlaceAdvice, advice: PartAdvice, teller: Teller, look: Look) -> Iterator[Line]:
    """Where, then the best remedy; the others as "or"."""
    texts = [("or", teller.what(remedy)) for remedy in place.remedies]
    if place.hard is not None and (look.every or not texts):
        texts.append(("but", teller.hard(place.hard, advice.player, place.start, place.one_harp)))
    (_, first), *others = texts or [("", NO_WAY)]
    where = teller.place(place) if len(place.troubles) == 1 else f"For the {teller.place(place)}"
    yield from look.text(f"{where}: {first}", 2, hang=2)
    for conjunction, text in others if look.every else ():
        yield from look.text(f"{conjunction} {text}", 3, hang=3)
