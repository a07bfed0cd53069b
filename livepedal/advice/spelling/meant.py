"""What the arguments of `check_file` mean: anything that can mean only one thing is taken for it.

Everything else raises a LivepedalError that says what would do.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from livepedal.advice.judging.basis import Basis
from livepedal.defaults import HARP, PLAYER
from livepedal.errors import LivepedalError
from livepedal.harp import Figures, Setting, load_figures
from livepedal.model.findings import layers_named
from livepedal.music.choosing import Wanted

if TYPE_CHECKING:
    from livepedal.advice.checking import Progress
    from livepedal.advice.spelling.given import AskedSpelling

_EXAMPLES = {"name": "cue.mid", "player": PLAYER, "harp": HARP, "only": "pedals", "tracks": "Harp"}


def basis_meant(figures: object, player: object, harp: object, start: object, only: object) -> Basis:
    """What the file is judged on."""
    if figures is None or isinstance(figures, str | os.PathLike):
        figures = load_figures(None if figures is None else Path(figures))
    if not isinstance(figures, Figures):
        raise LivepedalError(f"figures are Figures, or the path of a TOML file, not {_kind(figures)}.")
    player_name, layers = _name("player", player), _names("only", only)
    instrument = figures.instrument(_name("harp", harp))
    figures.player(player_name)  # says so where there is none
    if isinstance(start, str):
        start = Setting.parse(start)
    if start is not None and not isinstance(start, Setting):
        raise LivepedalError(f'start is a setting, such as "Db C Bb Eb F G Ab", not {_kind(start)}.')
    return Basis(figures, instrument, player_name, start, layers_named(layers))


def wanted_meant(
    tracks: object, merge: bool, channels: object, programs: object, transpose: object, ignore_below: object
) -> Wanted:
    """What is judged of the file."""
    return Wanted(
        _names("tracks", tracks),
        merge,
        _numbers("channels", channels),
        number_meant("transpose", transpose),
        number_meant("ignore_below", ignore_below),
        _numbers("programs", programs),
    )


def source_meant(source: object, name: object) -> tuple[Path | bytes, str | None]:
    """The path or the bytes of a file, and what to call it."""
    known = None if name is None else _name("name", name)
    if isinstance(source, bytes | bytearray | memoryview):
        return bytes(source), known
    if isinstance(source, str | os.PathLike):
        path = Path(source)
        return path, str(path) if known is None else known
    raise LivepedalError(f"A file is given by its path or as its bytes, not as {_kind(source)}.")


def _name(what: str, value: object) -> str:
    """A name, which may be a number: harp=47 is the harp "47"."""
    if isinstance(value, str) or (isinstance(value, int) and not isinstance(value, bool)):
        return str(value)
    raise LivepedalError(f"{what} is a name, such as {what}={_EXAMPLES[what]!r}, not {_kind(value)}.")


def _names(what: str, value: object) -> tuple[str, ...]:
    """Names, or one by itself: only="pedals" is only=["pedals"]."""
    if isinstance(value, str | int):
        value = (value,)
    if not isinstance(value, Iterable):
        raise LivepedalError(f"{what} takes names, such as {what}=[{_EXAMPLES[what]!r}], not {_kind(value)}.")
    return tuple(_name(what, one) for one in value)


def number_meant(what: str, value: object) -> int:
    """A whole number."""
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    raise LivepedalError(f"{what} is a whole number, not {_kind(value)}.")


def _numbers(what: str, value: object) -> tuple[int, ...]:
    """Whole numbers, or one by itself."""
    some = value if isinstance(value, Iterable) and not isinstance(value, str | bytes) else (value,)
    return tuple(number_meant(what, one) for one in some)


def function_meant(what: str, value: object) -> Progress | None:
    """A function of two numbers."""
    if value is None or callable(value):
        return value
    raise LivepedalError(f"{what} is a function of two numbers, not {_kind(value)}.")


def spelling_meant(value: object) -> AskedSpelling | None:
    """A spelling, or the text of one request."""
    if value is None:
        return None
    from livepedal.advice.spelling.given import AskedSpelling  # few callers ask for a spelling

    if isinstance(value, AskedSpelling):
        return value
    if isinstance(value, str):
        from livepedal.advice.spelling.requests import parse_request

        return AskedSpelling((parse_request(value),))
    raise LivepedalError(
        f'spelling is a request, such as "3-7: F♭ major", or an AskedSpelling, not {_kind(value)}.'
    )


def _kind(value: object) -> str:
    return "None" if value is None else f"a value of type {type(value).__name__}"
