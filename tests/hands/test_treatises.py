"""Worked examples of treatises, and the trade's own check values, for hands and strings.

Berlioz: Grand traité d'instrumentation, at fr.wikisource.org; pages are those of the facsimile there.
"""

from __future__ import annotations

import pytest

from livepedal.harp import Player, Position, Setting, Spelling
from livepedal.model.joint import Obstacle

from .playing import HARP, RELAXED, VIRTUOSO, WORKING, hands_trouble, joint_outcomes, joint_trouble, line

MINUTE = 60_000_000


def e_flat_arpeggio(notes: int) -> list[int]:
    """E♭ G B♭ upwards from E♭3."""
    return [(51, 55, 58)[n % 3] + 12 * (n // 3) for n in range(notes)]


# Berlioz p. 88: sextuplets of quavers, six to the minim, rising from E♭3, doubled in the octave below by the
# left hand: impracticable fast, possible slow. The same line not doubled, shared by two hands (p. 87), is
# fine. He gives no tempo.
@pytest.mark.parametrize(
    ("player", "slow", "fast"), [(RELAXED, 60, 88), (WORKING, 96, 152), (VIRTUOSO, 120, 216)]
)
def test_p88_hands_in_parallel_octaves(player: Player, slow: int, fast: int) -> None:
    single = e_flat_arpeggio(13)
    doubled = [(pitch - 12, pitch) for pitch in single]
    assert hands_trouble(line(doubled, MINUTE // slow // 6), player) == []
    assert hands_trouble(line(doubled, MINUTE // fast // 6), player) != []
    assert hands_trouble(line(single, MINUTE // fast // 6), player) == []


def fastest(pitches: list[int], player: Player) -> int:
    """The most notes a second at which the player plays these."""
    return max(n for n in range(1, 31) if joint_trouble(line(pitches, 1_000_000 // n), player) is None)


@pytest.mark.parametrize("player", [RELAXED, WORKING, VIRTUOSO])
def test_p88_a_repeated_note_goes_on_two_strings(player: Player) -> None:
    # Berlioz p. 88: eight repeated B♭4 on one string, alternating fingers: ungainly and difficult; on B♭ and
    # A♯: easy. G has one string only (follows from the pedals).
    b_flat, g = fastest([70] * 8, player), fastest([67] * 8, player)
    assert b_flat >= 2 * g - 1
    # Common practice: about 3, 6 and 8 a second on one string.
    assert g == {"relaxed": 3, "working": 6, "virtuoso": 8}[player.name]


def test_p88_a_repeated_note_needs_both_positions() -> None:
    """Where the A string has to be A♮ as well, with no time to set it, B♭ cannot be had on two strings."""
    repeated = line([70] * 8, 100_000)
    assert joint_trouble(repeated) is None
    with_a = line([(57, 70), *[70] * 7], 100_000)
    assert joint_trouble(with_a) is not None
    *_, last = joint_outcomes(with_a[: (joint_trouble(with_a) or 0) + 1])
    assert last.obstacles == {Obstacle.STRINGS}


def test_p90_unison_pairs() -> None:
    # Berlioz p. 90: C♭5 on the C string (flat) and the B string, E♭5 on the E string and the D string (raised
    # twice); both pairs settable together: D♯, C♭, B♮, E♭. So both pitches can be struck twice as often as
    # one string allows, in turn.
    setting = Setting.parse("D# Cb B Eb")
    assert {s.name for s in HARP.spellings(71)} == {"C♭5", "B♮4"}
    assert {s.name for s in HARP.spellings(75)} == {"E♭5", "D♯5"}
    assert all(setting[s.pedal] == s.position for pitch in (71, 75) for s in HARP.spellings(pitch))
    tremolo = [71, 75] * 12
    assert fastest(tremolo, WORKING) >= 22
    # Of G and A each has one string: half of that.
    assert fastest([67, 69] * 12, WORKING) == 12


# -- The trade's check values (common practice, no source) ---------------------------


def test_a_trill_of_twelve_notes_a_second_is_normal() -> None:
    for pitches in ([67, 69], [74, 76], [72, 74], [69, 71]):
        assert joint_trouble(line(pitches * 12, 1_000_000 // 12)) is None


def test_double_sharps_strike_the_same_string_twice() -> None:
    """F𝄪 then G: both are the G string, since no pedal sets a double sharp. Possible at a slower tempo, not
    at the full one.
    """
    assert {s.name for s in HARP.spellings(67)} == {"G♮4"}
    # E♯ F𝄪 G F𝄪 and on, as in a written-out turn: G comes three times running.
    turn = [65, 67, 67, 67, 68, 67]
    for player in (RELAXED, WORKING, VIRTUOSO):
        tempo = fastest(turn, player)
        assert 3 <= tempo <= 10
        found = next(joint for joint in joint_outcomes(line(turn, 50_000), player) if joint.failed)
        assert Obstacle.STRINGS in found.obstacles
    # A note that is struck but once more has a fastest tempo too.
    assert fastest([64, 67, 67, 69], WORKING) < fastest([64, 66, 67, 69], WORKING)


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
    assert joint_trouble(line(music, MINUTE // 80 // 2)) is None


# -- Chords and settings -------------------------------------------------------------------------------------


def test_spellings_of_one_attack_lie_in_one_setting() -> None:
    """Section 7: C–C♯–D is playable as B♯ C♯ D, G–G♯–A is impossible (Canton & Overlach; Volpé Bligh, item
    8).
    """
    from livepedal.model.chords import Chords

    chords = Chords(HARP)
    assert chords.ways((60, 61, 62))
    assert not chords.ways((67, 68, 69))
    assert Spelling(HARP.spellings(60)[0].string, Position.SHARP).pitch == 60
