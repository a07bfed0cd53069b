"""Nothing stands on the screen that is not so."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from livepedal import check_file
from livepedal.advice.remedies.telling import Teller
from livepedal.harp import Setting
from livepedal.model.findings import Verdict
from livepedal.sources.journal import Word
from livepedal.views.report.asides import aside_texts

from .on_screen import Played

CHORALE = ((48, 55, 64, 72), (53, 57, 65, 72), (55, 59, 65, 74), (48, 55, 64, 72))
SCALE = (60, 62, 64, 65, 67, 69, 71, 72)


# -- The setting before it -------------------------------------------------------------------------------------------


def test_the_setting_before_a_passage_is_shown_once_it_is_known() -> None:
    """Its first chord has C, G and E, so a setting without them could not be the one before it."""
    played = Played()
    for chord in CHORALE:
        played.chord(*chord)
    played.over(answered=False)
    assert not any("set before it: " in row for row in played.screen())
    assert any("working out the setting" in row for row in played.screen())
    played.advisor.answer()
    (told,) = (row for row in played.screen() if "set before it: " in row)
    assert {"C♮", "E♮", "G♮"} <= set(re.findall("[A-G][♭♮♯]", told))


@pytest.mark.parametrize(
    ("key", "lead", "pitches", "seconds"),
    [
        ("E♭ major", 0.005, (61, 60), 0.2),  # D♭ at once, and then it is too late for any pedal
        ("C♭ major", 0.1, SCALE, 0.15),
        ("C♭ major", 3.0, SCALE, 0.4),  # time enough for all
    ],
)
def test_a_passage_is_advised_from_the_setting_that_was_chosen_as_check_does(
    key: str, lead: float, pitches: tuple[int, ...], seconds: float
) -> None:
    played = Played(key, lead)
    played.line(*pitches, seconds=seconds)
    chapter = played.over()
    start = Setting.parse(key)
    (part,) = check_file(played.saved(), start=start, remedies=True).files[0].parts
    assert part.plan is not None
    assert part.plan.setting == start
    assert chapter.entry == str(start)
    assert [finding.note for finding in chapter.findings] == [finding.note for finding in part.findings]
    changes = len(part.plan.changes)
    assert f"alone, set {start}, then {changes} pedal change" in chapter.spelled
    if part.findings:
        # Another setting comes first, and it is the one that check has.
        assert part.advice is not None
        teller = Teller(part.advice.instrument)
        filed = teller.what(part.advice.passages[0].places[0].remedies[0])
        assert "start with" in filed
        assert chapter.mends is not None
        assert chapter.mends[0].startswith(f"playable if you {filed}")
    assert any(f"set before it: {start}" in row for row in played.screen())


def test_a_note_is_named_by_the_string_that_stands_so_already() -> None:
    """E is F♭ in C♭ major, which no pedal has to move for."""
    played = Played("C♭ major", 3.0)
    played.line(64)
    notes = [row for row in played.screen() if "F♭" in row and "stands" not in row]
    assert any("F♭/E♮" in row for row in notes)  # E♮ could be had as well


def test_a_setting_is_told_at_once_where_it_was_chosen() -> None:
    played = Played("C♭ major", 3.0)
    played.line(59)
    assert played.over(answered=False).entry == str(Setting.parse("C♭ major"))


# -- The pedals ------------------------------------------------------------------------------------------------------


def test_b_in_a_fresh_session_may_be_c_flat() -> None:
    played = Played()
    played.line(59)
    assert (played.stands()["B"], played.stands()["C"]) == ("B♮/♭/♯", "C♭/♮/♯")
    played.wait(3)  # and nothing has been learnt since
    assert (played.stands()["B"], played.stands()["C"]) == ("B♮/♭/♯", "C♭/♮/♯")


def test_in_c_flat_major_it_is_not_b() -> None:
    played = Played("C♭ major", 6.0)
    assert played.stands() == {letter: f"{letter}♭" for letter in "DCBEFGA"}
    played.line(59)
    assert played.stands()["C"] == "C♭"  # on whichever string, that has not moved
    assert played.stands()["B"] == "B♭/♮"
    played.wait(3)
    assert played.stands()["B"] == "B♭/♮"


def test_a_letter_that_may_have_been_used_is_not_told_as_unused() -> None:
    """B C♭, D♯ E♭, F♯ G♭: of none of them anybody knows which."""
    played = Played()
    played.line(59, 63, 66, 71)
    played.wait(2)
    expected = {"D": "D♯/♭/♮", "C": "C♭/♮/♯", "B": "B♮/♭/♯", "E": "E♭/♮/♯", "F": "F♯/♭/♮", "G": "G♭/♮/♯", "A": "A"}
    assert played.stands() == expected
    used = next(row for row in played.screen() if row.startswith("string") and "free" in row)
    assert used.count("not used") == 1  # A


def test_what_every_reading_has_stands_alone() -> None:
    played = Played()
    played.chord(62, 67, 69)  # D, G and A are on one string each
    played.chord(61, 62)  # and beside D, C♯ can be nothing else
    stands = played.stands()
    assert {letter: stands[letter] for letter in "DCGA"} == {"D": "D♮", "C": "C♯", "G": "G♮", "A": "A♮"}


# -- The verdict -----------------------------------------------------------------------------------------------------


def test_too_much_at_once_is_told_while_it_is_played() -> None:
    """Between G with A, natural on every harp, and what lies between them each step is a pedal change; ten in six seconds
    are within the working player's reach (figures.toml). The lines tell it with its first note, and the passage at once.
    """
    played = Played()
    for number in range(20):
        played.chord(*((68,) if number % 2 else (67, 69)), seconds=0.45)
    assert "VIRTUOSO so far" in played.screen()[1]
    told = [line for line in played.lines if "Too much at once: at least 11 pedal changes within 6 s" in line]
    assert len(told) == 1
    played.over(answered=False)
    assert "passage over: VIRTUOSO" in played.screen()[1]
    again, over = played.lines[-2:]
    assert "Too much at once: at least 13 pedal changes within 6 s" in again
    assert "passage over" in over


def test_what_is_worth_knowing_has_its_line() -> None:
    """Ten notes at once: eight fingers play them rolled. What `check` says of it."""
    chord = (48, 52, 55, 60, 64, 67, 72, 76, 79, 84)
    played = Played(tempo=500_000)
    played.chord(*chord, seconds=1)
    chapter = played.over()
    assert chapter.passage.verdict is Verdict.EASY
    (part,) = check_file(played.saved()).files[0].parts
    filed = tuple(aside_texts(part.asides, part.place))
    assert chapter.worth == filed
    assert "chords to be rolled" in filed[0]
    assert any(f"worth knowing: {filed[0]}" in row for row in played.screen())
    assert any(line.endswith(f"worth knowing: {filed[0]}") for line in played.lines)


def test_advice_is_of_the_player_that_it_names() -> None:
    """One string again and again: too fast for both, and a working player has to be slower than a virtuoso."""
    played = Played(tempo=500_000)
    for _ in range(12):
        played.chord(62, seconds=0.105)
    played.over()
    (told,) = (row for row in played.screen() if "playable at" in row)
    assert "working player: " in told
    played.command(Word.PLAYER, "virtuoso")
    assert any("working it out again for the virtuoso player" in row for row in played.screen())
    assert not any("working player: " in row for row in played.screen())
    played.advisor.answer()
    (then,) = (row for row in played.screen() if "playable at" in row)
    assert "virtuoso player: " in then
    assert then != told
    chapter = played.chapters[-1]
    assert {finding.player for finding in chapter.findings} == {"virtuoso"}
    assert all(", virtuoso player: " in line for line in played.lines[-2:])


def test_the_last_attack_s_verdict_changes_at_most_twice_a_second() -> None:
    """Unplayable and easy in turn, eight times a second."""
    played = Played()
    shown: list[tuple[int, str]] = []
    for number in range(40):
        played.down(*((67, 68, 69) if number % 2 else (60,)))
        for _ in range(3):
            played.wait(0.04)
            (said,) = re.findall("last: . ([a-z]+)", "\n".join(played.screen()))
            if not shown or shown[-1][1] != said:
                shown.append((played.us, said))
        played.up(60, 67, 68, 69)
    gaps = [later[0] - sooner[0] for sooner, later in pairwise(shown)]
    assert len(gaps) > 4
    assert min(gaps) >= 500_000
    played.wait(0.6)
    assert "last: ■ unplayable" in "\n".join(played.screen())  # in the end it is that of the last


# -- Words and signs -------------------------------------------------------------------------------------------------


def test_two_changes_of_a_foot_never_become_one_word() -> None:
    """A♭ and A♮ in turn, as fast as names fit: there is always something between two of them."""
    played = Played("C major", 5.0)
    for pitch in (69, 68, 69, 68, 69, 68, 69, 68, 65, 66, 65, 66):
        played.chord(pitch, seconds=0.05)
    for width in (80, 100, 120):
        rows = [row for row in played.screen(width) if row.startswith(("left ", "right "))][-2:]
        assert not any(re.search("[♭♮♯][A-G]?[♭♮♯][♭♮♯]|[♭♮♯][♭♮♯]", row) for row in rows)
        for row in rows:
            for word in re.findall("[A-G♭♮♯]+", row.split(" ", 1)[1]):
                assert re.fullmatch("(?:[A-G][♭♮♯])+", word)
                assert len(set(word[::2])) == len(word) // 2  # at one attack each letter once


def test_times_have_one_unit() -> None:
    """From a minute on minutes and seconds, in headings, advice and findings alike."""
    played = Played()
    played.line(60)
    played.wait(65)
    played.line(67, 68, 69, seconds=0.01)
    played.over()
    said = "\n".join((*played.screen(), *played.lines[-6:]))
    assert "1:05.30" in said
    assert not re.search(r"\b6\d\.\d\d s", said)


# -- The sustain pedal -----------------------------------------------------------------------------------------------


def test_the_sustain_pedal_is_shown_and_is_no_reason_for_a_fault() -> None:
    played = Played()
    played.line(67)
    played.session.message(played.us, 0, b"\xb0\x40\x7f")
    assert any("sustain pedal down" in row for row in played.screen())
    played.chord(67, seconds=0.5)
    played.wait(0.3)
    played.chord(68)  # G♯ with G still sustained, if it is on that string
    assert not played.session.take.snapshot().findings
    played.session.message(played.us, 0, b"\xb0\x40\x00")
    assert not any("sustain pedal down" in row for row in played.screen())


def test_what_the_sustain_pedal_holds_counts_as_ringing() -> None:
    """G2 is let go and sustained; its pedal moves for G♯5 in another octave, and that is heard as a smear."""
    worth = []
    for value in (0x7F, 0):
        played = Played(tempo=500_000)
        played.chord(72, 76)
        played.session.message(played.us, 0, bytes((0xB0, 64, value)))
        played.chord(43, 79, seconds=0.4)
        played.wait(0.4)
        played.chord(80, 81)  # beside A it can be nothing but G♯
        played.session.message(played.us, 0, b"\xb0\x40\x00")
        worth.append(played.over().worth)
    assert any("rings (a slide)" in text for text in worth[0])
    assert worth[0] == worth[1]


def test_the_setting_before_a_passage_has_its_own_letters_alone() -> None:
    """E and F are another passage's, and A♭ is set before the first note, not as a change of the passage."""
    played = Played()
    played.line(64, 65, 69)
    played.over()
    played.line(67, 68, 67, 68)
    chapter = played.over()
    assert chapter.entry == "· · · | · · G♮ A♭"
    assert chapter.spelled.endswith("then no pedal changes")
    played.line(67)
    assert played.over().entry == "· · · | · · G♮ ·"


def test_the_heading_counts_what_stands_under_it() -> None:
    """The attacks of the passage that is shown, not those of the whole take."""
    played = Played()
    played.chord(67, 68, 69)
    played.over()
    assert "attacks they cannot play: relaxed 1 ▸working 1 virtuoso 1" in "\n".join(played.screen())
    played.line(60, 62)
    assert "attacks they cannot play: relaxed 0 ▸working 0 virtuoso 0" in "\n".join(played.screen())
