"""The report of one file as a page to look at: one HTML file that needs nothing else and no network.

The texts are those of the report in the terminal; what the page adds is a drawing of each part (timeline.py), in
which findings are linked with the list of them. The template (page.html) escapes all that it is given, and names
from files are made harmless before (livepedal.sources.text). The page forbids itself, by its content security
policy, to fetch anything and to run any script but its own.

It works without the script, too: links lead from findings to their places and back. The script shows the reason
where the pointer or a finger is.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import groupby
from pathlib import Path, PurePath
from typing import TYPE_CHECKING

from livepedal.advice.judging.groups import Group
from livepedal.advice.judging.report import PartReport
from livepedal.advice.remedies.remedy import PartAdvice, PlaceAdvice
from livepedal.advice.remedies.telling import FREED, NO_WAY, Teller
from livepedal.advice.report import CheckedPart, FileReport
from livepedal.errors import LivepedalError
from livepedal.harp import Foot, Instrument, Pedal, Player, Position, Ringing, Setting
from livepedal.model.findings import Finding, Outcome, Verdict
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.page.layout import score_of, shape_of
from livepedal.views.page.timeline import Score
from livepedal.views.report.asides import aside_texts
from livepedal.views.signs import FULL

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

HERE = Path(__file__).parent


@dataclass(frozen=True, slots=True)
class Badge:
    """A verdict on the page: always a shape and a word, and `kind` for its colour."""

    kind: str
    shape: str
    word: str


@dataclass(frozen=True, slots=True)
class Remedies:
    """What would make one place playable. where: the place; ways: best first; hard: a remark if no tempo helps."""

    where: str
    ways: tuple[str, ...]
    hard: str


@dataclass(frozen=True, slots=True)
class Item:
    """A group of findings in the list. placed: the timeline shows it; remedies: of its places; shared: the numbers of
    those groups that have the remedies of other places of it.
    """

    number: int
    badge: Badge
    placed: bool
    where: str
    what: str
    figures: str
    reasons: tuple[str, ...]
    remedies: tuple[Remedies, ...]
    shared: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class PlayerRow:
    """What one player has trouble with."""

    name: str
    chosen: bool
    unplayable: int
    audible: int
    changes: int | None
    too_much: int


@dataclass(frozen=True, slots=True)
class PedalStroke:
    """One pedal in the diagram: -1 (flat, above the line), 0, 1; None where it is not used."""

    letter: str
    position: int | None
    sign: str


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """The pedal changes of one bar. mark: the rehearsal mark if it is new, else empty."""

    bar: int
    mark: str
    changes: tuple[tuple[str, str, str], ...]  # the letter with its new accidental, beat, kind


@dataclass(frozen=True, slots=True)
class PartPage:
    """One part on the page. `id` tells the parts of a page apart in its links."""

    id: str
    name: str
    badge: Badge
    says: str
    players: tuple[PlayerRow, ...]
    attacks: int
    left: tuple[PedalStroke, ...]
    right: tuple[PedalStroke, ...]
    setting: str
    unused: bool
    tunings: tuple[str, ...]
    score: Score
    listed: tuple[Item, ...]
    whole: str
    others: tuple[Remedies, ...]
    advised: bool
    otherwise: str
    hint: bool
    feet: tuple[int, int]
    rows: tuple[ChangeRow, ...]
    asides: tuple[str, ...]
    remarks: tuple[str, ...]
    systems: tuple[Markup, ...]  # of its notation, as SVG

    @property
    def loaded(self) -> bool:
        """Whether some player has too much at once somewhere."""
        return any(row.too_much for row in self.players)


@dataclass(frozen=True, slots=True)
class Page:
    """Everything on the page. sheet: show only the setting and the pedal changes."""

    title: str
    badge: Badge
    judged_for: str
    parts: tuple[PartPage, ...]
    remarks: tuple[str, ...]
    player: str
    sheet: bool


def to_bytes(
    file: FileReport,
    player: Player,
    instrument: Instrument,
    ringing: Ringing,
    middle_c: str = "C4",
    sheet: bool = False,
    score: bytes | None = None,
) -> bytes:
    """The page of one file, as UTF-8; the same bytes whenever it is made. sheet: its pedal sheet alone; score: the file
    itself, where its notation is to be shown.

    Raises LivepedalError where the file could not be judged.
    """
    if file.error is not None:
        raise LivepedalError(file.error)
    systems: list[tuple[Markup, ...]] = [()] * len(file.parts)
    if score is not None and not sheet:
        from livepedal.views.page.engraving import systems_of

        systems = [
            systems_of(score, file, number, f"p{number + 1}", middle_c) for number in range(len(file.parts))
        ]
    page = page_of(file, player, instrument, ringing, middle_c, sheet, systems)
    script = (HERE / "page.js").read_text(encoding="utf-8")
    environment = _environment()
    text = environment.get_template("page.html").render(
        page=page,
        style=(HERE / "page.css").read_text(encoding="utf-8"),
        script=script,
        # The hash is of the script as it stands between its tags.
        script_hash=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii"),
        legend=tuple((_badge(verdict), words.MEANING[verdict]) for verdict in Verdict),
        kinds=words.CHANGE_KINDS,
    )
    return text.encode("utf-8", "replace")


@cache
def _environment() -> Environment:
    """The templates; everything put into them is escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(HERE, encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page_of(
    file: FileReport,
    player: Player,
    instrument: Instrument,
    ringing: Ringing,
    middle_c: str,
    sheet: bool,
    systems: Sequence[tuple[Markup, ...]] = (),
) -> Page:
    """The contents of a file's page. systems: of the notation of each part that has one."""
    parts = tuple(
        replace(
            _part(part, f"p{number}", player, instrument, ringing, middle_c),
            systems=systems[number - 1] if systems else (),
        )
        for number, part in enumerate(file.parts, 1)
    )
    return Page(
        # Someone who is sent the page need not know in which folder the file was.
        title=clean(PurePath(file.path).name or file.path, 200),
        badge=_badge(file.verdict),
        judged_for=words.judged_for(player.name, instrument, middle_c),
        parts=parts,
        remarks=tuple(words.sentence(remark) for remark in file.remarks),
        player=clean(player.name),
        sheet=sheet,
    )


def _part(
    part: CheckedPart, identity: str, player: Player, instrument: Instrument, ringing: Ringing, middle_c: str
) -> PartPage:
    groups = part.groups
    score = score_of(part, player, instrument, ringing, middle_c, groups)
    teller = Teller(instrument, part.time_map, middle_c, part.struck)
    items, others = _items(part, groups, score, teller, middle_c)
    whole = ""
    if part.advice is not None and part.advice.tempos and part.advice.passages:
        passages = part.advice.passages
        whole = teller.tempos(part.advice.tempos, teller.steady(passages[0].start, passages[-1].end))
    setting = part.plan.setting
    strokes = tuple(_stroke(pedal, setting) for pedal in Pedal)
    return PartPage(
        id=identity,
        name=clean(part.name),
        badge=_badge(part.verdict),
        says=words.says(part),
        players=tuple(
            PlayerRow(
                clean(count.player),
                count.player == part.player,
                count.unplayable,
                count.audible,
                count.changes,
                count.too_much,
            )
            for count in part.counts
        )
        if part.troubled
        else (),
        attacks=part.attacks,
        left=strokes[: len(Foot.LEFT.pedals)],
        right=strokes[len(Foot.LEFT.pedals) :],
        setting=str(setting),
        unused=any(position is None for position in setting.positions),
        tunings=tuple(words.tunings(part.tuned, part.place)),
        score=score,
        listed=items,
        whole=whole,
        others=others,
        advised=part.advice is not None and bool(part.advice.passages),
        otherwise=words.OTHERWISE if part.otherwise else "",
        hint=part.advice is None and part.outcome is Outcome.CANNOT,
        feet=part.plan.feet,
        rows=tuple(_rows(part)),
        asides=tuple(aside_texts(part)),
        remarks=tuple(words.sentence(remark) for remark in part.notes_below),
        systems=(),
    )


def _badge(verdict: Verdict) -> Badge:
    return Badge(verdict.word, FULL.shapes[verdict], verdict.word)


def _finding_badge(finding: Finding) -> Badge:
    """A finding's badge: its verdict, or that it is audible."""
    if finding.audible:
        return Badge(finding.verdict.word, shape_of(finding), "audible")
    return _badge(finding.verdict)


def _stroke(pedal: Pedal, setting: Setting) -> PedalStroke:
    position: Position | None = setting[pedal]
    return PedalStroke(pedal.letter, position, "·" if position is None else position.sign)


def _items(
    part: CheckedPart, groups: Sequence[Group], score: Score, teller: Teller, middle_c: str
) -> tuple[tuple[Item, ...], tuple[Remedies, ...]]:
    """The findings with the remedies of their places, and the remedies of places without a finding."""
    advice = part.advice
    places = [] if advice is None else [place for passage in advice.passages for place in passage.places]
    at = {us: place for place in places for us in place.troubles}
    told: dict[int, int] = {}  # first trouble of a place that has been told -> number of its group
    items = []
    before: tuple[str, ...] = ()
    for group in groups:
        finding = group.worst
        mine = () if finding.audible else [at[one.us] for one in group.findings if one.us in at]
        new = [place for place in dict.fromkeys(mine) if place.troubles[0] not in told]
        told.update((place.troubles[0], group.number) for place in new)
        shared = {told[place.troubles[0]] for place in mine} - {group.number}
        reasons = words.reasons(finding)
        items.append(
            Item(
                number=group.number,
                badge=_finding_badge(finding),
                placed=bool(score.drawings),
                where=_unbroken(words.spread(group, part)),
                what=words.what(finding, middle_c),
                figures=words.rate(finding),
                # Said once for a row of findings with the same reason.
                reasons=() if reasons == before else reasons,
                remedies=tuple(_remedies(place, advice, teller) for place in new if advice is not None),
                shared=tuple(sorted(shared)),
            )
        )
        before = reasons
    left = [place for place in places if place.troubles[0] not in told]
    return tuple(items), tuple(_remedies(place, advice, teller) for place in left if advice is not None)


def _remedies(place: PlaceAdvice, advice: PartAdvice, teller: Teller) -> Remedies:
    ways = tuple(teller.what(remedy) for remedy in place.remedies)
    hard = "" if place.hard is None else teller.hard(place.hard, advice.player, place.start, place.one_harp)
    where = f"{teller.place(place)}, {FREED}" if advice.freed else teller.place(place)
    return Remedies(where, ways, NO_WAY if place.nothing else hard)


def _rows(part: PartReport) -> Iterator[ChangeRow]:
    placed = [(part.place(change.us), change) for change in part.plan.changes]
    before: str | None = None
    for bar, some in groupby(placed, key=lambda one: one[0].bar):
        here = list(some)
        mark = here[-1][0].mark
        yield ChangeRow(
            bar,
            clean(mark, words.LONGEST_MARK) if mark and mark != before else "",
            tuple(
                (words.change_name(change), words.beat(place.beat), words.change_kind(change))
                for place, change in here
            ),
        )
        before = mark


def _unbroken(text: str) -> str:
    """The text with its last word kept on the line of the one before: a unit with its number."""
    head, _, last = text.rpartition(" ")
    return f"{head}\N{NO-BREAK SPACE}{last}"
