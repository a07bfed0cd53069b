"""Which hand takes what, as far as it is told of: what is worth knowing of rolled chords and of the right hand low."""

from __future__ import annotations

from livepedal.model.findings import Layer
from livepedal.model.hands import Share
from livepedal.model.monitor import BareMonitor
from livepedal.music.attacks import Gathered, events_of

from .playing import FIGURES, HARP, line, merged

S = 1_000_000


def shares_of(attacks: tuple[Gathered, ...]) -> tuple[Share, ...]:
    monitor = BareMonitor(FIGURES, HARP, only=(Layer.HANDS,))
    for event in events_of(attacks):
        monitor.feed(event)
    monitor.finish()
    return monitor.shares


def test_a_melody_over_a_bass() -> None:
    bass = line([(36, 43), (41, 48), (43, 50), (36, 43)], S)
    melody = line([72, 74, 76, 77, 79, 77, 76, 74, 72, 71, 72, 74, 76, 74, 72, 71], S // 4)
    shares = shares_of(merged(bass, melody))
    assert len(shares) == 16
    assert all(share.possible and not share.rolled for share in shares)
    assert all(pitch < 60 for share in shares for pitch in share.left)
    assert all(pitch > 60 for share in shares for pitch in share.right)


def test_each_attack_is_told_of_once_and_in_order() -> None:
    shares = shares_of(line([48, 52, 55, 60, 64, 67, 72, 76], S // 16))
    assert [share.us for share in shares] == [n * (S // 16) for n in range(8)]
    assert [share.left + share.right for share in shares] == [(p,) for p in (48, 52, 55, 60, 64, 67, 72, 76)]


def test_a_chord_wider_than_a_hand_takes_at_once_is_rolled() -> None:
    # siba, hand position: arpeggiated chords may exceed the span; a twelfth (F4 to C6 is 12 strings) in the right hand.
    wide, close = shares_of((*line([(36, 43, 65, 84)], 2 * S), *line([(36, 43, 65, 79)], 2 * S, 2 * S)))
    assert (wide.rolled, close.rolled) == (True, False)
