"""Who plays what: the way to share a whole part out between the hands that a player would choose.

hands.py only asks whether there is any way. Here each history keeps what it costs, and the cheapest one that
plays the most is taken: fewest attacks that cannot be played, then fewest crossings (the left hand above the
right, which is possible but avoided without need: common practice), then fewest strings beyond the reach,
then the right hand in the bass and the left in the treble as little as may be.

The best path is found among the `MOST` cheapest histories after each attack, and of a chord that has more classes
of grips (grips.py) in the first of them: what is shown to people and counted as load, and no verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from livepedal.harp import Instrument, Player
from livepedal.model.chords import Chords
from livepedal.model.grips import Block, Division, GripClass
from livepedal.model.hands import REST, Hand, Hands, HandsTracker
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
    price: int
    before: _Path | None
    share: Share | None


def share_out(attacks: Sequence[Attack], player: Player, instrument: Instrument) -> tuple[Share, ...]:
    """The shares of all attacks of a part, in order of time; notes and attacks that are not on this harp have none."""
    tracker = HandsTracker(player, instrument)
    chords = Chords(instrument)
    paths: dict[Hands, _Path] = {REST[0]: _Path(0, None, None)}
    for attack in attacks:
        pitches = tuple(pitch for pitch in attack.pitches if instrument.spellings(pitch))
        if not pitches:
            continue
        (chord, *_) = tracker.grips.classes(pitches, chords.ways(pitches))
        found: dict[Hands, _Path] = {}
        for hands, path in paths.items():
            for division in chord.divisions:
                one = GripClass((division,), chord.rolled, chord.ways)
                for after in tracker.attempt((hands,), one, attack.us):
                    _add(found, after, path, _share(tracker, hands, division, attack.us, chord.rolled, True))
        if not found:
            for hands, path in paths.items():
                for division in chord.divisions or (Division((pitches,), ()),):
                    one = GripClass((division,), chord.rolled, chord.ways)
                    for after in tracker.go_on((hands,), (one,), attack.us):
                        share = _share(tracker, hands, division, attack.us, chord.rolled, False)
                        _add(found, after, path, share)
        cheapest = sorted(found.items(), key=lambda item: item[1].price)[:MOST]
        paths = dict(cheapest)
    best = min(paths.values(), key=lambda path: path.price)
    shares: list[Share] = []
    step: _Path | None = best
    while step is not None and step.share is not None:
        shares.append(step.share)
        step = step.before
    return tuple(reversed(shares))


def _add(found: dict[Hands, _Path], after: Hands, path: _Path, share: Share) -> None:
    price = path.price + _price(share, after)
    known = found.get(after)
    if known is None or price < known.price:
        found[after] = _Path(price, path, share)


def _share(
    tracker: HandsTracker, hands: Hands, division: Division, us: int, rolled: bool, possible: bool
) -> Share:
    beyond = 0
    for hand, placings in zip(hands, (division.left, division.right), strict=True):
        if placings:
            beyond += tracker.rules.beyond(hand[1], placings[0])
    left = tuple(pitch for block in division.left for pitch in block)
    right = tuple(pitch for block in division.right for pitch in block)
    return Share(us, left, right, beyond, rolled, possible)


def _price(share: Share, after: Hands) -> int:
    price = 0 if share.possible else IMPOSSIBLE
    left, right = after
    if _crossed(left, right):
        price += CROSSED
    price += BEYOND * share.beyond
    price += sum(max(0, pitch - MIDDLE) for pitch in share.left)
    return price + sum(max(0, MIDDLE - pitch) for pitch in share.right)


def _crossed(left: Hand, right: Hand) -> bool:
    return bool(left[1]) and bool(right[1]) and left[1][-1] > right[1][0]
