"""Words that can be read from across the room: letters of three by five dots, two dots to a character cell.

A composer at a keyboard sits a metre from the screen. A letter of a terminal is 4 to 5 mm high; these are
three times that. Only the letters of the four verdicts exist, and their four shapes.
"""

from __future__ import annotations

from functools import lru_cache

from livepedal.model.findings import Verdict
from livepedal.views.signs import Signs

ROWS = 3
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
_SHAPES = {
    Verdict.EASY: ".####. ###### ###### ###### ###### .####.",
    Verdict.PLAYABLE: "..##.. .####. ###### ###### .####. ..##..",
    Verdict.VIRTUOSO: "..##.. ..##.. .####. .####. ###### ######",
    Verdict.UNPLAYABLE: "###### ###### ###### ###### ###### ######",
}
_DOTS = {"..": " ", "#.": "▀", ".#": "▄", "##": "█"}


@lru_cache(maxsize=16)
def large(verdict: Verdict, signs: Signs) -> tuple[str, ...]:
    """The verdict's shape and word in three rows of one width."""
    if not signs.blocks:
        word = " ".join(verdict.word.upper())
        text = f"{signs.shapes[verdict]}  {word}"
        return (" " * len(text), text, " " * len(text))
    pictures = [_SHAPES[verdict].split()]
    pictures += [["." * len(letter[0]), *letter] for letter in map(_letter, verdict.word.upper())]
    rows = []
    for row in range(ROWS):
        parts = []
        for picture in pictures:
            above, below = picture[2 * row], picture[2 * row + 1]
            parts.append("".join(_DOTS[a + b] for a, b in zip(above, below, strict=True)))
        rows.append(parts[0] + "  " + " ".join(parts[1:]))
    return tuple(rows)


def _letter(name: str) -> list[str]:
    return _LETTERS[name].split()
