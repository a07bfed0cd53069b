"""How fast can it be? The fastest tempo at which a player manages some music, by halving.

Slower is never worse (a law of the model, tests/model), so between a tempo that is too fast and one that is
not lies a border, and halving finds it. The gathered attacks are stretched; flick, cycle and the ringing of
strings stay in real time, since feet and strings know nothing of the tempo. Tempos are whole per cents of
the written one (finer ones below half of it); the one that is told was judged and found playable, and one
step more was judged too, and was not.

Under half the tempo it is other music, and no remedy any more (design: "hard however you do it").
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from livepedal.advice.trial import WRITTEN, Stretch, Trial
from livepedal.harp import Figures, Instrument, Setting
from livepedal.model.findings import Layer
from livepedal.model.monitor import Monitor
from livepedal.music.attacks import Gathered

HALF = WRITTEN // 2  # the slowest that is still a remedy
SLOWEST = 120  # slower is not looked for: about an eighth
STEP = 10  # whole per cents down to half the tempo
FINE = 2  # below, where a whole per cent would be too coarse a share


@dataclass(frozen=True, slots=True)
class PlayerTempo:
    """How fast one player manages something. `speed`: thousandths of the written tempo; None: not even at
    an eighth of it."""

    player: str
    speed: int | None

    @property
    def ratio(self) -> Fraction | None:
        return None if self.speed is None else Fraction(self.speed, WRITTEN)

    @property
    def sensible(self) -> bool:
        """Whether that tempo is still within musical sense: at least half of what is written."""
        return self.speed is not None and self.speed >= HALF

    def bpm(self, written: Fraction) -> int | None:
        """The metronome mark (quarters a minute), rounded down, as slower is never worse."""
        return None if self.speed is None else int(written * self.speed / WRITTEN)


def fastest(manages: Callable[[int], bool], lowest: int = SLOWEST, known: int | None = None) -> int | None:
    """The highest speed (thousandths of the written tempo, at most that) found that `manages`; None: not
    even `lowest`.

    known: a speed that is known to be managed.
    """
    if manages(WRITTEN):
        return WRITTEN
    high = WRITTEN
    if known is None:
        for low in (HALF, lowest):
            if low < high and manages(low):
                break
            high = low
        else:
            return None
    else:
        low = known
    step = STEP if low >= HALF else FINE
    while high - low > step:
        middle = (low + high) // 2 // step * step
        if manages(middle):
            low = middle
        else:
            high = middle
    return low


def speed_in_place(
    trial: Trial, before: Monitor, first: int, until: int, start: int, end: int | None
) -> int | None:
    """How fast the music from `start` to `end` (µs) can be for the player that the trial is for, in its
    place.

    before: the monitor just before the attack `first`, which is not before `start`; until: the attack where
    judging stops.
    """
    return fastest(
        lambda speed: trial.first_trouble(before, first, until, stretch=Stretch(start, end, speed)) is None
    )


def tempos_in_place(
    trial: Trial, before: Monitor, first: int, until: int, start: int, end: int | None
) -> tuple[PlayerTempo, ...]:
    """The same for each of the three players, the relaxed first. What a slower player manages, a quicker
    one manages too."""
    found: list[PlayerTempo] = []
    known: int | None = None
    for number, player in enumerate(trial.players):

        def manages(speed: int, number: int = number) -> bool:
            return (
                trial.first_trouble(before, first, until, stretch=Stretch(start, end, speed), number=number)
                is None
            )

        known = fastest(manages, known=known)
        found.append(PlayerTempo(player.name, known))
    return tuple(found)


def part_tempos(trial: Trial) -> tuple[PlayerTempo, ...]:
    """How fast each player manages the whole, from the first moment on."""
    return tempos_in_place(trial, trial.fresh(trial.setting), 0, len(trial.attacks), 0, None)


def tempos_of(
    attacks: Sequence[Gathered],
    figures: Figures,
    instrument: Instrument,
    player: str = "working",
    *,
    setting: Setting | None = None,
    only: Sequence[Layer] = (),
) -> tuple[PlayerTempo, ...]:
    """How fast each player manages these gathered attacks, with nothing before them."""
    return part_tempos(Trial(attacks, figures, instrument, player, only, setting))
