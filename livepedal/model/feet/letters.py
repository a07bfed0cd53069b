"""One letter of a foot: where its pedal stands, and when its strings are free (free.py has the rule).

Which strings an attack plucks again, and so damps beforehand, nobody knows before that attack. So a letter keeps apart:
since when its quiet strings are free; the keys that still hold a string; and its `late` strings, whose keys are up but
which came free so lately that damping may matter to an attack that is still to come. A late string that was free `damp`
before an attack, or before a later pluck of the letter, is a quiet one. Nothing is lost by that: damped it would be
free no sooner, and nothing of this letter moves before its last pluck.
"""

from __future__ import annotations

from typing import TypeAlias

from livepedal.model.feet.free import LONG_AGO, FreeRule, Sounding, plucked, same_strings

UNSET = 2  # the position of a letter that was not used: it may have been set before the start

# (position or UNSET, since when its quiet strings are free (µs), bit mask of the keys that hold one, its late strings)
Letter: TypeAlias = tuple[int, int, int, Sounding]

FRESH: Letter = (UNSET, LONG_AGO, 0, ())


def after_pluck(letter: Letter, position: int, keys: int, moment: int) -> Letter:
    """The letter after an attack at `moment` (µs) that plucks these keys on it: what its other strings did goes on."""
    _, since, held, late = letter
    since, late = plucked(since, late, keys, moment)
    return position, since, held & ~same_strings(keys) | keys if held else keys, late


class LetterRules:
    """When the letters of one player's feet are free.

    Attributes:
        free: when strings are free, by the player's figures and one of the two notions.
        struck: for each key (MIDI number) when it was struck last (µs).
    """

    def __init__(self, free: FreeRule, struck: list[int]) -> None:
        self.free = free
        self.struck = struck

    def sounding(self, letter: Letter) -> Sounding:
        """Its strings that may still sound. One whose key is down is free when it has died away, as far as is known."""
        _, _, held, late = letter
        if not held:
            return late
        found = list(late)
        struck, longest = self.struck, self.free.longest
        while held:
            bit = held & -held
            held ^= bit
            key = bit.bit_length() - 1
            found.append((key, struck[key], struck[key] + longest[key]))
        return tuple(found)

    def free_since(self, letter: Letter) -> int:
        """When its strings are free (µs), as far as is known, if none is plucked again."""
        return self.free.free_for(letter[1], self.sounding(letter), 0, 0)

    def free_for(self, letter: Letter, keys: int, moment: int) -> int:
        """The same for the change that an attack at `moment` (µs) needs, which plucks these keys (a bit mask) on it."""
        return self.free.free_for(letter[1], self.sounding(letter), keys, moment)

    def let_go(self, letter: Letter, released: dict[int, int]) -> Letter:
        """The letter after keys were released: key to the time since when its string is free (µs)."""
        position, since, keys, late = letter
        for key, moment in released.items():
            if keys >> key & 1:
                keys ^= 1 << key
                if moment > since:
                    # One released within the grip would not be free sooner if damped.
                    if self.free.damp and moment > self.struck[key] + self.free.grip:
                        late = *late, (key, self.struck[key], moment)
                    else:
                        since = moment
        return position, since, keys, tuple(sorted(late)) if len(late) > 1 else late

    def between(self, letter: Letter, moment: int) -> tuple[Letter, int, int]:
        """The letter for attacks at `moment` (µs) and later, when it is free for them, and when at the soonest.

        The soonest holds whatever they pluck.
        Strings that have died away are quiet, though their keys are down, and so are late ones that damping does not
        concern any more.
        """
        position, since, keys, late = letter
        sounding = self.sounding(letter)
        before = moment - self.free.damp
        for key, _, end in sounding:
            if end <= before:
                keys &= ~(1 << key)
                if end > since:
                    since = end
        if late:
            late = tuple([one for one in late if one[2] > since])
        free = self.free.free_for(since, sounding, 0, 0)
        return (position, since, keys, late), free, self.free.soonest(since, sounding, moment)
