"""Worked examples of treatises, and the trade's own check values, for hands and strings.

Berlioz: Grand traité d'instrumentation, at fr.wikisource.org; pages are those of the facsimile there.
"""

from __future__ import annotations

import pytest

from livepedal.harp import Player, Position, Setting, Spelling
from livepedal.model.feet.chords import Chords
from livepedal.model.findings import Verdict
from livepedal.model.hands.grips import Grips
from livepedal.model.hands.pace import doubled

from .playing import FIGURES, HARP, RELAXED, VIRTUOSO, WORKING, hands_trouble, line, verdict

MINUTE = 60_000_000


def e_flat_arpeggio(notes: int) -> list[int]:
    """E♭ G B♭ upwards from E♭3."""
    return [(51, 55, 58)[n % 3] + 12 * (n // 3) for n in range(notes)]


# Berlioz p. 88: sextuplets of quavers, six to the minim, rising from E♭3, doubled in the octave below by the
# left hand: impracticable fast, possible slow. The same line not doubled, shared by two hands (p. 87), is
# fine. He gives no tempo: possible are here 6 octaves a second for the relaxed player, 8.8 for the working one, between
# those and the 9 of a virtuoso (from memory, test_rates.py).
@pytest.mark.parametrize(
    ("player", "slow", "fast"), [(RELAXED, 60, 88), (WORKING, 88, 152), (VIRTUOSO, 90, 190)]
)
def test_p88_hands_in_parallel_octaves(player: Player, slow: int, fast: int) -> None:
    single = e_flat_arpeggio(13)
    doubled = [(pitch - 12, pitch) for pitch in single]
    assert hands_trouble(line(doubled, MINUTE // slow // 6), player) == []
    assert hands_trouble(line(doubled, MINUTE // fast // 6), player) != []
    assert hands_trouble(line(single, MINUTE // fast // 6), player) == []


def fastest(pitches: list[int], player: Player) -> int:
    """The most notes a second at which the player plays these."""
    return max(n for n in range(1, 41) if not hands_trouble(line(pitches, 1_000_000 // n), player))


@pytest.mark.parametrize("player", [RELAXED, WORKING, VIRTUOSO])
def test_p88_a_repeated_note_goes_on_two_strings(player: Player) -> None:
    # Berlioz p. 88: eight repeated B♭4 on one string, alternating fingers: ungainly and difficult; on B♭ and A♯: easy.
    # G has one string only (follows from the pedals).
    b_flat, g = fastest([70] * 8, player), fastest([67] * 8, player)
    assert b_flat >= 2 * g - 1
    # From memory, no source: 4 a second relaxed, 7 a virtuoso.
    assert g == {"relaxed": 4, "working": 5, "virtuoso": 7}[player.name]


def test_p88_a_repeated_note_needs_both_positions() -> None:
    """Where the A string has to be A♮ as well, with no time to set it, B♭ cannot be had on two strings."""
    assert hands_trouble(line([70] * 8, 100_000)) == []
    assert hands_trouble(line([(57, 70)] * 2 + [70] * 6, 100_000)) != []


def test_p90_unison_pairs() -> None:
    # Berlioz p. 90: C♭5 on the C string (flat) and the B string, E♭5 on the E string and the D string (raised twice);
    # both pairs settable together: D♯, C♭, B♮, E♭. So both pitches can be struck twice as often as one string allows.
    setting = Setting.parse("D# Cb B Eb")
    assert {s.name for s in HARP.spellings(71)} == {"C♭5", "B♮4"}
    assert {s.name for s in HARP.spellings(75)} == {"E♭5", "D♯5"}
    assert all(setting[s.pedal] == s.position for pitch in (71, 75) for s in HARP.spellings(pitch))
    together = 1 << 11 | 1 << 3
    assert doubled(11, together)
    assert doubled(3, together)
    # C♮ besides leaves B with one string.
    assert not doubled(11, together | 1)


# -- The trade's check values (common practice, no source) ---------------------------


def test_a_trill_of_twelve_notes_a_second_is_normal() -> None:
    for pitches in ([67, 69], [74, 76], [72, 74], [69, 71]):
        assert verdict(line(pitches * 12, 1_000_000 // 12)) is Verdict.EASY


def test_one_change_of_harmony_a_bar_is_manageable() -> None:
    """At a moderate tempo, four crotchets at 80: broken chords, a new key in every bar."""
    bars = [
        (48, 52, 55, 60),
        (44, 48, 51, 56),
        (53, 57, 60, 65),
        (51, 55, 58, 63),
        (55, 59, 62, 67),
        (48, 52, 55, 60),
    ]
    music = [pitch for bar in bars for pitch in (*bar, *bar[::-1])]
    assert hands_trouble(line(music, MINUTE // 80 // 2)) == []


# -- What a hand takes (Table H) ---------------------------------------------------------------------------------------


GRIPS = Grips((RELAXED, WORKING, VIRTUOSO), HARP, FIGURES.hands)


def test_five_notes_are_too_many_for_one_hand() -> None:
    # Rimsky-Korsakov, ch. I: five or more notes a hand impossible.
    for player in (RELAXED, WORKING, VIRTUOSO):
        assert GRIPS.fits((60, 62, 64, 65), player)
        assert not GRIPS.fits((60, 62, 64, 65, 67), player)


def test_a_hand_reaches_ten_strings() -> None:
    # siba, hand position: a tenth per hand is easy. Counted in strings, not semitones: C4 to E5. An eleventh as one flat
    # chord is reported of some (italianfolkharp.wordpress.com): it is told as a chord to be rolled.
    assert GRIPS.flat((60, 76), WORKING)
    assert not GRIPS.flat((62, 79), WORKING)


def test_the_wide_gap_lies_at_the_thumb() -> None:
    # theharplegacyproject.com, typical: thumb to second finger a fifth or more, the others close together, no second
    # finger beside the thumb within a tenth.
    assert GRIPS.fits((60, 64, 67, 76), WORKING)
    assert not GRIPS.fits((60, 74, 76), WORKING)


def test_eight_notes_at_once_and_not_nine() -> None:
    # Table H: eight notes in two hands if each hand spans ten strings at most; four per hand (Rimsky-Korsakov, ch. I).
    eight, nine = (36, 43, 48, 52, 60, 64, 67, 72), (36, 43, 48, 52, 60, 64, 67, 72, 76)
    assert hands_trouble(line([eight], 500_000)) == []
    # The ninth needs a second placing, for which there is no time after another chord.
    assert hands_trouble(line([eight, nine], 150_000)) == [1]
    assert hands_trouble(line([eight, nine], 1_500_000)) == []


def test_too_wide_for_both_hands() -> None:
    # Three notes, each two octaves and more from the next: no division fits two hands of ten strings.
    assert hands_trouble(line([(40, 64), (36, 60, 84)], 120_000)) == [1]


# -- Chords and settings -------------------------------------------------------------------------------------


def test_spellings_of_one_attack_lie_in_one_setting() -> None:
    """Section 7: C–C♯–D is playable as B♯ C♯ D, G–G♯–A is impossible (Canton & Overlach; Volpé Bligh, item
    8).
    """
    chords = Chords(HARP)
    assert chords.ways((60, 61, 62))
    assert not chords.ways((67, 68, 69))
    assert Spelling(HARP.spellings(60)[0].string, Position.SHARP).pitch == 60
