"""How fast can it be? The fastest tempo at which a player manages some music, by halving.

Slower is never worse (a law of the model, tests/model, where keys are let go with the attack that they overlap:
trial.py), so between a tempo that is too fast and one that is not lies a border, and halving finds it. The gathered
attacks are stretched; flick, cycle and the ringing of strings stay in real time, since feet and strings know nothing
of the tempo. Tempos are whole per cents of the
written one (finer ones below half of it); the one that is told was judged and found playable, and one step
more was judged too, and was not.

A tempo that only just works on paper is none for a hand, whose notes come a little early and late ([tempo] of
figures.toml). So the one that is told is slower by so much that the time which the first trouble beyond the border
needs is there even where it begins late and ends early.

Under half the tempo it is other music, and no remedy any more (design: "hard however you do it").
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from livepedal.advice.judging.stretch import WRITTEN, Stretch
from livepedal.advice.remedies.trial import Trial
from livepedal.model.monitor import Monitor

HALF = WRITTEN // 2  # the slowest that is still a remedy
SLOWEST = 120  # slower is not looked for: about an eighth
STEP = 10  # whole per cents down to half the tempo
FINE = 2  # below, where a whole per cent would be too coarse a share


@dataclass(frozen=True, slots=True)
class PlayerTempo:
    """How fast one player manages something. `speed`: thousandths of the written tempo; None: not even at
    the slowest that was tried. `audible`: attacks that are played only with an audible pedal change then.
    """

    player: str
    speed: int | None
    audible: int = 0

    @property
    def ratio(self) -> Fraction | None:
        return None if self.speed is None else Fraction(self.speed, WRITTEN)

    @property
    def sensible(self) -> bool:
        """Whether that tempo is still within musical sense: at least half of what is written."""
        return self.speed is not None and self.speed >= HALF

    def bpm(self, written: Fraction) -> int | None:
        """The metronome mark (quarters a minute), rounded down, as slower is never worse."""
        return None if self.speed is None else metronome_mark(written * self.speed / WRITTEN)


def metronome_mark(quarters: Fraction) -> int:
    """Quarters a minute as a whole number, rounded down: slower is never worse.

    A written tempo is whole microseconds a quarter, so that 84 is 83.99996 in a file; that much is forgiven.
    """
    return int(quarters + Fraction(1, 1000))


def with_margin(speed: int, needed: int, uneven: int) -> int:
    """A slower speed (thousandths) than this one, which leaves no more time than what is needed (µs): with room for a
    hand that is uneven by so much (µs).
    """
    if not needed or speed >= WRITTEN:
        return speed
    step = STEP if speed >= HALF else FINE
    return speed * needed // (needed + 2 * uneven) // step * step


def fastest(
    manages: Callable[[int], bool],
    lowest: int = SLOWEST,
    *,
    known: int | None = None,
    guess: int | None = None,
    tried: bool = False,
) -> int | None:
    """The highest speed that `manages`.

    Args:
        manages: whether a speed (thousandths of the written tempo) will do.
        known: a speed that is known to be managed.
        guess: one that is likely to be the answer.
        tried: the written tempo is known not to be managed.

    Returns:
        At most the written tempo; None: not even `lowest`.
    """
    if not tried and manages(WRITTEN):
        return WRITTEN
    low, high = known, WRITTEN
    if guess is not None and HALF <= guess < WRITTEN and (known is None or guess > known):
        if not manages(guess):
            high = guess
        elif guess + STEP == WRITTEN or not manages(guess + STEP):
            return guess
        else:
            low = guess + STEP
    if low is None:
        for slow in dict.fromkeys((HALF, lowest)):
            if slow < high:
                if manages(slow):
                    low = slow
                    break
                high = slow
        else:
            return None
    step = STEP if low >= HALF else FINE
    while high - low > step:
        middle = (low + high) // 2 // step * step
        if manages(middle):
            low = middle
        else:
            high = middle
    return low


def tempos_in_place(
    trial: Trial,
    before: Monitor,
    first: int,
    until: int,
    start: int,
    end: int | None,
    *,
    guess: int | None = None,
    plays: Sequence[bool] | None = None,
    lowest: int = HALF,
) -> tuple[PlayerTempo, ...]:
    """How fast some music can be in its place, for each of the three players, the relaxed first, with room for an
    uneven hand. What a slower player manages, a quicker one manages too.

    Args:
        before: the monitor of all players just before the attack `first`, which is not before `start`.
        until: the attack where judging stops.
        start, end: of the music (µs).
        guess: a speed that the player of the trial is likely to manage.
        plays: who is known to manage the written tempo, and who not.
    """
    found: list[PlayerTempo] = []
    known: int | None = None
    for number, player in enumerate(trial.players):
        own = before.alone(number)

        def manages(speed: int, own: Monitor = own) -> bool:
            stretch = Stretch(start, end, speed)
            return trial.first_trouble(own, first, until, stretch=stretch) is None

        if plays is not None and plays[number]:
            known = WRITTEN
        elif known != WRITTEN:
            likely = guess if number == trial.number else None
            known = fastest(manages, lowest, known=known, guess=likely, tried=plays is not None)
        audible, told = 0, known
        if known is not None and known < WRITTEN:
            above = Stretch(start, end, known + (STEP if known >= HALF else FINE))
            needed = trial.needed(own, first, until, above)
            told = with_margin(known, needed, trial.figures.tempo.uneven)
            if found and found[-1].speed is not None:
                told = max(told, found[-1].speed)  # what a slower player manages
            if told >= HALF:
                audible, _ = trial.heard(before, first, first, until, Stretch(start, end, told), number)
        found.append(PlayerTempo(player.name, told, audible))
    return tuple(found)


def part_tempos(
    trial: Trial, guess: int | None = None, plays: Sequence[bool] | None = None, lowest: int = HALF
) -> tuple[PlayerTempo, ...]:
    """How fast each player manages the whole, from where it begins."""
    before = trial.everybody(trial.setting)
    end = len(trial.attacks)
    return tempos_in_place(
        trial, before, 0, end, trial.begin_us, None, guess=guess, plays=plays, lowest=lowest
    )
