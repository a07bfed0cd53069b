"""What `check` found out about files, as plain values, and the same as the documented JSON (format
livepedal-check, version 1).

Nothing is decided here: verdicts and findings come from the model, the pedalling from its plan, places in the
music from the time map of the file.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from livepedal.advice.judging.groups import Group, groups_of
from livepedal.advice.judging.values import place_dict, seconds, setting_dict
from livepedal.harp import Instrument, Player, Spelling, pitch_name
from livepedal.model.feet.tunings import Tuned
from livepedal.model.findings import Finding, Graded, Layer, Outcome, Passage, Verdict, worst
from livepedal.model.load import Load
from livepedal.model.plan.planner import Plan
from livepedal.model.plan.timing import PedalChange
from livepedal.model.why_hands import clause
from livepedal.music.attacks import Gathered
from livepedal.music.timemap import Place, TimeMap
from livepedal.music.tracks import TrackInfo
from livepedal.music.wording import bounded, plain
from livepedal.sources.text import clean

if TYPE_CHECKING:
    from livepedal.advice.judging.asides import Aside
    from livepedal.advice.proofreading.slips import Printed
    from livepedal.advice.remedies.remedy import PartAdvice
    from livepedal.advice.spelling.given import Compared, Outlook
    from livepedal.advice.spelling.sheet import Sheet
    from livepedal.model.hands import Figure


@dataclass(frozen=True, slots=True)
class LayerCount:
    """Attacks that one player cannot play, or only audibly, in one layer; of the layer load, passages
    with too much at once.
    """

    layer: Layer
    unplayable: int
    audible: int


@dataclass(frozen=True, slots=True)
class Count:
    """What one player met in a part. `changes`: pedal changes of that player's plan; None where no plan was
    asked for. `undecided`: attacks for which the search was cut short, which count as no fault.
    """

    player: str
    unplayable: int
    audible: int
    changes: int | None
    layers: tuple[LayerCount, ...]
    undecided: int = 0

    @property
    def too_much(self) -> int:
        """Passages with too much at once, which no attack stands for."""
        return sum(one.unplayable for one in self.layers if one.layer is Layer.LOAD)

    @property
    def outcome(self) -> Outcome:
        """Whether this player can play the part."""
        if self.unplayable or self.too_much:
            return Outcome.CANNOT
        return Outcome.AUDIBLE if self.audible else Outcome.PLAYS


@dataclass(frozen=True, slots=True, repr=False)
class PartReport:
    """One harp part, judged. Times in µs. `begin` is where it was judged from, `end` the end of its tracks; `music`
    its attacks, in the order of the plan's, and `graded` the verdicts of those that are not easy.
    """

    name: str
    tracks: tuple[TrackInfo, ...]
    notes: int
    attacks: int
    end: int
    verdict: Verdict
    audible: bool
    player: str
    outcome: Outcome
    counts: tuple[Count, ...]
    bounded: int
    plan: Plan
    passages: tuple[Passage, ...]
    findings: tuple[Finding, ...]
    time_map: TimeMap = field(repr=False)
    remarks: tuple[str, ...] = ()
    not_the_best: str = ""  # the one of them that the plan gives up more attacks than the verdict
    asides: tuple[Aside, ...] = ()
    played: tuple[Figure, ...] = ()  # the figures that are told of
    loads: tuple[Load, ...] = ()  # the chosen player's, one for each passage where that layer was judged
    tuned: tuple[Tuned, ...] = ()  # strings without pedals that are tuned otherwise than usual
    spelling: Compared | None = None
    printed: Printed | None = None
    advice: PartAdvice | None = None
    sheet: Sheet | None = None
    music: tuple[Gathered, ...] = field(default=(), repr=False)
    written: tuple[int, ...] = field(default=(), repr=False)
    graded: tuple[Graded, ...] = field(default=(), repr=False)
    begin: int = 0

    def __repr__(self) -> str:
        found = f"{len(self.findings)} finding{'' if len(self.findings) == 1 else 's'}"
        return f"<PartReport {clean(self.name)!r}: {self.verdict.word}, {self.notes} notes, {found}>"

    @property
    def planned(self) -> bool:
        """Whether there is a plan of the pedal changes; none where no layer that was judged needs it."""
        return any(count.changes is not None for count in self.counts)

    @property
    def troubled(self) -> bool:
        """Whether there is a player who has any trouble with it."""
        return any(count.outcome is not Outcome.PLAYS for count in self.counts)

    @property
    def otherwise(self) -> bool:
        """Whether a finding names a pedal change that the plan does without: the verdict knows only what came before,
        and stops at each attack where nothing serves, the plan knows it all.
        """
        planned = {(change.attack_us, change.pedal, change.goal) for change in self.plan.changes}
        named = {(one.us, one.pedal, one.goal) for one in self.findings if one.pedal is not None}
        return self.planned and not named <= planned

    @property
    def spelled(self) -> Iterator[tuple[Gathered, Sequence[Spelling | None]]]:
        """The attacks, and on which string in which position the plan has each note: None where it leaves the note
        out, or where there is no plan.
        """
        for number, attack in enumerate(self.music):
            yield attack, self.plan.spellings[number] if self.planned else (None,) * len(attack.notes)

    @property
    def plan_note(self) -> str:
        """What is to be said of the search for the pedal changes wherever they are told, "" for nothing."""
        if self.not_the_best or not (self.plan.bounded and self.plan.changes):
            return self.not_the_best
        return bounded("a pedalling")

    @property
    def notes_below(self) -> tuple[str, ...]:
        """The remarks under a report of the pedal changes, that on the search for them among them."""
        known = self.plan_note in ("", *self.remarks)
        return self.remarks if known else (*self.remarks, self.plan_note)

    @property
    def groups(self) -> tuple[Group, ...]:
        """Its findings as they are told: those of one kind on the same notes within one passage are one."""
        return groups_of(self.findings, self.passages)

    @property
    def struck(self) -> tuple[int, ...]:
        """The moments of its attacks."""
        return tuple(attack.us for attack in self.music)

    def place(self, us: int) -> Place:
        return self.time_map.place(us)

    def to_dict(self) -> dict[str, Any]:
        # Imported only where they are needed, since a program that starts quickly is a quick program.
        if self.advice is not None:
            from livepedal.advice.remedies import as_json as remedies_json
        return {
            "name": self.name,
            "tracks": [
                {"number": t.number, "name": t.name, "program": t.program, "notes": t.notes}
                for t in self.tracks
            ],
            "notes": self.notes,
            "attacks": self.attacks,
            "seconds": seconds(self.end),
            "verdict": self.verdict.word,
            "audible": self.audible,
            "counts": {
                count.player: {
                    "unplayable": count.unplayable,
                    "audible": count.audible,
                    "changes": count.changes,
                    "undecided": count.undecided,
                    "layers": {
                        layer.layer.value: {"unplayable": layer.unplayable, "audible": layer.audible}
                        for layer in count.layers
                    },
                }
                for count in self.counts
            },
            "bounded": self.bounded,
            "plan_bounded": self.plan.bounded,
            "setting": setting_dict(self.plan.setting),
            "tuning": [
                {
                    "string": one.spelling.string.name,
                    "position": one.spelling.position.word,
                    "before": None if one.us is None else self._where(one.us),
                }
                for one in self.tuned
            ],
            "changes": [self._change(change) for change in self.plan.changes],
            "passages": [
                {
                    "from": seconds(passage.start),
                    "to": seconds(passage.end),
                    "verdict": passage.verdict.word,
                    "audible": passage.audible,
                    "attacks": passage.attacks,
                    **({"load": _load(self.loads[number])} if self.loads else {}),
                    **(
                        remedies_json.passage(self.advice, passage.start, self.time_map, self.struck)
                        if self.advice
                        else {}
                    ),
                }
                for number, passage in enumerate(self.passages)
            ],
            "findings": [self._finding(finding) for finding in self.findings],
            "groups": [self._group(group) for group in self.groups],
            "remarks": list(self.remarks),
            "figures": [
                {
                    "kind": figure.kind.value,
                    "from": seconds(figure.start),
                    "to": seconds(figure.end),
                    "notes_a_second": round(figure.per_second, 1),
                    "notes": list(figure.pitches),
                }
                for figure in self.played
            ],
            "asides": [
                {
                    "kind": aside.kind.value,
                    **self._where(aside.us),
                    "notes": list(aside.pitches),
                    "names": [pitch_name(pitch) for pitch in aside.pitches],
                    "what": aside.what,
                }
                for aside in self.asides
            ],
            **({} if self.spelling is None else {"spelling": _compared(self.spelling)}),
            **(remedies_json.whole(self.advice, self.time_map) if self.advice else {}),
            **({} if self.printed is None else {"printed": self.printed.to_dict(self.time_map)}),
            **({} if self.sheet is None else {"sheet": self.sheet.under_a_part()}),
        }

    def _change(self, change: PedalChange) -> dict[str, Any]:
        return {
            **self._where(change.us),
            "pedal": change.pedal.letter,
            "from": change.start.word,
            "to": change.goal.word,
            "foot": change.foot.value,
            "audible": change.audible,
            "tight": change.tight,
            "possible": change.possible,
            "for_seconds": seconds(change.attack_us),
        }

    def _where(self, us: int) -> dict[str, Any]:
        place = self.place(us)
        return {
            "seconds": seconds(us),
            **place_dict(place),
            "mark": place.mark,
        }

    def _finding(self, finding: Finding) -> dict[str, Any]:
        return {
            "id": finding.id,
            "kind": finding.kind.value,
            "layer": finding.layer.value,
            "verdict": finding.verdict.word,
            "audible": finding.audible,
            "player": finding.player,
            **self._where(finding.us),
            "notes": list(finding.pitches),
            "names": [pitch_name(pitch) for pitch in finding.pitches],
            "note": finding.note,
            "why": plain(clause(finding)) or None,
            "pedal": None if finding.pedal is None else finding.pedal.letter,
            "from": None if finding.start is None else finding.start.word,
            "to": None if finding.goal is None else finding.goal.word,
            "needed_s": None if finding.needed is None else seconds(finding.needed),
            "available_s": None if finding.available is None else seconds(finding.available),
            "revised": finding.revised,
            "spellings": [
                {
                    "string": reason.spelling.string.name,
                    "position": reason.spelling.position.word,
                    "why": plain(reason.why),
                    "constraint": reason.constraint.value,
                    "needed_s": None if reason.needed is None else seconds(reason.needed),
                    "available_s": None if reason.available is None else seconds(reason.available),
                    "free_at_s": None if reason.free_at is None else seconds(reason.free_at),
                    "needed_otherwise": None if reason.other_us is None else self._where(reason.other_us),
                }
                for reason in finding.reasons
            ],
        }

    def _group(self, group: Group) -> dict[str, Any]:
        worst = group.worst
        return {
            "number": group.number,
            "kind": worst.kind.value,
            "verdict": worst.verdict.word,
            "audible": worst.audible,
            "notes": list(group.notes),
            "names": [pitch_name(pitch) for pitch in group.notes],
            "attacks": group.attacks,
            "from": self._where(group.findings[0].us),
            "to": self._where(group.findings[-1].us),
            "worst": worst.id,
            "findings": [finding.id for finding in group.findings],
        }


def _load(load: Load) -> dict[str, Any]:
    return {
        "from": seconds(load.start),
        "to": seconds(load.end),
        "changes": load.changes,
        "most": load.most,
        "span": seconds(load.span),
        "too_much": load.too_much,
    }


def _compared(compared: Compared) -> dict[str, Any]:
    def one(outlook: Outlook) -> dict[str, Any]:
        return {
            "verdict": outlook.verdict.word,
            "unplayable": outlook.unplayable,
            "audible": outlook.audible,
            "changes": outlook.changes,
        }

    return {
        "what": compared.what,
        "notes": compared.notes,
        "given": one(compared.given),
        "best": one(compared.best),
        "remarks": list(compared.remarks),
    }


@dataclass(frozen=True, slots=True, repr=False)
class FileReport:
    """One file: its parts, or the one sentence that says why it could not be judged."""

    path: str
    parts: tuple[PartReport, ...] = ()
    error: str | None = None
    remarks: tuple[str, ...] = ()

    def __repr__(self) -> str:
        said = self.verdict.word if self.error is None else "not judged"
        return f"<FileReport {clean(self.path)!r}: {said}>"

    @property
    def verdict(self) -> Verdict:
        return worst(part.verdict for part in self.parts)

    @property
    def exit_code(self) -> int:
        """0: the chosen player can play it all; 1: not; 2: it could not be judged. Audible changes do not
        fail by themselves.
        """
        if self.error is not None:
            return 2
        return int(any(part.outcome is Outcome.CANNOT for part in self.parts))

    def to_dict(self) -> dict[str, Any]:
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
        return max((file.exit_code for file in self.files), default=0)

    def to_dict(self) -> dict[str, Any]:
        return {
            "format": "livepedal-check",
            "version": 1,
            "harp": self.instrument.name,
            "player": self.player.name,
            "files": [file.to_dict() for file in self.files],
        }
