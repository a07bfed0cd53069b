"""What `check` found out about files, as values and as the documented JSON (format livepedal-check, version 1).

Nothing is decided here: verdicts and findings come from the model, the pedalling from its plan, places in the
music from the time map of the file.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from livepedal.advice.judging.as_json import part_dict
from livepedal.advice.judging.report import PartReport
from livepedal.harp import Instrument, Player
from livepedal.model.findings import Outcome, Verdict, worst
from livepedal.sources.text import clean

if TYPE_CHECKING:  # what only some runs need is imported there, since starting takes time
    from livepedal.advice.proofreading.slips import Printed
    from livepedal.advice.remedies.remedy import PartAdvice
    from livepedal.advice.spelling.departures import Departure
    from livepedal.advice.spelling.given import Compared, Outlook
    from livepedal.advice.spelling.sheet import Sheet


@dataclass(frozen=True, slots=True, repr=False)
class CheckedPart(PartReport):
    """A part that was judged, with its names that are not the ordinary ones, and what else was asked for.

    That is how the given spelling does, what is printed, remedies, the spelling sheet.
    """

    names: tuple[Departure, ...] = ()
    spelling: Compared | None = None
    printed: Printed | None = None
    advice: PartAdvice | None = None
    sheet: Sheet | None = None

    @classmethod
    def of(
        cls, part: PartReport, spelling: Compared | None = None, names: tuple[Departure, ...] = ()
    ) -> CheckedPart:
        """A part with nothing besides, but for its names and how its given spelling does."""
        own = {field.name: getattr(part, field.name) for field in fields(PartReport)}
        return cls(**own, spelling=spelling, names=names)

    def to_dict(self) -> dict[str, Any]:
        """As it stands in the JSON of `check`."""
        found = part_dict(self)
        found["names"] = [departure.to_dict() for departure in self.names]
        if self.spelling is not None:
            found["spelling"] = _compared(self.spelling)
        if self.advice is not None:
            from livepedal.advice.remedies.as_json import add_to

            add_to(found, self.advice, self.passages, self.time_map, self.struck)
        if self.printed is not None:
            found["printed"] = self.printed.to_dict(self.time_map)
        if self.sheet is not None:
            found["sheet"] = self.sheet.under_a_part()
        return found


def _compared(compared: Compared) -> dict[str, Any]:
    def as_played(outlook: Outlook) -> dict[str, Any]:
        return {
            "verdict": outlook.verdict.word,
            "unplayable": outlook.unplayable,
            "audible": outlook.audible,
            "changes": outlook.changes,
        }

    return {
        "what": compared.what,
        "notes": compared.notes,
        "given": as_played(compared.given),
        "best": as_played(compared.best),
        "remarks": list(compared.remarks),
    }


@dataclass(frozen=True, slots=True, repr=False)
class FileReport:
    """One file: its parts, or the one sentence that says why it could not be judged."""

    path: str
    parts: tuple[CheckedPart, ...] = ()
    error: str | None = None
    remarks: tuple[str, ...] = ()

    def __repr__(self) -> str:
        said = self.verdict.word if self.error is None else "not judged"
        return f"<FileReport {clean(self.path)!r}: {said}>"

    @property
    def verdict(self) -> Verdict:
        """The worst of its parts."""
        return worst(part.verdict for part in self.parts)

    @property
    def exit_code(self) -> int:
        """0: the chosen player can play it all, audibly or not; 1: they cannot; 2: it could not be judged."""
        if self.error is not None:
            return 2
        return int(any(part.outcome is Outcome.CANNOT for part in self.parts))

    def to_dict(self) -> dict[str, Any]:
        """As it stands in the JSON of `check`."""
        # Half a character (a name that is no UTF-8) is not allowed in JSON that is exchanged (RFC 8259, 8.2).
        path = self.path.encode("utf-8", "replace").decode()
        if self.error is not None:
            return {"path": path, "error": self.error}
        return {
            "path": path,
            "verdict": self.verdict.word,
            "remarks": list(self.remarks),
            "parts": [part.to_dict() for part in self.parts],
        }


@dataclass(frozen=True, slots=True, repr=False)
class Report:
    """All files of one run, with the harp and the player they were judged for."""

    instrument: Instrument
    player: Player
    files: tuple[FileReport, ...]

    def __repr__(self) -> str:
        said = ", ".join(map(repr, self.files[:3])) + (", ..." if len(self.files) > 3 else "")
        return f"<Report: {self.player.name} player, harp {self.instrument.name}: {said}>"

    @property
    def exit_code(self) -> int:
        """The highest of its files."""
        return max((file.exit_code for file in self.files), default=0)

    def to_dict(self) -> dict[str, Any]:
        """The JSON of `check`."""
        return {
            "format": "livepedal-check",
            "version": 1,
            "harp": self.instrument.name,
            "player": self.player.name,
            "files": [file.to_dict() for file in self.files],
        }
