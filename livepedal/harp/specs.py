"""What is known of a figure: what it may be, how large, and which way makes a player abler.

A table of figures is a frozen dataclass. Each field is declared with `figure`, and its type says what its value is in a
file: `Time`, `Factor`, `Strings`, `Count`, `Flag` or `HarpString`. That one line is all there is to it: reading,
checking and building follow from it. To add a figure, add such a field, and its value with its source in figures.toml
(of players: the relaxed one's, on whom the others are based). Tests say what else there is to do.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from decimal import Decimal
from enum import Enum
from functools import cache
from typing import Any, TypeAlias

from livepedal.errors import LivepedalError
from livepedal.harp.pedals import Position
from livepedal.harp.strings import HarpString

Value: TypeAlias = Decimal | bool | str
"""A figure as files state it; strings and positions by their names."""
Time: TypeAlias = int
"""Microseconds, which files state in seconds."""
Factor: TypeAlias = Decimal
Strings: TypeAlias = int
Count: TypeAlias = int
Flag: TypeAlias = bool


class ValueKind(Enum):
    """What a figure in a file may be; named as the types of fields are."""

    TIME = "a number of seconds"
    FACTOR = "a number"
    STRINGS = "a whole number of strings"
    COUNT = "a whole number"
    FLAG = "true or false"
    HARPSTRING = 'the name of a string, such as "C1"'
    POSITION = '"flat", "natural" or "sharp"'


class Abler(Enum):
    """Which players are abler: those with more of a figure, or those with less."""

    MORE = 1
    LESS = -1


@dataclass(frozen=True, slots=True)
class FigureSpec:
    """What is known of one figure.

    Attributes:
        kind: what its value is.
        least: the smallest value that is possible (`above`: and itself not possible).
        most: the largest that makes sense.
        abler: for players.
    """

    kind: ValueKind
    least: int = 0
    above: bool = False
    most: int = 60
    abler: Abler | None = None

    def read(self, value: object, key: str, file: str) -> Value:
        """A value of a file.

        Raises:
            LivepedalError: a wrong type, or an impossible figure.
        """
        match self.kind, value:
            case ValueKind.FLAG, bool():
                return value
            case _, bool():
                pass  # in Python True is an int, in TOML it is not
            case ValueKind.HARPSTRING, str():
                return string_named(value, key, file).name
            case ValueKind.POSITION, str():
                try:
                    return Position.parse(value).word
                except LivepedalError:
                    pass
            case ((ValueKind.TIME | ValueKind.FACTOR), (Decimal() | int())):
                return self._possible(Decimal(value), key, file)
            case ((ValueKind.STRINGS | ValueKind.COUNT), int()):
                return self._possible(Decimal(value), key, file)
        raise error(file, key, f"must be {self.kind.value}, not {shown(value)}")

    def _possible(self, number: Decimal, key: str, file: str) -> Decimal:
        unit = " s" if self.kind is ValueKind.TIME else ""
        if not number.is_finite():
            raise error(file, key, f"is {number}, which is not a figure; write {self.kind.value}")
        if number < self.least or (self.above and number == self.least):
            bound = f"more than {self.least}" if self.above else f"at least {self.least}"
            raise error(file, key, f"cannot be {_short(number)}{unit}; make it {bound}{unit}")
        if number > self.most:
            raise error(file, key, f"cannot be {_short(number)}{unit}; make it at most {self.most}{unit}")
        if self.above and self.kind is ValueKind.TIME and microseconds(number) == 0:
            raise error(file, key, f"cannot be {_short(number)} s; times count in whole microseconds")
        return number

    def used(self, value: Value) -> object:
        """The value as the model takes it: times are whole microseconds, strings are `HarpString`s."""
        match self.kind, value:
            case ValueKind.TIME, Decimal():
                return microseconds(value)
            case ((ValueKind.STRINGS | ValueKind.COUNT), Decimal()):
                return int(value)
            case ValueKind.HARPSTRING, str():
                return HarpString.parse(value)
        return value

    def text(self, value: Value) -> str:
        """The value with its unit, for messages."""
        unit = {ValueKind.TIME: " s", ValueKind.STRINGS: " strings"}.get(self.kind, "")
        return shown(value) if isinstance(value, bool) else f"{value}{unit}"


def figure(abler: Abler | None = None, *, least: int = 0, above: bool = False, most: int = 60) -> Any:
    """A field that is a figure (see FigureSpec)."""
    return field(metadata={"least": least, "above": above, "most": most, "abler": abler})


@cache
def specs_of(table: type) -> dict[str, FigureSpec]:
    """The figures of a dataclass by their names, in order.

    Raises:
        TypeError: a field has a type that no figure has.
    """
    found = {}
    for known in fields(table):
        if known.metadata:
            kind = ValueKind.__members__.get(str(known.type).upper())
            if kind is None:
                raise TypeError(
                    f"{table.__name__}.{known.name} is a figure, so its type is Time, Factor, Strings, Count, Flag or"
                    f" HarpString, not {known.type}."
                )
            found[known.name] = FigureSpec(kind, **known.metadata)
    return found


# -- What messages say -------------------------------------------------------------------------------------


def error(file: str, key: str, what: str) -> LivepedalError:
    """The error for a figure, by its key in a file."""
    return LivepedalError(f"{printable(key)} in {file} {what}.")


def string_named(text: str, key: str, file: str) -> HarpString:
    """The string that a file names; LivepedalError where there is none."""
    try:
        return HarpString.parse(text)
    except LivepedalError as error:
        raise LivepedalError(f"{key} in {file}: {error}") from None


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


def microseconds(seconds: Decimal) -> int:
    """Seconds as a file has them in whole microseconds."""
    return round(seconds * 1_000_000)
