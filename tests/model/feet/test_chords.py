"""A chord's ways to be put on strings, against counting out every choice of a string for every note: those that leave the
octaves of a pitch class on one letter.
"""

from __future__ import annotations

from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from livepedal.harp import Figures, Pedal, Position
from livepedal.model.feet.chords import Chords, reads

INSTRUMENT = Figures.builtin().instrument("47")


@given(st.sets(st.integers(24, 103), min_size=1, max_size=9))
@settings(max_examples=200)
def test_ways_are_all_choices_that_a_setting_holds(chosen: set[int]) -> None:
    chords = Chords(INSTRUMENT)
    pitches = tuple(sorted(pitch for pitch in chosen if chords.options[pitch] is not None))
    every = set()
    for choice in product(*(chords.options[pitch] or ((-1, 0),) for pitch in pitches)):
        setting: dict[int, int] = {}
        octaves: dict[object, int] = {}
        if all(
            setting.setdefault(pedal, position) == position
            and octaves.setdefault(chords.options[pitch], pedal) == pedal
            for pitch, (pedal, position) in zip(pitches, choice, strict=True)
            if pedal >= 0
        ):
            every.add(
                frozenset((p, *option) for p, option in zip(pitches, choice, strict=True) if option[0] >= 0)
            )
    found = []
    for sharing in chords.ways(pitches):
        for left, right in product(sharing.left, sharing.right):
            found.append(
                frozenset(
                    (pitch, first + index, position)
                    for first, way in ((0, left), (3, right))
                    for index, position, keys in way
                    for pitch in pitches
                    if keys >> pitch & 1
                )
            )
    assert len(found) == len(set(found))
    assert set(found) == every


def test_chords_of_many_notes_have_few_ways() -> None:
    chords = Chords(INSTRUMENT)
    octaves = tuple(pitch for pitch in range(24, 104) if pitch % 12 in (1, 4, 8))
    pairs = [p for sharing in chords.ways(octaves) for p in product(sharing.left, sharing.right)]
    assert 0 < len(pairs) <= 2**3
    everything = tuple(range(30, 100))
    assert chords.ways(everything) == ()  # twelve pitch classes, seven pedals


def test_a_spelling_that_is_asked_for_may_have_octaves_on_two_letters() -> None:
    chords = Chords(INSTRUMENT).narrowed(((63, ((int(Pedal.E), -1),)), (75, ((int(Pedal.D), 1),))))
    assert len(chords.ways((63, 75))) == 1


def test_how_spellings_read() -> None:
    # Open strings sound best and flats go before sharps (Berlioz, Grand traité, p. 86); C♭, F♭, E♯ and B♯ are white
    # keys, which nobody writes without need (common practice, no source).
    prices = {
        f"{pedal.letter}{position.sign}": reads(pedal, position, 0b1)
        for pedal in Pedal
        for position in Position
    }
    assert {prices[f"{letter}♮"] for letter in "CDEFGAB"} == {0}
    flats, sharps = {prices[f"{letter}♭"] for letter in "DEGAB"}, {prices[f"{letter}♯"] for letter in "CDFGA"}
    white = {prices[name] for name in ("C♭", "F♭", "E♯", "B♯")}
    assert len(flats) == len(sharps) == len(white) == 1
    assert 0 < max(flats) < max(sharps) < max(white)
    assert reads(Pedal.A, Position.FLAT, 0b101) == 2 * max(flats)  # each note counts
