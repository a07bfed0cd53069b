"""Settings: how all seven pedals stand at one moment.

There are 3 ** 7 = 2187 of them. They are written in the order of the pedals, D C B | E F G A, the stroke
standing between the feet (Volpé Bligh, Writing for the Pedal Harp, item 7): `D♭ C♮ B♭ | E♭ F♮ G♮ A♭`. A pedal
whose place does not matter, because its letter has not been used, is `None`, and written as a dot.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from livepedal.errors import LivepedalError
from livepedal.harp import fifths
from livepedal.harp.fifths import fifth_of
from livepedal.harp.keys import Key
from livepedal.harp.pedals import Foot, Pedal, Position

_HOW = "write it as D♭ C♮ B♭ | E♭ F♮ G♮ A♭ (plain b, n and # work too), or as a key such as E♭ major"
_UNSET = frozenset("·.-–—_?*")


@dataclass(frozen=True, slots=True)
class Setting:
    """The positions of the seven pedals in `Pedal` order; None where a pedal is not (yet) set to anything.

    Raises:
        LivepedalError: unless there are seven.
    """

    positions: tuple[Position | None, ...]

    def __post_init__(self) -> None:
        if len(self.positions) != len(Pedal):
            raise LivepedalError(
                f"A setting has seven positions, one for each pedal, not {len(self.positions)}."
            )

    def __getitem__(self, pedal: Pedal) -> Position | None:
        """The position of one pedal."""
        return self.positions[pedal]

    def __str__(self) -> str:
        """In the order of the pedals, every accidental printed: D♭ C♮ B♭ | E♭ F♮ G♮ A♭."""
        return " | ".join(
            " ".join(_written(pedal, self.positions[pedal]) for pedal in foot.pedals) for foot in Foot
        )

    @classmethod
    def unset(cls) -> Setting:
        """No pedal set to anything."""
        return cls((None,) * len(Pedal))

    @classmethod
    def parse(cls, text: str) -> Setting:
        """The setting that a text means: seven letters with accidentals, or the name of a key.

        Letters may come in any order and either case, with ♭ ♮ ♯ or b n #; a letter without accidental is natural,
        and one that is missing (or a dot) is not set. The stroke between the feet may be left out. One letter alone
        is a key: "Eb" is E♭ major.

        Raises:
            LivepedalError: for anything else, and for keys as `of_key` does.
        """
        words = _words(text)
        if not words:
            raise LivepedalError(f"The setting is empty; {_HOW}.")
        if len(words) == 1 or any(
            re.fullmatch(r"(?i)m|maj|min|dur|major|minor|flat|sharp", w) for w in words
        ):
            return cls.of_key(_parse_key(text))
        positions: list[Position | None] = [None] * len(Pedal)
        for word in words:
            if word in _UNSET:
                continue
            pedal, position = _parse_word(word, text)
            if positions[pedal] is not None:
                raise LivepedalError(
                    f"The setting {text.strip()!r} gives {pedal.letter} twice; one pedal moves"
                    f" the {pedal.letter} strings of all octaves, so keep one of the two."
                )
            positions[pedal] = position
        return cls(tuple(positions))

    @classmethod
    def of_key(cls, key: Key) -> Setting:
        """The setting of a key; a minor key is set as its signature has it, the natural minor.

        Raises:
            LivepedalError: for a key beyond seven accidentals, saying which letter fails and which setting sounds the
                same.
        """
        if not key.settable:
            raise LivepedalError(_why_not(key))
        return cls(tuple(Position(key.alteration(pedal)) for pedal in Pedal))

    def replace(self, pedal: Pedal, position: Position | None) -> Setting:
        """The same setting with one pedal elsewhere."""
        return Setting((*self.positions[:pedal], position, *self.positions[pedal + 1 :]))

    @property
    def pitch_classes(self) -> frozenset[int]:
        """The pitch classes, 0 (C) to 11 (B), that can be had without moving a pedal: at most seven."""
        return frozenset(
            (pedal.natural + position) % 12
            for pedal, position in zip(Pedal, self.positions, strict=True)
            if position is not None
        )


def _written(pedal: Pedal, position: Position | None) -> str:
    return "·" if position is None else pedal.at(position)


def _words(text: str) -> list[str]:
    words: list[str] = []
    for word in re.split(r"[\s,;|/]+", text.strip()):
        # "DbCbBb" may stand without blanks, but only in capitals: small "bb" could be one letter or two.
        packed = re.fullmatch(r"(?:[A-G](?:[♭♮♯#n]|b(?!b))?){2,}", word)
        words += re.findall(r"[A-G][♭♮♯#nb]?", word) if packed else [word]
    return [word for word in words if word]


def _parse_word(word: str, text: str) -> tuple[Pedal, Position]:
    match = re.fullmatch(r"([A-Za-z])(.*)", word, flags=re.DOTALL)
    if match is None or match[1].upper() not in Pedal.__members__:
        raise LivepedalError(f"{word!r} in the setting {text.strip()!r} is not a letter from A to G; {_HOW}.")
    pedal, altered = Pedal.of_letter(match[1]), fifths.altered(match[2])
    if altered is None:
        raise LivepedalError(f"{word!r} in the setting {text.strip()!r} is not understood; {_HOW}.")
    if abs(altered) > 1:
        note = fifth_of(pedal, altered)
        raise LivepedalError(f"No pedal can be set to {fifths.name(note)}; set {_same_sound(note)} instead.")
    return pedal, Position(altered)


def _parse_key(text: str) -> Key:
    try:
        return Key.parse(text)
    except LivepedalError:
        raise LivepedalError(f"{text.strip()!r} is neither a setting nor a key; {_HOW}.") from None


def _same_sound(note: int) -> str:
    """The strings that can sound a written note with a double accidental, such as "A♮" for B𝄫."""
    return " or ".join(fifths.name(fifth_of(*there)) for there in fifths.strings(note))


def _why_not(key: Key) -> str:
    """Why the pedals cannot stand in a key, and what sounds the same; for keys with double accidentals only.

    The other key stands 12 fifths away and has the very same seven pitch classes. Where the two strings that
    could give the doubly altered note are wanted by the key for other notes, the key cannot be saved by one
    respelling.
    """
    note = fifth_of(key.first_letter, key.alteration(key.first_letter))
    others = [Pedal(pedal) for pedal, _ in fifths.strings(note)]
    wanted = " and ".join(fifths.name(fifth_of(pedal, key.alteration(pedal))) for pedal in others)
    letters = " and ".join(dict.fromkeys(pedal.letter for pedal in others))
    same = key.enharmonic
    return (
        f"No pedal can be set to the {fifths.name(note)} of {key.name}: it sounds on {_same_sound(note)},"
        f" but the key wants {letters} for {wanted}; set {same.name} instead, {Setting.of_key(same)},"
        " which sounds the same."
    )
