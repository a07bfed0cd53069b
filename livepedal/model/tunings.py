"""Strings without a pedal: they sound as they are tuned, and only a long break lets anybody retune them by hand.

C1 and D1 have no pedal, on many harps nor has the top G (Volpé Bligh, item 3; harp/figures.toml). They
start as the harp's figures say. In a break, when nothing is played for long enough ([window] retune), the
player can take the tuning key; then such a string may stand a semitone higher or lower from there on. Which
of them is retuned may be open (C1 up or D1 down for C♯1), so all the tunings that are possible are kept.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product

from livepedal.harp import Instrument, Position, Spelling

# The position of each string without a pedal, None where it has not been needed since the last break
Tuning = tuple[Position | None, ...]


class Tunings:
    """How the strings without pedals of one harp may be tuned, attack by attack."""

    def __init__(self, instrument: Instrument) -> None:
        self.fixed = instrument.fixed
        pedalled = {
            pitch for pitch in range(128) if any(not one.fixed for one in instrument.spellings(pitch))
        }
        # For each pitch that only such strings can give, whatever their tuning: which of them, and how tuned.
        self._options: dict[int, tuple[tuple[int, Position], ...]] = {}
        for pitch in range(128):
            options = tuple(
                (number, Position(pitch - one.string.natural))
                for number, one in enumerate(self.fixed)
                if abs(pitch - one.string.natural) <= 1
            )
            if options and pitch not in pedalled:
                self._options[pitch] = options
        self.start()

    def start(self) -> None:
        """All strings tuned as the harp's figures say."""
        self.before: frozenset[Tuning] = frozenset({tuple(one.position for one in self.fixed)})
        self.after = self.before
        self._used: dict[tuple[int, Position], int] = {}

    def fork(self) -> Tunings:
        """A copy that goes its own way."""
        copy = object.__new__(Tunings)
        copy.__dict__.update(self.__dict__)
        copy._used = dict(self._used)
        return copy

    def open(self, *, after_break: bool) -> None:
        """A new attack begins, perhaps after a break that was long enough to retune."""
        self.before = frozenset({(None,) * len(self.fixed)}) if after_break else self.after

    def judge(self, pitches: Iterable[int], moment: int) -> list[int]:
        """Of the attack's pitches those that need another tuning of a string without a pedal than it has."""
        wrong: list[int] = []
        states = self.before
        mine: list[int] = []
        for pitch in pitches:
            if pitch in self._options:
                more = self._tuned(self.before, [*mine, pitch])
                if more:
                    states = more
                    mine.append(pitch)
                else:
                    wrong.append(pitch)
        self.after = states
        for pitch in mine:
            for option in self._options[pitch]:
                if any(state[option[0]] is option[1] for state in states):
                    self._used[option] = moment
        return wrong

    def _tuned(self, states: frozenset[Tuning], pitches: list[int]) -> frozenset[Tuning]:
        found: set[Tuning] = set()
        for choice in product(*(self._options[pitch] for pitch in pitches)):
            if len({number for number, _ in choice}) < len(choice):
                continue  # two pitches on one string
            for state in states:
                if all(state[number] in (None, position) for number, position in choice):
                    tuned = list(state)
                    for number, position in choice:
                        tuned[number] = position
                    found.add(tuple(tuned))
        return frozenset(found)

    def gives(self, pitch: int) -> bool:
        """Whether a string without a pedal can be tuned to this pitch."""
        return pitch in self._options

    def against(self, pitch: int) -> tuple[tuple[Spelling, Position, int | None], ...]:
        """What stands against a pitch: how each string without a pedal would give it, how that is tuned, and
        when (µs) it was last needed so; None: it has stood so from the start.
        """
        found = []
        for number, position in self._options.get(pitch, ()):
            wanted = Spelling(self.fixed[number].string, position, fixed=True)
            for other in {state[number] for state in self.before} - {None, position}:
                assert other is not None
                found.append((wanted, other, self._used.get((number, other))))
        return tuple(found)
