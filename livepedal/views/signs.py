"""The signs of the field (♭ ♮ ♯, shapes of verdicts, strokes of the pedal diagram) for every kind of output.

Three sets: full; without box characters and shapes (`--plain`, for screen readers and for pasting into mail);
and ASCII only, for terminals and encodings that have nothing else. A sign that is missing is replaced by its
plain substitute (♭ becomes b, ♮ n, ♯ #), never left out.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, replace

from livepedal.model.findings import Verdict

_TO_ASCII = str.maketrans(
    {"♭": "b", "♮": "n", "♯": "#", "𝄫": "bb", "𝄪": "x", "♩": "quarter", "→": "->", "×": "x", "▸": ">"}
    | {"↑": "Up", "↓": "Down"}
    | {"½": " 1/2", "⅓": " 1/3", "⅔": " 2/3", "¼": " 1/4", "¾": " 3/4", "⅙": " 1/6", "⅚": " 5/6"}
    | {"⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
    | {"–": "-", "—": "-", "‑": "-", "−": "-", "·": "-", "…": "..."}
    | dict.fromkeys("“”„«»", '"')
    | dict.fromkeys("‘’‚", "'")
    | {"ß": "ss", "æ": "ae", "Æ": "AE", "ø": "o", "Ø": "O", "œ": "oe", "Œ": "OE", "ł": "l", "Ł": "L"}
)


@dataclass(frozen=True, slots=True)
class Signs:
    """One set of signs.

    All are one column wide but the shapes of verdicts, divider and cross.

    Attributes:
        ascii: whether only ASCII may be written.
        shapes: of the verdicts, best to worst.
        rule, divider, cross: the pedal diagram's line, the long stroke between the feet, and where the two meet.
        stroke: a pedal's stroke above or below the line.
        on: one on it.
        above, below: where one from there meets the line.
        solid, hazy: a pedal position that is certain, and one of several.
        chosen: stands before the player that is judged for.
        hollow: what is missing of a bar.
        blocks: whether large letters can be made of half blocks.
    """

    ascii: bool
    shapes: tuple[str, str, str, str]
    rule: str
    divider: str
    cross: str
    stroke: str
    on: str
    above: str
    below: str
    solid: str
    hazy: str
    chosen: str
    hollow: str = "."
    blocks: bool = False

    def write(self, text: str) -> str:
        """The text as this output can show it."""
        if not self.ascii or text.isascii():
            return text
        text = text.translate(_TO_ASCII)
        if text.isascii():
            return text
        # é becomes e; what has no base letter becomes a question mark.
        letters = (c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
        return "".join(c if c.isascii() else "?" for c in letters)

    def verdict(self, verdict: Verdict) -> str:
        """Shape and word, such as "▲ virtuoso"."""
        return f"{self.shapes[verdict]} {verdict.word}"


FULL = Signs(
    ascii=False,
    shapes=("●", "◆", "▲", "■"),
    rule="─",
    divider="┃",
    cross="╂",
    stroke="│",
    on="┼",
    above="┴",
    below="┬",
    solid="█",
    hazy="▒",
    chosen="▸",
    hollow="░",
    blocks=True,
)
PLAIN = Signs(
    ascii=False,
    shapes=("(o)", "<+>", "/^\\", "[X]"),
    rule="-",
    divider="||",
    cross="||",
    stroke="|",
    on="|",
    above="-",
    below="-",
    solid="#",
    hazy=":",
    chosen=">",
)
ASCII = replace(PLAIN, ascii=True)


def signs_for(encoding: str | None, plain: bool = False) -> Signs:
    """The richest set that this encoding can show."""
    try:
        ("♭♮♯→“”…·" if plain else "♭♮♯→“”…·●◆▲■─┃╂│┼┴┬█▒░▀▄▸").encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return ASCII
    return PLAIN if plain else FULL
