"""A key that somebody wants to stay in: which notes leave its strings. A remark, never a fault."""

from __future__ import annotations

from livepedal.harp import Key, Pedal, Position, pitch_name


def staying(name: str) -> str:
    """What is said when there is such a wish, or none any more."""
    return f"staying in {name}: notes outside it are reported" if name else "not staying in a key any more"


class Stay:
    """The wish for a key, or for none."""

    def __init__(self, name: str = "", middle_c: str = "C4") -> None:
        """name: of the key, "" for none. Raises LivepedalError for what is no key."""
        self.name = ""
        self._middle_c = middle_c
        self._strings = frozenset(range(12))
        self._told = False
        self._hint = Position.FLAT
        if name:
            key = Key.parse(name)
            self.name = key.name
            self._hint = Position.SHARP if key.fifths > 0 else Position.FLAT
            self._strings = frozenset((pedal.natural + key.alteration(pedal)) % 12 for pedal in Pedal)

    def struck(self, pitch: int) -> str:
        """A note was struck: what there is to say of it, once a passage; or ""."""
        if pitch % 12 in self._strings or self._told:
            return ""
        self._told = True
        return f"{pitch_name(pitch, self._hint, self._middle_c)} leaves {self.name}"

    def over(self) -> None:
        """A passage is over."""
        self._told = False
