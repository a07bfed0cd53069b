"""What a path through the music costs, in one number: what a harpist minds most comes first.

It is made of parts, each worth more than all that the ones after it can come to. In their order:

- an attack that is not played as it should;
- an audible change: the pitch slides (Volpé Bligh, Writing for the Pedal Harp);
- crossed strings, E♯ beside F♭ or B♯ beside C♭, where the lower string sounds higher (common practice, no source);
- a tight change, which the relaxed player could not make in time (judgement);
- a name other than the written one: players read letters (common practice, no source), and a chord whose shape that
  breaks;
- a move over two notches (Boléro and the parts with printed pedals hardly have one; common practice, no source);
- a change;
- strings that are stopped: open ones, flats, sound best (Berlioz, Grand traité d'instrumentation, p. 86).
"""

from __future__ import annotations

from dataclasses import dataclass

PART = 1 << 24
SOUND = 1
CHANGE = SOUND * PART
TWO_NOTCHES = CHANGE * PART
NAME = TWO_NOTCHES * PART
TIGHT = NAME * PART
CROSSED = TIGHT * PART
AUDIBLE = CROSSED * PART
IMPOSSIBLE = AUDIBLE * PART
NEVER = 1 << 1024  # a price above all others

# A note whose name parts it from the rest of its chord counts as so many more: three notes and it are as bad as the
# whole chord of four under other names (judgement).
BROKEN_SHAPE = 3


# Its parts as they are counted, but for the sound.
PARTS = (
    (IMPOSSIBLE, "unplayable attack"),
    (AUDIBLE, "audible change"),
    (CROSSED, "crossed attack"),
    (TIGHT, "tight change"),
    (NAME, "unusual name"),
    (TWO_NOTCHES, "two-notch change"),
    (CHANGE, "pedal change"),
)


@dataclass(frozen=True, slots=True)
class Over:
    """What a path has more of than any must have: the first of the parts of its price in which they differ."""

    what: str
    count: int


def over(price: int, least: int) -> Over | None:
    """How far from the best a path can be at the most. least: what is known of the price of any; None: not at all."""
    for unit, what in PARTS:
        count = price // unit - least // unit
        if count > 0:
            return Over(what, count)
    return None


def respelt(other: int, count: int) -> int:
    """The price, in names, of a chord of `count` notes of which so many have another name than the written one."""
    return other + BROKEN_SHAPE * min(other, count - other)


def step(stands: int, goal: int) -> int:
    """The price of moving one pedal."""
    notches = abs(goal - stands)
    return 0 if notches == 0 else CHANGE if notches == 1 else CHANGE + TWO_NOTCHES
