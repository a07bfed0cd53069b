"""How fast can it be? The fastest tempo at which a player manages some music, by halving.

Slower is never harder (a law of the model, tests/model; for keys that come up late see `legato` in trial.py). So there
is a border between the tempos that are too fast and those that are not, and halving finds it. The gathered attacks are
stretched. Pedals and strings know nothing of the tempo, so what they need stays in real time. Tempos are whole per
cents of the written one, and finer below half of it. The one that is found was judged and can be played; the next
faster one was judged and cannot.

A tempo that only just works on paper does not work for a hand, whose notes come a little early or late ([tempo] in
figures.toml). So the tempo that is given is slower: the first trouble beyond the border has the time it needs even
where that time begins late and ends early.

Under half the tempo it is other music, and no remedy.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from livepedal.advice.judging.stretch import WRITTEN, Stretch
from livepedal.advice.remedies.trial import Excerpt, Survey, Trial
from livepedal.model.findings import Outcome, Passage
from livepedal.model.load import Busiest
from livepedal.model.monitor import BareMonitor

HALF = WRITTEN // 2  # the slowest that is still a remedy
SLOWEST = 120  # about an eighth; nothing slower is tried
STEP = 10  # whole per cents down to half the tempo
FINE = 2  # below, where a whole per cent would be too coarse a share


@dataclass(frozen=True, slots=True)
class PlayerTempo:
    """How fast one player manages some music.

    Attributes:
        speed: thousandths of the written tempo; None: not even at the slowest that was tried.
        audible: attacks that are then played only with an audible pedal change.
    """

    player: str
    speed: int | None
    audible: int = 0

    @property
    def ratio(self) -> Fraction | None:
        """The speed as a share of the written tempo."""
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


def next_faster(speed: int) -> int:
    """The next speed above one that was found."""
    return speed + (STEP if speed >= HALF else FINE)


def with_room(trial: Trial, speed: int, needed: int) -> int:
    """A speed made so much slower that there is room for an uneven hand.

    Args:
        trial: the music.
        speed: thousandths of the tempo.
        needed: the time (µs) that the first trouble at a faster speed needs; 0: it is not about time.
    """
    if not needed:
        return speed
    step = STEP if speed >= HALF else FINE
    return speed * needed // (needed + 2 * trial.figures.tempo.uneven) // step * step


def fastest(
    manages: Callable[[int], bool],
    lowest: int = SLOWEST,
    *,
    known: int | None = None,
    guess: int | None = None,
) -> int | None:
    """The fastest speed below the written tempo that `manages`; None: not even `lowest`.

    Args:
        manages: whether a speed (thousandths of the written tempo) will do.
        lowest: the slowest speed to try.
        known: a speed that will do.
        guess: one that is likely to be the answer.
    """
    low, high = known, WRITTEN
    if guess is not None and max(lowest, known or 0) <= guess < WRITTEN:
        if not manages(guess):
            high = guess
        elif next_faster(guess) == WRITTEN or not manages(next_faster(guess)):
            return guess
        else:
            low = next_faster(guess)
    if low is None:
        for slow in dict.fromkeys((HALF, lowest)):
            if slow < high:
                if manages(slow):
                    low = slow
                    break
                high = slow
        else:
            return None
    return border(manages, low, high, STEP if low >= HALF else FINE)


def border(manages: Callable[[int], bool], good: int, bad: int, step: int) -> int:
    """The last number of whole steps that `manages`, found by halving between one that does and one that does not."""
    while abs(bad - good) > step:
        middle = (good + bad) // 2 // step * step
        good, bad = (middle, bad) if manages(middle) else (good, middle)
    return good


def bearable_speed(
    trial: Trial,
    number: int,
    passage: Passage,
    lowest: int,
    most: int = WRITTEN,
    slower: Stretch | None = None,
) -> int | None:
    """How slow a passage has to be for a player to have nowhere too much at once in it (model/load.py).

    Args:
        trial: the music.
        number: of the player, 0 to 2.
        passage: the passage.
        lowest: the slowest speed to try (thousandths of the tempo).
        most: the fastest speed to try.
        slower: the only music in it that is slower; None: all of it.

    Returns:
        Thousandths of the tempo; None: not at `lowest` either.
    """
    attacks = trial.attacks[trial.at(passage.start) : trial.at(passage.end + 1)]
    options = trial.chords.options
    struck = [
        (one.us, tuple(pitch for pitch, _ in one.notes if options[pitch] is not None)) for one in attacks
    ]
    ways = [(us, pitches, trial.chords.most_of(pitches)[0]) for us, pitches in struck]

    def manages(speed: int) -> bool:
        stretch = replace(slower or Stretch(passage.start, passage.end), speed=speed)
        busiest = Busiest(trial.figures.load.span, trial.players)
        for us, pitches, put in ways:
            busiest.attack(stretch.at(us), pitches, put)
        return not busiest.too_much[number]

    return most if manages(most) else fastest(lambda speed: speed < most and manages(speed), lowest)


def tempos_of(
    trial: Trial,
    survey: Survey,
    before: BareMonitor,
    passage: Passage | None,
    guesses: dict[int, int],
) -> tuple[PlayerTempo, ...]:
    """How fast each of the three players, the relaxed first, manages the whole part or one passage.

    There is room for an uneven hand. What a slower player manages, a quicker one manages too.

    Args:
        trial: the music.
        survey: of the whole.
        before: all players just before the first attack.
        passage: the passage; None: the whole part.
        guesses: speeds that players (0 to 2) are likely to manage; receives those that they do.
    """
    first, until = 0, len(trial.attacks)
    start, end = trial.begin_us, None
    if passage is not None:
        start, end = passage.start, passage.end
        first, until = trial.at(start), trial.at(end + 1)
    attacks, slower = range(first, until), Stretch(start, end)
    found: list[PlayerTempo] = []
    known: int | None = None
    for number, player in enumerate(trial.players):
        own = before.alone(number, audible=True)
        music = Excerpt(own, attacks, layers=survey.slower(number, attacks))

        def manages(speed: int, music: Excerpt = music) -> bool:
            return trial.plays(music, stretch=replace(slower, speed=speed))

        if survey.cannot[number].isdisjoint(attacks):
            known = WRITTEN
        elif known != WRITTEN:
            known = fastest(manages, HALF, known=known, guess=guesses.get(number))
        speed, audible = known, 0
        if known is not None and known < WRITTEN:
            guesses[number] = known
            _, needed = trial.needed(music, replace(slower, speed=next_faster(known)))
            speed = with_room(trial, known, needed)
            if found and found[-1].speed is not None:
                speed = max(speed, found[-1].speed)
            if speed >= HALF:
                faults = trial.faults(music, replace(slower, speed=speed), until)
                audible = list(faults.values()).count(Outcome.AUDIBLE)
        found.append(PlayerTempo(player.name, speed, audible))
    return tuple(found)
