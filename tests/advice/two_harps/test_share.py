"""Two harps for one part: both players can play, no note is lost or added, and what is written is what was
read.
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, product
from pathlib import Path

import mido
import pytest

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import attacks_of
from livepedal.advice.remedies.second import WHOLE_TONES
from livepedal.advice.two_harps.seams import attacks_inside_runs
from livepedal.advice.two_harps.share import Shared, share_part
from livepedal.advice.two_harps.turns import BOTH, NOTE_BY_NOTE, Turn, quick_turns
from livepedal.cli import main
from livepedal.harp import Figures
from livepedal.model.findings import Outcome, Verdict
from livepedal.music.attacks import Gathered
from livepedal.music.parts import Wanted, choose_parts
from livepedal.music.song import read_song
from livepedal.music.timemap import Place
from livepedal.views.lines import plain_text
from livepedal.views.report.look import Look
from livepedal.views.report.sharing import shared_lines
from livepedal.views.signs import signs_for
from tests.advice.changed import BUILTIN, JUDGED, passage
from tests.advice.making_midi import Struck, midi, struck
from tests.judge import cpsat
from tests.places import RECORDINGS

# As the judge has the working player, but that a finger damps the string that it comes back to.
WORKING = replace(JUDGED["working"], damp=BUILTIN.player("working").damp)


def shared(source: Path | bytes, double: bool = False) -> Shared:
    song = read_song(source, name="test")
    figures = Figures.builtin()
    part = choose_parts(song)[0]
    return share_part(part, "test", Basis(figures, figures.instrument("47")), double=double)


def apart(data: bytes) -> list[list[Gathered]]:
    """What each track of a file has, as attacks."""
    song = read_song(data, name="test")
    return [
        list(attacks_of(choose_parts(song, Wanted((str(track),)))[0].events, Figures.builtin())) for track in (2, 3)
    ]


@pytest.mark.parametrize(
    "name",
    [
        "03-paddle-wheel",
        pytest.param("11-weir", marks=pytest.mark.slow),
        pytest.param("14-engine-bells", marks=pytest.mark.slow),
        "12-moored",
    ],
)
def test_what_one_harp_cannot_play_two_can(name: str) -> None:
    # recordings/README.md: unplayable, too much at once (twice) and audible on one harp, worked out by hand.
    deal = shared(RECORDINGS / f"{name}.mid")
    assert deal.alone.outcome is not Outcome.PLAYS
    assert not deal.places(Outcome.CANNOT)
    assert not deal.places(Outcome.AUDIBLE)
    assert [player.outcome for player in deal.players] == [Outcome.PLAYS, Outcome.PLAYS]
    # Both together have the notes of the original, by mido's reading, and the judge finds a pedalling for each.
    assert struck(deal.data) == struck(RECORDINGS / f"{name}.mid")
    for attacks in apart(deal.data):
        assert cpsat.feasible(passage(attacks), WORKING, "held", len(attacks))
    for before, after in pairwise(deal.turns):
        assert (before.who, before.split) != (after.who, after.split)
        assert before.stop == after.first


@pytest.mark.parametrize("seed", range(12))
def test_random_chromatic_music_is_shared_whole_and_as_said(seed: int) -> None:
    """A bass and a chromatic line at eight notes a second, now and then a leap: by mido nothing is lost or added, and the
    judge finds a pedalling for every player who is said to play all of it.
    """
    rng = random.Random(seed)
    pitch, notes = 67, list[Struck]()
    for n in range(48):
        pitch = min(84, max(60, pitch + rng.choice((-5, -2, -1, 1, 1, 2, 4))))
        bass = (rng.randint(40, 52),) if n % 4 == 0 else ()
        notes.append((n / 4, 0.24, (*bass, pitch)))
    source = midi(("Harp", notes), bpm=120)
    deal = shared(source)
    assert struck(deal.data) == struck(source)
    assert [turn.first for turn in deal.turns[1:]] == [turn.stop for turn in deal.turns[:-1]]
    if len(deal.players) < 2:
        return
    for player, attacks in zip(deal.players, apart(deal.data), strict=True):
        if not player.mine.unplayable:
            notion: cpsat.Notion = "sliding" if player.mine.audible else "held"
            assert cpsat.feasible(passage(attacks), WORKING, notion, len(attacks))


def test_a_cluster_that_no_setting_holds_is_divided() -> None:
    # G-A♭-A is the only three-note set that no setting holds (counted over all 2187 settings): one harp never, two
    # at once.
    deal = shared(midi(("Harp", [(0, 4, (67, 68, 69))])))
    assert deal.alone.outcome is Outcome.CANNOT
    assert not deal.places(Outcome.CANNOT)
    assert [turn.who for turn in deal.turns] == [BOTH]


def test_more_than_two_harps_would_be_needed_is_said() -> None:
    # A note that no string of any harp gives: E♮8 lies above G♯7, the highest sound.
    deal = shared(midi(("Harp", [(0, 1, (60,)), (2, 1, (112,))])))
    assert len(deal.places(Outcome.CANNOT)) == 1
    assert deal.places(Outcome.CANNOT)[0].bar == 1


def test_a_hand_over_goes_back_to_the_bar_line_where_that_costs_nothing() -> None:
    # Two bars of C major, two of D♭ major without time for its pedals. These begin with F and C, which both
    # keys have, so the first player
    # could go on until D♭ on beat 2; at the bar line is easier and needs no more hand-overs.
    white, black = (60, 62, 64, 65, 67, 69, 71, 72), (65, 72, 61, 63, 66, 68, 70, 61)
    notes: list[Struck] = []
    for bar, scale in enumerate((white, white, black, black)):
        notes += [(4 * bar + n / 2, 0.45, (pitch,)) for n, pitch in enumerate(scale)]
    deal = shared(midi(("Harp", notes), bpm=320))
    assert deal.alone.outcome is not Outcome.PLAYS
    assert [(turn.who, turn.start.bar, turn.start.beat) for turn in deal.turns] == [(0, 1, 1), (1, 3, 1)]


def test_a_hand_over_is_not_put_inside_a_run() -> None:
    # Two runs at 16 strings a second, a semiquaver between them: C major, then D♭ major from C, which both keys have.
    # So the first player could go on until D♭, and the second run would be cut in two.
    white, black = [60, 62, 64, 65, 67, 69, 71, 72, 74, 76], [60, 61, 63, 65, 66, 68, 70, 72, 73, 75]
    notes: list[Struck] = [(n / 8, 0.1, (pitch,)) for n, pitch in enumerate(white)]
    notes += [(1.5 + n / 8, 0.1, (pitch,)) for n, pitch in enumerate(black)]
    deal = shared(midi(("Harp", notes), bpm=120))
    assert deal.alone.outcome is not Outcome.PLAYS
    assert [(turn.first, turn.stop, turn.who) for turn in deal.turns] == [(0, 10, 0), (10, 20, 1)]


def test_a_slow_run_is_not_handed_over_either() -> None:
    # Eight notes a second, and no beat where the second run begins: C major, then D♭ major from C, which both
    # have.
    white, black = [60, 62, 64, 65, 67, 69, 71, 72, 74, 76], [60, 61, 63, 65, 66, 68, 70, 72, 73, 75]
    notes: list[Struck] = [(n / 4, 0.2, (pitch,)) for n, pitch in enumerate(white)]
    notes += [(2.5 + n / 4, 0.2, (pitch,)) for n, pitch in enumerate(black)]
    deal = shared(midi(("Harp", notes), bpm=120))
    assert deal.alone.outcome is not Outcome.PLAYS
    assert [(turn.first, turn.stop, turn.who) for turn in deal.turns] == [(0, 10, 0), (10, 20, 1)]


def test_runs_are_lines_one_way_of_more_notes_than_a_hand_places() -> None:
    """Four notes are placed beforehand (four fingers of a hand: Berlioz, Grand traité); five are a run."""
    figures = Figures.builtin()

    def inside(*pitches: int, apart: int = 125_000) -> dict[int, bool]:
        attacks = [Gathered(n * apart, ((pitch, (n + 1) * apart),)) for n, pitch in enumerate(pitches)]
        return attacks_inside_runs(attacks, figures)

    assert inside(60, 62, 64, 65) == {}
    assert inside(60, 62, 64, 65, 67, 65) == {1: True, 2: True, 3: True, 4: False}
    assert inside(67, 65, 64, 62, 60) == {1: True, 2: True, 3: True, 4: False}
    assert inside(60, 64, 67, 72, 76) == {}  # a chord, broken: its notes are no neighbours
    assert inside(60, 62, 60, 62, 60, 62) == {}  # a trill
    assert inside(60, 62, 64, 65, 67, apart=300_000) == {}


def test_of_two_runs_at_once_no_turn_begins_inside() -> None:
    # C major, 30 ms from string to string, out from the middle in two hands; what stands before and behind it (six
    # chromatic semiquavers, twice) is more than one harp can do.
    up, down = (
        [60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79, 81, 83, 84],
        [59, 57, 55, 53, 52, 50, 48, 47, 45, 43, 41, 40, 38, 36, 35],
    )
    chromatic = [60, 61, 62, 63, 64, 65] * 2
    notes: list[Struck] = [(4 + n / 4, 0.25, (pitch,)) for n, pitch in enumerate(chromatic)]
    notes += [(8 + n / 16, 0.06, pair) for n, pair in enumerate(zip(up, down, strict=True))]
    notes += [(12 + n / 4, 0.25, (pitch,)) for n, pitch in enumerate(chromatic)]
    deal = shared(midi(("Harp", notes), bpm=120))
    assert deal.alone.outcome is Outcome.CANNOT
    assert deal.exit_code == 0
    assert [(turn.start.bar, turn.start.beat) for turn in deal.turns] == [(2, 1), (3, 1), (4, 1)]


@pytest.mark.slow
@pytest.mark.parametrize("rate", [12, 16])
def test_two_chromatic_runs_apart_are_shared_to_their_end(rate: int) -> None:
    # Out from the middle, so many notes a second in each run. Shared note by note each hand has every other one, a
    # whole-tone scale: strings in a row, which a finger draws over at any speed (tests/model/hands/test_two_lines.py).
    step = 2 / rate
    runs: list[Struck] = [(4 + n * step, step * 0.9, (59 - n, 60 + n)) for n in range(25)]
    deal = shared(midi(("Harp", [(0, 1, (60,)), *runs, (14, 4, (72,))]), bpm=120))
    inside = range(2, len(runs))  # the last note, on a beat, may be the other player's
    assert not any(turn.first in inside for turn in deal.turns)
    assert [turn.split in NOTE_BY_NOTE for turn in deal.turns if turn.who == BOTH] == [True]
    assert [player.verdict for player in deal.players] == [Verdict.EASY, Verdict.EASY]
    names = {one.name[:-1] for report in deal.players for _, chord in report.spelled for one in chord if one}
    assert "F♭" not in names


def test_a_single_chromatic_line_is_shared_note_by_note() -> None:
    # Two octaves at 16 notes a second: with a note in turn each player has a whole-tone scale at 8 a second, and no
    # pedal moves while it lasts.
    line: list[Struck] = [(4 + n / 8, 0.12, (60 + n,)) for n in range(25)]
    deal = shared(midi(("Harp", [(0, 1, (60,)), *line, (10, 4, (72,))]), bpm=120))
    (both,) = [turn for turn in deal.turns if turn.who == BOTH]
    assert both.stop - both.first >= len(line) - 1
    assert both.split is not None
    assert set(both.split.classes) in ({0, 2, 4, 6, 8, 10}, {1, 3, 5, 7, 9, 11})
    assert [player.outcome for player in deal.players] == [Outcome.PLAYS, Outcome.PLAYS]


@pytest.mark.parametrize("scale", WHOLE_TONES)
def test_seven_strings_hold_a_whole_tone_scale(scale: tuple[int, ...]) -> None:
    # Counted over all settings: each letter flat, natural or sharp, so many semitones above C.
    settings = product(*[[step - 1, step, step + 1] for step in (0, 2, 4, 5, 7, 9, 11)])
    assert any({note % 12 for note in setting} == set(scale) for setting in settings)


def test_one_of_the_harps_that_cannot_play_is_exit_code_1(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """check sees a run as a whole where the deal saw its attacks one by one, so what it says of the new file counts."""
    deal = shared(RECORDINGS / "03-paddle-wheel.mid")
    stuck = replace(deal.players[1], outcome=Outcome.CANNOT)
    monkeypatch.setattr(
        "livepedal.cli.sharing.share_part",
        lambda *_, **__: replace(deal, players=(deal.players[0], stuck)),
    )
    source, out = RECORDINGS / "03-paddle-wheel.mid", tmp_path / "two.mid"
    assert main(["share", str(source), "-o", str(out)]) == 1


def test_turns_under_a_second_are_quick_but_not_beside_what_both_play() -> None:
    place = Place(1, Fraction(1))

    def quick(*turns: tuple[int, int]) -> list[bool]:
        made = [Turn(n, n + 1, who, None, place, place, lasts) for n, (who, lasts) in enumerate(turns)]
        found = quick_turns(made, 1_000_000)
        return [turn in found for turn in made]

    assert quick((0, 800_000), (1, 1_600_000), (0, 400_000)) == [True, False, True]
    assert quick((0, 800_000), (BOTH, 400_000), (1, 800_000)) == [False, False, False]
    assert quick((0, 800_000)) == [False]


def test_doublings_are_octaves_of_the_other_player_and_playable() -> None:
    source = RECORDINGS / "01-slack-water.mid"
    deal = shared(source, double=True)
    assert deal.doubled > 0
    added = struck(deal.data) - struck(source)
    assert added.total() == deal.doubled
    times: dict[float, set[int]] = {}
    for seconds, pitch in struck(source):
        times.setdefault(seconds, set()).add(pitch)
    for seconds, pitch in added:
        near = {p for at, pitches in times.items() if abs(at - seconds) < 0.04 for p in pitches}
        assert near & {pitch - 12, pitch + 12}
    assert all(player.outcome is Outcome.PLAYS for player in deal.players)


@pytest.mark.slow
def test_the_command_writes_once_and_never_over_its_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source = tmp_path / "wheel.mid"
    source.write_bytes((RECORDINGS / "03-paddle-wheel.mid").read_bytes())
    out = tmp_path / "two.mid"
    assert main(["share", str(source), "-o", str(out)]) == 0
    assert "Harp 2" in capsys.readouterr().out
    first = out.read_bytes()
    assert [track.name for track in mido.MidiFile(out).tracks[1:]] == ["Harp 1", "Harp 2"]
    assert main(["share", str(source), "-o", str(out)]) == 2
    assert "--force" in capsys.readouterr().err
    assert main(["share", str(source), "-o", str(out), "--force"]) == 0
    assert out.read_bytes() == first
    before = source.read_bytes()
    assert main(["share", str(source), "-o", str(source), "--force"]) == 2
    assert source.read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["two.mid", "wheel.mid"]


def test_where_two_cannot_play_the_next_step_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    source, out = tmp_path / "high.mid", tmp_path / "two.mid"
    source.write_bytes(midi(("Harp", [(0, 1, (60,)), (2, 1, (112,))])))
    assert main(["share", str(source), "-o", str(out)]) == 1
    told = capsys.readouterr().out
    assert "What Harp 1 cannot play" in told
    assert "bar 1, beat 3, 1.00 s: E8" in told
    assert "livepedal check --remedies" in told


@pytest.mark.slow
def test_where_nothing_can_be_doubled_it_is_said_why(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain, double = tmp_path / "plain.mid", tmp_path / "double.mid"
    wheel = str(RECORDINGS / "03-paddle-wheel.mid")
    main(["share", wheel, "-o", str(plain)])
    assert "doubled" not in capsys.readouterr().out
    main(["share", wheel, "-o", str(double), "--double"])
    told = capsys.readouterr().out
    if plain.read_bytes() == double.read_bytes():
        assert "Nothing could be doubled: " in told
    else:
        assert "added in octaves" in told


def test_an_easy_part_that_cannot_be_doubled_is_not_told_to_double(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # G♯ is on two strings, but its octaves above and below G♯7 and C1 are on none: the harp ends at G7.
    source, out = tmp_path / "top.mid", tmp_path / "two.mid"
    source.write_bytes(midi(("Harp", [(0, 1, (103,))])))
    assert main(["share", str(source), "-o", str(out), "--double"]) == 0
    told = capsys.readouterr().out
    assert "Nothing could be doubled" in told
    assert "--double adds" not in told
    assert not out.exists()


def test_changes_of_a_bounded_plan_are_not_told_as_the_fewest() -> None:
    made = shared(RECORDINGS / "03-paddle-wheel.mid")
    player, look = Figures.builtin().player("working"), Look(signs_for("utf-8"))

    def told(bounded: int) -> str:
        players = tuple(replace(one, plan=replace(one.plan, bounded=bounded)) for one in made.players)
        rows = shared_lines(replace(made, players=players), player, "one.mid", "two.mid", "", look)
        return " ".join(map(plain_text, rows))

    assert "not every spelling of Harp 1 was tried" in told(3)
    assert "not every spelling of Harp 2 was tried" in told(3)
    assert "was tried" not in told(0)


@pytest.mark.slow
def test_what_is_too_much_at_once_for_one_is_dealt_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """recordings/README.md, 11: no attack of it fails, and yet a working player has too much at once."""
    source, out = str(RECORDINGS / "11-weir.mid"), tmp_path / "two.mid"
    assert main(["check", source]) == 1
    capsys.readouterr()
    assert main(["share", source, "-o", str(out)]) == 0
    told = capsys.readouterr().out
    assert "For one working player alone: 1 passage with too many pedal changes at once." in told
    assert "In bars 1 to 4 they take turns more often, so that each has fewer pedal changes at once." in told
    assert main(["check", str(out)]) == 0


@pytest.mark.slow
def test_where_it_is_too_much_even_for_two_it_is_said_what_was_tried() -> None:
    deal = shared(RECORDINGS / "11-weir.mid")
    look, player = Look(signs_for("utf-8")), Figures.builtin().player("working")
    made = replace(
        deal, players=(deal.alone, deal.players[1]), short=(1, 2)
    )
    told = " ".join(
        " ".join(map(plain_text, shared_lines(made, player, "a.mid", "b.mid", "mend it", look))).split()
    )
    assert "What Harp cannot play" in told
    assert "Too much at once: " in told
    assert "Taking turns more often does not avoid too many pedal changes at once." in told
    assert "For the reasons and remedies: mend it" in told


def test_a_note_that_the_players_read_under_two_names_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["share", str(RECORDINGS / "03-paddle-wheel.mid"), "-o", str(tmp_path / "two.mid")]) == 0
    told = " ".join(capsys.readouterr().out.split())
    deal = shared(RECORDINGS / "03-paddle-wheel.mid")
    reads = [
        {
            (report.place(attack.us).bar, one.pitch % 12, one.name[:-1])
            for attack, spellings in report.spelled
            for one in spellings
            if one is not None
        }
        for report in deal.players
    ]
    both = {(bar, a, b) for bar, pitch, a in reads[0] for also, other, b in reads[1] if (bar, pitch) == (also, other)}
    assert {(bar, *pair) for pair, bars in deal.two_names.items() for bar in bars} == {
        (bar, a, b) for bar, a, b in both if a != b
    }
    assert deal.two_names
    assert "read the same note under two names, because each part is spelled for its own pedals:" in told
    assert f"Who plays what ({len(deal.turns)} turns)" in told
