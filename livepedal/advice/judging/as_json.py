"""A part that was judged, as it stands in the documented JSON (format livepedal-check, version 1)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from livepedal.advice.judging.groups import Group
from livepedal.advice.judging.report import Count, PartReport
from livepedal.advice.judging.values import place_dict, seconds, setting_dict
from livepedal.harp import pitch_name
from livepedal.model.findings import Finding
from livepedal.model.load import Load
from livepedal.model.plan.timing import PedalChange
from livepedal.model.why_hands import clause
from livepedal.music.wording import plain

if TYPE_CHECKING:
    from livepedal.advice.judging.asides import Aside
    from livepedal.model.hands.figurations import Figuration


def part_dict(part: PartReport) -> dict[str, Any]:
    """A part as it was judged."""
    return {
        "name": part.name,
        "tracks": [
            {"number": t.number, "name": t.name, "program": t.program, "notes": t.notes} for t in part.tracks
        ],
        "notes": part.notes,
        "attacks": part.attacks,
        "seconds": seconds(part.end),
        "verdict": part.verdict.word,
        "audible": part.audible,
        "counts": {count.player: _count(count) for count in part.counts},
        "bounded": part.bounded,
        "plan_bounded": part.plan.bounded,
        "setting": setting_dict(part.plan.setting),
        "tuning": [
            {
                "string": tuned.spelling.string.name,
                "position": tuned.spelling.position.word,
                "before": None if tuned.us is None else _where(part, tuned.us),
            }
            for tuned in part.tuned
        ],
        "changes": [_change(part, change) for change in part.plan.changes],
        "passages": [
            {
                "from": seconds(passage.start),
                "to": seconds(passage.end),
                "verdict": passage.verdict.word,
                "audible": passage.audible,
                "attacks": passage.attacks,
                **({"load": _load(part.loads[number])} if part.loads else {}),
            }
            for number, passage in enumerate(part.passages)
        ],
        "findings": [_finding(part, finding) for finding in part.findings],
        "groups": [_group(part, group) for group in part.groups],
        "remarks": list(part.remarks),
        "figures": [_figuration(figuration) for figuration in part.played],
        "asides": [_aside(part, aside) for aside in part.asides],
    }


def _change(part: PartReport, change: PedalChange) -> dict[str, Any]:
    return {
        **_where(part, change.us),
        "pedal": change.pedal.letter,
        "from": change.start.word,
        "to": change.goal.word,
        "foot": change.foot.value,
        "audible": change.audible,
        "tight": change.tight,
        "possible": change.possible,
        "for_seconds": seconds(change.attack_us),
    }


def _where(part: PartReport, us: int) -> dict[str, Any]:
    place = part.place(us)
    return {
        "seconds": seconds(us),
        **place_dict(place),
        "mark": place.mark,
    }


def _finding(part: PartReport, finding: Finding) -> dict[str, Any]:
    return {
        "id": finding.id,
        "kind": finding.kind.value,
        "layer": finding.layer.value,
        "verdict": finding.verdict.word,
        "audible": finding.audible,
        "player": finding.player,
        **_where(part, finding.us),
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
                "needed_otherwise": None if reason.other_us is None else _where(part, reason.other_us),
            }
            for reason in finding.reasons
        ],
    }


def _group(part: PartReport, group: Group) -> dict[str, Any]:
    worst = group.worst
    return {
        "number": group.number,
        "kind": worst.kind.value,
        "verdict": worst.verdict.word,
        "audible": worst.audible,
        "notes": list(group.notes),
        "names": [pitch_name(pitch) for pitch in group.notes],
        "attacks": group.attacks,
        "from": _where(part, group.findings[0].us),
        "to": _where(part, group.findings[-1].us),
        "worst": worst.id,
        "findings": [finding.id for finding in group.findings],
    }


def _count(count: Count) -> dict[str, Any]:
    return {
        "unplayable": count.unplayable,
        "audible": count.audible,
        "changes": count.changes,
        "undecided": count.undecided,
        "layers": {
            layer.value: {"unplayable": met.unplayable, "audible": met.audible}
            for layer, met in count.layers.items()
        },
    }


def _figuration(figuration: Figuration) -> dict[str, Any]:
    return {
        "kind": figuration.kind.value,
        "from": seconds(figuration.start),
        "to": seconds(figuration.end),
        "notes_a_second": round(figuration.per_second, 1),
        "notes": list(figuration.pitches),
    }


def _aside(part: PartReport, aside: Aside) -> dict[str, Any]:
    return {
        "kind": aside.kind.value,
        **_where(part, aside.us),
        "notes": list(aside.pitches),
        "names": [pitch_name(pitch) for pitch in aside.pitches],
        "what": aside.what,
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
