"""Random passages for the judge, each fixed by its kind, its seed and one figure of time.

Two ways to make them. *Thrown*: pitches, durations and gaps drawn at random; most break somewhere early, for
a short reason. *Pedalled*: a hidden player moves one pedal after another, about one change a cycle on each
foot, and only notes that stand ready are struck; such a passage goes on for as long as one likes close to the
edge of what can be done, and a little squeezing or one wrong note tips it over. The second kind is what finds
a horizon, a greedy placing, or a forgotten tail of a cycle.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import replace

from .cpsat import FEET, PEDALS, Attack, Figures, Harp, Note, Passage, Start

#: Players with the figures of relaxed, working and virtuoso playing (two notches take 1.3 times one).
PLAYERS = {
    "relaxed": Figures(300_000, 390_000, 1_000_000),
    "working": Figures(150_000, 195_000, 500_000),
    "virtuoso": Figures(100_000, 130_000, 250_000),
}
#: How long a string rings, order of magnitude only, figures from memory (C1 15 s, C4 4 s, C6 1 s, G7 0.4 s).
_RING = ((24, 15_000_000), (48, 6_500_000), (60, 4_000_000), (72, 2_500_000), (84, 1_000_000), (103, 400_000))
_NATURAL = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_MS = 1_000


def ringing() -> tuple[int, ...]:
    """A plausible table of ringing times for the 128 pitches."""
    table = []
    for pitch in range(128):
        below = [point for point in _RING if point[0] <= pitch] or [_RING[0]]
        above = [point for point in _RING if point[0] > pitch] or [_RING[-1]]
        (p, a), (q, b) = below[-1], above[0]
        table.append(a if q <= p else a + (b - a) * (pitch - p) // (q - p) if pitch >= p else a)
    return tuple(table)


def loudness(most: int, above: int) -> tuple[int, ...]:
    """How long strings are loud: the lowest ``most`` microseconds, less upwards, from ``above`` on not at all."""
    return tuple(most * max(0, above - max(pitch, 24)) // (above - 24) for pitch in range(128))


def random_figures(rng: random.Random, plain: bool = False) -> Figures:
    """A player; unless ``plain`` now and then with a technique, other figures, another tuning, or strings
    that die away.
    """
    figures = rng.choice(list(PLAYERS.values()))
    if rng.random() < 0.5:
        figures = replace(figures, ring=ringing())
    if plain:
        return figures
    if rng.random() < 0.25:
        flick = rng.randint(20, 400) * _MS
        notches = flick * rng.choice((10, 13, 25)) // 10
        figures = replace(figures, flick=flick, two_notch_flick=notches, cycle=rng.randint(50, 1200) * _MS)
    if rng.random() < 0.2:
        figures = replace(figures, settle=rng.choice((0, 50)) * _MS, overlap=rng.choice((0, 200)) * _MS)
    figures = replace(figures, two_at_once=rng.random() < 0.25, reach_across=rng.random() < 0.25)
    if rng.random() < 0.2:
        fixed = ((7, rng.randint(-1, 1)), (8, rng.randint(-1, 1)), (53, rng.randint(-1, 1)))
        figures = replace(
            figures, harp=rng.choice((Harp(fixed=fixed), Harp(8, 53, fixed[1:]), Harp(11, 50, ())))
        )
    return figures


def sounding(rng: random.Random, figures: Figures) -> Figures:
    """The same player, perhaps with fingers that damp what they pluck again, and with strings that are loud."""
    if rng.random() < 0.6:
        # As long as the change takes, or longer, or of no use; and strings that are loud for longer than that, or not.
        damp = rng.choice((1, 1, 1.2, 2, 0.5)) * (figures.settle + figures.flick)
        figures = replace(figures, damp=int(damp), grip=rng.choice((0, 60, 60, 150)) * _MS)
    if rng.random() < 0.4:
        figures = replace(
            figures, loud=loudness(rng.choice((200, 600, 1500)) * _MS, rng.choice((44, 60, 80)))
        )
    return figures


def draw(kind: str, seed: int, cycle: int) -> Passage:
    """The passage of this kind and seed, made for a foot that takes ``cycle`` microseconds from change to
    change.
    """
    rng = random.Random(f"{kind} {seed}")
    passage = KINDS[kind](rng, cycle)
    if rng.random() < 0.15:
        first = passage.attacks[0].time
        chosen = tuple(rng.choice((None, -1, 0, 1)) for _ in PEDALS)
        passage = replace(passage, start=Start(first - rng.choice((0, cycle // 2, 10 * cycle)), chosen))
    return replace(passage, kind=kind)


def passages(count: int, seed: int, cycle: int | None = None) -> Iterator[Passage]:
    """``count`` passages, the kinds in turn; without ``cycle`` the players' cycles in turn."""
    cycles = [figures.cycle for figures in PLAYERS.values()]
    kinds = list(KINDS)
    for i in range(count):
        pace = cycles[i // len(kinds) % len(cycles)] if cycle is None else cycle
        yield draw(kinds[i % len(kinds)], seed * 1_000_003 + i, pace)


# Thrown passages


def _thrown(
    rng: random.Random,
    pitches: list[int],
    count: int,
    gap: Callable[[], int],
    size: Callable[[], int],
    touch: str,
) -> Passage:
    times = [rng.randint(0, 1000) * _MS]
    while len(times) < count:
        times.append(times[-1] + max(40 * _MS, gap()))
    attacks = []
    for k, time in enumerate(times):
        following = times[k + 1] if k + 1 < count else time + 500 * _MS
        chosen = [rng.choice(pitches) for _ in range(size())]
        notes = tuple(Note(pitch, _release(rng, time, following, touch)) for pitch in chosen)
        attacks.append(Attack(time, notes))
    return Passage(tuple(attacks))


def _release(rng: random.Random, time: int, following: int, touch: str) -> int | None:
    """When a key goes up: detached before the next attack, legato a little after it, long much later."""
    gap = following - time
    match rng.choice(("detached", "legato", "long")) if touch == "mixed" else touch:
        case "detached":
            return time + rng.randint(10 * _MS, max(11 * _MS, gap * 9 // 10))
        case "legato":
            return following + rng.randint(-30, 110) * _MS if gap > 40 * _MS else following
        case "long":
            return None if rng.random() < 0.1 else time + gap * rng.randint(1, 12) + rng.randint(0, 100) * _MS
        case _:
            raise ValueError(f"unknown touch {touch!r}")


def _any_touch(rng: random.Random) -> str:
    return rng.choice(("detached", "legato", "mixed"))


def _melody(rng: random.Random, cycle: int) -> Passage:
    """Single notes, few or many pitches, any density."""
    low = rng.randint(36, 76)
    pitches = rng.sample(range(low, low + 20), rng.randint(2, 18))
    pace = rng.uniform(0.1, 0.9)
    return _thrown(
        rng,
        pitches,
        rng.randint(6, 24),
        lambda: int(cycle * pace * rng.uniform(0.5, 1.5)),
        lambda: 1,
        _any_touch(rng),
    )


def _chords(rng: random.Random, cycle: int) -> Passage:
    """One to six notes at once, and many notes at one letter in two octaves."""
    pool = rng.sample(range(12), rng.randint(4, 12))
    pitches = [p for p in range(40, 90) if p % 12 in pool]
    pace = rng.uniform(0.2, 1.6)
    return _thrown(
        rng,
        pitches,
        rng.randint(5, 16),
        lambda: int(cycle * pace * rng.uniform(0.6, 1.4)),
        lambda: rng.choice((1, 1, 2, 3, 4, 6)),
        _any_touch(rng),
    )


def _chromatic(rng: random.Random, cycle: int) -> Passage:
    """A run of semitones up and down, even in time."""
    gap = int(cycle * rng.choice((0.2, 0.35, 0.5, 0.7, 1.0)))
    pitch, way, line = rng.randint(45, 80), rng.choice((-1, 1)), []
    for _ in range(rng.randint(6, 25)):
        line.append(pitch)
        way = -way if rng.random() < 0.15 else way
        pitch += way
    touch = rng.choice(("detached", "legato"))
    times = [k * gap for k in range(len(line))]
    return Passage(
        tuple(
            Attack(t, (Note(p, _release(rng, t, t + gap, touch)),)) for t, p in zip(times, line, strict=True)
        )
    )


def _held(rng: random.Random, cycle: int) -> Passage:
    """Long keys held, some for ever, under moving notes."""
    passage = _thrown(
        rng,
        rng.sample(range(48, 72), rng.randint(4, 14)),
        rng.randint(6, 24),
        lambda: int(cycle * rng.uniform(0.15, 0.8)),
        lambda: rng.choice((1, 1, 2)),
        _any_touch(rng),
    )
    attacks = []
    for attack in passage.attacks:
        if rng.random() < 0.2:
            release = None if rng.random() < 0.3 else attack.time + int(cycle * rng.uniform(1, 12))
            attack = replace(attack, notes=(*attack.notes, Note(rng.randint(28, 55), release)))
        attacks.append(attack)
    return Passage(tuple(attacks))


def _edges(rng: random.Random, cycle: int) -> Passage:
    """The lowest and the highest strings, those without pedal among them."""
    pitches = [
        24,
        26,
        26,
        24,
        103,
        *rng.sample(range(23, 44), 5),
        *rng.sample(range(90, 105), 4),
        36,
        37,
        38,
        91,
        92,
    ]
    return _thrown(
        rng,
        pitches,
        rng.randint(5, 16),
        lambda: int(cycle * rng.uniform(0.3, 1.6)),
        lambda: rng.choice((1, 1, 1, 2, 3)),
        _any_touch(rng),
    )


def _restruck(rng: random.Random, cycle: int) -> Passage:
    """Few pitches, struck again while their keys are held, and twice in one attack."""
    pitches = rng.sample(range(55, 70), rng.randint(2, 9))
    return _thrown(
        rng,
        pitches,
        rng.randint(6, 20),
        lambda: int(cycle * rng.uniform(0.15, 0.9)),
        lambda: rng.choice((1, 2, 2, 3)),
        "long" if rng.random() < 0.6 else "mixed",
    )


def _crossing(rng: random.Random, cycle: int) -> Passage:
    """Much of the two pitch classes that either foot can give (D♯ or E♭, A♯ or B♭), and neighbours."""
    pool = [3, 10, 3, 10, *rng.sample((2, 4, 9, 11, 1, 5, 8, 0), rng.randint(3, 6))]
    pitches = [48 + 12 * rng.randint(0, 2) + pc for pc in pool]
    return _thrown(
        rng,
        pitches,
        rng.randint(8, 24),
        lambda: int(cycle * rng.uniform(0.15, 0.8)),
        lambda: rng.choice((1, 1, 2, 2, 3)),
        _any_touch(rng),
    )


def _forced(rng: random.Random, cycle: int) -> Passage:
    """Much of D, G and A, which one string only can give, and of the pitches between them that need those
    letters.
    """
    pool = [2, 7, 9, 2, 7, 9, 8, 8, *rng.sample((1, 3, 6, 10), 3), rng.choice((0, 4, 5, 11))]
    pitches = [48 + 12 * rng.randint(0, 2) + pc for pc in pool]
    pace = rng.uniform(0.2, 1.2)
    return _thrown(
        rng,
        pitches,
        rng.randint(5, 16),
        lambda: int(cycle * pace * rng.uniform(0.5, 1.5)),
        lambda: rng.choice((1, 2, 2, 3)),
        rng.choice(("detached", "legato", "legato", "mixed")),
    )


# Pedalled passages


def _pedalled(rng: random.Random, attacks: int, cycle: int, slack: float, extra: float) -> Passage:
    """What a hidden player has ready, who makes a change a cycle (and up to ``slack`` of one more) on each
    foot.

    Each letter is struck at least once between two changes of its pedal, anywhere where it is free, so the
    windows of the changes are as narrow or as wide as may come, and the foot as full. ``extra`` notes per
    attack keep the other letters where they are, which leaves little choice of spelling.
    """
    flick = cycle * 2 // 5 if cycle <= 250 * _MS else cycle * 3 // 10
    settle, grip = 20 * _MS, 60 * _MS
    grid = max(40 * _MS, cycle // rng.randint(4, 12))
    heed = (
        rng.random() < 0.75
    )  # keys are up before the string is changed; if not, only sliding is near the edge
    touch = rng.choice(("detached", "legato", "mixed"))
    struck: dict[
        int, dict[str, tuple[int, int | None]]
    ] = {}  # time -> letter -> position, moment of its next change
    spans: list[tuple[int, int, str, int, int | None]] = []
    length = attacks * max(grid, cycle // 3)
    for pedals in FEET.values():
        periods = {letter: (0, rng.randint(-1, 1)) for letter in pedals}  # ready since, position
        time, last = grip + rng.randint(0, cycle), ""
        while time < length:
            letter = rng.choice([p for p in pedals if p != last or rng.random() < 0.1])
            ready, position = periods[letter]
            if _strike(rng, struck, spans, letter, position, ready, time - grip, time, grid):
                two = position != 0 and rng.random() < 0.15
                following = -position if two else 0 if position else rng.choice((-1, 1))
                periods[letter] = (time + settle + (flick * 13 // 10 if two else flick), following)
                last = letter
                time += cycle + int(cycle * slack * rng.random())
            else:
                time += grid  # it could not have been struck in between: another pedal, a little later
        for letter, (ready, position) in periods.items():
            _strike(rng, struck, spans, letter, position, ready, max(length, ready + grid), None, grid)
    times = sorted(struck)
    for begin, end, letter, position, until in spans:
        for time in times:
            if begin < time < end and rng.random() < extra / 7:
                struck[time][letter] = (position, until)
    made = []
    for k, time in enumerate(times[:attacks]):
        following_time = times[k + 1] if k + 1 < len(times) else time + cycle
        notes = []
        for letter, (position, until) in struck[time].items():
            pitch = 12 * rng.choice((4, 5, 5, 6)) + _NATURAL[letter] + position
            release = _release(rng, time, following_time, touch)
            if heed and until is not None and (release is None or release > until):
                release = rng.choice((until, rng.randint(time, until)))
            notes.append(Note(pitch, release))
        made.append(Attack(time, tuple(notes)))
    return Passage(tuple(made))


def _strike(
    rng: random.Random,
    struck: dict[int, dict[str, tuple[int, int | None]]],
    spans: list[tuple[int, int, str, int, int | None]],
    letter: str,
    position: int,
    ready: int,
    until: int,
    change: int | None,
    grid: int,
) -> bool:
    """Strike a letter on the grid between ``ready`` and ``until``, once or twice; whether there was room."""
    low, high = -(-ready // grid), until // grid
    if low > high:
        return False
    chosen = sorted(rng.choice((low, high, rng.randint(low, high))) for _ in range(rng.choice((1, 2, 2))))
    for point in chosen:
        struck.setdefault(point * grid, {})[letter] = (position, change)
    spans.append((chosen[0] * grid, chosen[-1] * grid, letter, position, change))
    return True


def _tipped(rng: random.Random, passage: Passage, least: int) -> Passage:
    """Perhaps squeezed in time, to ``least`` percent at most, perhaps with a note or two gone wrong."""
    attacks = list(passage.attacks)
    if rng.random() < 0.6:
        percent = rng.randint(least, 99)
        for k, attack in enumerate(attacks):
            notes = tuple(
                replace(n, release=None if n.release is None else n.release * percent // 100)
                for n in attack.notes
            )
            attacks[k] = Attack(attack.time * percent // 100, notes)
    if rng.random() < 0.4:
        for _ in range(rng.randint(1, 2)):
            k = rng.randrange(len(attacks))
            notes = attacks[k].notes
            wrong = replace(notes[0], pitch=notes[0].pitch + rng.choice((-2, -1, 1, 2)))
            attacks[k] = replace(attacks[k], notes=(wrong, *notes[1:]))
    return Passage(tuple(attacks))


def _tight(rng: random.Random, cycle: int) -> Passage:
    """Short, a change as soon as the last is over."""
    return _tipped(
        rng, _pedalled(rng, rng.randint(8, 20), cycle, rng.choice((0, 0, 0.05)), rng.uniform(2, 7)), 90
    )


def _slack(rng: random.Random, cycle: int) -> Passage:
    """Short, more at leisure."""
    return _tipped(rng, _pedalled(rng, rng.randint(8, 20), cycle, rng.uniform(0.2, 2), rng.uniform(1, 5)), 60)


def _busy(rng: random.Random, cycle: int) -> Passage:
    """60 attacks and more at about one change a cycle on each foot, never a rest."""
    return _tipped(
        rng, _pedalled(rng, rng.randint(70, 90), cycle, rng.choice((0, 0, 0.02, 0.15)), rng.uniform(3, 7)), 94
    )


KINDS: dict[str, Callable[[random.Random, int], Passage]] = {
    "melody": _melody,
    "tight": _tight,
    "chords": _chords,
    "chromatic": _chromatic,
    "held": _held,
    "busy": _busy,
    "edges": _edges,
    "restruck": _restruck,
    "forced": _forced,
    "slack": _slack,
    "crossing": _crossing,
}
