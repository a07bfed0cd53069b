"""What is still to come: the least price of the attacks from any one on, were there time for every change.

The search for the plan goes by it (best_path.py). But for how the rest reads it is never too high, so where a path
takes no more there is none that takes less; and for slow music it is nearly always what the rest costs in the end.

With time for everything only the setting matters. Then the least price from a setting s on is the least of
p + (moving from s to g) over a few *wishes* (p, g): positions g that the music would like to find, any for a letter
that does not matter, and the price p of going on from there. After the last attack the one wish is for nothing, at
no price. Before an attack that may be played in the ways w, a wish (p, g) of afterwards becomes one for each w:
(p + how w reads + moving the letters of w on to g, w where it needs a letter and else g). For from s the
letters of w go where w needs them and then where g wants them; the others may go where g wants them at once,
since moving on a detour is never cheaper. So the pedals of both feet are looked at together, and the notes that either
could take (D♯ or E♭, B♭ or A♯: chords.py) cost what they cost.

A wish goes where another one does as well from everywhere: p' + (moving from g to g') is no more than p. That is
looked at when they have become half as many again, since it costs as the square of their number. Two shortcuts
keep the work small. Among more than FEW wishes only changes and notches decide which of them goes, so how the
rest reads may be told too high, but never what comes before that in a price. And of more than MOST the dearest
give way to one that wants nothing, at the least of their prices.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from typing import TypeAlias

from livepedal.model.chords import RIGHT_FIRST_PEDAL, Sharing, Way, reads
from livepedal.model.prices import AUDIBLE, CHANGE, NOTCH

ROOM = 12  # wishes that nobody looks for superfluous ones among
FEW = 6
MOST = 64
ANY = 3  # the letter may stand anywhere
FAR = AUDIBLE  # no change costs as much

# The positions of all letters in one number, two bits for each from the lowest: the position + 1, or ANY. A foot's
# part of it: the lowest bits for the left one, what is above them for the right one.
Code: TypeAlias = int
LETTERS = 7
LEFT = RIGHT_FIRST_PEDAL  # letters of the left foot
RIGHT_FROM = 2 * LEFT
LEFT_BITS = (1 << RIGHT_FROM) - 1
NOTHING: Code = (1 << 2 * LETTERS) - 1  # no letter matters
EACH = NOTHING // 3  # one bit for each letter
# The price of going on from where it is fulfilled, and the positions that are wanted.
Wish: TypeAlias = tuple[int, Code]


def code_of(positions: Iterable[int]) -> Code:
    """The code of some letters' positions from the lowest bits on; whatever is none (-1 to 1) is ANY."""
    code = 0
    for index, position in enumerate(positions):
        code |= (position + 1 if -1 <= position <= 1 else ANY) << 2 * index
    return code


def _step(stands: int, wanted: int) -> int:
    """The price of moving one letter."""
    return 0 if wanted in (ANY, stands) else CHANGE + NOTCH * abs(wanted - stands)


@cache
def _moves(code: Code, count: int) -> list[int]:
    """The price of moving a foot's letters that stand there, by the code of where they are wanted."""
    table = [0]
    for index in range(count):
        stands = code >> 2 * index & 3
        prices = [0 if stands == ANY else _step(stands, wanted) for wanted in range(4)]
        table = [known + price for price in prices for known in table]
    return table


@cache
def _instead(code: Code, count: int) -> list[int]:
    """What a foot's part of another wish than this one costs more at the most, wherever one stands, by its code; FAR
    where it wants what this one does not.
    """
    table = [0]
    for index in range(count):
        mine = code >> 2 * index & 3
        prices = [FAR if mine == ANY and other != ANY else _step(mine, other) for other in range(4)]
        table = [known + price for price in prices for known in table]
    return table


def _best(found: list[Wish]) -> list[Wish]:
    """Those of the wishes, in order of their prices, that no other one stands in for."""
    if len(found) == 1:
        return found
    kept: list[Wish] = []
    # By the letters that do not matter to them: (price, left part of the code, right part).
    groups: dict[int, list[tuple[int, Code, Code]]] = {}
    for wish in sorted(found):
        price, code = wish
        enough = price if len(kept) < FEW else price - price % NOTCH + NOTCH - 1
        if _has_substitute(groups, code, enough):
            continue
        if len(kept) == MOST:
            kept.append((price, NOTHING))
            break
        kept.append(wish)
        mine = price, code & LEFT_BITS, code >> RIGHT_FROM
        groups.setdefault(code & code >> 1 & EACH, []).append(mine)
    return kept


def _has_substitute(groups: dict[int, list[tuple[int, Code, Code]]], code: Code, enough: int) -> bool:
    """Whether one of the wishes stands in for one of this code at no more than `enough`."""
    lefts, rights = _instead(code & LEFT_BITS, LEFT), _instead(code >> RIGHT_FROM, LETTERS - LEFT)
    indifferent = code & code >> 1 & EACH
    for letters, wishes in groups.items():
        if indifferent & ~letters:
            continue  # they want what this one does not
        # Where the same letters matter, it takes a change at least.
        dearest = enough - CHANGE if letters == indifferent else enough
        for least, one, other in wishes:
            if least > dearest:
                break
            if least + lefts[one] + rights[other] <= enough:
                return True
    return False


def undominated(wishes: Sequence[Wish], count: int) -> list[int]:
    """The numbers of one foot's wishes (`count` letters) that none of the others stands in for, by their prices.

    Of positions that a foot may be in at these prices as well: whatever can be done from another one can be done from
    one of these for no more.
    """
    if len(wishes) == 1:
        return [0]
    kept: list[int] = []
    for number in sorted(range(len(wishes)), key=lambda n: wishes[n][0]):
        price, code = wishes[number]
        instead = _instead(code, count)
        if all(wishes[other][0] + instead[wishes[other][1]] > price for other in kept):
            kept.append(number)
    return kept


# What one way asks of a foot: (index of letter, position + 1) of each letter, upwards; with how badly it reads.
_Ask: TypeAlias = tuple[tuple[tuple[int, int], ...], int]
# What an attack asks of both feet, the cheapest of equal ways each, for each choice of foot for its shared notes.
_Asks: TypeAlias = tuple[tuple[tuple[_Ask, ...], tuple[_Ask, ...]], ...]


def _asks(ways: tuple[Way, ...], first: int) -> tuple[_Ask, ...]:
    found: dict[tuple[tuple[int, int], ...], int] = {}
    for way in ways:
        needs = tuple([(index, position + 1) for index, position, _ in way])
        price = sum([reads(first + index, position, keys) for index, position, keys in way])
        if price < found.get(needs, FAR):
            found[needs] = price
    return tuple(found.items())


class _Chord:
    """What a chord makes of the wishes of after it, in whatever octaves it is played."""

    def __init__(self, asks: _Asks) -> None:
        self._asks = asks
        self._feet: dict[tuple[int, int, Code], list[Wish]] = {}
        # The bits of the letters that it may be played on.
        self.letters = 0
        for feet in asks:
            for first, ways in zip((0, LEFT), feet, strict=True):
                for needs, _ in ways:
                    for index, _ in needs:
                        self.letters |= 3 << 2 * (first + index)
        self.known: dict[Code, list[Wish]] = {}

    def before(self, code: Code) -> list[Wish]:
        """What a wish of after it is before it, with what it costs more; told only of its letters."""
        known = self.known.get(code)
        if known is None:
            left, right = code & LEFT_BITS, code >> RIGHT_FROM
            found: dict[Code, int] = {}
            for number, (lefts, rights) in enumerate(self._asks):
                others = self._foot(number, 1, rights, right)
                for price, mine in self._foot(number, 0, lefts, left):
                    for more, its in others:
                        wish = mine | its << RIGHT_FROM
                        if price + more < found.get(wish, FAR):
                            found[wish] = price + more
            known = self.known[code] = _best([(price, wish) for wish, price in found.items()])
        return known

    def _foot(self, number: int, foot: int, asks: tuple[_Ask, ...], code: Code) -> list[Wish]:
        kept = self._feet.get((number, foot, code))
        if kept is None:
            count = LETTERS - LEFT if foot else LEFT
            found: dict[Code, int] = {}
            for needs, price in asks:
                wish = code
                for index, needed in needs:
                    price += _step(needed, code >> 2 * index & 3)
                    wish = wish & ~(3 << 2 * index) | needed << 2 * index
                if price < found.get(wish, FAR):
                    found[wish] = price
            wishes = [(price, wish) for wish, price in found.items()]
            kept = self._feet[number, foot, code] = [wishes[one] for one in undominated(wishes, count)]
        return kept


class Ahead:
    """The least prices for some attacks. ways: of each of them in order; () where an attack asks nothing."""

    def __init__(self, ways: Sequence[tuple[Sharing, ...]]) -> None:
        chords: dict[_Asks, _Chord] = {}
        by_ways: dict[int, _Chord] = {}
        wishes = [(0, NOTHING)]
        rows = [wishes]
        room = ROOM
        for options in reversed(ways):
            if options:
                chord = by_ways.get(id(options))
                if chord is None:
                    asks = tuple(
                        [(_asks(sharing.left, 0), _asks(sharing.right, LEFT)) for sharing in options]
                    )
                    chord = by_ways[id(options)] = chords.setdefault(asks, _Chord(asks))
                wishes = [(price, code) for code, price in _before(chord, wishes).items()]
                if len(wishes) > room:
                    wishes = _best(wishes)
                    room = max(ROOM, len(wishes) * 3 // 2)
            rows.append(wishes)
        rows.reverse()
        self.rows = rows

    def least(self, number: int, left: Code, right: Code) -> int:
        """The least price of the attacks from the given one on, with the feet standing there (ANY: unset)."""
        lefts, rights = _moves(left, LEFT), _moves(right, LETTERS - LEFT)
        return min(
            [
                price + lefts[code & LEFT_BITS] + rights[code >> RIGHT_FROM]
                for price, code in self.rows[number]
            ]
        )


def _before(chord: _Chord, wishes: list[Wish]) -> dict[Code, int]:
    """The wishes of after an attack as those of before it, by their codes."""
    found: dict[Code, int] = {}
    known, letters = chord.known, chord.letters
    price_of = found.get
    for price, code in wishes:
        mine = code & letters
        others = code ^ mine
        for more, wish in known.get(mine) or chord.before(mine):
            more += price
            wish |= others
            other = price_of(wish)
            if other is None or more < other:
                found[wish] = more
    return found
