"""Remedies in the JSON of `check` (format livepedal-check, version 1): keys of a part and of its passages."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from livepedal.advice.judging.values import place_dict, seconds, setting_dict
from livepedal.advice.remedies.remedy import ChangedNote, PartAdvice, Remedy
from livepedal.advice.remedies.telling import Teller
from livepedal.advice.remedies.tempo import PlayerTempo
from livepedal.harp import pitch_name
from livepedal.music.timemap import TimeMap


def whole(advice: PartAdvice, time_map: TimeMap) -> dict[str, Any]:
    """`tempo` of a part: how fast each player manages it all; empty where the chosen player has no trouble."""
    return {"tempo": _tempos(advice.tempos, Teller(advice.instrument, time_map).steady(0, 1))}


def passage(advice: PartAdvice, start: int, time_map: TimeMap, struck: Sequence[int] = ()) -> dict[str, Any]:
    """`remedies`, `tempo` and `hard` of the passage that begins at `start` (µs).

    Args:
        advice: on the part.
        start: where it starts (µs).
        time_map: of the part.
        struck: the moments of the part's attacks (µs).
    """
    teller = Teller(advice.instrument, time_map, struck=struck)
    for advised in advice.passages:
        if advised.start == start:
            return {
                "remedies": [remedy_dict(remedy, teller, time_map) for remedy in advised.remedies],
                "tempo": _tempos(advised.tempos, teller.steady(advised.start, advised.end)),
                "hard": [
                    teller.hard(place.hard, advice.player, place.start, place.one_harp)
                    for place in advised.places
                    if place.hard is not None
                ],
            }
    return {"remedies": [], "tempo": [], "hard": []}


def remedy_dict(remedy: Remedy, teller: Teller, time_map: TimeMap) -> dict[str, Any]:
    """One remedy.

    `ratio` and `bpm` are those of a tempo; `notes` are left out (`to` null) or go elsewhere; `second_harp` is what
    another player has of the music from `from` to before `to`: all of it if no classes and no border are given.
    """

    def note(changed: ChangedNote) -> dict[str, Any]:
        place = time_map.place(changed.us)
        return {
            "seconds": seconds(changed.us),
            **place_dict(place),
            "note": changed.pitch,
            "name": pitch_name(changed.pitch),
            "to": changed.to,
        }

    return {
        "kind": remedy.kind.value,
        "what": teller.what(remedy),
        "from": seconds(remedy.start),
        "to": seconds(remedy.end),
        "ratio": None if remedy.ratio is None else float(remedy.ratio),
        "bpm": teller.bpm(remedy),
        "audible": remedy.audible,
        "quiet_ratio": None if remedy.quiet is None else float(remedy.quiet),
        "notes": [note(one) for one in remedy.notes],
        "setting": None if remedy.setting is None else setting_dict(remedy.setting),
        "second_harp": None
        if remedy.second is None
        else {
            "notes": remedy.second.notes,
            "pitch_classes": list(remedy.second.classes),
            "below": remedy.second.below,
            "from_note": remedy.second.above,
            "quick": remedy.second.quick,
        },
        "verified": remedy.verified,
    }


def _tempos(tempos: tuple[PlayerTempo, ...], written: Fraction | None) -> list[dict[str, Any]]:
    return [
        {
            "player": tempo.player,
            "ratio": None if tempo.ratio is None else float(tempo.ratio),
            "bpm": None if written is None else tempo.bpm(written),
            "remedy": tempo.sensible,
            "audible": tempo.audible,
        }
        for tempo in tempos
    ]
