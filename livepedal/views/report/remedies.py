"""Remedies, below the findings of a report: one line for each place, or all of them with `--all`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice

from livepedal.advice.remedies.remedy import PlaceAdvice
from livepedal.advice.remedies.telling import Teller
from livepedal.advice.report import CheckedPart
from livepedal.music.wording import numbered
from livepedal.views import words
from livepedal.views.lines import Line
from livepedal.views.report.look import Look

IN_A_ROW = (
    "The times in a finding leave out the attacks before it that failed; a tempo has to make time for all of them."
)


def remedy_lines(part: CheckedPart, look: Look) -> Iterator[Line]:
    """The remedies of a part: all of them, or the best of each place."""
    advice = part.advice
    if advice is None:
        return
    if not advice.passages:
        yield from look.heading(f"The {part.player} player needs no remedy")
        return
    passages = advice.passages
    teller = Teller(advice.instrument, part.time_map, look.middle_c, part.struck)
    yield from look.heading(teller.head(advice))
    written = teller.steady(passages[0].start, passages[-1].end)
    yield from _tempos(advice.player, *teller.how_fast("all of it", advice.tempos, written), look)
    for passage in passages:
        if look.every and passage.tempos != advice.tempos:
            bars, written = teller.bars(passage.start, passage.end), teller.steady(passage.start, passage.end)
            yield from _tempos(advice.player, *teller.how_fast(bars, passage.tempos, written), look)
    for place, findings in places_of(part):
        yield from _place(place, findings, advice.player, teller, look)
    places = [place for passage in passages for place in passage.places]
    if not all(place.one_harp for place in places):
        text = (
            "Where one harp is not enough, livepedal share FILE -o OUT.mid shares the whole part between two."
        )
        yield from look.text(text, 2)
    if any(place.remedies for place in places):
        more = sum(max(0, len(place.remedies) - 1) for place in places)
        hint = f" To see {words.counted(more, 'more remedy')}, add --all." if more and not look.every else ""
        yield from look.faint(f"Each remedy was tried in its place and mends the findings that it names.{hint}")
    if any(len(place.troubles) > 1 and any(one.limit for one in place.remedies) for place in places):
        yield from look.faint(IN_A_ROW)


def _tempos(player: str, head: str, tempos: Sequence[tuple[str, str]], look: Look) -> Iterator[Line]:
    """How fast each player manages something, a row each. player: the one that is judged for."""
    if head:
        yield from look.text(head, 2)
    rows = []
    for name, says in tempos:
        tone, shown = look.chosen(name, player)
        rows.append((tone, (shown, says)))
    yield from islice(look.table(("", ""), rows, texts=2, level=2), 1, None)


def places_of(part: CheckedPart) -> list[tuple[PlaceAdvice, list[int]]]:
    """The places with remedies, each with the numbers of the findings that it is about."""
    passages = () if part.advice is None else part.advice.passages
    return [
        (
            place,
            [
                group.number
                for group in part.groups
                if (group.worst.load is not None) is place.too_much
                and not group.worst.audible
                and any(finding.us in place.troubles for finding in group.findings)
            ],
        )
        for passage in passages
        for place in passage.places
    ]


def _place(
    place: PlaceAdvice, findings: Sequence[int], player: str, teller: Teller, look: Look
) -> Iterator[Line]:
    """Where, by the numbers of the findings, then the best remedy; the others as "or"."""
    texts = [("or", teller.what(remedy)) for remedy in place.remedies]
    if place.hard is not None and (look.every or not texts):
        texts.append(("but", teller.hard(place.hard, player, place.start, place.one_harp)))
    (_, first), *others = texts
    where = teller.place(place)
    if findings:
        where = f"{numbered('finding', findings).capitalize()} ({where})"
    yield from look.text(f"{where}: {first}", 2, hang=2)
    for conjunction, text in others if look.every else ():
        yield from look.text(f"{conjunction} {text}", 3, hang=3)
