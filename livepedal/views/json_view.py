"""The report of `check` as JSON (format livepedal-check, version 1), the same bytes whenever it is run.

One file of the report stands on one line, so that it can be written while the next is being judged, and so
that two reports can be compared line by line. Pure ASCII: JSON's own escapes keep names from acting on a
terminal, and a path that is not valid text survives.
"""

from __future__ import annotations

import json
from collections.abc import Iterator

from livepedal.advice.report import FileReport, Report
from livepedal.harp import Instrument, Player


def opening(player: Player, instrument: Instrument) -> str:
    """Everything before the first file."""
    head = {"format": "livepedal-check", "version": 1, "harp": instrument.name, "player": player.name}
    return _dumps(head)[:-1] + ', "files": ['


def file_text(file: FileReport, first: bool) -> str:
    """One file, on a line of its own."""
    return ("\n" if first else ",\n") + _dumps(file.to_dict())


def closing() -> str:
    """Everything after the last file."""
    return "\n]}\n"


def pieces(report: Report) -> Iterator[str]:
    """The whole document, piece by piece."""
    yield opening(report.player, report.instrument)
    for number, file in enumerate(report.files):
        yield file_text(file, first=number == 0)
    yield closing()


def to_bytes(report: Report) -> bytes:
    """The whole document."""
    return "".join(pieces(report)).encode("ascii")


def _dumps(value: object) -> str:
    return json.dumps(value, ensure_ascii=True, allow_nan=False)
