"""Remedies, below the findings of a report: one line for each place, or all of them with `--all`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice

from livepedal.advice.remedies.remedy import PlaceAdvice
from livepedal.advice.remedies.telling import Teller
from livepedal.advice.report import CheckedPart
from livepedal.music.wording import listed, numbered
from livepedal.views import words
from livepedal.views.lines import Line
from livepedal.views.report.look import Look

IN_A_ROW = (
    "A finding's times leave out the attacks before it that failed. A tempo has to make time for those, too."
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
    yield from _tempos(
        advice.player, *teller.how_fast("all of it", advice.tempos, written, part.findings), look
    )
    for passage in passages:
        if look.every and passage.tempos != advice.tempos:
            bars, written = teller.bars(passage.start, passage.end), teller.steady(passage.start, passage.end)
            mine = [one for one in part.findings if passage.start <= one.us <= passage.end]
            yield from _tempos(advice.player, *teller.how_fast(bars, passage.tempos, written, mine), look)
    places = places_of(part)
    groups = together(places)
    for group in groups:
        yield from _together(group, advice.player, teller, look)
    if not all(place.one_harp for place, _ in places):
        text = (
            "Where one harp is not enough, livepedal share FILE -o OUT.mid shares the whole part between two."
        )
        yield from look.text(text, 2)
    remedies = sum(len(place.remedies) for place, _ in places)
    if remedies:
        more = remedies - sum(bool(group[0][0].remedies) for group in groups)
        hint = f" To see {words.counted(more, 'more remedy')}, add --all." if more and not look.every else ""
        yield from look.faint(
            f"Each remedy was tried in its place and mends the findings that it names.{hint}"
        )
    if any(len(place.troubles) > 1 and any(one.limit for one in place.remedies) for place, _ in places):
        yield from look.faint(IN_A_ROW)


def _tempos(player: str, head: str, tempos: Sequence[tuple[str, str]], look: Look) -> Iterator[Line]:
    """How fast each player manages something, a row each. player: the one that is judged for."""
    if head:
        yield from look.text(head, 2)
    rows = []
    for name, says in tempos:
        tone, shown = look.chosen(name, player)
        rows.append((tone, (shown, says)))
    if rows:
        yield from islice(look.table(("", ""), rows, texts=2, level=2), 1, None)


Place = tuple[PlaceAdvice, list[int]]  # with the numbers of the findings that it is about


def places_of(part: CheckedPart) -> list[Place]:
    """The places with remedies."""
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


def together(places: Sequence[Place]) -> list[list[Place]]:
    """The places, those that the best remedy of another mends behind that one."""
    firsts = []
    for number, (place, _) in enumerate(places):
        mending = [n for n, (other, _) in enumerate(places) if n == number or other.mends(place)]
        # The slowest, then the longest, since nothing but its like mends that one.
        firsts.append(min(mending, key=lambda n: (*places[n][0].slowness, n)))
    return [
        [places[first], *(place for n, place in enumerate(places) if firsts[n] == first != n)]
        for first in sorted(set(firsts))
    ]


def _together(group: Sequence[Place], player: str, teller: Teller, look: Look) -> Iterator[Line]:
    """Where, by the numbers of the findings, then the best remedy; with `--all` the others as "or"."""
    (first, _), *_ = group
    if not look.every:
        yield from _place(group, [teller.what(remedy) for remedy in first.remedies[:1]], player, teller, look)
        return
    for place, findings in group:
        texts = [teller.what(remedy) for remedy in place.remedies]
        if place is not first:
            texts.insert(0, "that tempo mends this, too")
        yield from _place([(place, findings)], texts, player, teller, look)


def _place(
    places: Sequence[Place], texts: list[str], player: str, teller: Teller, look: Look
) -> Iterator[Line]:
    place = places[0][0]
    said = [("or", text) for text in texts]
    if place.hard is not None and (look.every or not texts):
        said.append(("but", teller.hard(place.hard, player, place.start, place.one_harp)))
    (_, best), *others = said
    where = listed([teller.place(one) for one, _ in places])
    findings = sorted(number for _, numbers in places for number in numbers)
    if findings:
        where = f"{numbered('finding', findings).capitalize()} ({where})"
    yield from look.text(f"{where}: {best}", 2, hang=2)
    for conjunction, text in others:
        yield from look.text(f"{conjunction} {text}", 3, hang=3)
