"""Files of figures: one laid over another, table by table.

A layer has for each table, by its path such as "players.working", the values that files state. Whatever is wrong in a
file is said with the file and the key.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from difflib import get_close_matches
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any, TypeAlias

from livepedal.defaults import PLAYER
from livepedal.errors import LivepedalError, nearest
from livepedal.harp.instruments import Instrument
from livepedal.harp.players import Player
from livepedal.harp.specs import (
    FigureSpec,
    Value,
    ValueKind,
    error,
    printable,
    shown,
    specs_of,
    string_named,
)
from livepedal.harp.tables import TABLES

_Table: TypeAlias = Mapping[str, object]
Layer: TypeAlias = Mapping[str, Mapping[str, Value]]

_TUNING = FigureSpec(ValueKind.POSITION)
_FLAG = FigureSpec(ValueKind.FLAG)
# Of [ring] and [loud], at some strings.
_LOUD = FigureSpec(ValueKind.TIME)
_TIMES = {"ring": replace(_LOUD, above=True), "loud": _LOUD}


@cache
def builtin() -> Layer:
    """The figures that livepedal comes with."""
    # Not by importlib.resources, which takes longer to import than all of this package.
    file = Path(__file__).with_name("figures.toml")
    return overlay({}, read(file, file.name), file.name)


def read(path: Path, shown: str, real: Callable[[str], object] = Decimal) -> dict[str, Any]:
    """The tables of a TOML file; LivepedalError, with what is shown for the file, where it cannot be read.

    real: makes a value of a number with a point.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise LivepedalError(f"{shown} cannot be read ({error.strerror or error}); check its name.") from None
    except ValueError as error:
        what = "is not UTF-8 text" if isinstance(error, UnicodeDecodeError) else "cannot be read"
        raise LivepedalError(f"{shown} {what}; save it again as UTF-8.") from None
    try:
        return tomllib.loads(text, parse_float=real)
    except (ValueError, ArithmeticError, RecursionError) as error:
        why = str(error) if isinstance(error, tomllib.TOMLDecodeError) else "a number in it is out of range"
        raise LivepedalError(
            f"{shown} is not valid TOML: {why}; correct it there. Write numbers with a point, such as 0.5, and names in"
            " quotes."
        ) from None


def overlay(below: Layer, table: _Table, file: str) -> Layer:
    """The layer below with one file laid over it."""
    merged = dict(below)
    _check_keys(table, ("players", "instruments", *_TIMES, *TABLES), "", file)
    for name, player in _subtables(table, "players", file):
        path = f"players.{name}"
        base = merged.get(_based_on(merged, name, player, file), {})
        merged[path] = {**base, **_stated(player, specs_of(Player), path, file, others=("based_on",))}
    for name, instrument in _subtables(table, "instruments", file):
        path = f"instruments.{name}"
        own = _stated(instrument, specs_of(Instrument), path, file, others=("fixed",))
        merged[path] = {**merged.get(path, {}), **own}
        if "fixed" in instrument:
            merged[f"{path}.fixed"] = _by_string(instrument["fixed"], _TUNING, f"{path}.fixed", file)
    for name, spec in _TIMES.items():
        if name in table:
            merged[name] = _times(_as_table(table[name], name, file), spec, name, file)
    for name, figures in TABLES.items():
        if name in table:
            own = _stated(_as_table(table[name], name, file), specs_of(figures), name, file)
            merged[name] = {**merged.get(name, {}), **own}
    return merged


def made(table: type, layer: Layer, path: str, file: str, **more: object) -> Any:
    """A table of figures, each as the model takes it.

    Args:
        table: the dataclass.
        layer: what files state.
        path: of the table in it.
        file: the last of the files.
        more: what the dataclass has beside its figures.

    Raises:
        LivepedalError: a figure is stated nowhere, or they do not go together.
    """
    stated = layer.get(path, {})
    used = {}
    for key, spec in specs_of(table).items():
        if key not in stated:
            raise error(file, f"{path}.{key}", f"is missing; give it {spec.kind.value}")
        used[key] = spec.used(stated[key])
    try:
        return table(**used | more)
    except LivepedalError as error_:
        raise LivepedalError(f"{path} in {file}: {error_}") from None


def names(layer: Layer, table: str) -> tuple[str, ...]:
    """The names of the players or harps of a layer."""
    return tuple(
        path.split(".")[1] for path in layer if path.startswith(f"{table}.") and path.count(".") == 1
    )


def _based_on(merged: Layer, name: str, player: _Table, file: str) -> str:
    """The path of the table that a player starts from: its own where a layer below has it."""
    path = f"players.{name}"
    known = names(merged, "players")
    if "based_on" not in player:
        # Only the very first player of the built-in file starts from nothing.
        if name in known or not known:
            return path
        near = get_close_matches(name, known, n=1)
        meant = f'did you mean "{near[0]}", or is' if near else "is"
        raise error(
            file,
            path,
            f'is not known; {meant} it a new player, who needs a line such as based_on = "{PLAYER}"',
        )
    base = player["based_on"]
    if base not in known:
        raise error(
            file, f"{path}.based_on", f"does not name an earlier player; choose from {', '.join(known)}"
        )
    return f"players.{base}"


def _stated(
    table: _Table, specs: Mapping[str, FigureSpec], path: str, file: str, others: tuple[str, ...] = ()
) -> dict[str, Value]:
    """The figures that a table states; `others` are keys that it may have beside them."""
    _check_keys(table, (*specs, *others, "source"), f"{path}.", file)
    _check_sources(table, (*specs, *others), path, file)
    return {key: spec.read(table[key], f"{path}.{key}", file) for key, spec in specs.items() if key in table}


def _by_string(table: object, spec: FigureSpec, path: str, file: str) -> dict[str, Value]:
    """Figures at some strings, the lowest string first."""
    given = _as_table(table, path, file)
    strings = sorted((string_named(text, f"{path}.{text}", file), text) for text in given)
    values: dict[str, Value] = {}
    for string, text in strings:
        key = f"{path}.{string.name}"
        if string.name in values:
            raise error(file, key, "is given twice; keep one")
        values[string.name] = spec.read(given[text], key, file)
    return values


def _times(table: _Table, spec: FigureSpec, name: str, file: str) -> dict[str, Value]:
    """What [ring] or [loud] states: times at some strings, or `never`."""
    _check_sources(table, tuple(table), name, file)
    times = {text: value for text, value in table.items() if text not in ("source", "never")}
    if "never" in table and _FLAG.read(table["never"], f"{name}.never", file):
        if times:
            raise error(
                file, f"{name}.never", f"is true, but there are {name} times too; keep one of the two"
            )
        return {"never": True}
    if not times:
        raise error(file, name, f"holds no {name} time; give at least one, such as C2 = 1.0, or never = true")
    values = _by_string(times, spec, name, file)
    for (low, longer), (high, shorter) in pairwise(values.items()):
        if Decimal(shorter) > Decimal(longer):
            raise error(
                file,
                f"{name}.{high}",
                f"({shorter} s) is longer than {name}.{low} ({longer} s), but higher strings die away"
                " sooner; make it shorter",
            )
    return values


def _check_sources(table: _Table, keys: tuple[str, ...], path: str, file: str) -> None:
    """Sources stand beside figures: one text for all of them, or a table with a text for each."""
    source = table.get("source", {})
    if isinstance(source, str):
        return
    key = f"{path}.source"
    beside = _as_table(source, key, file)
    _check_keys(beside, keys, f"{key}.", file)
    for name, text in beside.items():
        if not isinstance(text, str):
            raise error(file, f"{key}.{name}", f"must be a text in quotes, not {shown(text)}")


def _as_table(value: object, key: str, file: str) -> _Table:
    if not isinstance(value, dict):
        raise error(file, key, f"must be a table, not {shown(value)}")
    return value


def _subtables(table: _Table, key: str, file: str) -> Iterator[tuple[str, _Table]]:
    for name, value in _as_table(table.get(key, {}), key, file).items():
        # A dot would make paths ambiguous; other signs are refused because names are shown and typed.
        if not name or not all(c.isalnum() or c in "_- " for c in name):
            raise error(file, f"{key}.{name!r}", "is not a valid name; use letters, digits, spaces, - and _")
        yield name, _as_table(value, f"{key}.{name}", file)


def _check_keys(table: _Table, known: Iterable[str], prefix: str, file: str) -> None:
    known = tuple(known)
    for key in table:
        if key not in known:
            there = next((name for name, figures in TABLES.items() if key in specs_of(figures)), None)
            hint = nearest(key, known, f"; the figures here are {', '.join(known)}.")
            if there is not None:
                hint = f"; {key} stands in [{there}]."
            raise LivepedalError(f"{prefix}{printable(key)} in {file} is not a figure{hint}")
