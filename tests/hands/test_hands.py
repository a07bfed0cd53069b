"""Hands against what stands outside: published figures of reach, and what everybody writes for the harp (common
practice, no source).
"""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import permutations

import pytest

from livepedal.model import hands
from livepedal.model.chords import Chords
from livepedal.model.grips import Grips, places
from livepedal.model.hands import BACK, DOWN, FREE, OPEN, UP, Hand, HandRules, HandsTracker, HandTrouble
from livepedal.music.attacks import Gathered

from .playing import HARP, RELAXED, VIRTUOSO, WORKING, hands_trouble, line, merged

MS = 1_000
CHORDS = Chords(HARP)


def fault(attacks: tuple[Gathered, ...], player: object = WORKING) -> HandTrouble | None:
    """What the hands cannot do at the last attack, having played all before it."""
    tracker = HandsTracker(player, HARP)  # type: ignore[arg-type]
    for attack in attacks:
        pitches = tuple(pitch for pitch, _ in attack.notes)
        tracker.open(attack.us)
        if not tracker.judge(pitches, CHORDS.ways(pitches), attack.us):
            classes = tracker.grips.classes(pitches, CHORDS.ways(pitches))
            return tracker.fault(tracker.before, classes, pitches, attack.us).kind
    return None


# -- Table H -------------------------------------------------------------------------------------------------


def test_five_notes_are_too_many_for_one_hand() -> None:
    # Table H; Rimsky-Korsakov, ch. I: five or more notes a hand impossible.
    for player in (RELAXED, WORKING, VIRTUOSO):
        grips = Grips(player, HARP)
        assert grips.fits(range(28, 32))
        assert not grips.fits(range(28, 33))


def test_a_hand_reaches_ten_strings() -> None:
    # Table H; siba, hand position: a tenth per hand is easy. Counted in strings, not semitones: C4 to E5.
    working, virtuoso = Grips(WORKING, HARP), Grips(VIRTUOSO, HARP)
    assert working.fits([28, 37])
    assert not working.fits([28, 38])
    # An eleventh as one flat chord is reported (italianfolkharp.wordpress.com).
    assert virtuoso.fits([28, 38])
    assert not virtuoso.fits([28, 39])


def test_the_wide_gap_lies_at_the_thumb() -> None:
    # theharplegacyproject.com, typical: thumb to second finger a fifth or more, the others close together, no
    # second finger beside the thumb within a tenth.
    grips = Grips(WORKING, HARP)
    assert grips.fits([28, 30, 32, 37])  # C E G, and the tenth above: the gap is at the top
    assert not grips.fits([28, 36, 37])  # a ninth, and the second finger beside the thumb


def test_eight_notes_at_once_and_not_nine() -> None:
    # Table H: eight notes in two hands allowed if each hand spans ten strings at most; four per hand
    # (Rimsky-Korsakov, ch. I).
    eight = (36, 43, 48, 52, 60, 64, 67, 72)
    assert hands_trouble(line([eight], 500 * MS)) == []
    nine = (36, 43, 48, 52, 60, 64, 67, 72, 76)
    after_a_chord = line([eight, nine], 150 * MS)
    assert hands_trouble(after_a_chord) == [1]
    assert fault(after_a_chord) is HandTrouble.TOO_MANY


def test_too_wide_for_both_hands() -> None:
    # Three notes, each two octaves and more from the next: no division fits two hands of ten strings.
    wide = line([(40, 64), (36, 60, 84)], 120 * MS)
    assert hands_trouble(wide) == [1]
    assert fault(wide) is HandTrouble.TOO_WIDE


def test_with_time_a_chord_that_is_too_wide_or_too_full_is_rolled() -> None:
    # siba, hand position: arpeggiated chords may exceed the span, at the price of a slower roll.
    for chord in ((36, 60, 84), (36, 43, 48, 52, 60, 64, 67, 72, 76)):
        tracker = HandsTracker(WORKING, HARP)
        tracker.open(0)
        assert tracker.judge(chord, CHORDS.ways(chord), 0)
        assert tracker.rolled


def test_a_chord_that_fits_is_not_rolled() -> None:
    tracker = HandsTracker(WORKING, HARP)
    tracker.open(0)
    assert tracker.judge((48, 52, 55, 60), CHORDS.ways((48, 52, 55, 60)), 0)
    assert not tracker.rolled


# -- Placings, not notes, take time --------------------------------------------------------------------------


@pytest.mark.parametrize("roll", [150, 250, 400])
def test_rolled_chords_of_eight_notes(roll: int) -> None:
    # Common practice: eight notes, placed beforehand, go off in 150 to 400 ms.
    chord = (36, 43, 48, 52, 60, 64, 67, 72)
    rolled = line(chord, roll * MS // 8)
    for player in (WORKING, VIRTUOSO):
        assert hands_trouble(rolled, player) == []
        assert hands_trouble(line(chord[::-1], roll * MS // 8), player) == []


def test_arpeggio_groups_of_two_hands_are_no_fast_run() -> None:
    # Common practice: four notes a hand, hand over hand, at 16 notes a second.
    up = [36, 40, 43, 48, 52, 55, 60, 64, 67, 72, 76, 79, 84, 88, 91, 96]
    assert hands_trouble(line(up + up[-2::-1], 62 * MS)) == []


def test_running_on_for_ever_is_no_placing() -> None:
    """A scale in each hand at that speed: after four notes each has to be placed anew, and there is no time."""
    scale = [60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79]
    both = merged(line([p - 24 for p in scale], 40 * MS), line(scale, 40 * MS))
    assert hands_trouble(both, VIRTUOSO)[:1] == [4]


def test_grace_notes_go_off_with_their_main_note() -> None:
    # Common practice: an ornament is placed with its note. Mordent over a chord of the left hand.
    music = merged(line([(48, 55)], 1000 * MS, 400 * MS), line([72, 74, 72], 67 * MS, 266 * MS))
    assert hands_trouble(music) == []


@pytest.mark.parametrize("per_second", [8, 10, 12])
def test_trills_by_two_hands(per_second: int) -> None:
    # Common practice: a trill of 12 notes a second is normal.
    assert hands_trouble(line([74, 76] * 12, 1_000_000 // per_second)) == []


def test_a_leap_takes_time_by_its_distance() -> None:
    """Both hands busy in the bass, then both at the very top: too far at 200 ms, in time after a second."""
    low, high = (36, 43, 48, 55), (84, 88, 91, 96, 100)
    assert fault(line([low, high], 200 * MS)) is HandTrouble.TOO_FAR
    assert fault(line([low, high], 1000 * MS)) is None


def test_faults_have_their_figures() -> None:
    tracker = HandsTracker(WORKING, HARP)
    for moment, chord in ((0, (36, 43, 48, 55)), (200 * MS, (84, 88, 91, 96, 100))):
        tracker.open(moment)
        tracker.judge(chord, CHORDS.ways(chord), moment)
    chord = (84, 88, 91, 96, 100)
    found = tracker.fault(tracker.before, tracker.grips.classes(chord, CHORDS.ways(chord)), chord, 200 * MS)
    assert found.needed > found.available >= 200 * MS
    assert found.strings > 0
    assert set(found.pitches) <= set(chord)


def test_a_rolled_chord_needs_time_for_both_placings() -> None:
    """The figures by the formula at the head of model/hands.py: place + place_finger for each further note + leap for
    each string beyond the reach, for the left hand's first placing and for its second one.
    """
    tracker = HandsTracker(replace(WORKING, fingers=1), HARP)
    four = (24, 26, 28, 29)
    classes = tracker.grips.classes(four, CHORDS.ways(four))
    left_is_there = (0, (24,), OPEN, 24), FREE
    found = tracker.fault((left_is_there,), classes, four, 150 * MS)
    # With a finger each, both hands take two notes one after the other.
    assert (found.kind, found.left, found.pitches) == (HandTrouble.TOO_MANY, True, four)
    assert (found.needed, found.available) == (2 * WORKING.place, 150 * MS)


def test_the_right_hand_has_as_long_as_the_left_breaks_its_notes() -> None:
    """Chords are broken upwards (Rimsky-Korsakov, ch. I), so what is there for the right hand is `roll` more for each
    note of the left's.
    """
    tracker = HandsTracker(WORKING, HARP)
    chord = (43, 47, 96)
    whole = next(one for one in tracker.grips.classes(chord, CHORDS.ways(chord)) if not one.rolled)
    broken = replace(whole, divisions=tuple(one for one in whole.divisions if one.left == ((43, 47),)))
    alone = replace(whole, divisions=tuple(replace(one, left=()) for one in broken.divisions))
    right_is_there = FREE, (0, (72,), OPEN, 72)
    one, other = (tracker.fault((right_is_there,), (found,), chord, 30 * MS) for found in (alone, broken))
    assert (one.left, other.left) == (False, False)
    assert (one.available, other.available) == (30 * MS, 30 * MS + 2 * WORKING.roll)


def test_after_a_chord_that_nobody_could_play_however_rolled_hands_go_on() -> None:
    # Sixteen notes are four placings of four; more have no division.
    seventeen = tuple(range(48, 65))
    assert hands_trouble((*line([seventeen], 500 * MS), *line([60, 64], 500 * MS, 500 * MS))) == [0]


C, D, E, G = 60, 62, 64, 67


@pytest.mark.parametrize(
    ("hand", "block", "after"),
    [
        # A placing goes on one way, from the note that is struck again too; a chord is no single note.
        ((0, (C,), OPEN, C), (C,), ((C, C), OPEN, C)),
        ((0, (C,), OPEN, C), (C, E), ((C, C, E), UP, -1)),
        ((0, (C, E), OPEN, -1), (C,), ((C, C, E), DOWN, C)),
        ((0, (C, E), OPEN, -1), (E,), ((C, E, E), UP, E)),
        ((0, (C, E), OPEN, -1), (G,), ((C, E, G), UP, G)),
        ((0, (D, E), DOWN, -1), (C,), ((C, D, E), DOWN, C)),
        # It has four fingers, and goes back only after `turn`.
        ((0, (C, C, D, E), UP, E), (G,), None),
        ((0, (D, E), DOWN, -1), (G,), None),
        ((0, (C, E), OPEN, -1), (D,), None),
        ((-30 * MS, (C, E), OPEN, -1), (D,), ((C, D, E), BACK, D)),
        ((-30 * MS, (D, E), DOWN, -1), (G,), ((D, E, G), BACK, G)),
        # Five strings are as far as it goes to and fro: C to G, but not to A.
        ((-30 * MS, (C, E), DOWN, -1), (G,), ((C, E, G), BACK, G)),
        ((-30 * MS, (C, E), DOWN, -1), (G + 2,), None),
    ],
)
def test_how_a_placing_goes_on(
    hand: Hand, block: tuple[int, ...], after: tuple[tuple[int, ...], int, int] | None
) -> None:
    """What is stated at the head of model/hands.py, 30 ms after the last pluck, or 60 ms, which is the working player's
    `turn`; too soon for a new placing either way.
    """
    rules = HandRules(WORKING, Grips(WORKING, HARP))
    assert rules.play(hand, block, 30 * MS, 0, ()) == (() if after is None else ((30 * MS, *after),))


def test_a_hand_that_was_over_sooner_can_do_what_another_can() -> None:
    """The second case of `covers` (head of model/hands.py). E2 lies twelve strings below C4, so a hand there must be
    over twelve times `leap` (20 ms) sooner; and there must have been time to place the three fingers that the other has
    left (100 + 2 * 30 ms) over as far as a slide may go besides (12 + 3 strings).
    """
    rules = HandRules(WORKING, Grips(WORKING, HARP))
    good = (0, (40,), OPEN, 40)
    for end, moment, covers in (
        (240, 460, True),
        (241, 460, True),
        (240, 459, False),
        (239, 460, False),
        (239, 900, False),
    ):
        assert rules.covers(good, (end * MS, (60,), OPEN, 60), moment * MS) is covers
    # On the other side of it as well.
    assert rules.covers((0, (81,), OPEN, 81), (240 * MS, (60,), OPEN, 60), 460 * MS)
    assert not rules.covers((0, (81,), OPEN, 81), (239 * MS, (60,), OPEN, 60), 460 * MS)


# -- The rolling search --------------------------------------------------------------------------------------


def test_an_open_attack_is_judged_again_from_the_state_before_it() -> None:
    """Note by note or at once: the same state."""
    music = line([(36, 43), (60, 64, 67), (48, 52, 55, 72)], 130 * MS)
    one, other = HandsTracker(WORKING, HARP), HandsTracker(WORKING, HARP)
    for attack in music:
        pitches = tuple(pitch for pitch, _ in attack.notes)
        one.open(attack.us)
        other.open(attack.us)
        for count in range(1, len(pitches) + 1):
            one.judge(pitches[:count], CHORDS.ways(pitches[:count]), attack.us)
        other.judge(pitches, CHORDS.ways(pitches), attack.us)
        assert one.after == other.after


def test_after_what_cannot_be_played_the_next_impossibility_is_found_too() -> None:
    wide = (36, 60, 84)
    music = line([wide, 60, 62, 64], 60 * MS)
    assert hands_trouble((*music, *line([wide], 60 * MS, 240 * MS), *line([wide], 60 * MS, 260 * MS)))[
        -2:
    ] == [4, 5]


def test_a_pitch_stands_for_its_natural_or_flat_string() -> None:
    # Numbered by octave and letter, so C4 is 7 · 4; C♯/D♭ lies on D, B♯ on C.
    table = places(HARP)
    assert [table[p] for p in (60, 61, 62, 63, 64, 65, 66)] == [28, 29, 29, 30, 30, 31, 32]
    assert list(table[24:104]) == sorted(table[24:104])


# -- Laws ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("figure", ["place", "place_finger", "leap", "turn"])
def test_a_quicker_hand_is_never_worse(figure: str) -> None:
    music = line([36, 60, 40, 84, (43, 67), 48, 90, (31, 55), 72, 60], 90 * MS)
    slow = replace(RELAXED, roll=0)
    quick = replace(slow, **{figure: 0})
    worse, better = hands_trouble(music, slow), hands_trouble(music, quick)
    assert worse
    assert not better or better[0] >= worse[0]


def unsettled(tracker: HandsTracker) -> HandsTracker:
    """The same, never forgetting anything: every history is kept."""
    tracker.before = tracker.after
    return tracker


@pytest.mark.parametrize("seed", range(3))
def test_histories_that_are_given_up_make_no_difference(seed: int) -> None:
    """Free hands forget and superfluous histories go (head of model/hands.py): the verdicts are those of a search
    that keeps all of them.
    """
    rng = random.Random(seed)
    broke = 0
    for _ in range(150):
        player = rng.choice((RELAXED, WORKING, VIRTUOSO))
        few, every = HandsTracker(player, HARP), HandsTracker(player, HARP)
        centre = now = 0
        for _ in range(5):
            now += rng.choice((30, 60, 90, 130, 180, 260, 400, 600, 900)) * MS
            centre = rng.choice((centre, centre, 40, 62, 90)) or 62
            chord = tuple(sorted({centre + rng.randint(-9, 9) for _ in range(rng.choice((1, 1, 2, 3)))}))
            ways = CHORDS.ways(chord)
            few.open(now)
            unsettled(every)
            assert few.judge(chord, ways, now) is every.judge(chord, ways, now)
            if few.failed:
                broke += 1
                break
    assert 20 < broke < 140


@pytest.mark.parametrize("seed", range(3))
def test_chords_whose_strings_are_all_the_same_to_the_hands(seed: int) -> None:
    """A chord that is not looked at string by string divides as it does where it is (model/grips.py)."""
    rng = random.Random(seed)
    skipped = split = 0
    for _ in range(150):
        player = replace(WORKING, reach=rng.randint(5, 11), inner_reach=rng.randint(3, 9), rolled_reach=12)
        quick, thorough = Grips(player, HARP), Grips(player, HARP)
        thorough._indifferent = lambda pitches: False  # type: ignore[method-assign]
        low = rng.choice((24, 24, 40, 60))
        chord = tuple(sorted(rng.sample(range(low, low + 30), rng.randint(2, 5))))
        ways = CHORDS.ways(chord) if all(CHORDS.options[pitch] is not None for pitch in chord) else ()
        if not ways:
            continue
        found, wanted = quick.classes(chord, ways), thorough.classes(chord, ways)
        assert [(one.divisions, one.rolled) for one in found] == [
            (one.divisions, one.rolled) for one in wanted
        ]
        skipped += quick._indifferent(chord)
        split += len(wanted) > 1
    assert skipped > 20
    assert split > 5


def test_a_broken_grip_is_wider_than_a_chord() -> None:
    # Table H: a twelfth only rolled (figures.toml, from memory); siba: arpeggiated chords may exceed the span.
    grips = Grips(WORKING, HARP)
    assert grips.spreads([28, 39])
    assert not grips.spreads([28, 40])
    assert not grips.fits([28, 39])


def test_after_what_cannot_be_played_the_hands_are_where_it_needs_them() -> None:
    tracker = HandsTracker(WORKING, HARP)
    for moment, chord in ((0, (36, 72)), (10 * MS, (55, 59, 100))):
        tracker.open(moment)
        tracker.judge(chord, CHORDS.ways(chord), moment)
    assert tracker.failed
    # The right hand struck one note, which a glissando may go on from; the left hand two.
    assert tracker.after == (((10 * MS, (55, 59), OPEN, -1), (10 * MS, (100,), OPEN, 100)),)


def test_histories_stay_of_which_each_is_better_for_one_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """Over at the same time on the whole, so neither makes the other superfluous; beyond the safety net one goes, which
    is counted.
    """
    early, late, middle = ((ms * MS, (C,), OPEN, C) for ms in (0, 40, 20))
    tracker = HandsTracker(WORKING, HARP)
    histories = ((middle, middle), (early, late), (late, early))
    for order in permutations(histories):
        assert set(tracker.settle(order, 100 * MS)) == set(histories)
    worse = (middle, late)
    assert set(tracker.settle((*histories, worse), 100 * MS)) == set(histories)
    assert tracker.bounded == 0
    monkeypatch.setattr(hands, "MOST_STATES", 2)
    assert len(tracker.settle(histories, 100 * MS)) == 2
    assert tracker.bounded == 1
