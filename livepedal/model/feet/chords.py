"""What one attack asks of each foot: the ways to put its notes on strings.

A pitch can be played on one string or on two (D, G and A natural on one only, every other pitch
class on two). Notes on one letter share its position, since a pedal acts on its letter in every octave. Every
pitch class has both its strings on pedals of one foot, except two: D♯ (left) or E♭ (right), and B♭ (left) or
A♯ (right). So the choices for those *shared* notes are enumerated here, and within one such choice the two
feet have nothing to do with each other.

Notes that may be played on the same letters, and are struck together, lie on one letter in all their octaves: nobody
reads E♭ below D♯ (common practice, no source). The feet lose next to nothing by it. Where a way has a pitch class on
two letters, let the one that has to wait for its strings longest take it all: it waits no longer than before, and the
other one is free. Only where a finger that comes back damps one string of a letter, and another string of that letter
goes on sounding, could two letters have been better.

A note that a string without a pedal gives at its own tuning asks nothing of any foot.

A spelling that is asked for (a composer's, say) narrows what a pitch may be played on: `narrowed` gives the
same chords with fewer options, and everything that is worked out from them keeps to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from livepedal.harp import Foot, Instrument, Pedal

# (index of the letter among its foot's pedals, position, bit mask of the keys that play it)
Need = tuple[int, int, int]
Way = tuple[Need, ...]
# [(bit mask of keys, the (pedal, position) that they can be played with), ...]
Notes = list[tuple[int, tuple[tuple[int, int], ...]]]
# ((pitch, the (pedal, position) that are allowed for it), ...), by pitch upwards: what one attack is to be
# spelled with
Narrowing = tuple[tuple[int, tuple[tuple[int, int], ...]], ...]

MOST_KNOWN = 20_000  # chords; a long session must not fill the memory with them
RIGHT_FIRST_PEDAL = len(Foot.LEFT.pedals)
# For each pedal (0 for the left foot or 1 for the right, index within its foot's pedals).
GROUPS = tuple(
    (0, int(pedal)) if pedal.foot is Foot.LEFT else (1, pedal - RIGHT_FIRST_PEDAL) for pedal in Pedal
)


@dataclass(frozen=True, slots=True)
class Sharing:
    """The ways of each foot under one choice of foot for the shared notes: any left with any right."""

    left: tuple[Way, ...]
    right: tuple[Way, ...]


class Chords:
    """The ways of every chord on one instrument, worked out once for each set of pitches."""

    def __init__(self, instrument: Instrument) -> None:
        self._known: dict[tuple[int, ...], tuple[Sharing, ...]] = {}
        self._narrowed: dict[Narrowing, Chords] = {}
        self.options: tuple[tuple[tuple[int, int], ...] | None, ...] = tuple(
            self._options(instrument, pitch) for pitch in range(128)
        )

    def narrowed(self, asked: Narrowing) -> Chords:
        """The same chords with these pitches on the given strings only.

        A pitch that has none of the given options, or is on a string without a pedal, keeps those it has.
        """
        if not asked:
            return self
        known = self._narrowed.get(asked)
        if known is None:
            known = object.__new__(Chords)
            known._known, known._narrowed = {}, {}
            options = list(self.options)
            for pitch, allowed in asked:
                there = self.options[pitch]
                options[pitch] = tuple(option for option in there or () if option in allowed) or there
            known.options = tuple(options)
            if len(self._narrowed) > 2_000:
                self._narrowed.clear()
            self._narrowed[asked] = known
        return known

    @staticmethod
    def _options(instrument: Instrument, pitch: int) -> tuple[tuple[int, int], ...] | None:
        """(pedal, position) for each pedalled string that gives the pitch.

        () where a fixed string does, None where none does.
        """
        spellings = instrument.spellings(pitch)
        if not spellings:
            return None
        if any(spelling.fixed for spelling in spellings):
            return ()
        return tuple((int(spelling.string.pedal), int(spelling.position)) for spelling in spellings)

    @staticmethod
    def group(pedal: int) -> tuple[int, int]:
        """(0 for the left foot or 1 for the right, index within its pedals) of a pedal."""
        return GROUPS[pedal]

    def ways(self, pitches: tuple[int, ...]) -> tuple[Sharing, ...]:
        """Every way to put these pitches on strings; () where no setting holds them.

        Args:
            pitches: sorted, distinct, each on some string.
        """
        known = self._known.get(pitches)
        if known is None:
            if len(self._known) > MOST_KNOWN:
                self._known.clear()
            known = self._known[pitches] = self._work_out(pitches)
        return known

    def most_of(self, pitches: Sequence[int]) -> tuple[tuple[Sharing, ...], list[int]]:
        """The ways of these pitches, and those left out because no setting holds them with the ones below them.

        The order of the pitches does not matter. They are distinct, and each is on some string.
        """
        upwards = sorted(pitches)
        ways = self.ways(tuple(upwards))
        if ways:
            return ways, []
        kept: list[int] = []
        left_out: list[int] = []
        for pitch in upwards:
            (kept if self.ways((*kept, pitch)) else left_out).append(pitch)
        return self.ways(tuple(kept)), left_out

    def _work_out(self, pitches: tuple[int, ...]) -> tuple[Sharing, ...]:
        together: dict[tuple[tuple[int, int], ...], int] = {}  # keys that may be played with the same letters
        for pitch in pitches:
            options = self.options[pitch]
            if options:
                together[options] = together.get(options, 0) | 1 << pitch
        notes: Notes = [(keys, options) for options, keys in together.items()]
        feet = [{self.group(pedal)[0] for pedal, _ in options} for _, options in notes]
        left, right, shared = (
            [note for note, mine in zip(notes, feet, strict=True) if mine == whose]
            for whose in ({0}, {1}, {0, 1})
        )
        found: list[Sharing] = []
        for choice in product(*(options for _, options in shared)):
            chosen: Notes = [(keys, (option,)) for (keys, _), option in zip(shared, choice, strict=True)]
            mine = [one for one in chosen if self.group(one[1][0][0])[0] == 0]
            left_ways = self._foot_ways(left + mine)
            right_ways = self._foot_ways(right + [one for one in chosen if one not in mine])
            if left_ways and right_ways:
                found.append(Sharing(left_ways, right_ways))
        return tuple(found)

    def _foot_ways(self, notes: Notes) -> tuple[Way, ...]:
        """The ways of one foot: note by note, so that what cannot go on is left at once."""
        ways: list[dict[int, tuple[int, int]]] = [{}]
        for keys, options in notes:
            longer: list[dict[int, tuple[int, int]]] = []
            for needs in ways:
                for pedal, position in options:
                    index = self.group(pedal)[1]
                    before = needs.get(index, (position, 0))
                    if before[0] == position:
                        longer.append({**needs, index: (position, before[1] | keys)})
            ways = longer
        return tuple(tuple((index, *needs[index]) for index in sorted(needs)) for needs in ways)


@lru_cache(maxsize=MOST_KNOWN)
def pitches_of(keys: int) -> tuple[int, ...]:
    """The pitches of a bit mask of keys, from the lowest."""
    found = []
    while keys:
        lowest = keys & -keys
        found.append(lowest.bit_length() - 1)
        keys ^= lowest
    return tuple(found)


def reads(pedal: int, position: int, keys: int) -> int:
    """How hard a spelling is to read: naturals first, flats before sharps, white keys as such.

    Open strings sound best (Berlioz p. 86).
    """
    if position == 0:
        return 0
    if (pedal in (Pedal.C, Pedal.F) and position < 0) or (pedal in (Pedal.B, Pedal.E) and position > 0):
        return 4 * keys.bit_count()  # C♭, F♭, B♯, E♯
    return (1 if position < 0 else 2) * keys.bit_count()
