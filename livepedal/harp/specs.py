"""What is known of a figure: what it may be, how large, and which way makes a player abler.

A table of figures is a frozen dataclass. Each field is declared with `figure`, and that one line is all there is to
it: reading, checking and building follow from it. To add a figure, add such a field, and its value with its source in
figures.toml (for players: the relaxed one's, on whom the others are based).
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from decimal import Decimal
from enum import Enum
from typing import Any


class ValueKind(Enum):
    """What a figure in a file may be."""

    SECONDS = "a number of seconds"
    FACTOR = "a number"
    STRINGS = "a whole number of strings"
    COUNT = "a whole number"
    FLAG = "true or false"
    STRING = 'the name of a string, such as "C1"'
    POSITION = '"flat", "natural" or "sharp"'

    @property
    def unit(self) -> str:
        """The unit as the docs print it."""
        return {ValueKind.SECONDS: "s", ValueKind.FACTOR: "times", ValueKind.STRINGS: "strings"}.get(self, "")


@dataclass(frozen=True, slots=True)
class FigureSpec:
    """What is known of one key.

    Attributes:
        least: the smallest value that is possible (`above`: and itself not possible).
        most: the largest that makes sense.
        abler: 1 where a larger figure makes a player abler, -1 where a smaller one does, 0 where neither.
    """

    key: str
    kind: ValueKind
    least: Decimal = Decimal(0)
    above: bool = False
    most: Decimal = Decimal(60)
    abler: int = 0


def figure(
    kind: ValueKind, *, least: int = 0, above: bool = False, most: int = 60, abler: int = 0, key: str = ""
) -> Any:
    """A field that is a figure (see FigureSpec).

    Args:
        kind: what its value is.
        least: the least value in a file.
        above: the value has to lie above that.
        most: the greatest value in a file.
        abler: as in FigureSpec.
        key: its name in files, where that is not the field's.
    """
    return field(metadata={"figure": FigureSpec(key, kind, Decimal(least), above, Decimal(most), abler)})


def specs_of(table: type) -> dict[str, FigureSpec]:
    """The figures of a dataclass by the names of its fields, in order; each spec has its key in files."""
    found = {}
    for known in fields(table):
        if (spec := known.metadata.get("figure")) is not None:
            found[known.name] = FigureSpec(
                spec.key or known.name, spec.kind, spec.least, spec.above, spec.most, spec.abler
            )
    return found
