"""The verdict on the feet of one player over a whole piece, where nobody has asked for it event by event."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from heapq import heappop, heappush

from livepedal.harp import Player, Ringing, Setting
from livepedal.model.feet.chords import Chords, Narrowing
from livepedal.model.feet.letters import FRESH
from livepedal.model.feet.tracker import Tracker
from livepedal.music.attacks import Gathered


def cannot(
    attacks: Sequence[Gathered],
    player: Player,
    ringing: Ringing,
    chords: Chords,
    asked: Mapping[int, Narrowing] | None = None,
    start: Setting | None = None,
    start_us: int = 0,
) -> frozenset[int]:
    """The moments (µs) of the attacks that the player's feet cannot play, audibly or not, as the monitor finds them.

    Args:
        attacks: in order of time.
        player: whose feet.
        ringing: how long strings sound.
        chords: of the instrument.
        asked: how attacks must be spelled, by their moment.
        start: how the pedals are set, at `start_us` (µs).
        start_us: that moment.
    """
    tracker = Tracker(player, sliding=True, ringing=ringing)
    if start is not None:
        tracker.start(tuple(FRESH if one is None else (int(one), start_us, 0, ()) for one in start.positions))
    moments = [attack.us for attack in attacks]
    # When a key goes up, which, when it was struck, and whether its string is damped then.
    down: list[tuple[int, int, int, bool]] = []
    found = set()
    for attack in attacks:
        us = attack.us
        released = []
        while down and down[0][0] <= us:
            end, pitch, struck, damped = heappop(down)
            released.append((pitch, end, max(struck, moments[bisect_right(moments, end) - 1]), damped))
        # One that is struck again goes up at that moment, which belongs to this attack.
        tracker.release_after([one for one in released if one[1] < us])
        tracker.open(us)
        tracker.release_before([one for one in released if one[1] == us])
        for pitch, until in attack.notes:
            tracker.strike(pitch, us)
            if until is not None:
                heappush(down, (until, pitch, us, pitch in attack.damped))
        there = chords.narrowed(asked.get(us, ())) if asked else chords
        strung = [pitch for pitch, _ in attack.notes if there.options[pitch] is not None]
        ways, left_out = there.most_of(strung)
        if not tracker.judge(ways, us) or left_out:
            found.add(us)
    return frozenset(found)
