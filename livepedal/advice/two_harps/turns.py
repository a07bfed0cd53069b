"""Who plays what of a part that two share, as values."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from livepedal.advice.remedies.second import WHOLE_TONES
from livepedal.music.attacks import WIDEST_STEP, Gathered
from livepedal.music.timemap import Place

BOTH = 2
MOST_HEIGHTS = 7  # pitches that are tried as the border between the players


@dataclass(frozen=True, slots=True)
class Split:
    """Who plays which notes: 0 or 1.

    Attributes:
        border: one player has the notes from this MIDI number up; None: the second has some pitch classes.
        upper: who that is.
        classes: those pitch classes.
    """

    border: int | None = None
    upper: int = 0
    classes: tuple[int, ...] = ()

    def player_of(self, pitch: int) -> int:
        """Who plays a note."""
        if self.border is None:
            return int(pitch % 12 in self.classes)
        return self.upper if pitch >= self.border else 1 - self.upper


NOTE_BY_NOTE = tuple(Split(classes=scale) for scale in WHOLE_TONES)


@dataclass(frozen=True, slots=True)
class Turn:
    """From one attack (its place among all) to before another, one player plays, 0 or 1, or both (2).

    Attributes:
        split: how both share it; None where one plays.
        start, end: the bars and beats of its first attack and of its last.
        lasts: until the next attack, or to the end of its last note (µs).
    """

    first: int
    stop: int
    who: int
    split: Split | None
    start: Place
    end: Place
    lasts: int

    def player_of(self, pitch: int) -> int:
        """Who plays a note in it."""
        return self.who if self.split is None else self.split.player_of(pitch)


def quick_turns(turns: Sequence[Turn], seam: int) -> list[Turn]:
    """The turns shorter than the figure `share.seam` (µs) before or after which the other player has one."""
    beside = {turn for pair in pairwise(turns) if {pair[0].who, pair[1].who} == {0, 1} for turn in pair}
    return [turn for turn in turns if turn in beside and turn.lasts < seam]


def splits(attacks: Sequence[Gathered]) -> list[Split]:
    """Ways to share attacks: at a height, so that no line crosses it, then note by note."""
    pitches = sorted({pitch for attack in attacks for pitch, _ in attack.notes})
    single = [one.notes[0][0] if len(one.notes) == 1 else None for one in attacks]
    steps = [
        (min(a, b), max(a, b))
        for a, b in pairwise(single)
        if a is not None and b is not None and abs(a - b) <= WIDEST_STEP
    ]
    borders = [one for one in pitches[1:] if not any(low < one <= high for low, high in steps)]
    borders = [borders[len(borders) * n // MOST_HEIGHTS] for n in range(MOST_HEIGHTS)] if borders else []
    middle = (pitches[0] + pitches[-1]) / 2
    borders = sorted(dict.fromkeys(borders), key=lambda one: abs(one - middle))
    return [Split(border, upper) for upper in (0, 1) for border in borders] + [*NOTE_BY_NOTE]


def dealt(attacks: Sequence[Gathered], turn: Turn, who: int) -> Iterable[Gathered]:
    """What one player has of a turn."""
    for attack in attacks[turn.first : turn.stop]:
        if notes := tuple(note for note in attack.notes if turn.player_of(note[0]) == who):
            yield attack.of(notes)
