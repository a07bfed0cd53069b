"""Which hand takes what in attacks that are known, where no monitor has judged them (model/hands/placing.py)."""

from __future__ import annotations

from collections.abc import Sequence

from livepedal.harp import Instrument, Player
from livepedal.model.hands.placing import NO_STRAIN, Placing, Share
from livepedal.music.attacks import Attack

__all__ = ["Share", "share_out"]


def share_out(attacks: Sequence[Attack], player: Player, instrument: Instrument) -> tuple[Share, ...]:
    """The shares of all attacks of a part, in order of time; notes and attacks that are not on this harp have none."""
    placing = Placing((player,) * 3, instrument)
    for attack in attacks:
        pitches = tuple(pitch for pitch in attack.pitches if instrument.spellings(pitch))
        if pitches:
            placing.open(attack.us)
            placing.judge(pitches, attack.us, frozenset(), NO_STRAIN)
            placing.close()
    placing.finish()
    return tuple(placing.shares)
