"""A part prepared for the search for its plan, once for all players.

Of each attack that is: the ways to put its notes on strings (chords.py) with what they cost in names, the cheapest
first; when its strings are free; and the least that all from it on costs, were there time for every change.

That least is soon told, since a name costs more than every change there is: whatever is cheapest in the end takes the
names that cost the least at each attack, and then its letters have to go where these want them. So of each letter only
the position that is wanted next matters, and the changes from there on. Where an attack leaves it open how a letter is
used, the letter counts one change at most from the use before to the use after it. A path that takes other names costs
a name more, and that is more than all of this.
"""

from __future__ import annotations

from array import array
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import NamedTuple, TypeAlias

from livepedal.harp import Pedal, Player, Ringing, Spelling, fifths
from livepedal.model.feet.chords import RIGHT_FIRST_PEDAL, Chords, Narrowing, Sharing, Way, pitches_of
from livepedal.model.feet.free import FreeRule
from livepedal.model.feet.letters import UNSET
from livepedal.model.plan.prices import CHANGE, NAME, SOUND, respelt, step
from livepedal.model.plan.stands import FootPedals, Stand
from livepedal.music import ordinary
from livepedal.music.attacks import Gathered

# For each pitch of an attack: when its string is free when held counts, and when it does not (µs).
Frees: TypeAlias = dict[int, tuple[int, int]]
# (position that a letter has to go to next or UNSET, whether a use before that leaves its position open)
_Next: TypeAlias = tuple[int, bool]


ENHARMONIC = 12  # fifths between two names of one pitch class, such as G♯ and A♭
MIDDLE_NAME = 2  # D, the middle of the names from F♭ to B♯


class Choice(NamedTuple):
    """A way to put all notes of an attack on strings. price: of its names, and of how open its strings are."""

    price: int
    left: Way
    right: Way


class Music:
    """The attacks of a part as a search needs them, for any player.

    Attributes:
        chords: of the instrument.
    """

    def __init__(
        self,
        attacks: Sequence[Gathered],
        chords: Chords,
        ringing: Ringing,
        asked: Mapping[int, Narrowing] | None = None,
        written: Sequence[int] | None = None,
    ) -> None:
        self.attacks = attacks
        self.chords = chords
        self.asked = asked
        self.moments = array("q", [attack.us for attack in attacks])
        self.ringing = ringing
        if written is None:
            written = ordinary.written(attacks)
        self.written = written
        # For each attack: its choices, whether these leave out pitches that no setting holds with the others, and all
        # pitches left out, those that no string gives among them.
        self.choices: list[tuple[Choice, ...]] = []
        self.left_out: list[bool] = []
        self.out: list[tuple[int, ...]] = []
        # By the ways (their id, which stays theirs while they are kept) and the written names of a chord.
        known: dict[tuple[int, tuple[tuple[int, int], ...]], tuple[Sequence[Sharing], tuple[Choice, ...]]] = {}
        names = iter(written)
        for attack in attacks:
            there = chords.narrowed(asked.get(attack.us, ())) if asked else chords
            strung = [pitch for pitch, _ in attack.notes if there.options[pitch] is not None]
            ways, left_out = there.most_of(strung)
            named = tuple([(pitch, next(names)) for pitch, _ in attack.notes])
            chord = id(ways), named
            if chord not in known:
                known[chord] = ways, _choices(ways, {pitch: fifths.strings(fifth) for pitch, fifth in named})
            self.choices.append(known[chord][1])
            self.left_out.append(bool(left_out))
            self.out.append(
                (*[pitch for pitch, _ in attack.notes if there.options[pitch] is None], *left_out)
            )
        self.groups = (
            FootPedals(0, RIGHT_FIRST_PEDAL),
            FootPedals(RIGHT_FIRST_PEDAL, len(Pedal) - RIGHT_FIRST_PEDAL),
        )
        self._frees: dict[tuple[int, int], FreeTimes] = {}
        self._look_ahead()

    def departs(self, spellings: Sequence[Sequence[Spelling | None]]) -> bool:
        """Whether most notes have other names than the written ones."""
        spelled = [one for attack in spellings for one in attack]
        other = [
            spelling is not None and (spelling.pedal, spelling.position) not in fifths.strings(fifth)
            for spelling, fifth in zip(spelled, self.written, strict=True)
        ]
        return 2 * sum(other) > len(other)

    def renamed(self) -> Music:
        """The same with all names a diminished second away, towards those with fewer accidentals."""
        away = -ENHARMONIC if sum(self.written) > MIDDLE_NAME * len(self.written) else ENHARMONIC
        names = [fifth + away for fifth in self.written]
        return Music(self.attacks, self.chords, self.ringing, self.asked, names)

    def frees(self, player: Player) -> FreeTimes:
        """For each attack when its notes' strings are free, for this player."""
        key = player.overlap, player.grip
        known = self._frees.get(key)
        if known is None:
            known = self._frees[key] = FreeTimes(self.attacks, player, self.ringing)
        return known

    def _look_ahead(self) -> None:
        # For each attack the least that it costs, with the first changes after it; and what each foot's letters want
        # next, before the first and after each. Equal ones are one object.
        self.least: list[int] = []
        self.wanted: list[tuple[tuple[_Next, ...], tuple[_Next, ...]]] = []
        wants: list[_Next] = [(UNSET, False)] * len(Pedal)
        feet = tuple(wants[:RIGHT_FIRST_PEDAL]), tuple(wants[RIGHT_FIRST_PEDAL:])
        known, prices = {feet: feet}, {0: 0}
        for choices in reversed(self.choices):
            self.wanted.append(feet)
            price = choices[0].price
            if not choices[0].left and not choices[0].right:
                self.least.append(price)
                continue
            least = choices[0].price // NAME
            uses: dict[int, set[int]] = {}
            number = 0
            for names, left, right in choices:
                if names // NAME > least:
                    break
                number += 1
                for way, first in ((left, 0), (right, RIGHT_FIRST_PEDAL)):
                    for index, position, _ in way:
                        uses.setdefault(first + index, set()).add(position)
            common = number == 1
            for pedal, positions in uses.items():
                if common or (len(positions) == 1 and _all_use(choices[:number], pedal)):
                    (position,) = positions
                    price += _least(position, wants[pedal])
                    wants[pedal] = position, False
                else:
                    wants[pedal] = wants[pedal][0], True
            self.least.append(prices.setdefault(price, price))
            feet = tuple(wants[:RIGHT_FIRST_PEDAL]), tuple(wants[RIGHT_FIRST_PEDAL:])
            feet = known.setdefault(feet, feet)
        self.wanted.append(feet)
        self.least.reverse()
        self.wanted.reverse()

    def ahead(self, number: int, foot: int, stand: Stand) -> int:
        """What the first changes of a foot (0 or 1) that stands so cost at the least, from this attack on."""
        price = 0
        for stands, wanted in zip(stand.positions, self.wanted[number][foot]):  # noqa: B905, as long
            if stands != wanted[0] and stands != UNSET:
                price += _least(stands, wanted)
        return price


def _choices(
    ways: Sequence[Sharing], allowed: Mapping[int, tuple[tuple[int, int], ...]]
) -> tuple[Choice, ...]:
    """The ways of a chord with their prices, the cheapest first."""
    found = []
    for sharing in ways:
        lefts = [(way, *_names(way, 0, allowed)) for way in sharing.left]
        rights = [(way, *_names(way, RIGHT_FIRST_PEDAL, allowed)) for way in sharing.right]
        for left, other, count, stopped in lefts:
            for right, more, its, its_stopped in rights:
                price = NAME * respelt(other + more, count + its) + SOUND * (stopped + its_stopped)
                found.append(Choice(price, left, right))
    return tuple(sorted(found, key=lambda choice: choice.price))


def _names(way: Way, first: int, allowed: Mapping[int, tuple[tuple[int, int], ...]]) -> tuple[int, int, int]:
    """How many notes of a way have another name than the written one, how many it has, and how far they are stopped."""
    other = count = stopped = 0
    for index, position, keys in way:
        for pitch in pitches_of(keys):
            count += 1
            stopped += position + 1
            other += (first + index, position) not in allowed[pitch]
    return other, count, stopped


def _all_use(choices: Sequence[Choice], pedal: int) -> bool:
    if pedal < RIGHT_FIRST_PEDAL:
        return all(any(index == pedal for index, _, _ in choice.left) for choice in choices)
    return all(any(index == pedal - RIGHT_FIRST_PEDAL for index, _, _ in choice.right) for choice in choices)


def _least(stands: int, wanted: _Next) -> int:
    """The least price of a letter's way to where it is wanted next."""
    position, unsure = wanted
    if position in (stands, UNSET):
        return 0
    return CHANGE if unsure else step(stands, position)


class FreeTimes:
    """For each attack, pitch to (free when held counts, free when it does not), in µs.

    No string counts as plucked again (free.py). Kept as two integers a note; the attack that was looked at last is at
    hand.
    """

    def __init__(self, attacks: Sequence[Gathered], player: Player, ringing: Ringing) -> None:
        moments = array("q", [attack.us for attack in attacks])
        rules = FreeRule.held(player, ringing), FreeRule.sliding(player, ringing)
        again: dict[int, int] = {}
        self._pitches = bytearray()
        self._free = array("q"), array("q")
        self._begins = array("Q", [0])
        for attack in reversed(attacks):
            us, damped = attack.us, attack.damped
            for pitch, release in attack.notes:
                struck_again = again.get(pitch)
                if struck_again is not None and (release is None or release > struck_again):
                    release = struck_again
                latest = us if release is None else moments[bisect_right(moments, release) - 1]
                again[pitch] = us
                self._pitches.append(pitch)
                for free, rule in zip(self._free, rules, strict=True):
                    free.append(rule.free(pitch, us, release, latest, pitch in damped))
            self._begins.append(len(self._pitches))
        self._at: tuple[int, Frees] = -1, {}

    def __getitem__(self, number: int) -> Frees:
        known, there = self._at
        if number != known:
            place = len(self._begins) - 2 - number
            here = slice(self._begins[place], self._begins[place + 1])
            held, sliding = self._free
            there = dict(zip(self._pitches[here], zip(held[here], sliding[here], strict=True), strict=True))
            self._at = number, there
        return there
