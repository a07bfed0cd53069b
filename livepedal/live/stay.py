"""A key to stay in: a note that leaves it is remarked on, but is no fault."""

from __future__ import annotations

from livepedal.harp import Key, Pedal, Position, pitch_name


def staying(name: str) -> str:
    """What to say when the player sets the key to stay in, or ("") takes it back."""
    return f"staying in {name}: notes outside it are reported" if name else "not staying in a key any more"


class Stay:
    """The key to stay in.

    Raises:
        LivepedalError: the name is not that of a key.
    """

    def __init__(self, name: str, middle_c: str = "C4") -> None:
        key = Key.parse(name)
        self.name = key.name
        self._middle_c = middle_c
        self._remarked = False
        self._hint = Position.SHARP if key.fifths > 0 else Position.FLAT
        self._strings = frozenset((pedal.natural + key.alteration(pedal)) % 12 for pedal in Pedal)

    def struck(self, pitch: int) -> str:
        """The remark on a note that was struck, once in a passage; or ""."""
        if pitch % 12 in self._strings or self._remarked:
            return ""
        self._remarked = True
        return f"{pitch_name(pitch, self._hint, self._middle_c)} leaves {self.name}"

    def over(self) -> None:
        """A passage is over; the next one may be remarked on again."""
        self._remarked = False
