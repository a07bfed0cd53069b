"""The findings of files as CSV (RFC 4180), a row for each attack, for a spreadsheet or a table of a program's.

A file that could not be judged has one row with its error. A text that a spreadsheet would take for a formula has an
apostrophe before it, as OWASP recommends ("CSV Injection"); names from files are made harmless as everywhere.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from livepedal.advice.report import FileReport
from livepedal.harp import pitch_name
from livepedal.sources.text import clean
from livepedal.views import words

COLUMNS = [
    *("path", "part", "group", "kind", "layer", "verdict", "audible", "bar", "beat", "seconds"),
    *("note", "name", "needed_s", "available_s", "what", "error"),
]


def head() -> str:
    """The names of the columns."""
    return _row(COLUMNS)


def rows(file: FileReport, middle_c: str) -> str:
    """A row for each attack that a finding concerns, in order of time, or one with the error."""
    if file.error is not None:
        return _row([_safe(file.path), *[""] * (len(COLUMNS) - 2), _safe(file.error)])
    found = []
    for part in file.parts:
        numbered = [(finding, group.number) for group in part.groups for finding in group.findings]
        for finding, number in sorted(numbered, key=lambda pair: (pair[0].us, pair[0].id)):
            place = part.place(finding.us)
            kind = (finding.kind.value, finding.layer.value, finding.verdict.word)
            where = (place.bar, words.beat(place.beat), _seconds(finding.us))
            note = (finding.note, pitch_name(finding.note, middle_c=middle_c))
            times = (_seconds(finding.needed), _seconds(finding.available))
            cells = (*kind, "yes" if finding.audible else "no", *where, *note, *times)
            names = (_safe(file.path), _safe(part.name), number)
            found.append(_row([*names, *cells, words.what(finding, middle_c), ""]))
    return "".join(found)


def _seconds(us: int | None) -> str:
    return "" if us is None else f"{us / 1_000_000:.6f}"


def _safe(text: str) -> str:
    text = clean(text, 500)
    return f"'{text}" if text.startswith(("=", "+", "-", "@")) else text


def _row(cells: Iterable[object]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerow(cells)
    return out.getvalue()
