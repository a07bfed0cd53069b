"""A second harp for weight: whoever rests doubles the other in octaves, where that can be played."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from livepedal.advice.two_harps.chair import Chair
from livepedal.advice.two_harps.dealing import Dealer, play
from livepedal.advice.two_harps.score import Sounded
from livepedal.advice.two_harps.turns import BOTH, Turn, dealt
from livepedal.harp import Instrument
from livepedal.music.attacks import Gathered

MIDDLE_C = 60


def doublings(
    dealer: Dealer, turns: Sequence[Turn], instrument: Instrument, seam: int
) -> Iterator[tuple[int, Sounded]]:
    """Octaves that the resting player adds to whole turns, and who that is.

    They lie below the lowest note where that is a bass, else above the highest. A turn shorter than `seam` (µs) has
    none, nor one that would make the player's own next turn harder.
    """
    chairs = dealer.chairs()
    for place, turn in enumerate(turns):
        idle = 1 - turn.who
        if turn.who != BOTH and turn.lasts >= seam:
            octaves = [_octave(dealer, number, instrument) for number in range(turn.first, turn.stop)]
            extra = [octave for octave in octaves if octave]
            doubles = [Gathered(one.us, ((one.pitch, one.end),)) for one in extra]
            following = next((one for one in turns[place + 1 :] if one.who in (idle, BOTH)), None)
            own = list(dealt(dealer.attacks, following, idle)) if following else []
            if _faults(chairs[idle], [*doubles, *own]) <= _faults(chairs[idle], own):
                for double in doubles:
                    chairs[idle].play(double)
                yield from ((idle, one) for one in extra)
        play(chairs, dealer.attacks, turn)


def _faults(chair: Chair, attacks: Iterable[Gathered]) -> tuple[int, int]:
    trial = chair.fork()
    for attack in attacks:
        trial.play(attack)
    return trial.faults()[:2]


def _octave(dealer: Dealer, number: int, instrument: Instrument) -> Sounded | None:
    """The octave that is added to an attack, if a string gives it."""
    attack = dealer.attacks[number]
    (low, low_end), (high, high_end) = attack.notes[0], attack.notes[-1]
    if low < MIDDLE_C and instrument.spellings(low - 12):
        pitch, end = low - 12, low_end
    elif instrument.spellings(high + 12):
        pitch, end = high + 12, high_end
    else:
        return None
    return Sounded(number, attack.us, dealer.part.end_us if end is None else end, pitch)
