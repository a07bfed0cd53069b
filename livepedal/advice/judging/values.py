"""Values as they stand in every JSON of ours."""

from __future__ import annotations

from livepedal.harp import Pedal, Setting


def seconds(us: int) -> float:
    """Microseconds as seconds, to the microsecond."""
    return round(us / 1_000_000, 6)


def setting_dict(setting: Setting) -> dict[str, str | None]:
    """A setting in the JSON: the position of each pedal by its letter, null where it does not matter."""
    return {
        pedal.letter: None if position is None else position.word
        for pedal, position in zip(Pedal, setting.positions, strict=True)
    }
