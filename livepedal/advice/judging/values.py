"""Values as they stand in every JSON of ours."""

from __future__ import annotations

from typing import Any

from livepedal.harp import Pedal, Setting
from livepedal.music.timemap import Bar, Place


def seconds(us: int) -> float:
    """Microseconds as seconds, to the microsecond."""
    return round(us / 1_000_000, 6)


def bar_dict(bar: int) -> dict[str, Any]:
    """A bar, counted as it is played; and `bar_name`, where a score names it otherwise: "12 (2nd time)"."""
    return {"bar": int(bar), "bar_name": str(bar)} if isinstance(bar, Bar) else {"bar": bar}


def place_dict(place: Place) -> dict[str, Any]:
    """Bar and beat."""
    return {**bar_dict(place.bar), "beat": [place.beat.numerator, place.beat.denominator]}


def setting_dict(setting: Setting) -> dict[str, str | None]:
    """A setting in the JSON: the position of each pedal by its letter, null where it does not matter."""
    return {
        pedal.letter: None if position is None else position.word
        for pedal, position in zip(Pedal, setting.positions, strict=True)
    }
