"""Verdicts and findings: who can play it names the verdict, and a finding names the note that broke it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livepedal.harp import Figures, HarpString, Position, Spelling
from livepedal.model.findings import Finding, Kind, Layer, Outcome, Verdict, grade
from livepedal.model.hands import HandsFault, HandTrouble, StringFault
from livepedal.model.load import Load
from livepedal.model.monitor import BareMonitor
from livepedal.model.why_hands import clause, hands_clause, load_clause, string_clause
from livepedal.music.events import NoteOff, NoteOn

FIGURES = Figures.builtin()
HARP = FIGURES.instrument("47")
MS = 1_000
YES, SLIDES, NO = Outcome.PLAYS, Outcome.AUDIBLE, Outcome.CANNOT


@pytest.mark.parametrize(
    ("outcomes", "verdict", "audible"),
    [
        # DEVELOPERS.md, the verdicts: the slowest of the three who can play it names it, slides or not.
        ((YES, YES, YES), Verdict.EASY, False),
        ((SLIDES, YES, YES), Verdict.PLAYABLE, False),
        ((NO, YES, YES), Verdict.PLAYABLE, False),
        ((SLIDES, SLIDES, YES), Verdict.PLAYABLE, True),
        ((NO, SLIDES, SLIDES), Verdict.PLAYABLE, True),
        # Another one who could not go on before may stand better than a quicker one.
        ((YES, SLIDES, YES), Verdict.PLAYABLE, True),
        ((YES, NO, YES), Verdict.VIRTUOSO, False),
        ((NO, NO, YES), Verdict.VIRTUOSO, False),
        ((NO, NO, SLIDES), Verdict.VIRTUOSO, True),
        ((NO, NO, NO), Verdict.UNPLAYABLE, False),
        ((SLIDES, SLIDES, NO), Verdict.UNPLAYABLE, False),
    ],
)
def test_who_can_play_it_names_the_verdict(
    outcomes: tuple[Outcome, Outcome, Outcome], verdict: Verdict, audible: bool
) -> None:
    assert grade(outcomes) == (verdict, audible)


def findings(*struck: tuple[int, tuple[int, ...]]) -> list[Finding]:
    """What is found where chords are struck at these moments (ms), each let go at the next one."""
    monitor = BareMonitor(FIGURES, HARP, "working", (Layer.HANDS,))
    found: list[Finding] = []
    before: tuple[int, ...] = ()
    for ms, pitches in struck:
        for pitch in before:
            monitor.feed(NoteOff(ms * MS, pitch))
        for pitch in pitches:
            found += monitor.feed(NoteOn(ms * MS, pitch))
        before = pitches
    return found


def test_a_string_again_names_its_note_and_the_time_there_was() -> None:
    # G lies on one string only (follows from the pedals), and a string is slow to repeat: 65 ms (figures.toml).
    (found,) = findings((0, (48, 67)), (60, (67, 52)))[:1]
    assert (found.kind, found.note, found.pitches) == (Kind.STRING_AGAIN, 67, (67,))
    assert (found.needed, found.available) == (65 * MS, 60 * MS)
    assert found.hands is None
    assert found.string is not None
    last = findings((0, (48, 67)), (60, (52, 67)))[-1]
    assert (last.note, last.pitches) == (67, (52, 67))
    # Told of the G, though another note came after it.
    assert findings((0, (48, 67)), (60, (67, 52)))[-1].note == 67


def test_hands_that_are_not_in_time_name_the_note_and_the_time_there_was() -> None:
    chords = (
        (36, 40, 43, 48, 67, 71, 74, 79),
        (38, 41, 45, 50, 69, 72, 76, 81),
        (35, 38, 43, 47, 66, 69, 74, 78),
    )
    found = findings(*((120 * n, chord) for n, chord in enumerate(chords)))[-1]
    assert found.hands is not None
    assert (found.needed, found.available) == (found.hands.needed, found.hands.available)
    # Of the notes in the order of arrival the last one that the hand at fault has to strike.
    assert found.note == [pitch for pitch in chords[2] if pitch in found.hands.pitches][-1]


def test_a_chord_that_no_hands_reach_needs_no_time() -> None:
    # Seventeen notes are more than two placings of two hands with four fingers.
    white = tuple(pitch for pitch in range(48, 84) if pitch % 12 in (0, 2, 4, 5, 7, 9, 11))
    found = findings((0, white[:17]))[-1]
    assert found.kind is Kind.TOO_MANY
    assert (found.needed, found.available) == (None, None)
    assert clause(found) == "17 notes at once are too many for two hands"


def test_too_many_notes_are_counted_in_both_hands() -> None:
    # Four notes a hand and eight in all (Rimsky-Korsakov, ch. I); nine can only be rolled, which takes time.
    nine = (36, 43, 48, 52, 60, 64, 67, 72, 76)
    found = findings((0, (36, 72)), (150, nine))[-1]
    assert found.kind is Kind.TOO_MANY
    assert clause(found).startswith("9 notes at once are too many for two hands")
    assert found.note == 76


# -- in words ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        (
            HandsFault(HandTrouble.TOO_FAR, True, (60,), 9, 5, 1),
            "the left hand must leap 1 string further than it spans to reach C♮4",
        ),
        (
            HandsFault(HandTrouble.TOO_FAR, False, (60, 64), 9, 5, 3),
            "the right hand must leap 3 strings further than it spans to reach C♮4 and E♮4",
        ),
        (
            HandsFault(HandTrouble.TOO_FAST, False, (62,), 9, 5, 0),
            "too fast for the right hand: there is no time to place it on D♮4",
        ),
        (
            HandsFault(HandTrouble.TOO_MANY, True, tuple(range(60, 69)), 9, 5, 0),
            "9 notes at once are too many for two hands, and there is no time to roll them",
        ),
        (
            HandsFault(HandTrouble.TOO_WIDE, True, (36, 60), 9, 5, 0),
            "C♮2 and C♮4 are too wide for the left hand, and there is no time to roll the chord",
        ),
        (
            HandsFault(HandTrouble.TOO_WIDE, True, (36, 60), 0, 0, 0),
            "C♮2 and C♮4 are too wide for two hands, however they are shared",
        ),
        (
            HandsFault(HandTrouble.LINE, False, (60,), 520_000, 400_000, 0, 8),
            "too fast for both hands: 20 notes a second, and only 15 can be kept up",
        ),
    ],
)
def test_what_the_hands_cannot_in_words(fault: HandsFault, says: str) -> None:
    assert hands_clause(fault) == says


def test_what_a_string_cannot_in_words() -> None:
    g, a_sharp = HarpString.parse("G4"), Spelling(HarpString.parse("A4"), Position.SHARP)
    assert string_clause(StringFault(67, g, 9, 5, 1, ())) == (
        "G♮4 repeats too fast here, and no other string gives it"
    )
    assert string_clause(StringFault(70, HarpString.parse("B4"), 9, 5, 4, (a_sharp,)), "C3") == (
        "B♭3 repeats too fast here, and A♯ does not help"
    )


def test_too_much_at_once_in_words() -> None:
    load = Load(1_000_000, 3_500_000, 16, 12, 6_000_000)
    assert load_clause(load) == "too much at once: at least 16 pedal changes within 6 s, and only 12 can be kept up"
    alone = replace(load, changes=1, most=0, span=2_500_000)
    assert load_clause(alone) == "too much at once: at least 1 pedal change within 2.5 s, and only 0 can be kept up"


def test_each_finding_has_the_clause_of_its_layer() -> None:
    (string,) = findings((0, (67,)), (60, (67,)))
    assert string.string is not None
    assert clause(string) == string_clause(string.string)
    plain = replace(string, string=None)
    assert clause(replace(plain, layer=Layer.PEDALS)) == ""
    load = Load(0, 1_000_000, 13, 12, 6_000_000)
    assert clause(replace(plain, layer=Layer.LOAD, load=load)) == load_clause(load)
