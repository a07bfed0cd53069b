"""How many strokes a second: one line in both hands, and one string again and again.

*A line.* Hands that take turns can have eight notes placed beforehand, four each, and these go off at any speed. What
goes on has a limit though neither hand alone is pressed: the last eight strokes must have taken `line` each. Notes
struck at once are two strokes, one of each hand (thirds or octaves; common practice, no source), so that it makes no
difference whether two hands strike together or in turn. A single note that turns back into the step before it, by
less than a fifth, takes `turn` more: there the hands are in each other's way (every second note of broken thirds);
farther apart each has a voice of its own. What stands in a figuration takes what that does.

*The same string.* A finger must be on its string before it plucks, and that stops what sounds; so one string is slow to
repeat, while one pitch on *two* strings goes twice as fast (common practice; Berlioz, Grand traité, p. 88: eight B♭ on
one string are ungainly, on B♭ and A♯ in turn easy; Goss, harp stomping notes). No rate in numbers was found.
- `restrike`: from one pluck of a string to its next. Two hands or two fingers take turns, so a single repeat goes fast;
- `repeat`: the average over a stretch, the last `STRETCH` plucks: those that a relaxed player plucks in a second.

Approximation: which string a note is played on is not asked. A pitch is taken to be on one string, or on both of its
own where one setting holds them together with every note that was struck in that stretch: what was before it may have
been on one string, as it was judged then. D, G and A natural have no second string. That C♮ and C♯ share one string is
left to the feet, who need longer for that than any string.

What is compared is time needed against time there was, as in placing.py, so slower is never harder and a quicker player
never does worse.
"""

from __future__ import annotations

from collections.abc import Container, Sequence
from copy import copy
from dataclasses import dataclass
from functools import cache

from livepedal.harp import HarpString, Instrument, Player, Position, Spelling
from livepedal.model.hands.placing import HandsFault, HandTrouble
from livepedal.model.hands.strokes import FIFTH, NO_STRAIN, Strains

PLACED = 8  # notes of two hands placed beforehand
STRETCH = 5
AROUND = 24  # attacks that are remembered


@dataclass(frozen=True, slots=True)
class StringFault:
    """A string that would have to be plucked again too soon.

    Attributes:
        pitch: the note.
        string: its string.
        needed, available: µs, for so many repeats (`times`).
        others: the other strings that give the note.
    """

    pitch: int
    string: HarpString
    needed: int
    available: int
    times: int
    others: tuple[Spelling, ...]


_Attack = tuple[int, tuple[int, ...], list[int]]
"""When (µs), its notes, and what each player needs for it."""


class Line:
    """The strokes of both hands together.

    Attributes:
        before: the last attacks before the open one, latest first.
        after: with it.
    """

    def __init__(self, players: Sequence[Player]) -> None:
        self.players = tuple(players)
        self.before: tuple[_Attack, ...] = ()
        self.after: tuple[_Attack, ...] = ()

    def open(self) -> None:
        """A new attack begins."""
        self.before = self.after

    def judge(
        self, pitches: tuple[int, ...], us: int, figured: Container[int], steps: Sequence[int], since: int
    ) -> Strains:
        """The strain on each player of the open attack.

        Args:
            pitches: its notes, upwards.
            us: its moment (µs).
            figured: the notes of figurations that it belongs to.
            steps: what a stroke of those takes each player (µs).
            since: when they began (µs); their notes from then on take as much.
        """
        before, turns = self.before, False
        if len(pitches) == 1 and len(before) > 1 and len(before[0][1]) == 1 and len(before[1][1]) == 1:
            (note,), (last,), (first,) = pitches, before[0][1], before[1][1]
            step, back = last - first, last - note
            turns = 0 < step * back < step * step and abs(back) < FIFTH
        each = [min(len(pitches), 2) * player.line + turns * player.turn for player in self.players]
        after = ((us, pitches, each), *before[: PLACED - 1])
        if since <= us:
            after = tuple([self._figured(one, figured, steps) if one[0] >= since else one for one in after])
        self.after = after
        if len(before) < PLACED:
            return NO_STRAIN
        available = self._available(us)
        return tuple([sum(needed) / available for needed in zip(*[e for _, _, e in after], strict=True)])

    def _figured(self, attack: _Attack, figured: Container[int], steps: Sequence[int]) -> _Attack:
        """An attack some of whose notes stand in figurations."""
        us, pitches, each = attack
        strokes = min(sum([pitch not in figured for pitch in pitches]), 2)
        if strokes == len(pitches):
            return attack
        lines = [strokes * player.line + step for player, step in zip(self.players, steps, strict=True)]
        return us, pitches, list(map(min, each, lines))

    def _available(self, us: int) -> int:
        return max(us - self.before[-1][0], 1)

    def fault(self, pitches: tuple[int, ...], us: int, number: int) -> HandsFault:
        """Why the player of this number cannot play the open attack."""
        needed = sum(attack[2][number] for attack in self.after)
        return HandsFault(HandTrouble.LINE, False, pitches, needed, self._available(us), 0, PLACED)


class Strings:
    """The strings that were plucked lately, by the notes that they gave."""

    def __init__(self, players: Sequence[Player], instrument: Instrument) -> None:
        self.players = tuple(players)
        self._spellings = tuple(instrument.spellings(pitch) for pitch in range(128))
        self._plucks: dict[int, tuple[int, ...]] = {}  # by pitch (µs), latest first, before the open attack
        # When the last attacks were (µs), and their pitch classes (bit masks), latest first
        self._around: tuple[tuple[int, int], ...] = ()
        self._us = 0
        self._open: dict[int, int] = {}  # those of the open attack
        self._worst_pitch = 0
        self._figuration: frozenset[int] = frozenset()

    def fork(self) -> Strings:
        """A copy that goes its own way."""
        twin = copy(self)
        twin._plucks, twin._open = dict(self._plucks), dict(self._open)
        return twin

    def open(self) -> None:
        """A new attack begins."""
        for pitch, us in self._open.items():
            if pitch in self._figuration:
                self._plucks.pop(pitch, None)  # a figuration is over with its last note
            self._plucks[pitch] = (us, *self._plucks.get(pitch, ())[: 2 * STRETCH - 3])
        if self._open:
            self._around = ((self._us, _mask(self._open)), *self._around[: AROUND - 1])
        self._open = {}

    def strike(self, pitch: int, us: int) -> None:
        """A note of the open attack is plucked (µs). One that no string gives plucks none."""
        if self._spellings[pitch]:
            self._open[pitch] = self._us = us

    def take_back(self) -> None:
        """No note of the open attack was plucked."""
        self._open = {}

    def judge(self, figuration: frozenset[int]) -> Strains:
        """The strain on each player of the open attack, less what stands in figurations."""
        self._figuration = figuration
        worst = NO_STRAIN
        for pitch in self._open:
            if pitch in self._plucks and pitch not in figuration:
                strains = [max(need / gap for need, gap, _ in self._needs(pitch, p)) for p in self.players]
                if strains[1] >= worst[1]:
                    self._worst_pitch = pitch
                worst = tuple(map(max, strains, worst))
        return worst

    def _needs(self, pitch: int, player: Player) -> list[tuple[int, int, int]]:
        """(needed, available, repeats in that time), µs, of one note of the open attack."""
        us, plucks = self._open[pitch], self._plucks[pitch]
        found = [(0, 1, 1)]
        for needed, back in ((player.restrike, 1), ((STRETCH - 1) * player.repeat, STRETCH - 1)):
            if len(plucks) < back:
                break
            available = max(us - plucks[back - 1], 1)
            # On two strings in turn, each of them had twice as many plucks ago its last.
            if needed > available and self._doubled(pitch, plucks[back - 1]):
                if len(plucks) < 2 * back:
                    continue
                available = max(us - plucks[2 * back - 1], 1)
            found.append((needed, available, back))
        return found

    def _doubled(self, pitch: int, since: int) -> bool:
        """Whether a setting holds both strings of a pitch with all that was struck since then (µs)."""
        if len(self._spellings[pitch]) < 2:
            return False
        mask = _mask(self._open)
        for us, struck in self._around:
            if us >= since:
                mask |= struck
        return doubled(pitch % 12, mask)

    def fault(self, number: int) -> StringFault:
        """Why the player of this number cannot play the open attack."""
        pitch = self._worst_pitch
        needed, available, times = max(self._needs(pitch, self.players[number]), key=lambda n: n[0] / n[1])
        first, *others = self._spellings[pitch]
        return StringFault(pitch, first.string, needed, available, times, tuple(others))


def _mask(pitches: Sequence[int] | dict[int, int]) -> int:
    mask = 0
    for pitch in pitches:
        mask |= 1 << pitch % 12
    return mask


@cache
def doubled(pitch_class: int, mask: int) -> bool:
    """Whether one setting has two letters on a pitch class and every other one of `mask` on some letter.

    Bit 0 of the mask is C.
    """
    naturals = (2, 0, 11, 4, 5, 7, 9)  # D C B E F G A
    on = [n for n, natural in enumerate(naturals) if any((natural + p) % 12 == pitch_class for p in Position)]
    if len(on) < 2:
        return False

    def hold(classes: tuple[int, ...], free: frozenset[int]) -> bool:
        if not classes:
            return True
        return any(
            hold(classes[1:], free - {letter})
            for letter in free
            if any((naturals[letter] + position) % 12 == classes[0] for position in Position)
        )

    rest = tuple(one for one in range(12) if mask >> one & 1 and one != pitch_class)
    return hold(rest, frozenset(range(7)) - frozenset(on[:2]))
