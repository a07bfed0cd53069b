"""Who plays what: the way to share a whole part out between the hands that a player would choose.

hands.py only asks whether there is any way. Here each history keeps what it costs, and the cheapest one that
plays the most is taken: fewest attacks that cannot be played, then fewest crossings (the left hand above the
right, which is possible but avoided without need: common practice), then fewest strings beyond the reach,
then the right hand in the bass and the left in the treble as little as may be.

The best path is found among the `MOST` cheapest histories after each attack, and of a chord that has more classes
of grips (grips.py) in the first of them: what is shown to people and counted as load, and no verdict.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from livepedal.harp import Instrument, Player
from livepedal.model.chords import Chords
from livepedal.model.grips import Block, Division, GripClass
from livepedal.model.hands import REST, Hand, Hands, HandsTracker, Played
from livepedal.music.attacks import Attack

MOST = 48
IMPOSSIBLE = 1_000_000_000
CROSSED = 1_000_000
BEYOND = 1_000
MIDDLE = 60  # middle C, about which the hands are parted when nothing else counts


@dataclass(frozen=True, slots=True)
class Share:
    """One attack, at `us` (µs), shared out. left, right: pitches upwards. beyond: strings by which the hands exceed
    their reach; rolled: in two placings; possible: whether the hands can play it so.
    """

    us: int
    left: Block
    right: Block
    beyond: int
    rolled: bool
    possible: bool


@dataclass(slots=True)
class _Path:
    """The end of a path: its price, the path before, and the share of its attack."""

    price: int
    before: _Path | None
    share: Share | None


@dataclass(frozen=True, slots=True)
class _Choice:
    """One way to share an attack out, for whatever hands come to it. chord: with this division only; price: of the
    right hand in the bass and the left in the treble.
    """

    division: Division
    chord: GripClass
    left: Block
    right: Block
    price: int

    @classmethod
    def of(cls, division: Division, chord: GripClass) -> _Choice:
        left = tuple(pitch for block in division.left for pitch in block)
        right = tuple(pitch for block in division.right for pitch in block)
        price = sum(max(0, pitch - MIDDLE) for pitch in left) + sum(max(0, MIDDLE - pitch) for pitch in right)
        return cls(division, replace(chord, divisions=(division,)), left, right, price)


# What hands that an attack leads to cost: the price, the path before, the choice, and strings beyond the reach.
_Found: TypeAlias = dict[Hands, tuple[int, _Path, _Choice, int]]


def share_out(attacks: Sequence[Attack], player: Player, instrument: Instrument) -> tuple[Share, ...]:
    """The shares of all attacks of a part, in order of time; notes and attacks that are not on this harp have none."""
    tracker = HandsTracker(player, instrument)
    chords = Chords(instrument)
    choices: dict[tuple[int, ...], tuple[_Choice, ...]] = {}
    paths: dict[Hands, _Path] = {REST[0]: _Path(0, None, None)}
    for attack in attacks:
        pitches = tuple(pitch for pitch in attack.pitches if instrument.spellings(pitch))
        if not pitches:
            continue
        known = choices.get(pitches)
        if known is None:
            (chord, *_) = tracker.grips.classes(pitches, chords.ways(pitches))
            divisions = chord.divisions or (Division((pitches,), ()),)
            known = choices[pitches] = tuple(_Choice.of(division, chord) for division in divisions)
        possible = True
        played: Played = {}
        found: _Found = {}
        for hands, path in paths.items():
            for choice in known:
                after = tracker.attempt((hands,), choice.chord, attack.us, played=played)
                if after:
                    _add(found, after, path, choice, _beyond(tracker, hands, choice))
        if not found:
            possible = False
            for hands, path in paths.items():
                for choice in known:
                    after = tracker.go_on((hands,), (choice.chord,), attack.us)
                    _add(found, after, path, choice, _beyond(tracker, hands, choice))
        more = 0 if possible else IMPOSSIBLE
        cheapest = sorted(found.items(), key=lambda item: item[1][0])[:MOST]
        paths = {}
        for reached, (price, path, choice, beyond) in cheapest:
            share = Share(attack.us, choice.left, choice.right, beyond, choice.chord.rolled, possible)
            paths[reached] = _Path(price + more, path, share)
    best = min(paths.values(), key=lambda path: path.price)
    shares: list[Share] = []
    step: _Path | None = best
    while step is not None and step.share is not None:
        shares.append(step.share)
        step = step.before
    return tuple(reversed(shares))


def _add(found: _Found, reached: Iterable[Hands], path: _Path, choice: _Choice, beyond: int) -> None:
    base = path.price + choice.price + BEYOND * beyond
    for after in reached:
        price = base + CROSSED if _crossed(*after) else base
        known = found.get(after)
        if known is None or price < known[0]:
            found[after] = price, path, choice, beyond


def _beyond(tracker: HandsTracker, hands: Hands, choice: _Choice) -> int:
    """Strings by which the hands exceed their reach for it."""
    beyond = 0
    if choice.division.left:
        beyond += tracker.rules.beyond(hands[0][1], choice.division.left[0])
    if choice.division.right:
        beyond += tracker.rules.beyond(hands[1][1], choice.division.right[0])
    return beyond


def _crossed(left: Hand, right: Hand) -> bool:
    return bool(left[1]) and bool(right[1]) and left[1][-1] > right[1][0]
