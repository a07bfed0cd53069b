"""The instrument against tables that were worked out and written down before there was a program.

Tables A to F: counts and sets over all 3 ** 7 = 2187 settings, and the trade's names of strings and keys.
"""

from __future__ import annotations

from collections import Counter
from itertools import combinations, pairwise, product

import pytest

from livepedal.harp import Figures, Foot, HarpString, Instrument, Pedal, Position, Setting

ALL_SETTINGS = [Setting(positions) for positions in product(Position, repeat=7)]
NOTES = {
    name: number
    for number, names in enumerate(
        ["C", "C# Db", "D", "D# Eb", "E", "F", "F# Gb", "G", "G# Ab", "A", "A# Bb", "B"]
    )
    for name in names.split()
}
# A harp on which every string has a pedal: what Widor counts, 47 x 3 = 141 pitches (Initiation musicale, p.
# 47).
WIDOR = Instrument("47", HarpString.parse("C1"), HarpString.parse("G7"))


def pitch_classes(notes: str) -> frozenset[int]:
    return frozenset(NOTES[note] for note in notes.split())


# Table A: the 47 strings and their natural MIDI numbers (C4 = 60; General MIDI's numbering of keys).
TABLE_A = """
C1=24 D1=26 E1=28 F1=29 G1=31 A1=33 B1=35 C2=36 D2=38 E2=40 F2=41 G2=43 A2=45 B2=47
C3=48 D3=50 E3=52 F3=53 G3=55 A3=57 B3=59 C4=60 D4=62 E4=64 F4=65 G4=67 A4=69 B4=71
C5=72 D5=74 E5=76 F5=77 G5=79 A5=81 B5=83 C6=84 D6=86 E6=88 F6=89 G6=91 A6=93 B6=95
C7=96 D7=98 E7=100 F7=101 G7=103
"""


def test_the_47_strings_and_their_naturals() -> None:
    expected = [(name, int(midi)) for name, midi in (pair.split("=") for pair in TABLE_A.split())]
    strings = Figures.builtin().instrument("47").strings
    assert [(string.name, string.natural) for string in strings] == expected
    assert [string.number for string in strings] == list(range(strings[0].number, strings[0].number + 47))
    assert [HarpString.parse(name) for name, _ in expected] == sorted(strings)


# Sizes: harpinsideout.com, Composing for the harp (47); a harp glossary, paintingtrio.blogg.se 2022 (46, 44);
# 40: memory. That the counts fit the outermost strings was computed.
@pytest.mark.parametrize(
    ("name", "lowest", "highest"),
    [("47", "C1", "G7"), ("46", "D1", "G7"), ("44", "D1", "E7"), ("40", "G1", "D7")],
)
def test_sizes_of_harps(name: str, lowest: str, highest: str) -> None:
    harp = Figures.builtin().instrument(name)
    assert len(harp.strings) == int(name)
    assert (harp.strings[0].name, harp.strings[-1].name) == (lowest, highest)


def test_lowest_and_highest_sound() -> None:
    # C♭1 to G♯7: Wikipedia "Pedal harp"; viciousantelope.com, The harp.
    sounding = [midi for midi in range(128) if WIDOR.spellings(midi)]
    assert (sounding[0], sounding[-1]) == (23, 104)
    assert sounding == list(range(23, 105))
    assert sum(len(WIDOR.spellings(midi)) for midi in range(128)) == 141


def test_octave_numbers_are_those_of_the_string() -> None:
    # Table A, "watch": C♭4 = 59, B♯3 = 60.
    assert {s.name for s in WIDOR.spellings(59)} == {"C♭4", "B♮3"}
    assert {s.name for s in WIDOR.spellings(60)} == {"C♮4", "B♯3"}


# Section 2, enharmonic table (two strings for nine pitch classes, one for D, G and A: young composers'
# wiki, "Harp"; recomputed there).
ENHARMONICS = [
    "C♮ B♯", "C♯ D♭", "D♮", "D♯ E♭", "E♮ F♭", "F♮ E♯", "F♯ G♭", "G♮", "G♯ A♭", "A♮", "A♯ B♭", "B♮ C♭",
]  # fmt: skip


def test_enharmonic_table() -> None:
    for midi in range(36, 96):
        names = {spelling.name[:-1] for spelling in WIDOR.spellings(midi)}
        assert names == set(ENHARMONICS[midi % 12].split())
        assert all(spelling.pitch == midi for spelling in WIDOR.spellings(midi))


def test_pitch_classes_with_one_string() -> None:
    # Table B: {2, 7, 9}; 21 cells of string and pedal, 9 two-way and 3 one-way.
    ways = Counter((pedal.natural + position) % 12 for pedal, position in product(Pedal, Position))
    assert {pitch_class for pitch_class, count in ways.items() if count == 1} == {2, 7, 9}
    assert Counter(ways.values()) == {2: 9, 1: 3}


def test_only_two_choices_of_string_are_choices_of_foot() -> None:
    # Computed by hand from the two tables above and the feet's pedals (Volpé Bligh, Writing for the Pedal
    # Harp, item 7): D♯ (left) or E♭ (right), A♯ (right) or B♭ (left).
    feet = {
        pitch_class: {
            p.foot for p, position in product(Pedal, Position) if (p.natural + position) % 12 == pitch_class
        }
        for pitch_class in range(12)
    }
    assert {pitch_class for pitch_class, both in feet.items() if len(both) == 2} == {NOTES["Eb"], NOTES["Bb"]}


def test_order_of_the_pedals() -> None:
    # Volpé Bligh, item 7; W3C MusicXML 4.0, element harp-pedals: D C B for the left foot, E F G A for the
    # right.
    assert "".join(pedal.letter for pedal in Foot.LEFT.pedals) == "DCB"
    assert "".join(pedal.letter for pedal in Foot.RIGHT.pedals) == "EFGA"


HELD_BY_SOME_SETTING = frozenset(
    frozenset(some)
    for setting in {s.pitch_classes for s in ALL_SETTINGS}
    for size in range(len(setting) + 1)
    for some in combinations(sorted(setting), size)
)


def test_smallest_sets_that_no_setting_holds() -> None:
    # Table C (computed by brute force, published in part by Gotham & Gunn, Music Theory Online 22/4, 2016).
    expected = {
        3: ["G Ab A"],
        4: ["B C C# D", "A Bb B C", "D Eb E F", "E F F# G"],
        5: ["A Bb C C# D", "G Ab Bb B C", "A Bb B C# D", "D Eb E F# G", "D Eb F F# G", "E F F# Ab A"],
    }
    minimal: dict[int, set[frozenset[int]]] = {}
    for size in range(1, 8):
        minimal[size] = {
            notes
            for notes in map(frozenset, combinations(range(12), size))
            if notes not in HELD_BY_SOME_SETTING
            and all(notes - {note} in HELD_BY_SOME_SETTING for note in notes)
        }
    assert minimal[1] == minimal[2] == set()
    for size, sets in expected.items():
        assert minimal[size] == {pitch_classes(notes) for notes in sets}
    assert (len(minimal[6]), len(minimal[7])) == (5, 5)


def test_how_many_sets_are_held() -> None:
    # Table C.
    sizes = Counter(len(notes) for notes in HELD_BY_SOME_SETTING)
    assert [sizes[n] for n in range(1, 9)] == [12, 66, 219, 482, 718, 691, 359, 0]


def test_how_many_sets_settings_sound() -> None:
    # Table E and section 6: 977 sets in all; never fewer than four notes.
    sets = {setting.pitch_classes for setting in ALL_SETTINGS}
    assert len(ALL_SETTINGS) == 2187
    assert len(sets) == 977
    assert Counter(map(len, sets)) == {4: 25, 5: 178, 6: 415, 7: 359}


# Table D: chords that can be set in every transposition, as semitones above the root.
@pytest.mark.parametrize(
    "chord",
    [
        (0, 4, 7), (0, 3, 7), (0, 3, 6), (0, 4, 8),
        (0, 4, 7, 10), (0, 4, 7, 11), (0, 3, 7, 10), (0, 3, 6, 10), (0, 3, 6, 9), (0, 3, 7, 11),
        (0, 2, 4, 7, 10), (0, 1, 4, 7, 10), (0, 3, 4, 7, 10),
        (0, 3, 4, 7), (0, 1, 4, 6, 7, 10), (0, 2, 4, 6, 9, 10),
    ],
)  # fmt: skip
def test_chords_that_can_be_set_on_every_root(chord: tuple[int, ...]) -> None:
    for root in range(12):
        assert frozenset((root + note) % 12 for note in chord) in HELD_BY_SOME_SETTING


# Section 6: settings that sound exactly a chord or scale, and how many settings do (computed by brute
# force; the pentatonic and the diminished seventh on C also in Berlioz, Grand traité, p. 90, and common
# harp teaching).
GLISSANDI = [
    ("C Eb Gb A", "D# C B# | Eb F# Gb A", 1),
    ("C# E G Bb", "Db C# Bb | E Fb G A#", 1),
    ("D F Ab B", "D Cb B | E# F G# Ab", 1),
    ("C D E F# G# A#", "D C Bb | E F# G# A#", 5),
    ("C# D# F G A B", "Db C# B | Eb F G A", 4),
    ("C D E G A", "D C B# | E Fb G A", 1),
    ("F G A C D", "D C B# | E# F G A", 1),
    ("Gb Ab Bb Db Eb", "Db C# Bb | Eb F# Gb Ab", 6),
    ("Gb Bb Db E", "Db C# Bb | E Fb Gb A#", 2),  # dominant seventh
    ("D F Ab C", "D C B# | E# F G# Ab", 1),  # half-diminished
    ("F Ab C Eb", "D# C B# | Eb F G# Ab", 2),  # minor seventh
    ("Db F Ab C", "Db C B# | E# F G# Ab", 2),  # major seventh
    ("E G# C D", "D C B# | E Fb G# Ab", 1),  # augmented dominant seventh
    ("C E G Bb D", "D C Bb | E Fb G A#", None),  # dominant ninths
    ("G B D F A", "D Cb B | E# F G A", None),
    ("C E G Bb Db", "Db C Bb | E Fb G A#", None),
]


@pytest.mark.parametrize(("notes", "written", "count"), GLISSANDI)
def test_glissando_settings(notes: str, written: str, count: int | None) -> None:
    setting = Setting.parse(written)
    assert setting.pitch_classes == pitch_classes(notes)
    exact = [s for s in ALL_SETTINGS if s.pitch_classes == pitch_classes(notes)]
    assert setting in exact
    if count is not None:
        assert len(exact) == count


def roots_that_can_be_set_exactly(chord: tuple[int, ...]) -> dict[int, int]:
    counts = Counter(setting.pitch_classes for setting in ALL_SETTINGS)
    found = {root: counts[frozenset((root + note) % 12 for note in chord)] for root in range(12)}
    return {root: count for root, count in found.items() if count}


@pytest.mark.parametrize(
    ("chord", "roots", "counts"),
    [
        ((0, 4, 7, 10), "Db E F# Ab B", [2, 1, 2, 2, 1]),  # dominant seventh: these five roots only
        ((0, 3, 6, 10), "C D F G Bb", [2, 1, 2, 1, 2]),  # half-diminished
        ((0, 3, 7, 10), "C# Eb F Ab Bb", [2] * 5),  # minor seventh
        ((0, 4, 7, 11), "Db E Gb B", [2] * 4),  # major seventh
        ((0, 4, 7), "", []),  # a triad alone: none
        ((0, 1, 3, 4, 6, 7, 9, 10), "", []),  # octatonic: none
    ],
)
def test_roots_of_exact_glissandi(chord: tuple[int, ...], roots: str, counts: list[int]) -> None:
    # Section 6, the table's chords by root, with the number of settings in the order of the roots.
    found = roots_that_can_be_set_exactly(chord)
    assert found == dict(zip((NOTES[root] for root in roots.split()), counts, strict=True))


@pytest.mark.parametrize("chord", [(0, 2, 4, 7, 10), (0, 1, 4, 7, 10)])
def test_dominant_ninths_on_every_root(chord: tuple[int, ...]) -> None:
    # Section 6: dominant ninths 1 to 4 settings on all twelve roots, with flat ninth 1 to 3.
    found = roots_that_can_be_set_exactly(chord)
    assert len(found) == 12
    assert max(found.values()) == (4 if chord[1] == 2 else 3)


# Table F: the settings of the fifteen keys, from seven flats to seven sharps (letters without sign are
# natural).
TABLE_F = [
    ("Cb", "Db Cb Bb|Eb Fb Gb Ab"), ("Gb", "Db Cb Bb|Eb F Gb Ab"), ("Db", "Db C Bb|Eb F Gb Ab"),
    ("Ab", "Db C Bb|Eb F G Ab"), ("Eb", "D C Bb|Eb F G Ab"), ("Bb", "D C Bb|Eb F G A"),
    ("F", "D C Bb|E F G A"), ("C", "D C B|E F G A"), ("G", "D C B|E F# G A"),
    ("D", "D C# B|E F# G A"), ("A", "D C# B|E F# G# A"), ("E", "D# C# B|E F# G# A"),
    ("B", "D# C# B|E F# G# A#"), ("F#", "D# C# B|E# F# G# A#"), ("C#", "D# C# B#|E# F# G# A#"),
]  # fmt: skip


@pytest.mark.parametrize(("key", "written"), TABLE_F)
def test_settings_of_keys(key: str, written: str) -> None:
    expected = Setting.parse(written)
    assert Setting.parse(f"{key} major") == expected
    assert Setting.parse(key) == expected
    assert Setting.parse(f"{key} MAJOR".replace("b ", "♭ ").replace("# ", "♯ ")) == expected


def test_neighbouring_keys_are_one_notch_apart() -> None:
    # Table F.
    positions = [Setting.parse(written).positions for _, written in TABLE_F]
    for one, other in pairwise(positions):
        assert sorted(to - from_ for from_, to in zip(one, other, strict=True)) == [0] * 6 + [1]
    assert [to - from_ for from_, to in zip(positions[0], positions[-1], strict=True)] == [2] * 7


def test_open_tuning() -> None:
    # Volpé Bligh, item 3; Oxford Dictionary of Music, "harp": all up C♭ major, all down C♯ major.
    assert Setting((Position.FLAT,) * 7) == Setting.parse("C♭ major")
    assert Setting((Position.NATURAL,) * 7) == Setting.parse("C major")
    assert Setting((Position.SHARP,) * 7) == Setting.parse("C♯ major")
