"""What the arguments of `check_file` mean: what can mean one thing only is taken for it, and all else is told."""

from __future__ import annotations

import os
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from livepedal.errors import LivepedalError
from livepedal.harp import Figures, Setting

if TYPE_CHECKING:
    from livepedal.advice.checking import Progress
    from livepedal.advice.spelling.given import AskedSpelling


def source_meant(source: object) -> Path | bytes:
    """A path, or the bytes of a file. Raises LivepedalError for anything else."""
    if isinstance(source, bytes | bytearray | memoryview):
        return bytes(source)
    if isinstance(source, str | os.PathLike):
        return Path(source)
    raise LivepedalError(f"A file is given by its path or as its bytes, not as {_kind(source)}.")


def name_meant(what: str, value: object) -> str:
    """A name, which may be a number: harp=47 is the harp "47". Raises LivepedalError for anything else."""
    if isinstance(value, str) or (isinstance(value, int) and not isinstance(value, bool)):
        return str(value)
    raise LivepedalError(f"{what} is a name, such as {what}={_EXAMPLES[what]!r}, not {_kind(value)}.")


def names_meant(what: str, value: object) -> tuple[str, ...]:
    """Names, or one by itself: only="pedals" is only=["pedals"]. Raises LivepedalError for anything else."""
    if isinstance(value, str | int):
        value = (value,)
    if not isinstance(value, Iterable):
        raise LivepedalError(f"{what} takes names, such as {what}=[{_EXAMPLES[what]!r}], not {_kind(value)}.")
    return tuple(name_meant(what, one) for one in value)


def number_meant(what: str, value: object) -> int:
    """A whole number. Raises LivepedalError for anything else."""
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    raise LivepedalError(f"{what} is a whole number, not {_kind(value)}.")


def numbers_meant(what: str, value: object) -> tuple[int, ...]:
    """Whole numbers, or one by itself. Raises LivepedalError for anything else."""
    some = value if isinstance(value, Iterable) and not isinstance(value, str | bytes) else (value,)
    return tuple(number_meant(what, one) for one in some)


def function_meant(what: str, value: object) -> Progress | None:
    """A function of two numbers. Raises LivepedalError for anything else."""
    if value is None or callable(value):
        return value
    raise LivepedalError(f"{what} is a function of two numbers, not {_kind(value)}.")


def setting_meant(value: object) -> Setting | None:
    """A setting, or its text. Raises LivepedalError for anything else."""
    if value is None or isinstance(value, Setting):
        return value
    if isinstance(value, str):
        return Setting.parse(value)
    raise LivepedalError(f'start is a setting, such as "Db C Bb Eb F G Ab", not {_kind(value)}.')


def figures_meant(value: object) -> Figures | Path | None:
    """Figures, or the path of a file of them. Raises LivepedalError for anything else."""
    if value is None or isinstance(value, Figures):
        return value
    if isinstance(value, str | os.PathLike):
        return Path(value)
    raise LivepedalError(f"figures are Figures, or the path of a TOML file, not {_kind(value)}.")


def spelling_meant(value: object) -> AskedSpelling | None:
    """A spelling, or the text of one request. Raises LivepedalError for anything else."""
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


_EXAMPLES = {"name": "cue.mid", "player": "working", "harp": "47", "only": "pedals", "tracks": "Harp"}


def _kind(value: object) -> str:
    return "None" if value is None else f"a value of type {type(value).__name__}"
