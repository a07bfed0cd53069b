"""Remedies in the JSON of `check` (format livepedal-check, version 1): keys of a part and of its passages."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any

from livepedal.advice.judging.values import place_dict, seconds, setting_dict
from livepedal.advice.remedies.remedy import ChangedNote, PartAdvice, Remedy
from livepedal.advice.remedies.telling import Teller
from livepedal.advice.remedies.tempo import PlayerTempo
from livepedal.harp import pitch_name
from livepedal.model.findings import Passage
from livepedal.music.timemap import TimeMap


def add_to(
    found: dict[str, Any],
    advice: PartAdvice,
    passages: Iterable[Passage],
    time_map: TimeMap,
    struck: Sequence[int],
) -> None:
    """Add the remedies to a part and its passages.

    `tempo`, how fast each player manages it, is empty where the chosen player has no trouble.

    Args:
        found: the part in the JSON.
        advice: on it.
        passages: all of it, in order.
        time_map: of the part.
        struck: the moments of its attacks (µs).
    """
    teller = Teller(advice.instrument, time_map, struck=struck)
    known = {advised.start: advised for advised in advice.passages}
    for passage, part in zip(passages, found["passages"], strict=True):
        advised = known.get(passage.start)
        places = () if advised is None else advised.places
        part["remedies"] = [remedy_dict(one, teller, time_map) for place in places for one in place.remedies]
        part["tempo"] = []
        if advised is not None:
            part["tempo"] = _tempos(advised.tempos, teller.steady(advised.start, advised.end))
        part["hard"] = [
            teller.hard(place.hard, advice.player, place.start, place.one_harp)
            for place in places
            if place.hard is not None
        ]
    found["tempo"] = _tempos(advice.tempos, teller.steady(0, 1))


def remedy_dict(remedy: Remedy, teller: Teller, time_map: TimeMap) -> dict[str, Any]:
    """One remedy.

    `ratio` and `bpm` are those of a tempo; `notes` are left out (`to` null) or go elsewhere; `second_harp` is what
    another player has of the music from `from` to before `to`: all of it if no classes and no border are given.
    """

    def note(changed: ChangedNote) -> dict[str, Any]:
        place = time_map.told(changed.us)
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
