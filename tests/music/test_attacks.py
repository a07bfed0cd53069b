"""Attacks: the window, releases, other tempos."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livepedal.harp import Figures, GlissandoFigures, HarpString, Position
from livepedal.music.attacks import WIDEST_STEP, Attack, Gathered, events_of, gather_held
from livepedal.music.events import Event, NoteOff, NoteOn
from tests.music.tempo import scale

WINDOW = 35_000
GLISSANDO = Figures.builtin().glissando


def struck(events: Iterable[Event], window: int, glissando: GlissandoFigures) -> tuple[Attack, ...]:
    return tuple(Attack(found.us, found.pitches) for found in gather_held(events, window, glissando))


def test_the_window_counts_from_the_first_note_and_includes_its_end() -> None:
    onsets = [(0, 60), (20_000, 64), (35_000, 67), (35_001, 72), (70_000, 76), (70_002, 79)]
    events = [NoteOn(us, pitch) for us, pitch in onsets]
    assert struck(events, WINDOW, GLISSANDO) == (
        Attack(0, (60, 64, 67)),
        Attack(35_001, (72, 76)),
        Attack(70_002, (79,)),
    )


def test_a_chord_on_a_cable_is_one_attack() -> None:
    # MIDI 1.0: 31,250 baud, ten bits a byte; a note-on of three bytes takes 0.96 ms, so eight take 7.68 ms.
    byte = Fraction(10, 31_250) * 1_000_000
    events = [NoteOn(int(3 * byte * place), 48 + 3 * place) for place in range(8)]
    assert [len(attack.pitches) for attack in struck(events, WINDOW, GLISSANDO)] == [8]


def test_releases_go_with_their_notes() -> None:
    events = [
        NoteOn(0, 60), NoteOn(10, 64), NoteOff(50_000, 60), NoteOn(60_000, 60), NoteOff(70_000, 64),
        NoteOn(100_000, 60), NoteOff(120_000, 60), NoteOn(200_000, 62), NoteOn(200_000, 65),
        NoteOff(250_000, 62), NoteOff(250_000, 65), NoteOn(300_000, 71),
    ]  # fmt: skip
    assert gather_held(events, WINDOW, GLISSANDO) == (
        Gathered(0, ((60, 50_000), (64, 70_000))),
        Gathered(60_000, ((60, 100_000),)),
        Gathered(100_000, ((60, 120_000),)),
        Gathered(200_000, ((62, 250_000), (65, 250_000))),
        Gathered(300_000, ((71, None),)),
    )


def test_one_pitch_from_two_sources_is_one_note_until_the_last_lets_go() -> None:
    events = [
        NoteOn(0, 60, source=1),
        NoteOn(0, 60, source=2),
        NoteOff(10, 60, source=1),
        NoteOff(99, 60, source=2),
    ]
    assert gather_held(events, WINDOW, GLISSANDO) == (Gathered(0, ((60, 99),)),)
    assert gather_held(events[:3], WINDOW, GLISSANDO) == (Gathered(0, ((60, None),)),)


notes_struck = st.lists(
    st.tuples(st.integers(0, 400_000), st.integers(24, 103), st.integers(1, 200_000)), max_size=25
)


@given(notes_struck, st.integers(0, 60_000))
def test_attacks_share_out_the_notes(notes: list[tuple[int, int, int]], window: int) -> None:
    events = sorted((NoteOn(us, pitch) for us, pitch, _ in notes), key=lambda event: event.us)
    attacks = struck(events, window, GLISSANDO)
    assert {(attack.us, pitch) for attack in attacks for pitch in attack.pitches} <= {
        (max(one.us for one in attacks if one.us <= us), pitch) for us, pitch, _ in notes
    }
    onsets = {us for us, _, _ in notes}
    for one, other in pairwise(attacks):
        # Nearer together only in a line of more notes than a hand places, that is after at least four onsets.
        assert other.us - one.us > window or sum(us < other.us for us in onsets) >= 4
    assert {event.pitch for event in events} == {pitch for attack in attacks for pitch in attack.pitches}


@given(notes_struck, st.fractions(Fraction(1, 2), 4, max_denominator=50))
def test_scaled_attacks_stay_together(notes: list[tuple[int, int, int]], ratio: Fraction) -> None:
    struck = [(us, 1, NoteOn(us, pitch)) for us, pitch, _ in notes]
    released = [(us + length, 0, NoteOff(us + length, pitch)) for us, pitch, length in notes]
    events = [event for _, _, event in sorted(struck + released, key=lambda entry: entry[:2])]
    attacks = gather_held(events, WINDOW, GLISSANDO)
    scaled = scale(attacks, ratio)
    assert [one.pitches for one in scaled] == [one.pitches for one in attacks]
    for one, other in zip(attacks, scaled, strict=True):
        assert abs(other.us - one.us * ratio) <= Fraction(1, 2)
    assert scale(attacks, 1) == attacks


@given(notes_struck)
def test_events_of_gathered_attacks_gather_to_the_same(notes: list[tuple[int, int, int]]) -> None:
    attacks: dict[int, dict[int, int]] = {}
    for us, pitch, length in notes:
        start = us // 50_000 * 50_000
        attacks.setdefault(start, {})[pitch] = start + length
    for start, ends in attacks.items():
        for pitch, end in ends.items():
            # A key that is struck again has been released by then.
            ends[pitch] = min([end, *(us for us, more in attacks.items() if us > start and pitch in more)])
    gathered = tuple(Gathered(us, tuple(sorted(ends.items()))) for us, ends in sorted(attacks.items()))
    assert gather_held(events_of(gathered), WINDOW, GLISSANDO) == gathered


@pytest.mark.parametrize("up", [True, False])
@pytest.mark.parametrize("step", [10, 17, 25, 34])
def test_the_notes_of_a_glissando_are_attacks_of_their_own(step: int, up: bool) -> None:
    # Twenty to sixty strings a second is a quick glissando (from memory); white keys from C3 to C6.
    line = [pitch for pitch in range(48, 85) if pitch % 12 in (0, 2, 4, 5, 7, 9, 11)][:: 1 if up else -1]
    attacks = struck([NoteOn(n * step * 1_000, pitch) for n, pitch in enumerate(line)], 35_000, GLISSANDO)
    singles = [attack.pitches for attack in attacks if len(attack.pitches) == 1]
    assert singles[-len(line) + 4 :] == [(pitch,) for pitch in line[4:]]
    # What one hand has placed beforehand is gathered as ever, and so is the end of a line.
    assert attacks[0].us == 0
    assert len(attacks[0].pitches) == 35 // step + 1


def test_chords_stay_together() -> None:
    # Five notes by a cable, a millisecond apart (MIDI 1.0: 31,250 baud), and by a hand, in any order.
    ninth = (48, 52, 55, 58, 62)
    for step in (1_000, 7_900):
        assert len(struck([NoteOn(n * step, pitch) for n, pitch in enumerate(ninth)], 35_000, GLISSANDO)) == 1
    for order in ((48, 55, 52, 62, 58), (62, 48, 58, 52, 55)):
        assert (
            len(struck([NoteOn(n * 8_000, pitch) for n, pitch in enumerate(order)], 35_000, GLISSANDO)) == 1
        )
    # A line needs steps as between neighbouring strings: an arpeggio in fourths is a chord.
    assert len(struck([NoteOn(n * 8_000, 40 + 5 * n) for n in range(5)], 35_000, GLISSANDO)) == 1
    # Once a line is over, the next chord is a chord again.
    line = [NoteOn(n * 20_000, 60 + n) for n in range(8)]
    chord = [NoteOn(500_000 + n * 9_000, pitch) for n, pitch in enumerate((60, 64, 67))]
    assert struck([*line, *chord], 35_000, GLISSANDO)[-1].pitches == (60, 64, 67)


def test_what_a_glissando_is_stands_in_the_figures() -> None:
    def pitches(step: int, figures: GlissandoFigures) -> list[tuple[int, ...]]:
        line = [NoteOn(n * step * 1_000, pitch) for n, pitch in enumerate((60, 62, 64, 65, 67, 69))]
        return [attack.pitches for attack in struck(line, 35_000, figures)]

    assert pitches(8, GLISSANDO) == [(60, 62, 64, 65), (67,), (69,)]
    assert pitches(8, replace(GLISSANDO, notes=3)) == [(60, 62), (64,), (65,), (67,), (69,)]
    assert pitches(8, replace(GLISSANDO, least_step=8_001)) == [(60, 62, 64, 65, 67), (69,)]
    assert pitches(8, replace(GLISSANDO, step=7_999)) == [(60, 62, 64, 65, 67), (69,)]


def test_no_setting_has_neighbouring_strings_farther_apart_than_the_widest_step() -> None:
    strings = [HarpString.numbered(number) for number in range(7, 56)]
    widest = max(
        two.natural + high - one.natural - low
        for one, two in pairwise(strings)
        for low in Position
        for high in Position
    )
    assert widest == WIDEST_STEP


@pytest.mark.parametrize("window", [0, 35_000])
def test_notes_of_one_moment_are_one_attack_in_a_glissando_too(window: int) -> None:
    # What comes at one tick may come in any order, and gathered attacks are played again with a window of 0.
    line = [NoteOn(n * 40_000, pitch) for n, pitch in enumerate((60, 62, 64, 65, 67, 69))]
    low = NoteOn(5 * 40_000, 43)
    before, after = [*line[:5], low, line[5]], [*line, low]
    assert (
        struck(before, window, GLISSANDO)[5:]
        == struck(after, window, GLISSANDO)[5:]
        == (Attack(200_000, (43, 69)),)
    )
    held = gather_held(after, 35_000, GLISSANDO)
    assert gather_held(events_of(held), window, GLISSANDO) == held


def test_a_note_that_ends_in_its_own_moment_is_struck_before_it_is_released() -> None:
    gathered = (Gathered(0, ((60, 0), (64, 50_000))), Gathered(50_000, ((60, 50_000), (67, 90_000))))
    assert [type(event) for event in events_of(gathered)] == [
        NoteOn, NoteOn, NoteOff, NoteOff, NoteOn, NoteOn, NoteOff, NoteOff,
    ]  # fmt: skip
    assert gather_held(events_of(gathered), WINDOW, GLISSANDO) == gathered
