"""Two parts for one player (common practice, no source): alternating parts come
through whole, doubling parts lose the doubling, parts that are both busy do not combine.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import attacks_of
from livepedal.advice.two_harps.combine import (
    FOLLOWING,
    TOGETHER,
    TOO_MUCH,
    Combined,
    Serves,
    Why,
    combine_parts,
)
from livepedal.cli import main
from livepedal.harp import Figures
from livepedal.model.findings import Kind, Outcome
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from livepedal.views.lines import plain_text
from livepedal.views.report.look import Look
from livepedal.views.report.sharing import combined_lines
from livepedal.views.signs import signs_for
from tests.advice.changed import JUDGED, passage
from tests.advice.making_midi import Struck, midi, struck
from tests.judge import cpsat
from tests.places import RECORDINGS


def combined(source: Path | bytes) -> Combined:
    song = read_song(source, name="test")
    figures = Figures.builtin()
    first, second = choose_parts(song)
    return combine_parts(first, second, "test", Basis(figures, figures.instrument("47")))


def as_one(source: Path | bytes) -> Combined:
    """Two parts combined: what is kept and what is named as dropped are the notes of both, by mido's reading, and where
    the new part is said to be playable, the judge finds a pedalling for it.
    """
    made = combined(source)
    lost = Counter((round(note.us / 1_000_000, 3), note.pitch) for note in made.dropped)
    assert struck(made.data) + lost == struck(source)
    if made.report.outcome is not Outcome.CANNOT:
        part = choose_parts(read_song(made.data, name="test"))[0]
        attacks = list(attacks_of(part.events, Figures.builtin()))
        assert cpsat.feasible(passage(attacks), JUDGED["working"], "sliding", len(attacks))
    return made


def test_parts_that_alternate_by_the_bar_come_through_whole() -> None:
    banks = RECORDINGS / "08-two-banks.mid"
    made = as_one(banks)
    assert made.dropped == ()
    assert made.impossible == []
    assert made.report.outcome is Outcome.PLAYS
    assert struck(made.data) == struck(banks)
    assert {advice.serves for advice in made.advice} == {Serves.COMBINED}


def test_doubled_octaves_lose_the_doubling() -> None:
    # Five notes and the same five an octave lower are ten; a harpist has eight fingers (Rimsky-Korsakov, ch.
    # I; four in each hand).
    upper = (72, 74, 76, 79, 81)
    first: list[Struck] = [(2 * n, 1.5, upper) for n in range(4)]
    second: list[Struck] = [(2 * n, 1.5, tuple(p - 12 for p in upper)) for n in range(4)]
    made = as_one(midi(("Harp I", first), ("Harp II", second)))
    assert made.impossible == []
    assert made.dropped
    assert {dropped.why for dropped in made.dropped} == {Why.OCTAVE}
    assert all(dropped.pitch + 12 in upper for dropped in made.dropped)
    assert {advice.serves for advice in made.advice} <= {Serves.COMBINED, Serves.ONE}


def test_what_both_strike_is_struck_once() -> None:
    notes: list[Struck] = [(n, 0.9, (60, 64, 67)) for n in range(4)]
    made = as_one(midi(("Harp I", notes), ("Harp II", notes)))
    assert Counter(dropped.why for dropped in made.dropped) == {Why.TWICE: 12}
    assert [advice.serves for advice in made.advice] == [Serves.ONE]


def test_the_leading_part_and_the_outer_voices_stay() -> None:
    first: list[Struck] = [(2 * n, 1.5, (72, 76, 79, 83)) for n in range(3)]
    second: list[Struck] = [(2 * n, 1.5, (41, 45, 50, 57, 74)) for n in range(3)]
    made = as_one(midi(("Harp I", first), ("Harp II", second)))
    left = struck(made.data)
    for n in range(3):
        assert {72, 76, 79, 83} <= {pitch for at, pitch in left if at == float(n)}
    assert all(dropped.pitch not in (41, 83) for dropped in made.dropped)
    assert len(made.dropped) >= 3  # nine notes an attack, eight fingers


def test_parts_that_are_both_busy_do_not_combine_and_that_is_said() -> None:
    # G with A♭ and A: no setting holds the three (counted over all 2187 settings), and the outer voices are not to
    # be dropped.
    first: list[Struck] = [(n / 2, 0.4, (67, 69)) for n in range(8)]
    second: list[Struck] = [(n / 2, 0.4, (56,)) for n in range(8)]
    made = as_one(midi(("Harp I", first), ("Harp II", second)))
    assert len(made.impossible) == 8
    assert made.report.outcome is Outcome.CANNOT
    assert [advice.serves for advice in made.advice] == [Serves.TWO]
    assert [advice.because for advice in made.advice] == [TOGETHER]


def test_parts_that_follow_too_quickly_are_not_said_to_sound_together() -> None:
    # G and A leave only their own strings to G♯ (A♭), and 0.1 s is less than a working foot takes (0.15 s).
    first: list[Struck] = [(4 * n, 0.15, (67, 69)) for n in range(3)]
    second: list[Struck] = [(4 * n + 0.2, 0.2, (68,)) for n in range(3)]
    made = as_one(midi(("Harp I", first), ("Harp II", second)))
    assert len(made.impossible) == 3
    assert [(advice.serves, advice.because) for advice in made.advice] == [(Serves.TWO, FOLLOWING)]


def test_a_chord_of_the_leading_part_that_is_rolled_anyway_is_no_hindrance() -> None:
    # Ten notes of the first part alone: nothing of the second could be dropped for them.
    chord = (48, 50, 52, 53, 72, 74, 76, 77, 79, 81)
    first: list[Struck] = [(4 * n, 1.5, chord) for n in range(2)]
    second: list[Struck] = [(4 * n + 2, 1, (60,)) for n in range(2)]
    made = as_one(midi(("Harp I", first), ("Harp II", second)))
    assert (made.dropped, made.impossible, made.full) == ((), [], ())
    assert made.report.outcome is Outcome.PLAYS
    assert {advice.serves for advice in made.advice} == {Serves.COMBINED}


def test_chords_that_stay_too_full_are_said_to_be_rolled(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Eight notes of the first part fill both hands (four fingers each), and outer notes of the second stay too: no loss
    of its inner ones would bring the chord down to eight.
    """
    first: list[Struck] = [(4 * n, 2, (52, 55, 60, 64, 67, 72, 76, 79)) for n in range(2)]
    second: list[Struck] = [(4 * n, 2, (50, 53, 57, 59, 65, 69, 81)) for n in range(2)]
    source, out = tmp_path / "two.mid", tmp_path / "one.mid"
    source.write_bytes(midi(("Harp I", first), ("Harp II", second)))
    assert main(["combine", str(source), "-o", str(out)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "One working player can play both parts, and no note is lost." in told
    assert (
        "The combined part has chords to be rolled: bars 1 and 2, up to 15"
        in told
    )
    main(["combine", str(RECORDINGS / "08-two-banks.mid"), "-o", str(tmp_path / "banks.mid")])
    assert "to roll" not in capsys.readouterr().out


def test_bars_that_the_second_part_cannot_play_by_itself_are_not_left_to_two_harps() -> None:
    # G, A♭ and A together: no setting holds them.
    made = as_one(midi(("Harp I", [(0, 1, (72,))]), ("Harp II", [(4, 1, (67, 68, 69))])))
    assert made.report.outcome is Outcome.PLAYS
    assert [advice.serves for advice in made.advice] == [Serves.COMBINED] * 2
    assert "Harp II cannot be played there even alone" in made.advice[1].because


@pytest.mark.slow
def test_what_is_too_much_at_once_is_not_called_combined() -> None:
    """Each part is easy, and every attack of both goes, but feet and hands have too much to do."""
    first: list[Struck] = [
        (0, 0.9, (64, 69, 70)),
        (1, 0.5, (67, 75, 76, 77)),
        (2, 0.5, (66, 75, 79)),
        (3, 0.25, (73, 84, 85)),
        (4, 1.8, (75, 76, 80, 84)),
        (6, 1, (73,)),
    ]
    second: list[Struck] = [
        (0, 0.5, (51, 57, 59, 60)),
        (1.5, 0.9, (49, 52, 58)),
        (2.5, 0.25, (61, 64)),
        (3, 0.45, (37, 40, 45, 47)),
        (3.5, 0.25, (56,)),
        (4, 0.45, (53,)),
        (4.5, 0.9, (59,)),
        (5.5, 0.25, (54, 58, 62, 64)),
        (7, 0.9, (55, 59)),
    ]
    made = as_one(midi(("Harp I", first), ("Harp II", second), bpm=60))
    assert made.impossible == []
    assert [f.kind for f in made.report.findings if not f.audible] == [Kind.TOO_MUCH]
    assert [(advice.serves, advice.because) for advice in made.advice] == [(Serves.TWO, TOO_MUCH)]


def test_what_was_searched_is_said_and_no_more(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """G and A of one part with A♭ of the other: without A♭, an outer note that is kept, it could be played."""
    source, out = tmp_path / "two harps.mid", tmp_path / "one harp.mid"
    source.write_bytes(midi(("Harp I", [(0, 1, (72,)), (4, 1, (67, 69))]), ("Harp II", [(4, 1, (56,))])))
    assert main(["combine", str(source), "-o", str(out)]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "at any cost" not in told
    assert "no note less" not in told
    assert "One working player cannot play both parts." in told
    assert "Leaving out the octave doublings and inner notes of Harp II there and just before would not" in told
    assert f"To try a slower tempo, or other notes to leave out: livepedal check --remedies '{out}'" in told
    assert main(["combine", str(source), "--player", "relaxed", "-o", str(out), "--force"]) == 1
    assert f"--remedies --player relaxed '{out}'" in " ".join(capsys.readouterr().out.split())


def test_notes_dropped_for_the_fingers_alone_are_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ten notes are playable when they are rolled: `check --merge` plays them so."""
    upper = (72, 74, 76, 79, 81)
    first: list[Struck] = [(4 * n, 1.5, upper) for n in range(2)]
    second: list[Struck] = [(4 * n, 1.5, tuple(p - 12 for p in upper)) for n in range(2)]
    source, out = tmp_path / "two.mid", tmp_path / "one.mid"
    source.write_bytes(midi(("Harp I", first), ("Harp II", second)))
    made = as_one(source)
    assert len(made.dropped) == 4
    assert made.full == (1, 2)
    assert main(["combine", str(source), "-o", str(out)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "In bars 1 and 2 notes were dropped from chords of more than 8 notes, only because such" in told
    assert "livepedal check --merge with the same tracks judges them with nothing dropped" in told
    assert main(["check", "--merge", str(source)]) == 0


def test_changes_of_a_bounded_plan_are_not_told_as_the_fewest() -> None:
    made = as_one(RECORDINGS / "08-two-banks.mid")
    player, look = Figures.builtin().player("working"), Look(signs_for("utf-8"))

    def told(bounded: int) -> str:
        one = replace(made.report, plan=replace(made.report.plan, bounded=bounded))
        rows = combined_lines(replace(made, report=one), player, "two.mid", "one.mid", "", look)
        return " ".join(map(plain_text, rows))

    assert "not every spelling of Harp was tried" in told(3)
    assert "was tried" not in told(0)


def test_two_tracks_are_asked_for_and_not_merged(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    banks, out = str(RECORDINGS / "08-two-banks.mid"), str(tmp_path / "one.mid")
    for tracks in (["--track", "2", "--track", "99"], ["--track", "99", "--track", "2"]):
        assert main(["combine", banks, *tracks, "-o", out]) == 2
        error = capsys.readouterr().err
        assert "Give --track twice: the leading part first" in error
        assert "--merge" not in error
    assert main(["combine", banks, "--merge", "-o", out]) == 2
    error = capsys.readouterr().err
    assert "--merge makes one part of all harp tracks" in error
    assert "only one harp part" not in error


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "one.mid"
    banks = str(RECORDINGS / "08-two-banks.mid")
    assert (
        main(["combine", banks, "--track", "Harp I (near bank)", "--track", "Harp II", "-o", str(out)]) == 0
    )
    assert "One working player can play both parts, and no note is lost." in capsys.readouterr().out
    assert main(["check", str(out)]) == 0
    capsys.readouterr()
    assert main(["combine", banks, "-o", str(out)]) == 2
    assert "--force" in capsys.readouterr().err
    assert main(["combine", str(RECORDINGS / "01-slack-water.mid"), "-o", str(tmp_path / "x.mid")]) == 2
    assert "--track" in capsys.readouterr().err


def test_what_was_written_and_cannot_be_played_is_called_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """G, A♭ and A are three pitches on two strings' letters: no setting holds them (counted over all 2187)."""
    source, out = tmp_path / "two.mid", tmp_path / "one.mid"
    source.write_bytes(midi(("Harp I", [(0, 1, (72,)), (4, 1, (67, 68, 69))]), ("Harp II", [(0, 1, (60,))])))
    assert main(["combine", str(source), "-o", str(out)]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "One working player cannot play both parts." in told
    assert "none of the three: Harp I cannot be played there even alone" in told
    assert "where it does not go it would not help" not in told
    source.write_bytes(midi(("Harp I", [(0, 1, (72,))]), ("Harp II", [(4, 1, (60,))])))
    assert main(["combine", str(source), "-o", str(out), "--force"]) == 0
    assert "cannot be played" not in capsys.readouterr().out


def test_one_part_has_nothing_to_be_combined_with(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wheel = str(RECORDINGS / "03-paddle-wheel.mid")
    assert main(["combine", wheel, "-o", str(tmp_path / "one.mid")]) == 2
    error = capsys.readouterr().err
    assert "only one harp part" in error
    assert "which two" not in error


def test_a_pedal_change_that_will_be_heard_is_told_with_its_bar() -> None:
    """As in recordings/12-moored.mid: G3 and A2 are down while G♯4 is struck, and no other string gives G♯."""
    made = as_one(midi(("Harp I", [(0, 4, (45, 55)), (4, 1, (62,))]), ("Harp II", [(2, 1, (68,))])))
    assert [advice.serves for advice in made.advice] == [Serves.COMBINED] * 2
    assert [advice.because for advice in made.advice] == [
        "nothing lost, but a pedal change will be heard",
        "nothing lost",
    ]
