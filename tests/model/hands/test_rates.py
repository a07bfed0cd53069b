"""How fast is too fast: the orders of magnitude that harpists give, for three players.

Common practice, no source: figures from memory, to stay near and not borders to fit. Each row: a passage, up to how many
strokes a second a relaxed player and a virtuoso play it, and from how many on nobody does. At the first rate it must be
easy, at the second no worse than virtuoso, at the third unplayable; what is said at each of the three players, and so of
each, stands beside it. Rows that part from that say why.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from itertools import pairwise

import pytest

from livepedal.model.findings import Layer, Verdict
from livepedal.model.hands import FigurationKind
from livepedal.model.monitor import BareMonitor
from livepedal.music.attacks import Gathered
from livepedal.music.events import NoteOn

from .playing import FIGURES, HARP, line, merged, played, told, verdict

SECOND = 1_000_000
# Every semitone from D4 to E♭5: of no five in a row does one setting of the pedals hold all (G A♭ A; A B♭ B C; B C C♯ D;
# D E♭ E F; E F F♯ G are held by none), so that no part of it can be a glissando.
SCALE = [*range(62, 76), *range(74, 61, -1)]
C_MAJOR = [48 + 12 * octave + n for octave in range(4) for n in (0, 2, 4, 5, 7, 9, 11)]
CHORDS = [(48, 52, 55, 60), (50, 53, 57, 62), (47, 50, 55, 59), (52, 55, 59, 64)]


def busy(count: int, step: int) -> tuple[Gathered, ...]:
    """The left hand is kept in the bass with chords that do not stay the same."""
    chords = [(28, 35, 40), (29, 36, 41), (31, 38, 43)]
    return line([chords[n % 3] for n in range(count)], step)


def one_hand(step: int) -> tuple[Gathered, ...]:
    """A scale in one hand, the other kept elsewhere once in four notes."""
    notes = [pitch + 12 for pitch in SCALE]
    return merged(line(notes, step), busy(len(notes) // 4 + 1, 4 * step))


def in_turn(step: int) -> tuple[Gathered, ...]:
    return line(SCALE, step)


def octaves(step: int) -> tuple[Gathered, ...]:
    return line([(pitch - 12, pitch) for pitch in SCALE], step)


def broken_thirds(step: int) -> tuple[Gathered, ...]:
    return line([note for low, high in zip(C_MAJOR, C_MAJOR[2:], strict=False) for note in (low, high)], step)


def one_string(step: int) -> tuple[Gathered, ...]:
    return line([67] * 24, step)


def four_notes(step: int) -> tuple[Gathered, ...]:
    """Chords in one hand, each another one; the other hand has its own."""
    return line([(28 + n % 2, 35 + n % 3, *chord) for n, chord in enumerate(CHORDS * 4)], step)


def eight_notes(step: int) -> tuple[Gathered, ...]:
    return line([tuple(p - 12 for p in chord) + tuple(p + 7 for p in chord) for chord in CHORDS * 4], step)


def same_chord(step: int) -> tuple[Gathered, ...]:
    return line([(48, 55, 64)] * 16, step)


def leaps(step: int) -> tuple[Gathered, ...]:
    """Three octaves to and fro in one hand, while the other is kept in the bass by the same leaps the other way."""
    return line([(29 + n % 3, 96 + n % 4) if n % 2 else (65 + n % 3, 60 + n % 4) for n in range(24)], step)


Passage = Callable[[int], Sequence[Gathered]]
E, P, V, U = Verdict
# The passage; the three rates, each with what is said there: E all three players, P all but the relaxed one, V the virtuoso
# alone, U none.
ROWS: list[tuple[str, Passage, dict[float, Verdict]]] = [
    ("scale, one hand", one_hand, {8: E, 11: V, 14: U}),
    ("scale, hands in turn", in_turn, {12: E, 16: P, 20: U}),
    ("scale in octaves, two hands", octaves, {6: E, 9: P, 12: U}),
    ("broken thirds", broken_thirds, {8: E, 12: P, 16: U}),
    ("one string again and again", one_string, {4: E, 7: V, 9: U}),
    ("four-note chords in one hand", four_notes, {3: E, 5: P, 7: U}),
    ("eight-note chords in two hands", eight_notes, {2.5: E, 4: P, 6: U}),
    ("leaps of three octaves", leaps, {2: E, 3.5: V, 5: U}),
]


def at(passage: Passage, rate: float) -> Verdict:
    return verdict(passage(round(SECOND / rate)))


@pytest.mark.parametrize(("passage", "said"), [row[1:] for row in ROWS], ids=[row[0] for row in ROWS])
def test_rates_of_passages(passage: Passage, said: dict[float, Verdict]) -> None:
    assert {rate: at(passage, rate) for rate in said} == said
    relaxed, virtuoso, nobody = said.values()
    assert (relaxed, nobody) == (E, U)
    assert virtuoso <= V


def stopped(passage: Passage, rate: float) -> list[bool]:
    """Which of the three players cannot play a passage at so many strokes a second."""
    monitor, _ = told(passage(round(SECOND / rate)))
    return [count.unplayable > 0 for count in monitor.counts()]


@pytest.mark.slow
@pytest.mark.parametrize("name", [row[0] for row in ROWS])
def test_at_thirty_random_tempos(name: str) -> None:
    """Slower is never harder, an abler player never stops before another; the relaxed one stops between the first rate
    of the row and the second, the virtuoso between the second and the third.
    """
    (passage, (relaxed, virtuoso, nobody)) = next((row[1], list(row[2])) for row in ROWS if row[0] == name)
    rng = random.Random(name)
    rates = sorted(rng.uniform(0.7 * relaxed, 1.4 * nobody) for _ in range(30))
    found = [stopped(passage, rate) for rate in rates]
    assert all(one == sorted(one, reverse=True) for one in found)
    assert all(slow <= quick for before, after in pairwise(found) for slow, quick in zip(before, after, strict=True))
    stops = [next(rate for rate, one in zip(rates, found, strict=True) if one[n]) for n in (0, 2)]
    room = 1.4 * nobody / 10  # so far from one tempo to the next
    assert relaxed <= stops[0] <= virtuoso + room
    assert virtuoso <= stops[1] <= nobody + room


@pytest.mark.slow
def test_the_same_chord_again_is_no_harder_slower() -> None:
    verdicts = [at(same_chord, rate) for rate in (1, 2, 4, 8, 16, 24, 40)]
    assert all(slow <= quick for slow, quick in pairwise(verdicts))


# -- Rows that part from the table ------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [4, 6, 8, 12, 16, 25])
def test_the_same_chord_again_is_a_tremolo_whatever_its_speed(rate: int) -> None:
    # The table: 4, 6, and from 8 on a tremolo, which goes. Slower can be no harder, so it goes at all of these.
    assert at(same_chord, rate) <= Verdict.PLAYABLE


@pytest.mark.parametrize("rate", [3, 6, 8, 10, 12, 16, 20, 30, 50, 60])
@pytest.mark.parametrize("apart", [12, 16, 4])
def test_scales_over_the_strings_as_set_are_glissandi_in_parallel(rate: int, apart: int) -> None:
    # The table: octaves and thirds up to 12 a second. A glissando of two hands has up to 60 strings a second, and slower
    # is never harder: so a run that can be slid goes at every speed, and only one that cannot has that limit (above).
    voices = [
        merged(line(C_MAJOR, SECOND // rate), line([p + apart for p in shifted(apart)], SECOND // rate))
    ]
    for played_out in voices:
        assert at_once(played_out) is Verdict.EASY


def shifted(apart: int) -> list[int]:
    """The notes under C major's own, an octave, a tenth or a third above them."""
    scale = [*C_MAJOR, 96, 98, 100]
    steps = {12: 7, 16: 9, 4: 2}[apart]
    above = [scale[n + steps] if n + steps < len(scale) else scale[-1] for n in range(len(C_MAJOR))]
    return [pitch - apart for pitch in above][: len(C_MAJOR) - 7]


def at_once(attacks: Sequence[Gathered]) -> Verdict:
    return verdict(attacks)


# -- What a file plays out --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [8, 12, 16, 20, 25])
@pytest.mark.parametrize(
    "groups",
    [
        [(60, 64)], [(48, 52, 55, 60)], [(48, 55, 60, 64, 67, 72, 76, 79)],
        [(60, 67), (64, 72)], [(48, 52, 55), (60, 64, 67, 72)], [(60,), (67,)],
    ],
)  # fmt: skip
def test_tremolo(groups: list[tuple[int, ...]], rate: int) -> None:
    # Same notes again at 8 to 25 a second, together or in two groups in turn: playable, a remark.
    music = line(groups * (24 // len(groups)), SECOND // rate)
    assert verdict(music) <= Verdict.PLAYABLE
    monitor, found = told(music)
    assert found == []
    assert [figure.kind for figure in monitor.figurations] == [FigurationKind.TREMOLO]


def test_a_tremolo_beyond_the_reach_of_both_hands_is_none() -> None:
    # Notes beyond both hands' reach, or five and more in one hand: unplayable.
    wide = line([(36, 60, 84)] * 16, SECOND // 12)
    many = line([(60, 62, 64, 65, 67, 69, 71, 72, 74)] * 16, SECOND // 12)
    for music in (wide, many):
        assert verdict(music) is Verdict.UNPLAYABLE


@pytest.mark.parametrize(
    ("rate", "most"), [(8, Verdict.EASY), (12, Verdict.EASY), (14, Verdict.PLAYABLE), (25, Verdict.PLAYABLE)]
)
@pytest.mark.parametrize("notes", [(71, 72), (64, 65), (67, 69), (74, 76)])
def test_trills(notes: tuple[int, int], rate: int, most: Verdict) -> None:
    # Two hands to about 12 to 14 a second; what is faster in a file is the sequencer's choice.
    music = line(list(notes) * 16, SECOND // rate)
    monitor, found = told(music)
    assert found == []
    assert verdict(music) <= most
    assert [figure.kind for figure in monitor.figurations] == [FigurationKind.TRILL]


TRIAD = [36 + 12 * octave + n for octave in range(5) for n in (0, 4, 7)]


@pytest.mark.parametrize(
    ("rate", "least", "most"),
    [(12, Verdict.EASY, Verdict.EASY), (16, Verdict.EASY, Verdict.PLAYABLE), (20, Verdict.PLAYABLE, Verdict.PLAYABLE),
     (25, Verdict.UNPLAYABLE, Verdict.UNPLAYABLE), (40, Verdict.UNPLAYABLE, Verdict.UNPLAYABLE)],
)  # fmt: skip
def test_arpeggios_through_both_hands(rate: int, least: Verdict, most: Verdict) -> None:
    # As fast as 16 to 20 notes a second; a triad cannot be swept as a glissando, since strings lie between.
    for notes in (TRIAD, TRIAD[::-1], TRIAD + TRIAD[-2::-1]):
        assert least <= verdict(line(notes, SECOND // rate)) <= most


@pytest.mark.parametrize("step", [20, 50, 80])
def test_rolls_and_grace_notes_are_no_findings(step: int) -> None:
    # Rolls of eight notes, and ornaments before the beat, go off as they were placed.
    eight = (36, 43, 48, 52, 60, 64, 67, 72)
    for notes in (eight, eight[::-1]):
        assert verdict(line(notes, step * 1_000)) is Verdict.EASY
    mordent = merged(line([(48, 55)], SECOND, 4 * 80_000), line([72, 74, 72, 71, 72], 80_000))
    assert told(mordent)[1] == []


def test_a_figure_takes_back_what_was_said_before_it_was_recognised() -> None:
    # Eight notes in two hands, too wide to be struck again at once by the same fingers.
    notes = (36, 43, 48, 55, 60, 67, 72, 79)
    music = line([notes] * 16, SECOND // 12)
    assert any(hands.failed[1] for hands in played(music[:3]))
    monitor, found = told(music)
    assert found == []
    assert monitor.counts()[1].unplayable == 0
    assert (
        monitor.record.graded == [] or max(one.verdict for one in monitor.record.graded) <= Verdict.PLAYABLE
    )


def test_notes_that_no_string_gives_are_not_plucked() -> None:
    """A chromatic run over the top of the harp: what lies beyond is out of range, and no fault of the hands."""
    monitor = BareMonitor(FIGURES, HARP)
    found = [f for n in range(30) for f in monitor.feed(NoteOn(n * 40_000, 82 + n))]
    assert any(f.layer is Layer.HANDS and f.note <= 104 for f in found)
    assert {f.layer for f in found if f.note > 104} == {Layer.STRINGS}
