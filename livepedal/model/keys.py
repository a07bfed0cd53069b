"""The keys: which are down, and which strings were let go when.

When is a key's string free under *held*? When the key is released, except that a release within `overlap` after the
latest attack counts as at that attack (feet/free.py). The sustain pedal does not count: keyboard players hold it for
colour. Taking the latest attack and not an earlier one is what makes the rule safe to apply as it happens: no attack
judged while the key was down can be judged otherwise later.
"""

from __future__ import annotations

from collections.abc import Mapping
from copy import copy

from livepedal.harp.signs import Sign
from livepedal.model.feet.tracker import Released
from livepedal.music.events import NoteOff, NoteOn


class Keys:
    """The keys of one piece.

    Attributes:
        before: when keys were released since the feet were told last (µs), of notes struck before the open attack.
        own: the same, of the open attack's own notes.
    """

    def __init__(self) -> None:
        self._down: dict[int, set[int]] = {}  # by pitch the sources that hold it
        self._damped: frozenset[int] = (
            frozenset()
        )  # those whose strings are damped when they come up (étouffé)
        self._struck: dict[int, int] = {}  # the attack that struck each last (µs)
        self.before: Mapping[int, int] = {}
        self.own: Mapping[int, int] = {}

    def __bool__(self) -> bool:
        return bool(self._down)

    @property
    def down(self) -> tuple[int, ...]:
        """Those that are down, upwards."""
        return tuple(sorted(self._down))

    def fork(self) -> Keys:
        """A copy that goes its own way."""
        twin = copy(self)
        twin._down = {pitch: set(sources) for pitch, sources in self._down.items()}
        twin._struck = dict(self._struck)
        return twin

    def strike(self, event: NoteOn, attack: int, again: bool) -> None:
        """A key goes down for the attack at `attack` (µs); again: that attack has the note already."""
        pitch = event.pitch
        sources = self._down.setdefault(pitch, set())
        if again:
            # Struck twice within one attack: one note, held until the last of its keys is released.
            self.own = {key: us for key, us in self.own.items() if key != pitch}
        elif sources:
            # Struck again while held: released at that moment, which is within this attack. Another keyboard that holds
            # it holds the new note too.
            self.before = {**self.before, pitch: attack}
        sources.add(event.source)
        self._struck[pitch] = attack
        if not again:
            self._damped = self._damped - {pitch}
            if event.signs & Sign.DAMPED:
                self._damped |= {pitch}

    def up(self, event: NoteOff, attack: int | None) -> bool:
        """A key is released, while the attack at `attack` is open; whether nobody holds it any more."""
        us, pitch = event.us, event.pitch
        sources = self._down.get(pitch)
        if not sources or event.source not in sources:
            return False  # a note-off without its note-on means nothing
        sources.discard(event.source)
        if sources:
            return False
        del self._down[pitch]
        if attack is not None and self._struck[pitch] == attack:
            self.own = {**self.own, pitch: us}
        else:
            self.before = {**self.before, pitch: us}
        return True

    def released(self, released: Mapping[int, int], latest: int) -> list[Released]:
        """Released keys, each with the latest attack up to its release (its own at the earliest)."""
        return [
            (pitch, us, latest if latest <= us else self._struck[pitch], pitch in self._damped)
            for pitch, us in released.items()
        ]
