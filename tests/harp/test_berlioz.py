"""Berlioz's worked examples of settings and spellings: Grand traité d'instrumentation, as at
fr.wikisource.org.

Page numbers are those of the facsimile there. The examples that need time are tested with the model.
"""

from __future__ import annotations

import pytest

from livepedal.errors import LivepedalError
from livepedal.harp import Figures, Setting

HARP = Figures.builtin().instrument("47")


def test_p86_double_flats_are_other_strings() -> None:
    # D𝄫 F♭ A𝄫 C♭ together, played with C, G and B natural, F flat, the rest flat; it sounds C E G B.
    setting = Setting.parse("Db C B | Eb Fb G Ab")
    assert {0, 4, 7, 11} <= setting.pitch_classes
    # "D double flat is C natural, A double flat is G natural."
    with pytest.raises(LivepedalError, match="C♮"):
        Setting.parse("Dbb Fb")
    with pytest.raises(LivepedalError, match="set G♮ instead"):
        Setting.parse("Abb Cb")


@pytest.mark.parametrize(
    "chord",
    ["Eb Gb Cb", "Fb Gb Bb Db", "Db Fb Gb Bb", "Cb Eb Gb"],
    ids=lambda c: c.replace(" ", "-"),
)
def test_p86_b_major_is_played_in_c_flat(chord: str) -> None:
    # A tutti in B major, written in C♭ major for the harp: all pedals up, and none moves.
    open_tuning = Setting.parse("C♭ major")
    wanted = Setting.parse(chord)
    assert all(mine in (None, up) for mine, up in zip(wanted.positions, open_tuning.positions, strict=True))
    assert wanted.pitch_classes <= open_tuning.pitch_classes
    assert open_tuning.pitch_classes == Setting.parse("B major").pitch_classes


@pytest.mark.parametrize(
    ("pitch", "spellings"),
    [
        (71, {"C♭5", "B♮4"}),  # the C string flat, the B string raised by one notch
        (75, {"E♭5", "D♯5"}),  # the E string flat, the D string raised by two
    ],
)
def test_p90_unisons_on_two_strings(pitch: int, spellings: set[str]) -> None:
    found = HARP.spellings(pitch)
    assert {spelling.name for spelling in found} == spellings
    # "Both settable together": one setting sounds each of the four strings so.
    setting = Setting.parse("D# Cb B Eb")
    assert {spelling.string.natural + (setting[spelling.pedal] or 0) for spelling in found} == {pitch}


def test_p88_a_repeated_note_can_alternate_between_two_strings() -> None:
    assert {spelling.name for spelling in HARP.spellings(70)} == {"B♭4", "A♯4"}
