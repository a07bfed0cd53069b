"""Signs of a score: what they say is no trouble for the hands (common practice, no source)."""

from __future__ import annotations

import pytest

from livepedal.harp.signs import NO_SIGN, Sign
from livepedal.model.hands import Hands, Share

from .playing import FIGURES, HARP

MS = 1_000
Notes = dict[int, Sign]


def struck(*attacks: tuple[int, Notes]) -> tuple[list[tuple[bool, bool, bool]], tuple[Share, ...]]:
    """Who cannot play each attack (ms), and which hand takes what."""
    hands = Hands(FIGURES.players, HARP, FIGURES)
    failed = []
    for ms, notes in attacks:
        hands.open(ms * MS)
        for pitch, signs in notes.items():
            hands.strike(pitch, ms * MS, signs)
        failed.append(hands.judge(tuple(sorted(notes)), ms * MS))
        hands.close()
    hands.finish()
    return failed, hands.shares


def all_of(pitches: tuple[int, ...], signs: Sign = NO_SIGN) -> Notes:
    return dict.fromkeys(pitches, signs)


FIRST, THEN = (36, 40, 43, 48, 60, 64, 67, 72), (38, 41, 45, 50, 62, 65, 69, 74)
EVERYBODY, NOBODY = (True, True, True), (False, False, False)


@pytest.mark.parametrize("signs", [NO_SIGN, Sign.TREMOLO, Sign.TRILL])
def test_a_written_tremolo_goes_as_fast_as_the_player_likes(signs: Sign) -> None:
    found, _ = struck(*((60 * n, all_of((FIRST, THEN)[n % 2], signs)) for n in range(4)))
    assert (EVERYBODY in found) is (signs is NO_SIGN)


def test_its_notes_must_lie_within_both_hands() -> None:
    wide = (36, 48, 60, 72, 84)
    found, _ = struck(*((100 * n, all_of(wide, Sign.TREMOLO)) for n in range(4)))
    assert EVERYBODY in found


def test_a_rolled_chord_may_be_taken_in_two_placings_a_hand() -> None:
    chords = (36, 45, 57, 69, 72, 84), (37, 46, 58, 70, 73, 85)
    for signs in (NO_SIGN, Sign.ROLLED):
        found, _ = struck(*((400 * n, all_of(chords[n % 2], signs)) for n in range(4)))
        assert (found == [NOBODY] * 4) is (signs is Sign.ROLLED)


def test_a_glissando_brings_its_hand_along() -> None:
    low, up = Sign.LOWER, Sign.UPPER
    for end in (NO_SIGN, Sign.GLISSANDO_END):
        _, (_, last) = struck((0, {36: low, 43: low, 60: up}), (300, {38: low, 45: low, 96: up | end}))
        assert (last.left, last.right) == ((38, 45), (96,))
        assert last.possible is bool(end)


def test_the_staves_part_the_hands_where_they_can() -> None:
    up, low = Sign.UPPER, Sign.LOWER
    for notes, left in (
        ({48: low, 52: up, 55: up, 60: up}, (48,)),
        ({48: low, 52: low, 55: low, 60: up}, (48, 52, 55)),
    ):
        _, (share,) = struck((0, notes))
        assert (share.left, share.right) == (left, tuple(pitch for pitch in notes if pitch not in left))
    # Five notes on one staff are no grip, so the hands share them.
    _, (share,) = struck((0, {48: low, 60: up, 62: up, 64: up, 65: up, 67: up}))
    assert len(share.right) <= 4
