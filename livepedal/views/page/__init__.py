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
from functools import cache
from pathlib import Path, PurePath
from typing import TYPE_CHECKING

from livepedal.advice.judging.basis import Basis
from livepedal.advice.remedies.telling import FREED, Teller
from livepedal.advice.report import CheckedPart, FileReport
from livepedal.errors import LivepedalError
from livepedal.harp import Foot
from livepedal.model.findings import Outcome, Verdict
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.page.layout import Timeline
from livepedal.views.page.timeline import sign_of
from livepedal.views.report.asides import aside_texts
from livepedal.views.report.remedies import places_of
from livepedal.views.signs import FULL

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

HERE = Path(__file__).parent


class PartPage:
    """What the page shows of one part besides its report.

    Attributes:
        id: tells the parts of a page apart in its links.
        systems: of its notation, as SVG.
        changes: the pedal changes with their places.
        places: those with remedies, each with the numbers of its findings.
        whole: how fast each player manages all of it.
    """

    def __init__(
        self, identity: str, report: CheckedPart, basis: Basis, middle_c: str, systems: tuple[Markup, ...]
    ) -> None:
        self.id = identity
        self.report = report
        self.systems = systems
        self.teller = Teller(basis.instrument, report.time_map, middle_c, report.struck)
        self.timeline = Timeline(report, basis, middle_c)
        self.changes = [(report.place_of(change), change) for change in report.plan.changes]
        advice = report.advice
        self.places = places_of(report)
        self.whole = ""
        if advice is not None and advice.tempos and advice.passages:
            steady = self.teller.steady(advice.passages[0].start, advice.passages[-1].end)
            head, rows = self.teller.how_fast("all of it", advice.tempos, steady, report.findings)
            self.whole = f"{head} {'; '.join(f'{player} player {says}' for player, says in rows)}".rstrip()


def to_bytes(
    file: FileReport, basis: Basis, middle_c: str = "C4", sheet: bool = False, score: bytes | None = None
) -> bytes:
    """The page of one file, as UTF-8; the same bytes whenever it is made.

    Args:
        file: its report.
        basis: what it was judged by.
        middle_c: what middle C is called.
        sheet: its pedal sheet alone.
        score: the file itself, where its notation is to be shown.

    Raises:
        LivepedalError: where the file could not be judged.
    """
    if file.error is not None:
        raise LivepedalError(file.error)
    parts = []
    for number, part in enumerate(file.parts):
        systems: tuple[Markup, ...] = ()
        if score is not None and not sheet:
            from livepedal.views.page.engraving import systems_of

            systems = systems_of(score, file, number, f"p{number + 1}")
        parts.append(PartPage(f"p{number + 1}", part, basis, middle_c, systems))
    script = (HERE / "page.js").read_text(encoding="utf-8")
    text = (
        _environment()
        .get_template("page.html")
        .render(
            # Someone who is sent the page need not know in which folder the file was.
            title=clean(PurePath(file.path).name or file.path, 200),
            file=file,
            parts=parts,
            judged_for=words.judged_for(basis.player, basis.instrument, middle_c),
            player=basis.player,
            middle_c=middle_c,
            sheet=sheet,
            style=(HERE / "page.css").read_text(encoding="utf-8"),
            script=script,
            # The hash is of the script as it stands between its tags.
            script_hash=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii"),
        )
    )
    return text.encode("utf-8", "replace")


@cache
def _environment() -> Environment:
    """The templates; everything put into them is escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(HERE, encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"clean": clean, "unbroken": _unbroken}
    environment.globals |= {
        "words": words,
        "shapes": FULL.shapes,
        "sign_of": sign_of,
        "Foot": Foot,
        "Verdict": Verdict,
        "aside_texts": aside_texts,
        "CANNOT": Outcome.CANNOT,
        "FREED": FREED,
    }
    return environment


def _unbroken(text: str) -> str:
    """The text with its last word kept on the line of the one before: a unit with its number."""
    head, _, last = text.rpartition(" ")
    return f"{head}\N{NO-BREAK SPACE}{last}"
