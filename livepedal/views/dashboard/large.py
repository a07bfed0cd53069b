"""Words that can be read from across the room: letters of three by five dots.

A composer at a keyboard sits a metre from the screen, and a letter of a terminal is 4 to 5 mm high. Half blocks put
two dots above each other into a character cell, where the terminal has them; elsewhere a dot is a # of its own. Only
the letters of the four verdicts exist, and their four shapes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from livepedal.model.findings import Verdict
from livepedal.views.signs import Signs

_LETTERS = {
    "A": ".#. #.# ### #.# #.#",
    "B": "##. #.# ##. #.# ##.",
    "E": "### #.. ##. #.. ###",
    "I": "# # # # #",
    "L": "#.. #.. #.. #.. ###",
    "N": "#..# ##.# #.## #..# #..#",
    "O": "### #.# #.# #.# ###",
    "P": "##. #.# ##. #.. #..",
    "R": "##. #.# ##. #.# #.#",
    "S": "### #.. ### ..# ###",
    "T": "### .#. .#. .#. .#.",
    "U": "#.# #.# #.# #.# ###",
    "V": "#.# #.# #.# #.# .#.",
    "Y": "#.# #.# .#. .#. .#.",
}
# One dot higher than the letters; the third row is left out where that one is not to be had.
_SHAPES = {
    Verdict.EASY: ".####. ###### ###### ###### ###### .####.",
    Verdict.PLAYABLE: "..##.. .####. ###### ###### .####. ..##..",
    Verdict.VIRTUOSO: "..##.. ..##.. .####. .####. ###### ######",
    Verdict.UNPLAYABLE: "###### ###### ###### ###### ###### ######",
}
_HALVES = {"  ": " ", "# ": "▀", " #": "▄", "##": "█"}
_LONGEST = Verdict.UNPLAYABLE


@dataclass(frozen=True, slots=True)
class Size:
    """Of a dot: columns across; down, half rows where there are half blocks, and rows elsewhere."""

    across: int = 1
    down: int = 1

    def rows(self, signs: Signs) -> int:
        """Rows of a word."""
        return (3 if signs.blocks else 5) * self.down

    @property
    def columns(self) -> int:
        """Columns of the longest word with its shape."""
        return len(_dots(_LONGEST, True)[0]) * self.across


def largest(signs: Signs, columns: int, rows: int) -> Size:
    """The size that fills so many columns and rows best, for all words alike; never below one dot to a cell.

    Letters may be up to twice as tall as they are drawn above.
    """
    down = max(rows // Size().rows(signs), 1)
    square = 1 if signs.blocks else 2  # columns that are as wide as a dot is high
    across = max(min(columns // Size().columns, down * square), 1)
    return Size(across, max(min(down, 2 * across // square), 1))


@lru_cache(maxsize=16)
def large(verdict: Verdict, signs: Signs, size: Size) -> tuple[str, ...]:
    """The verdict's shape and word in rows of one width."""
    dots = []
    for row in _dots(verdict, signs.blocks):
        dots += ["".join(dot * size.across for dot in row)] * size.down
    if not signs.blocks:
        return tuple(dots)
    return tuple(
        "".join(_HALVES[a + b] for a, b in zip(above, below, strict=True))
        for above, below in zip(dots[::2], dots[1::2], strict=True)
    )


def _dots(verdict: Verdict, six: bool) -> list[str]:
    """The picture in rows of dots, six of them or five."""
    shape = _SHAPES[verdict].split()
    letters = [_LETTERS[name].split() for name in verdict.word.upper()]
    if six:
        letters = [["." * len(letter[0]), *letter] for letter in letters]
    else:
        del shape[2]
    rows = [f"{row[0]}..{'.'.join(row[1:])}" for row in zip(shape, *letters, strict=True)]
    return [row.replace(".", " ") for row in rows]
