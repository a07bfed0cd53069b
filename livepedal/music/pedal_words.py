"""Pedal changes in words, as composers and editors print them.

Such as "E♭", "Mi♮ Fa♯", "la bémol", "E flat", "Fis", "préparez ré ♯".

Letters in English, French, Italian, Spanish and German; accidentals as signs, plain substitutes or words (terms of
the trade in these languages; no source but dictionaries). Words count only where all of them say how pedals
stand, but for a few that bid the player to set them, and at least one has an accidental; a letter without one is
then natural. The German B is B♭ where the part has other letters that only German has (H, Es, Fis); elsewhere B
is B.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from livepedal.harp import Pedal, Position
from livepedal.sources.raw import OWN_MARK, OWN_SHORT, is_own
from livepedal.sources.scores.written import Words

_SOLFEGE = dict(zip(["do", "ut", "ré", "re", "mi", "fa", "sol", "la", "si"], "CCDDEFGAB", strict=True))
_ACCIDENTALS = {
    Position.FLAT: ("♭", "b", "flat", "bémol", "bemol", "bemolle"),
    Position.NATURAL: ("♮", "n", "natural", "nat", "bécarre", "becarre", "béc", "bequadro", "becuadro"),
    Position.SHARP: ("♯", "#", "sharp", "dièse", "diese", "diesis", "diésis", "sostenido"),
}
_POSITIONS = {text: position for position, texts in _ACCIDENTALS.items() for text in texts}
# Ces, Des, Es ... and Cis, Dis, Eis ... (H and B are told apart below).
_GERMAN = {"es": ("E", Position.FLAT), "as": ("A", Position.FLAT)}
_GERMAN |= {f"{letter.lower()}es": (letter, Position.FLAT) for letter in "CDFG"}
_GERMAN |= {f"{letter.lower()}is": (letter, Position.SHARP) for letter in "CDEFGA"}
_GERMAN |= {"his": ("B", Position.SHARP), "hes": ("B", Position.FLAT)}

# Words that bid the player to set the pedals, say which foot does, or join two changes.
_BIDDING = re.compile(
    "prepare|préparez|préparer|prep|prép|set|mettez|mettre|metti|mettere|preparare|prepara|preparar|vorbereiten|pedals?"
    "|pedal[ei]|pédales?|pedales|ped|harpe?|arpa|harfe|muta|in|changez?|setting|and|et|und|e|y|foot|left|right",
    re.IGNORECASE,
)
_SPLIT = re.compile(r"[\s,;:/|·&+()\[\]–—-]+")
_SIGNS = re.compile(r"([♭♮♯])")
_ALTERED = "([A-Ha-h]|[Dd]o|[Rr][ée]|[Mm]i|[Ff]a|[Ss]ol|[Ll]a|[Ss]i)([b#n])"  # a letter and a plain sign


@dataclass(frozen=True, slots=True)
class PedalMark:
    """A mark in print that says how pedals are to stand.

    Attributes:
        us: its moment.
        text: as printed, empty for a diagram.
        whole: it gives five pedals or more (judgement), so it says how they stand from there on; other marks say what
            is changed there.
    """

    us: int
    text: str
    stands: tuple[tuple[Pedal, Position], ...]

    @property
    def whole(self) -> bool:
        """Whether it says so many pedals that it is a whole setting."""
        return len({pedal for pedal, _ in self.stands}) >= 5


def is_german(texts: Iterable[str]) -> bool:
    """Whether letters stand in these pedal words that only German has: H, Es, Fis and the like, in capitals."""
    return any(
        word[0].isupper() and (word.lower() in _GERMAN or word[0] == "H")
        for text in texts
        if pedal_words(text)
        for word in _split(text)
        if not _BIDDING.fullmatch(word)
    )


def marks_in(words: Iterable[tuple[int, Words]], name: str = "") -> tuple[PedalMark, ...]:
    """The pedal marks among words; those of one moment stay apart.

    Args:
        words: each with its moment (µs).
        name: of the part; of texts that livepedal has written for several parts, those for another are passed over.
    """
    texts = list(words)
    german = is_german(said.text for _, said in texts)
    found = []
    for us, said in texts:
        if said.pedals:
            stands = tuple((Pedal.of_letter(letter), Position(altered)) for letter, altered in said.pedals)
        else:
            stands = pedal_words(_own(said.text, name), german)
        if stands:
            found.append(PedalMark(us, said.text, stands))
    return tuple(sorted(found, key=lambda mark: mark.us))


def _own(text: str, name: str) -> str:
    """A text that livepedal has written, without what it adds: its name, the part's, "audible" and the like."""
    if not is_own(text.encode()):
        return text
    text = text.removeprefix(OWN_MARK).removeprefix(OWN_SHORT)
    part, colon, rest = text.rpartition(": ")
    if colon:
        if name and part != name:
            return ""
        text = rest
    change = re.split(r" (?:left|right) foot", text)[0]
    return change.replace("-", " ")


def _split(text: str) -> list[str]:
    return [word for word in _SPLIT.split(text.strip()) if word]


def pedal_words(text: str, german: bool = False) -> tuple[tuple[Pedal, Position], ...]:
    """How pedals are to stand by these words, in their order; empty where the words say something else.

    german: the part is known to be in German.
    """
    if len(text) > 200:
        return ()
    words = [part for word in _split(text) for part in _apart(word.strip(".!"))]
    found: list[tuple[Pedal, Position]] = []
    explicit = False
    at = 0
    while at < len(words):
        word = words[at]
        following = words[at + 1] if at + 1 < len(words) else ""
        at += 1
        if word.lower() in _GERMAN and (word[0].isupper() or german):  # "des" and "es" are other words too
            name, position = _GERMAN[word.lower()]
            found.append((Pedal.of_letter(name), position))
            explicit = True
            continue
        letter = _letter(word)
        # "e" joins two Italian words unless an accidental follows.
        if letter is None or (word == "e" and following not in _POSITIONS):
            if _BIDDING.fullmatch(word):
                continue
            return ()
        # A sign is small: "C B" are two letters.
        named = None if following in ("B", "N") else _POSITIONS.get(following.lower())
        if named is not None:
            at += 1
            explicit = True
        elif word == "B" and german:
            named, explicit = Position.FLAT, True
        elif word == "H":
            explicit = True
        found.append((Pedal.of_letter(letter), Position.NATURAL if named is None else named))
    return tuple(found) if explicit else ()


def _apart(word: str) -> list[str]:
    """A word in its letters and signs: "Mi♭" as "Mi", "♭"; "Eb" as "E", "b"; "F#C#" as four."""
    pieces = [piece for piece in _SIGNS.split(word) if piece]
    apart: list[str] = []
    for piece in pieces:
        if re.fullmatch(f"(?:{_ALTERED})+", piece):
            apart += [part for pair in re.findall(_ALTERED, piece) for part in pair]
        else:
            apart.append(piece)
    return apart


def _letter(word: str) -> str | None:
    if word.lower() in _SOLFEGE:
        return _SOLFEGE[word.lower()]
    if len(word) == 1 and word.upper() in "ABCDEFGH":
        return "B" if word.upper() == "H" else word.upper()
    return None
