"""What the signs of a score mean to the hands. Judgements of the trade (common practice, no source) but where one stands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from livepedal.harp.signs import NO_SIGN, Sign
from livepedal.model.findings import Layer
from livepedal.model.monitor import BareMonitor
from livepedal.music.events import NoteOff, NoteOn

from .playing import FIGURES, HARP

Chord = Sequence[tuple[int, Sign]]


def played(chords: Iterable[tuple[int, Chord]]) -> BareMonitor:
    """Chords at their moments (µs), through the hands alone."""
    monitor = BareMonitor(FIGURES, HARP, only=(Layer.HANDS,))
    for us, chord in chords:
        for pitch, signs in chord:
            monitor.feed(NoteOn(us, pitch, signs=signs))
        for pitch, _ in chord:
            monitor.feed(NoteOff(us + 20_000, pitch))
    monitor.finish()
    return monitor


def cannot(monitor: BareMonitor) -> int:
    """How many attacks a working player cannot play."""
    return monitor.counts()[1].unplayable


def row(pitches: Sequence[Sequence[int]], step: int, *signs: Sign) -> list[tuple[int, Chord]]:
    """Chords a step (µs) apart, the signs in turn."""
    told = signs or (NO_SIGN,)
    return [(n * step, [(p, told[n % len(told)]) for p in chord]) for n, chord in enumerate(pitches)]


CHORDS = [
    [48, 52, 55, 64, 67, 72],
    [50, 53, 57, 65, 69, 74],
    [47, 50, 55, 62, 67, 71],
    [48, 53, 57, 65, 69, 72],
] * 3


def test_chords_too_fast_to_be_placed_are_a_gesture_each_where_a_tremolo_is_written() -> None:
    assert cannot(played(row(CHORDS, 90_000))) > 0
    assert cannot(played(row(CHORDS, 90_000, Sign.TREMOLO))) == 0


def test_a_glissando_line_brings_its_hand_along() -> None:
    # From string to string without leaving them (Berlioz, Grand traité, p. 90), so its end is no leap.
    leaps = [[24], [96], [25], [97], [26], [98]] * 3
    lines = played(row(leaps, 90_000, Sign.GLISSANDO, Sign.GLISSANDO_END))
    assert cannot(lines) <= cannot(played(row(leaps, 90_000)))
    assert cannot(lines) == 0


def test_the_staves_share_a_chord_out_where_that_costs_nothing() -> None:
    for left in (1, 2, 3):
        chord = [
            (pitch, Sign.LOWER if number < left else Sign.UPPER)
            for number, pitch in enumerate((55, 59, 62, 67))
        ]
        monitor = played([(0, chord), (5_000_000, chord)])
        first = monitor.shares[0]
        assert first.left == (55, 59, 62, 67)[:left]
        assert first.right == (55, 59, 62, 67)[left:]


def test_the_staves_make_nothing_harder() -> None:
    # Where the hand that a staff names has no time to be placed, the other one helps.
    for step in (60_000, 90_000, 120_000, 160_000):
        music: list[tuple[int, Chord]] = [
            (n * step, [(pitch, Sign.LOWER)]) for n, pitch in enumerate((43, 50, 55, 59, 62, 67))
        ]
        struck = [(pitch, Sign.UPPER if pitch > 57 else Sign.LOWER) for pitch in (43, 50, 55, 59, 62, 67, 71)]
        music.append((6 * step, struck))
        plain = [(us, [(pitch, NO_SIGN) for pitch, _ in chord]) for us, chord in music]
        assert played(music).counts() == played(plain).counts()
