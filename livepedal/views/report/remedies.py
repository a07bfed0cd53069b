"""Remedies, below the findings of a report: one line for each place, or all of them with `--all`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from livepedal.advice.remedies.remedy import PartAdvice, PassageAdvice, PlaceAdvice
from livepedal.advice.remedies.telling import NO_WAY, Teller
from livepedal.music.timemap import TimeMap
from livepedal.views.lines import Line, Tone, line
from livepedal.views.report.look import INDENT, Look, wrapped


def remedy_lines(
    advice: PartAdvice, time_map: TimeMap, look: Look, struck: Sequence[int] = ()
) -> Iterator[Line]:
    """The remedies of a part: all of them where the look is for every one, else the best of each place.
    struck: the moments of the part's attacks (µs).
    """
    if not advice.passages:
        return
    teller = Teller(advice.instrument, time_map, look.middle_c, struck)
    yield line()
    yield line((f"{INDENT}{teller.head(advice)}", Tone.STRONG))
    if advice.tempos:
        told = teller.tempos(advice.tempos, teller.steady(advice.passages[0].start, advice.passages[-1].end))
        yield from wrapped(f"As a whole, {told}", look, indent=INDENT * 2, hang=6)
    more = 0
    for passage in advice.passages:
        if look.every and passage.tempos and passage.tempos != advice.tempos:
            yield from _passage(passage, teller, look)
        for place in passage.places:
            yield from _place(place, advice, teller, look)
            more += max(0, len(place.remedies) - 1)
    if any(not place.one_harp for passage in advice.passages for place in passage.places):
        yield from wrapped(
            "Where one harp is not enough, livepedal share FILE -o OUT.mid shares the whole part between two.",
            look,
            indent=INDENT * 2,
        )
    if more and not look.every:
        yield from wrapped(
            f"{more} more with --all. Each was tried in its place and found playable.",
            look,
            Tone.FAINT,
            indent=INDENT * 2,
        )
    elif any(passage.remedies for passage in advice.passages):
        yield from wrapped(
            "Each was tried in its place and found playable.", look, Tone.FAINT, indent=INDENT * 2
        )


def _passage(passage: PassageAdvice, teller: Teller, look: Look) -> Iterator[Line]:
    bars = teller.bars(passage.start, passage.end)
    told = teller.tempos(passage.tempos, teller.steady(passage.start, passage.end))
    yield from wrapped(f"In {bars}, {told}", look, indent=INDENT * 2, hang=6)


def _place(place: PlaceAdvice, advice: PartAdvice, teller: Teller, look: Look) -> Iterator[Line]:
    """Where, then the best remedy; the others as "or"."""
    texts = [teller.what(remedy) for remedy in place.remedies]
    if place.hard is not None and (look.every or not texts):
        texts.append(teller.hard(place.hard, advice.player, place.start, place.one_harp))
    if not texts:
        texts.append(NO_WAY)
    for number, text in enumerate(texts if look.every else texts[:1]):
        if number == 0:
            yield from wrapped(f"{teller.place(place)}: {text}", look, indent=INDENT * 2, hang=6)
        else:
            is_hard = place.hard is not None and number == len(place.remedies)
            yield from wrapped(f"{'but' if is_hard else 'or'} {text}", look, indent=INDENT * 3, hang=9)
