"""Another written key for a part: proposed only where it saves something.

The music as ordinarily written is laid out in
stretches that are each in one key (a best path over bars: notes outside the key cost one each, a new key as
much as `NEW_KEY` of them). Keys on the far sharp side can be written twelve fifths lower, those on the far
flat side twelve higher: the same sound, other strings (Berlioz p. 86 has a tutti in B major written in C♭
major for the harp). Each such writing is planned by the model, every note on the string that it is written
for, and held against the ordinary one: fewer attacks that cannot be played, fewer audible changes, or fewer
changes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import planner_for
from livepedal.advice.spelling.given import Cost, lay_fifths
from livepedal.harp import Key
from livepedal.model.feet.chords import Narrowing
from livepedal.music.attacks import Gathered
from livepedal.music.beats import Beats
from livepedal.music.ordinary import in_key
from livepedal.music.song import Part

NEW_KEY = 6  # notes outside a key that are put up with before a new one begins (ours, no source)
MOST_KEYS = 6  # stretches whose key is tried otherwise one by one; beyond that only all together
MOST_PLANNED = 4_000  # attacks; longer parts get no proposals of keys, which take several plans
FARTHEST = 8  # fifths of the keys looked for: F♭ major to G♯ major, one beyond what signatures can show
SHARPEST, FLATTEST = 4, -5  # from these on a key is tried twelve fifths away: E as F♭, D♭ as C♯


@dataclass(frozen=True, slots=True)
class Rewriting:
    """One stretch of bars in one key (fifths, and whether it is minor), to be written in another."""

    first_bar: int
    last_bar: int
    ordinary: int
    minor: bool

    @property
    def other(self) -> int:
        """The same key twelve fifths away, where the harp could be better off there; else as it is."""
        return self.ordinary + (-12 if self.ordinary >= SHARPEST else 12 if self.ordinary <= FLATTEST else 0)

    @property
    def text(self) -> tuple[str, str]:
        """The names of the two keys."""
        return Key(self.ordinary, self.minor).name, Key(self.other, self.minor).name


@dataclass(frozen=True, slots=True)
class Proposal:
    """Another way to write the part that saves something."""

    rewritings: tuple[Rewriting, ...]
    before: Cost
    after: Cost


class KeyWriter:
    """Tries other written keys on one part."""

    def __init__(
        self,
        part: Part,
        attacks: Sequence[Gathered],
        written: Sequence[int],
        bar_of: Sequence[int],
        basis: Basis,
    ) -> None:
        self.part = part
        self.attacks = attacks
        self.written = written
        self.bars = [bar for attack, bar in zip(attacks, bar_of, strict=True) for _ in attack.notes]
        self.basis = basis

    def propose(self) -> tuple[Cost | None, Proposal | None]:
        """The cost of ordinary spelling (None: the part is too long), and the other writing that saves most."""
        if not self.attacks or len(self.attacks) > MOST_PLANNED:
            return None, None
        plain = self._cost(())
        turned = [stretch for stretch in stretches(self.bars, self.written) if stretch.other != stretch.ordinary]
        if not turned or not any(plain.order):
            return plain, None
        tries: list[tuple[Rewriting, ...]] = [tuple(turned)]
        if 1 < len(turned) <= MOST_KEYS:
            tries += [(one,) for one in turned]
        costs = [(self._cost(one), one) for one in tries]
        best, rewritings = min(costs, key=lambda item: item[0].order)
        # More of them together, while that saves more.
        while len(rewritings) < len(turned) and len(turned) <= MOST_KEYS:
            more = [
                (self._cost(known), known)
                for candidate in turned
                if candidate not in rewritings
                for known in [tuple(sorted((*rewritings, candidate), key=lambda r: r.first_bar))]
            ]
            cost, known = min(more, key=lambda item: item[0].order)
            if cost.order >= best.order:
                break
            best, rewritings = cost, known
        if best.order >= plain.order:
            return plain, None
        return plain, Proposal(rewritings, plain, best)

    def _cost(self, rewritings: Sequence[Rewriting]) -> Cost:
        asked = self._asked(rewritings)
        beats = Beats(self.part.time_map)
        return Cost.of_plan(
            planner_for(self.basis).plan(self.attacks, self.basis.setting, beats=beats, asked=asked)
        )

    def _asked(self, rewritings: Sequence[Rewriting]) -> Mapping[int, Narrowing]:
        fifths = list(self.written)
        for rewriting in rewritings:
            for number, bar in enumerate(self.bars):
                if rewriting.first_bar <= bar <= rewriting.last_bar:
                    fifths[number] += rewriting.other - rewriting.ordinary
        return lay_fifths(self.attacks, fifths, self.part.time_map, self.basis.figures.window.attack).asked


def stretches(bars: Sequence[int], written: Sequence[int]) -> tuple[Rewriting, ...]:
    """The bars in stretches that are each in one key.

    Args:
        bars: of each note, ascending.
        written: how each note is written (line of fifths).
    """
    keys = range(-FARTHEST, FARTHEST + 1)
    by_bar = [
        (bar, [fifth for _, fifth in notes])
        for bar, notes in groupby(zip(bars, written, strict=True), lambda n: n[0])
    ]
    # Of keys that fit alike, the one with the fewest accidentals.
    best: dict[int, tuple[float, tuple[int, ...]]] = {key: (0.001 * abs(key), ()) for key in keys}
    for _, fifths in by_bar:
        outside = {key: sum(not _belongs(fifth, key) for fifth in fifths) for key in keys}
        cheapest = min(best.values())
        now = {}
        for key in keys:
            price, path = min(best[key], (cheapest[0] + NEW_KEY, cheapest[1]))
            now[key] = price + outside[key], (*path, key)
        best = now
    if not by_bar:
        return ()
    _, path = min(best.values())
    found: list[Rewriting] = []
    for key, group in groupby(zip(by_bar, path, strict=True), lambda item: item[1]):
        stretch = [bar for bar, _ in group]
        fifths = [fifth for _, notes in stretch for fifth in notes]
        found.append(Rewriting(stretch[0][0], stretch[-1][0], key, _minor(fifths, key)))
    return tuple(found)


def _belongs(fifth: int, key: int) -> bool:
    """Whether a note is of a key; so is the raised seventh in minor, which no signature shows."""
    return in_key(fifth, key) or fifth == key + 8


def _minor(fifths: Sequence[int], key: int) -> bool:
    """Whether a key is minor: the minor tonic and leading note outnumber the major dominant (ours, no source)."""
    count = Counter(fifths)
    return count[key + 3] + 2 * count[key + 8] > 2 * count[key + 1]  # in the key of C: A and G♯ against G
