"""When is a string free? The one definition, for the verdict (tracker.py, readings.py) and for the plan.

A pedal may move when each string of its letter is free, in every octave. There are two notions of free.

*Held*. A string is free when its key is let go, with these exceptions:
- a key let go within `overlap` after an attack counts as let go at that attack, since keyboard legato runs over
  (judgement). The latest attack counts, not an earlier one, so that no attack judged while the key was down can be
  judged otherwise later;
- a wire string is not free while it is loud ([loud] in the figures), though its key is up: a pedal that moves under
  it is heard as a growl (common practice, no source); one that the score wants damped (étouffé) is free when its
  note ends;
- a string that has died away by itself ([ring]) is free, though its key is down;
- a string that is about to be plucked again is damped by the finger that comes back to it (siba, tremolo). So for
  the change that an attack needs, a string that this attack plucks is free `damp` before the attack at the latest,
  but never sooner than `grip` after its own pluck.

The sustain pedal does not count: keyboard players hold it for colour. A glissando counts as the single plucks that
it is: which strings it passes is a matter of the hands, and of runs that are still growing.

*Sliding*. A string is free `grip` after its pluck, wanted or not, or when held would have it free if that is sooner,
loud or not. A change that only sliding allows is *audible*: another string of its letter sounds, or this one does
and is not plucked next.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from livepedal.harp import Player, Ringing

LONG_AGO = -(1 << 61)  # since when a string is free that nobody plucked
# Strings of one letter that may still sound: (key, when it was struck, when its string is free unless it is plucked
# again), in µs.
Sounding: TypeAlias = tuple[tuple[int, int, int], ...]


def same_strings(keys: int) -> int:
    """All keys that share a string of one letter with one of these (bit masks).

    Strings of a letter are octaves apart, and a pedal moves each by two semitones at the most.
    """
    return keys >> 2 | keys >> 1 | keys | keys << 1 | keys << 2


def plucked(since: int, sounding: Sounding, keys: int, moment: int) -> tuple[int, Sounding]:
    """Since when the quiet strings of a letter are free, and those that still sound, after an attack.

    A pluck ends whatever its string did before, so the plucked strings themselves are left out.

    Args:
        since: since when the quiet strings were free (µs).
        sounding: those that sounded.
        keys: plucked on this letter (a bit mask).
        moment: of the attack (µs).
    """
    if sounding:
        again = same_strings(keys)
        sounding = tuple([one for one in sounding if one[2] > moment and not again >> one[0] & 1])
    return since if since > moment else moment, sounding


def no_later(since: int, sounding: Sounding, its_since: int, its_sounding: Sounding) -> bool:
    """Whether a letter is free no later than another one, whatever is plucked next.

    Each of its strings has to be free no later than some string of the other that is not plucked again, or than the
    same string of the other.
    """
    return since <= its_since and all(
        end <= its_since or any(k == key and s >= struck and e >= end for k, s, e in its_sounding)
        for key, struck, end in sounding
    )


@dataclass(frozen=True, slots=True)
class FreeRule:
    """One player's figures for when a string is free, under one notion (`held` or `sliding` makes them).

    Attributes:
        longest: the longest time a string is in use after its pluck (µs), by MIDI number.
        loud: the shortest, key up or not (µs), by MIDI number.
        damp: how long before a pluck its string is quiet (µs); 0 if damping makes no difference.
    """

    overlap: int
    grip: int
    damp: int
    longest: tuple[int, ...]
    loud: tuple[int, ...]

    @classmethod
    def held(cls, player: Player, ringing: Ringing) -> FreeRule:
        """The rule when held counts."""
        # A change that takes longer than the finger damps must begin before, so damping does not help.
        damp = player.damp if player.damp >= player.leads[1] else 0
        return cls(
            player.overlap,
            player.grip,
            damp,
            tuple(ringing.ring(pitch) for pitch in range(128)),
            tuple(ringing.loud(pitch) for pitch in range(128)),
        )

    @classmethod
    def sliding(cls, player: Player, ringing: Ringing) -> FreeRule:
        """The rule when held does not count."""
        longest = tuple(min(ringing.ring(pitch), player.grip) for pitch in range(128))
        return cls(player.overlap, player.grip, 0, longest, (0,) * 128)

    def free(self, pitch: int, struck: int, released: int | None, latest: int, damped: bool = False) -> int:
        """When the string that gives `pitch` is free, unless it is plucked again.

        Args:
            pitch: as a MIDI number.
            struck: when it was plucked.
            released: when its key was let go or struck again, None: not yet, or never.
            latest: the latest attack at or before that, or `struck` where there is none after the pluck.
            damped: the score wants the string damped when its note ends.
        """
        longest = struck + self.longest[pitch]
        if released is None:
            return longest
        if latest > struck and released - latest <= self.overlap:
            released = latest
        loud = struck + self.loud[pitch]
        if released < loud and not damped:
            released = loud
        return released if released < longest else longest

    def damped(self, free: int, struck: int, attack: int) -> int:
        """When that string is free for a change needed by the attack at `attack`, which plucks it again.

        Args:
            free: when it would be, unless it was plucked again.
            struck: when it was plucked.
            attack: the moment of the attack.
        """
        if not self.damp:
            return free
        return min(free, max(attack - self.damp, struck + self.grip))

    def free_for(self, since: int, sounding: Sounding, keys: int, attack: int) -> int:
        """When a letter is free for a change that an attack needs.

        Args:
            since: when its quiet strings are free.
            sounding: its strings that still sound.
            keys: those that the attack plucks on it (a bit mask; 0: no string is plucked again).
            attack: the moment of the attack.
        """
        again = same_strings(keys) if self.damp else 0
        for key, struck, end in sounding:
            if end > since:
                if again >> key & 1:
                    end = self.damped(end, struck, attack)
                if end > since:
                    since = end
        return since

    def soonest(self, since: int, sounding: Sounding, attack: int) -> int:
        """When a letter is free at the soonest for an attack at `attack` or later, whatever that plucks."""
        for _, struck, end in sounding:
            if end > since:
                end = self.damped(end, struck, attack)
                if end > since:
                    since = end
        return since
