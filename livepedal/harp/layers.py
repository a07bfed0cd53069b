"""Files of figures as rows of records, one for each number, and one file laid over another.

A record has its value, unit and source together, so an override and its source go together. Whatever is wrong in a
file is said with the file and the key.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import TypeAlias

from livepedal.errors import LivepedalError
from livepedal.harp.pedals import Position
from livepedal.harp.players import Player
from livepedal.harp.specs import FigureSpec, ValueKind, specs_of
from livepedal.harp.strings import HarpString
from livepedal.harp.tables import TABLES

Value: TypeAlias = Decimal | bool | str


@dataclass(frozen=True, slots=True)
class FigureRecord:
    """One figure as the docs list it.

    Attributes:
        key: its place in the file, "players.working.flick".
        unit: "s", "times", "strings", or "" for counts, words and flags.
        source: how sure it is (read, judgement or memory), a colon, and where it comes from; if a user's file does not
            say so, where it was set.
    """

    key: str
    value: Value
    unit: str
    source: str


_Table: TypeAlias = Mapping[str, object]
Records: TypeAlias = Mapping[str, FigureRecord]
"""Records by their keys, for merging; their order is the order of the docs."""

_COMPASS = {name: FigureSpec(name, ValueKind.STRING) for name in ("lowest", "highest")}
_TUNING = FigureSpec("fixed", ValueKind.POSITION)
_RING = FigureSpec("ring", ValueKind.SECONDS, above=True)
_LOUD = FigureSpec("loud", ValueKind.SECONDS)
_NEVER = FigureSpec("never", ValueKind.FLAG)


@cache
def builtin_records() -> Records:
    """The figures that livepedal comes with."""
    # Not by importlib.resources, which takes longer to import than all of this package.
    text = Path(__file__).with_name("figures.toml").read_text(encoding="utf-8")
    return overlay({}, tomllib.loads(text, parse_float=Decimal), "figures.toml")


def read(path: Path, name: str) -> _Table:
    """The tables of a file of figures; LivepedalError where it cannot be read."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise LivepedalError(
            f"The figures file {name} cannot be read ({error.strerror or error}); check its name."
        ) from None
    except ValueError as error:
        what = "is not UTF-8 text" if isinstance(error, UnicodeDecodeError) else "cannot be read"
        raise LivepedalError(f"The figures file {name} {what}; save it again as UTF-8.") from None
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except (ValueError, ArithmeticError, RecursionError) as error:
        why = str(error) if isinstance(error, tomllib.TOMLDecodeError) else "a value in it is out of range"
        raise LivepedalError(f"The figures file {name} is not valid TOML: {why}; correct it there.") from None


def overlay(below: Records, table: _Table, file: str) -> Records:
    """The records below with those of one file laid over them."""
    merged = dict(below)
    _check_keys(table, ("players", "instruments", "ring", "loud", *TABLES), "", file)
    for name, player in _subtables(table, "players", file):
        prefix = f"players.{name}."
        base = _based_on(merged, name, player, file)
        if base is not None:
            for key, record in list(merged.items()):
                if key.startswith(f"{base}."):
                    copied = prefix + key.removeprefix(f"{base}.")
                    merged[copied] = FigureRecord(copied, record.value, record.unit, record.source)
        merged |= _take(player, specs_of(Player), prefix, file, others=("based_on",))
    for name, instrument in _subtables(table, "instruments", file):
        prefix = f"instruments.{name}."
        merged |= _take(instrument, _COMPASS, prefix, file, others=("fixed",))
        for key in ("lowest", "highest"):
            if prefix + key not in merged:
                raise error(file, prefix + key, 'is missing; a harp needs lowest and highest, such as "C1"')
        if "fixed" in instrument:
            _replace(merged, prefix + "fixed.", _fixed(instrument, prefix, file))
    for spec in (_RING, _LOUD):
        name = spec.key
        if name in table:
            _replace(merged, f"{name}.", _points(_as_table(table[name], name, file), spec, file))
    for name, figures in TABLES.items():
        if name in table:
            merged |= _take(_as_table(table[name], name, file), specs_of(figures), f"{name}.", file)
    return merged


def _replace(merged: dict[str, FigureRecord], prefix: str, records: Records) -> None:
    for key in [key for key in merged if key.startswith(prefix)]:
        del merged[key]
    merged |= records


def _based_on(merged: Records, name: str, player: _Table, file: str) -> str | None:
    """The prefix of the records that a player starts from; None where it has its own in a layer below."""
    key = f"players.{name}"
    known = names(merged, "players")
    if "based_on" not in player:
        # Only the very first player of the built-in file starts from nothing.
        if name in known or not known:
            return None
        near = get_close_matches(name, known, n=1)
        meant = f'did you mean "{near[0]}", or is' if near else "is"
        raise error(
            file, key, f'is not known; {meant} it a new player, who needs a line such as based_on = "working"'
        )
    base = player["based_on"]
    if base not in known:
        raise error(file, f"{key}.based_on", f"does not name an earlier player; choose from {listed(known)}")
    return f"players.{base}" if base != name else None


def _take(
    table: _Table, specs: Mapping[str, FigureSpec], prefix: str, file: str, others: tuple[str, ...] = ()
) -> Records:
    """The records of a table's figures; `others` are keys that it may have beside them."""
    by_key = {spec.key: spec for spec in specs.values()}
    _check_keys(table, (*by_key, *others, "source"), prefix, file)
    sources = _sources(table, (*by_key, *others), prefix, file)
    records = {}
    for key, spec in by_key.items():
        if key in table:
            records[prefix + key] = FigureRecord(
                prefix + key,
                _value(table[key], spec, prefix + key, file),
                spec.kind.unit,
                sources.get(key, f"set in {file}"),
            )
    return records


def _fixed(instrument: _Table, prefix: str, file: str) -> Records:
    source = _sources(instrument, ("lowest", "highest", "fixed"), prefix, file).get("fixed", f"set in {file}")
    prefix += "fixed."
    records = {}
    for text, tuning in _as_table(instrument["fixed"], prefix[:-1], file).items():
        key = prefix + _string(text, prefix + text, file).name
        if key in records:
            raise error(file, key, "is given twice; keep one")
        records[key] = FigureRecord(key, _value(tuning, _TUNING, key, file), "", source)
    return records


def _points(table: _Table, spec: FigureSpec, file: str) -> Records:
    """The records of [ring] or [loud]: times at some strings, or `never`."""
    name = spec.key
    never = f"{name}.never"
    points = {text: value for text, value in table.items() if text not in ("source", "never")}
    sources = _sources(table, tuple(table), f"{name}.", file)
    if "never" in table and _value(table["never"], _NEVER, never, file):
        if points:
            raise error(file, never, f"is true, but there are {name} times too; keep one of the two")
        return {never: FigureRecord(never, True, "", sources.get("never", f"set in {file}"))}
    if not points:
        raise error(file, name, f"holds no {name} time; give at least one, such as C2 = 1.0, or never = true")
    strings = sorted((_string(text, f"{name}.{text}", file), text) for text in points)
    records: dict[str, FigureRecord] = {}
    for string, text in strings:
        key = f"{name}.{string.name}"
        if key in records:
            raise error(file, key, "is given twice; keep one")
        value = _value(points[text], spec, key, file)
        records[key] = FigureRecord(key, value, "s", sources.get(text, f"set in {file}"))
    for low, high in pairwise(records.values()):
        if isinstance(low.value, Decimal) and isinstance(high.value, Decimal) and high.value > low.value:
            raise error(
                file,
                high.key,
                f"({high.value} s) is longer than {low.key} ({low.value} s), but higher strings die away"
                " sooner; make it shorter",
            )
    return records


# -- Reading one value -------------------------------------------------------------------------------------


def _value(value: object, spec: FigureSpec, key: str, file: str) -> Value:
    """A value as its spec wants it.  Raises LivepedalError for a wrong type and for an impossible figure."""
    match spec.kind:
        case ValueKind.FLAG:
            if isinstance(value, bool):
                return value
        case ValueKind.STRING:
            if isinstance(value, str):
                return _string(value, key, file).name
        case ValueKind.POSITION:
            if isinstance(value, str):
                try:
                    return Position.parse(value).word
                except LivepedalError:
                    pass
        case ValueKind.SECONDS | ValueKind.FACTOR:
            # In Python True is an int, in TOML it is not.
            if isinstance(value, Decimal | int) and not isinstance(value, bool):
                return _number(Decimal(value), spec, key, file)
        case ValueKind.STRINGS | ValueKind.COUNT:
            if isinstance(value, int) and not isinstance(value, bool):
                return _number(Decimal(value), spec, key, file)
    raise error(file, key, f"must be {spec.kind.value}, not {shown(value)}")


def _number(number: Decimal, spec: FigureSpec, key: str, file: str) -> Decimal:
    unit = " s" if spec.kind is ValueKind.SECONDS else ""
    if not number.is_finite():
        raise error(file, key, f"is {number}, which is not a figure; write {spec.kind.value}")
    if number < spec.least or (spec.above and number == spec.least):
        bound = f"more than {spec.least}" if spec.above else f"at least {spec.least}"
        raise error(file, key, f"cannot be {_short(number)}{unit}; make it {bound}{unit}")
    if number > spec.most:
        raise error(file, key, f"cannot be {_short(number)}{unit}; make it at most {spec.most}{unit}")
    if spec.above and spec.kind is ValueKind.SECONDS and microseconds(number) == 0:
        raise error(file, key, f"cannot be {_short(number)} s; times count in whole microseconds")
    return number


def _string(text: str, key: str, file: str) -> HarpString:
    try:
        return HarpString.parse(text)
    except LivepedalError as error:
        raise LivepedalError(f"{key} in {file}: {error}") from None


def _sources(table: _Table, keys: tuple[str, ...], prefix: str, file: str) -> Mapping[str, str]:
    """The sources that stand beside figures: one text for all of them, or a table with a text for each."""
    source = table.get("source", {})
    if isinstance(source, str):
        return dict.fromkeys(keys, source)
    sources = {}
    key = f"{prefix}source"
    beside = _as_table(source, key, file)
    _check_keys(beside, keys, f"{key}.", file)
    for name, text in beside.items():
        if not isinstance(text, str):
            raise error(file, f"{key}.{name}", f"must be a text in quotes, not {shown(text)}")
        sources[name] = text
    return sources


def _as_table(value: object, key: str, file: str) -> _Table:
    if not isinstance(value, dict):
        raise error(file, key, f"must be a table, not {shown(value)}")
    return value


def _subtables(table: _Table, key: str, file: str) -> Iterator[tuple[str, _Table]]:
    for name, value in _as_table(table.get(key, {}), key, file).items():
        # A dot would make keys of records ambiguous; other signs are refused because names are shown and
        # typed.
        if not name or not all(c.isalnum() or c in "_- " for c in name):
            raise error(file, f"{key}.{name!r}", "is not a valid name; use letters, digits, spaces, - and _")
        yield name, _as_table(value, f"{key}.{name}", file)


def _check_keys(table: _Table, known: Iterable[str], prefix: str, file: str) -> None:
    known = tuple(known)
    for key in table:
        if key not in known:
            near = get_close_matches(key, known, n=1)
            hint = f"did you mean {near[0]}?" if near else f"the figures here are {listed(known)}."
            raise LivepedalError(f"{prefix}{printable(key)} in {file} is not a figure; {hint}")


def error(file: str, key: str, what: str) -> LivepedalError:
    """The error for a figure, by its key in a file."""
    return LivepedalError(f"{printable(key)} in {file} {what}.")


def printable(text: str) -> str:
    """The text, escaped where a terminal could not show it."""
    return text if text.isprintable() else repr(text)


def shown(value: object) -> str:
    """A value of a file as messages show it."""
    match value:
        case bool():
            return "true" if value else "false"
        case dict():
            return "a table"
        case list():
            return "a list"
        case str():
            return f'"{printable(value if len(value) < 40 else value[:37] + "...")}"'
        case Decimal() | int():
            return _short(Decimal(value))
    return f"{value}"


def _short(number: Decimal) -> str:
    text = str(number)
    return text if len(text) < 20 else f"{number:.3g}"


def listed(names: Iterable[str]) -> str:
    """Names in a row, for a message."""
    return ", ".join(names)


def microseconds(seconds: Decimal) -> int:
    """Seconds as a file has them in whole microseconds."""
    return round(seconds * 1_000_000)


def names(records: Records, table: str) -> tuple[str, ...]:
    """The names of the players or harps that a table has."""
    return tuple(dict.fromkeys(key.split(".")[1] for key in records if key.startswith(f"{table}.")))
