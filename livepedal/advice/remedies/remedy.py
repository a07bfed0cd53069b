"""A remedy, and what is said of a place, a passage and a part: values, found by search.py, told by telling.py."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from livepedal.advice.remedies.second import SecondHarp
from livepedal.advice.remedies.tempo import PlayerTempo
from livepedal.harp import Instrument, Setting


class RemedyKind(StrEnum):
    """The words stand in the JSON and are documented in the manual."""

    SETTING = "setting"  # another setting at the start
    SPELLING = "spelling"  # another spelling than the one that was asked for
    GLISSANDO = "glissando"  # a quick line as a glissando, without the notes that its setting has not
    REST = "rest"  # a longer rest before the passage
    TEMPO = "tempo"
    OCTAVE = "octave"  # notes an octave away
    OMIT = "omit"  # notes left out
    SECOND_HARP = "second-harp"  # another player takes over some of it


@dataclass(frozen=True, slots=True)
class ChangedNote:
    """A note (moment in µs, MIDI pitch) that is left out (`to` is None) or goes to another pitch."""

    us: int
    pitch: int
    to: int | None = None


@dataclass(frozen=True, slots=True)
class Remedy:
    """One change that makes a place playable.

    Attributes:
        start, end: the music that it changes (µs).
        ratio: the tempo, as a share of the written one.
        limit: the moment (µs) of the attack that sets the limit, and the share at which it is only just in time.
        audible: attacks that still need an audible pedal change.
        quiet: the fastest tempo without one, if it is still a remedy.
        setting: the setting to start with.
        asked: the setting that was asked for.
        longer: how much longer the rest is (µs).
        notes: the notes that change.
        second: what a second harp plays.
        others: attacks of the passage (of a tempo: of the same bars) that cannot be played either as this would have
            it.
    """

    kind: RemedyKind
    start: int
    end: int
    cost: Fraction
    ratio: Fraction | None = None
    limit: tuple[int, Fraction] | None = None
    audible: int = 0
    quiet: Fraction | None = None
    setting: Setting | None = None
    asked: Setting | None = None
    longer: int | None = None
    notes: tuple[ChangedNote, ...] = ()
    second: SecondHarp | None = None
    others: int = 0


@dataclass(frozen=True, slots=True)
class Hard:
    """No remedy: the tempo at which it could be played is too slow to be one, or only the melody could give way.

    Attributes:
        speed: thousandths of the tempo at which the player would manage, below half; None: not even at an eighth.
        melody: notes of the melody, or struck alone, without which it could be played.
    """

    speed: int | None
    melody: tuple[ChangedNote, ...] = ()


@dataclass(frozen=True, slots=True)
class PlaceAdvice:
    """One place: from `start` to `end` (µs), the moments of its troubles, its remedies (cheapest first).

    Attributes:
        hard: what is to be said where the tempo is no remedy; without any remedy, all that is to be said.
        too_much: the trouble is not an attack, but too much at once from its moment on.
    """

    start: int
    end: int
    troubles: tuple[int, ...]
    remedies: tuple[Remedy, ...]
    hard: Hard | None = None
    too_much: bool = False

    @property
    def one_harp(self) -> bool:
        """Whether there is a remedy without a second harp."""
        return any(remedy.kind is not RemedyKind.SECOND_HARP for remedy in self.remedies)

    @property
    def slowness(self) -> tuple[Fraction, int]:
        """For comparing places by their best remedy: a slower tempo before a faster one, more music before less."""
        best = self.remedies[0] if self.remedies else None
        if best is None or best.ratio is None:
            return Fraction(1), 0
        return best.ratio, best.start - best.end

    def mends(self, other: PlaceAdvice) -> bool:
        """Whether its best remedy, a tempo, makes another place playable too, since slower is never harder."""
        ratio, _ = self.slowness
        return ratio < 1 and any(
            one.ratio is not None
            and ratio <= one.ratio
            and self.remedies[0].start <= one.start
            and one.end <= self.remedies[0].end
            for one in other.remedies
        )


@dataclass(frozen=True, slots=True)
class PassageAdvice:
    """A passage that the player cannot play: how fast each player manages it as a whole, and its places."""

    start: int
    end: int
    tempos: tuple[PlayerTempo, ...]
    places: tuple[PlaceAdvice, ...]

    @property
    def remedies(self) -> tuple[Remedy, ...]:
        """Those of all its places."""
        return tuple(remedy for place in self.places for remedy in place.remedies)


@dataclass(frozen=True, slots=True)
class PartAdvice:
    """A whole part: how fast each player manages it all, and the passages in trouble.

    Attributes:
        freed: all of it is said of the spelling that livepedal finds, though another was asked for.
    """

    player: str
    instrument: Instrument
    tempos: tuple[PlayerTempo, ...]
    passages: tuple[PassageAdvice, ...]
    freed: bool = False
