"""What two hands can take at once: the ways to share a chord out between them.

Four fingers a hand, so four notes and eight in all (Rimsky-Korsakov, ch. I; Volpé Bligh, item 2). A hand
reaches so many *strings*, not semitones (a tenth is easy: siba, hand position). The thumb plays the highest
note in both hands, and the wide gap of a chord lies at the thumb: the other fingers stay close (common
practice; theharplegacyproject.com, typical). So a set of strings is a *grip* where it has no more strings
than fingers, lies within the reach, and all of it but the highest string lies within the inner reach. Part of
a grip is a grip.

A chord is divided once: the left hand takes the lower notes, the right hand the higher ones. Hands that reach
through one another are never needed for a chord. Where no division gives two grips, the chord is *rolled*: a
hand may take its notes in two placings, the lower one first, so that the top comes on the beat
(harpmastery.com, essential chord techniques). A chord that fits is never rolled.

On which strings the notes lie depends on the pedals, and a string more or less can decide. Nearly always it
does not; then the chord has one *class*. Otherwise its ways to be put on strings (chords.py) are sorted by
what they leave to the hands, so that hands and feet are judged on one and the same choice of strings
(joint.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from livepedal.harp import Instrument, Player, Position
from livepedal.model.chords import RIGHT_FIRST_PEDAL, Sharing, pitches_of

Block = tuple[int, ...]
"""Pitches (MIDI numbers, upwards) that one hand strikes in one placing."""


@dataclass(frozen=True, slots=True)
class Division:
    """One way to share a chord out: for each hand no placing, one, or, where the chord is rolled, two."""

    left: tuple[Block, ...]
    right: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class GripClass:
    """Ways to put a chord on strings that leave the same to the hands. `rolled`: it cannot be taken at once."""

    divisions: tuple[Division, ...]
    rolled: bool
    ways: tuple[Sharing, ...]


def places(instrument: Instrument) -> tuple[int, ...]:
    """For every MIDI number the string that stands for it where a hand's place is remembered, by its number.

    It is the natural or flat spelling where there is one. The string that the note is in truth played on is
    at most one away, which matters to a grip, where it is looked at, and not to where a hand is. Pitches
    without a string, which no hand ever plays, get that of the next one below, or the lowest.
    """
    found: list[int] = []
    for pitch in range(128):
        order = {Position.NATURAL: 0, Position.FLAT: 1, Position.SHARP: 2}
        spellings = sorted(instrument.spellings(pitch), key=lambda s: order[s.position])
        if spellings:
            found.append(spellings[0].string.number)
        else:
            found.append(found[-1] if found else instrument.lowest.number)
    return tuple(found)


class Grips:
    """The divisions of every chord between the hands of one player, on one instrument; worked out once for
    each chord.
    """

    def __init__(self, player: Player, instrument: Instrument) -> None:
        self.fingers = player.fingers
        self.reach = player.reach - 1
        self.inner = player.inner_reach - 1
        self.spread = max(player.rolled_reach - 1, self.reach)
        self.places = places(instrument)
        self._strings: tuple[dict[int, int], ...] = tuple(
            {-1 if s.fixed else int(s.pedal): s.string.number for s in instrument.spellings(pitch)}
            for pitch in range(128)
        )
        self._known: dict[tuple[tuple[int, ...], tuple[Sharing, ...]], tuple[GripClass, ...]] = {}

    def fits(self, strings: Iterable[int]) -> bool:
        """Whether one hand can take these strings (numbers) at once."""
        return self._within(sorted(strings), self.reach)

    def spreads(self, strings: Iterable[int]) -> bool:
        """Whether one hand can take these strings (numbers) one after another."""
        return self._within(sorted(strings), self.spread)

    def _within(self, ordered: Sequence[int], reach: int) -> bool:
        count = len(ordered)
        return count == 0 or (
            count <= self.fingers
            and ordered[-1] - ordered[0] <= reach
            and (count < 3 or ordered[-2] - ordered[0] <= self.inner)
        )

    def classes(self, pitches: tuple[int, ...], ways: tuple[Sharing, ...]) -> tuple[GripClass, ...]:
        """The classes of a chord (pitches upwards) and its ways; without ways the remembered places are taken
        for strings.
        """
        key = pitches, ways
        known = self._known.get(key)
        if known is None:
            if len(self._known) > 20_000:  # a long session must not fill the memory with chords
                self._known.clear()
            known = self._known[key] = self._work_out(pitches, ways)
        return known

    def _work_out(self, pitches: tuple[int, ...], ways: tuple[Sharing, ...]) -> tuple[GripClass, ...]:
        # More notes than two placings of two hands take have no division, on whatever strings.
        if not ways or len(pitches) > 4 * self.fingers or self._indifferent(pitches):
            return (self._class([self.places[p] for p in pitches], pitches, ways),)
        found: dict[tuple[tuple[Division, ...], bool], list[Sharing]] = {}
        for sharing in ways:
            for left, right in product(sharing.left, sharing.right):
                one = Sharing((left,), (right,))
                taken = self._class(self.strings(pitches, one), pitches, ())
                found.setdefault((taken.divisions, taken.rolled), []).append(one)
        if len(found) == 1:
            ((divisions, rolled),) = found
            return (GripClass(divisions, rolled, ways),)
        return tuple(GripClass(divisions, rolled, tuple(some)) for (divisions, rolled), some in found.items())

    def strings(self, pitches: tuple[int, ...], sharing: Sharing) -> list[int]:
        """The string of each pitch under a sharing with one way for each group of pedals."""
        pedals: dict[int, int] = {}
        ((left,), (right,)) = (sharing.left, sharing.right)
        for way, first in ((left, 0), (right, RIGHT_FIRST_PEDAL)):
            for index, _, keys in way:
                for pitch in pitches_of(keys):
                    pedals[pitch] = first + index
        return [self._strings[pitch][pedals.get(pitch, -1)] for pitch in pitches]

    def _indifferent(self, pitches: tuple[int, ...]) -> bool:
        """Whether it is all the same to every hand on which strings these notes lie."""
        options = [tuple(self._strings[pitch].values()) for pitch in pitches]
        for begin in range(len(pitches)):
            for end in range(begin + 2, min(len(pitches), begin + self.fingers) + 1):
                block = options[begin:end]
                tight = max(min(o) for o in block) - min(max(o) for o in block)
                wide = max(max(o) for o in block) - min(min(o) for o in block)
                if tight <= self.reach < wide or tight > self.reach:
                    if tight <= self.reach:
                        return False
                    continue
                if end - begin > 2:
                    inner = block[:-1]
                    tight = max(min(o) for o in inner) - min(max(o) for o in inner) - 1
                    wide = max(max(o) for o in block) - min(min(o) for o in block)
                    wide = min(wide, max(max(o) for o in inner) - min(min(o) for o in inner) + 1)
                    if tight <= self.inner < wide:
                        return False
        return True

    def _class(
        self, strings: Sequence[int], pitches: tuple[int, ...], ways: tuple[Sharing, ...]
    ) -> GripClass:
        count = len(pitches)
        divisions = [
            Division((pitches[:cut],) if cut else (), (pitches[cut:],) if cut < count else ())
            for cut in range(count + 1)
            if self.fits(strings[:cut]) and self.fits(strings[cut:])
        ]
        if divisions:
            return GripClass(tuple(divisions), False, ways)
        for cut in range(count + 1):
            lefts = self._placings(strings[:cut], pitches[:cut])
            rights = self._placings(strings[cut:], pitches[cut:])
            divisions += [Division(left, right) for left in lefts for right in rights]
        return GripClass(tuple(divisions), True, ways)

    def _placings(self, strings: Sequence[int], pitches: Block) -> list[tuple[Block, ...]]:
        """The ways for one hand to take notes in a rolled chord: at once where they fit, else in two
        placings.
        """
        if not pitches:
            return [()]
        if self.fits(strings):
            return [(pitches,)]
        return [
            (pitches[:cut], pitches[cut:])
            for cut in range(1, len(pitches))
            if self.fits(strings[:cut]) and self.fits(strings[cut:])
        ]
