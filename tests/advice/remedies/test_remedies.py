"""Remedies: what is found is carried out again and put before the independent judge."""

from __future__ import annotations

import json
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import pytest

from livepedal import cli
from livepedal.advice.check import check_file
from livepedal.advice.judging.basis import Basis
from livepedal.advice.remedies.remedy import PartAdvice, Remedy, RemedyKind
from livepedal.advice.remedies.search import ClosedPassage, part_advice
from livepedal.advice.remedies.telling import Teller
from livepedal.advice.remedies.voices import Voices
from livepedal.harp import Position, Setting
from livepedal.model.findings import Layer
from livepedal.model.monitor import BareMonitor
from livepedal.music.attacks import Gathered, events_of
from livepedal.music.timemap import TimeMap
from livepedal.views.words import says
from tests.advice.changed import (
    BUILTIN,
    HARP,
    RECORDINGS,
    apart,
    attacks_in,
    carried_out,
    helps,
    judged,
    part_of,
    report_on,
    slowed,
)

FEET = (Layer.PEDALS, Layer.STRINGS)


def attack(us: int, *pitches: int, end: int) -> Gathered:
    return Gathered(us, tuple((pitch, end) for pitch in sorted(pitches)))


def line(pitches: Sequence[int], gap: int, above: int | None = None) -> tuple[Gathered, ...]:
    """Even notes, each held for nine tenths of its time; `above`: struck with each of them."""
    return tuple(
        attack(n * gap, *(p for p in (pitch, above) if p is not None), end=n * gap + gap * 9 // 10)
        for n, pitch in enumerate(pitches)
    )


def advice_on(
    attacks: Sequence[Gathered],
    setting: Setting | None = None,
    time_map: TimeMap | None = None,
    player: str = "working",
    layers: Sequence[Layer] = FEET,
) -> PartAdvice:
    basis = Basis(BUILTIN, HARP, player, setting, tuple(layers))
    return part_advice(report_on(attacks, basis, time_map), basis)


def live_remedies(attacks: Sequence[Gathered]) -> list[Remedy]:
    basis = Basis(BUILTIN, HARP, layers=FEET)
    return list(ClosedPassage(report_on(attacks, basis), basis).remedies())


def kinds(advice: PartAdvice) -> list[RemedyKind]:
    return [remedy.kind for passage in advice.passages for remedy in passage.remedies]


def monitor_plays(attacks: Sequence[Gathered], setting: Setting | None = None, harp=HARP) -> bool:
    monitor = BareMonitor(BUILTIN, harp, only=FEET)
    for event in events_of(attacks):
        monitor.feed(event)
    monitor.finish()
    return monitor.counts()[1].unplayable == 0


# Berlioz, Grand traité d'instrumentation, p. 85 (fr.wikisource), a violin melody in A major, semiquavers,
# judged unfit for its four semitones in a row in the third bar; and the third bar as he rewrites it for the
# harp.
BEFORE = [73, 71, 69, 68, 69, 71, 73, 74]
THIRD_BAR = [76, 75, 76, 77, 78, 80]
AFTER = [81, 80, 81, 85, 83, 81, 80, 78]
REWRITTEN = [76, 73, 81, 80]
FAST = 100_000  # µs a semiquaver
E6 = 88


def test_berlioz_p85_his_rewriting_is_beaten_by_a_note_fewer() -> None:
    """As an inner voice (under E6): he gives up four of the six notes of the bar; two are enough."""
    attacks = line([*BEFORE, *THIRD_BAR, *AFTER], FAST, above=E6)
    assert not judged(attacks)
    advice = advice_on(attacks)
    (omit, *_) = [r for p in advice.passages for r in p.remedies if r.kind is RemedyKind.OMIT]
    kept = [pitch for pitch in THIRD_BAR if pitch in REWRITTEN]
    assert len(omit.notes) <= len(THIRD_BAR) - len(kept)
    assert {note.pitch for note in omit.notes} <= set(THIRD_BAR)
    assert {note.pitch % 12 for note in omit.notes} <= {3, 5}  # D♯ and E♯, the altered ones
    assert judged(carried_out(attacks, omit))


def test_berlioz_p85_the_line_alone_is_slowed_down_or_loses_passing_notes() -> None:
    """Of a melody no note goes but those that a chromatic line passes through: its D♯, E, F♮, F♯ has two of them."""
    attacks = line([*BEFORE, *THIRD_BAR, *AFTER], FAST)
    advice = advice_on(attacks)
    assert kinds(advice) == [RemedyKind.OMIT, RemedyKind.TEMPO, RemedyKind.SECOND_HARP]
    assert {note.pitch for note in advice.passages[0].remedies[0].notes} <= {76, 77}
    for remedy in advice.passages[0].remedies:
        assert helps(attacks, remedy), remedy
    assert not advice_on(line([*BEFORE, *REWRITTEN, *AFTER], FAST)).passages


@pytest.mark.parametrize("name", ["03-paddle-wheel.mid", "14-engine-bells.mid"])
def test_every_remedy_of_the_recordings_is_playable_when_carried_out(name: str) -> None:
    attacks = attacks_in(name)
    advice = advice_on(attacks, time_map=part_of(name).time_map)
    remedies = [remedy for passage in advice.passages for remedy in passage.remedies]
    assert remedies
    for remedy in remedies:
        assert helps(attacks, remedy), remedy


def test_an_inner_note_goes_before_the_tempo_where_no_setting_holds_the_chord() -> None:
    """G, A♭ and A are the only three notes that no setting holds (counted over all 2187 settings): no tempo helps."""
    chord = [attack(0, 48, 60, 64, 67, 72, end=400_000), attack(1_000_000, 55, 67, 68, 69, 76, end=1_400_000)]
    advice = advice_on(chord)
    assert set(kinds(advice)) == {RemedyKind.OMIT, RemedyKind.SECOND_HARP}
    assert kinds(advice)[-1] is RemedyKind.SECOND_HARP
    assert helps(chord, advice.passages[0].remedies[-1])
    assert advice.passages[0].places[0].hard is not None
    for remedy in advice.passages[0].remedies[:-1]:
        assert len(remedy.notes) == 1
        assert remedy.notes[0].pitch in (68, 69)  # G is there twice, and E6 on top is the melody
        assert judged(carried_out(chord, remedy))


def test_clusters_close_together_each_lose_the_note_between_two_neighbours() -> None:
    """G, A♭ and A, and an octave on again: what mends the first is found though the second still stands."""
    chords = [
        attack(n * 1_000_000, 67 + 12 * n, 68 + 12 * n, 69 + 12 * n, 88, end=(n * 10 + 4) * 100_000)
        for n in (0, 1)
    ]
    omit = next(r for p in advice_on(chords).passages for r in p.remedies if r.kind is RemedyKind.OMIT)
    assert [(note.us, note.pitch) for note in omit.notes] == [(0, 68), (1_000_000, 80)]
    assert judged(carried_out(chords, omit))


def test_of_a_cluster_the_chromatic_note_goes_first() -> None:
    """D, E, F, F♯, G in C major. Common practice, no source: F♯ goes, though F too lies between two neighbours."""
    chords = [attack(n * 1_000_000, 60, 64, 67, 72, end=n * 1_000_000 + 400_000) for n in (0, 1, 3)]
    chords.insert(2, attack(2_000_000, 62, 64, 65, 66, 67, 88, end=2_400_000))
    omit = next(r for p in advice_on(chords).passages for r in p.remedies if r.kind is RemedyKind.OMIT)
    assert [note.pitch for note in omit.notes] == [66]
    assert judged(carried_out(chords, omit))


def test_a_quick_chromatic_line_can_be_shared_note_by_note() -> None:
    (second,) = [
        r.second
        for p in advice_on(line(range(60, 85), 62_500)).passages
        for r in p.remedies
        if r.kind is RemedyKind.SECOND_HARP
    ]
    assert second is not None
    assert second.classes in ((1, 3, 5, 7, 9, 11), (0, 2, 4, 6, 8, 10))


def test_melody_and_lonely_notes_are_only_told() -> None:
    """The same three notes one after another while their keys are held: no slower tempo, and no inner note."""
    held = [Gathered(us, ((pitch, None),)) for us, pitch in ((0, 67), (500_000, 68), (1_000_000, 69))]
    # Middle G in three voices dies away after some seconds, so the tempo would have to be far below half.
    advice = advice_on(held)
    for passage in advice.passages:
        for place in passage.places:
            assert all(remedy.kind is not RemedyKind.OMIT for remedy in place.remedies)


def test_hard_however_you_do_it_names_the_notes_of_the_line() -> None:
    """Semitones at 14 a second, one line: under half the tempo, and nothing but melody to leave out."""
    attacks = line([67, 68, 67, 69, 68, 69], 40_000)
    advice = advice_on(attacks)
    (place,) = advice.passages[0].places
    assert not place.one_harp
    assert place.hard is not None
    assert place.hard.speed is None or place.hard.speed < 500
    text = Teller(HARP).hard(place.hard, "working", place.start, others=False)
    assert text.startswith(("no tempo makes this playable: revoice it", "a working player would need"))
    assert place.hard.melody
    gone = Remedy(RemedyKind.OMIT, 0, 0, Fraction(0), notes=place.hard.melody)
    kept = [one for one in carried_out(attacks, gone) if one.notes]
    assert judged(kept)


def test_a_note_whose_string_is_tuned_otherwise_goes_an_octave_up_or_is_left_out() -> None:
    """D1 has no pedal (Volpé Bligh, item 3): D♭1 after D♮1 is on no harp, nor on two."""
    attacks = [attack(0, 26, 37, 61, end=500_000), attack(1_000_000, 25, 56, 61, end=1_900_000)]
    remedies = advice_on(attacks).passages[0].remedies
    assert {r.kind for r in remedies} >= {RemedyKind.OCTAVE, RemedyKind.OMIT}
    for remedy in remedies:
        if remedy.notes:
            assert helps(attacks, remedy), remedy
    assert not advice_on(attacks[1:]).passages


def test_a_lone_note_that_no_string_gives_goes_an_octave_up() -> None:
    """Nothing is lost by moving even a note that is struck alone: D♭1 after D♮1, which has no pedal."""
    attacks = [attack(0, 26, end=500_000), attack(1_000_000, 25, end=1_900_000)]
    remedies = advice_on(attacks).passages[0].remedies
    assert [note.to for r in remedies if r.kind is RemedyKind.OCTAVE for note in r.notes] == [37]
    assert RemedyKind.OMIT not in {r.kind for r in remedies}


def test_another_start_is_found_where_one_was_asked_for() -> None:
    """From C major a chord of A♭, D♭ and E♭ with both feet full at once; from A♭ major nothing has to move."""
    attacks = [attack(100_000, 56, 61, 63, 70, 75, 80, end=600_000)]
    asked = Setting.parse("C major")
    assert not judged(attacks, setting=asked)
    advice = advice_on(attacks, setting=asked)
    best = advice.passages[0].remedies[0]
    assert best.kind is RemedyKind.SETTING
    assert best.setting is not None
    assert best.asked == asked
    assert judged(attacks, setting=best.setting)
    assert Teller(HARP).what(best).startswith("start with ")


def test_the_nearest_other_start_is_offered() -> None:
    """One pedal stands wrong, and one is moved."""
    attacks = [attack(50_000, 61, 65, 68, end=600_000)]  # D♭ F A♭
    asked = Setting.parse("Db C Bb Eb F G A")
    advice = advice_on(attacks, setting=asked)
    setting = advice.passages[0].remedies[0].setting
    assert setting is not None
    moved = [(a, b) for a, b in zip(asked.positions, setting.positions, strict=True) if a is not b]
    assert moved in ([(Position.NATURAL, Position.FLAT)], [(Position.NATURAL, Position.SHARP)])


def test_troubles_far_apart_in_long_music_are_places_of_their_own() -> None:
    """A minute of C major with two impossible turns in it: each is told with its own bars, and slows down
    alone.
    """
    calm = [72, 76, 79, 76]
    attacks: list[Gathered] = []
    for n in range(120):
        pitch = calm[n % 4]
        attacks.append(attack(n * 500_000, 48, pitch, end=n * 500_000 + 300_000))
        if n in (40, 90):
            for k, extra in enumerate((67, 68, 69)):
                us = n * 500_000 + 145_000 * (k + 1)
                attacks.append(attack(us, extra, end=us + 60_000))
    time_map = TimeMap.steady()
    advice = advice_on(attacks, time_map=time_map)
    places = [place for passage in advice.passages for place in passage.places]
    assert [time_map.place(place.troubles[0]).bar for place in places] == [11, 23]
    for place in places:
        bar = time_map.place(place.troubles[0]).bar
        told = Teller(HARP, time_map).bars(place.start, place.end)
        assert told in (f"bars {bar - 1} and {bar}", f"bar {bar}")
    both = attacks
    for place in reversed(places):
        (tempo,) = [remedy for remedy in place.remedies if remedy.kind is RemedyKind.TEMPO]
        assert tempo.ratio is not None
        both = slowed(both, tempo.ratio, tempo.start, tempo.end)
    assert monitor_plays(both)
    assert not monitor_plays(attacks)


def test_a_passage_live_gets_the_same_tempo_as_in_the_file() -> None:
    attacks = attacks_in("03-paddle-wheel.mid")
    live = live_remedies(attacks)[0]
    filed = advice_on(attacks).passages[0].remedies[0]
    assert (live.kind, live.ratio) == (filed.kind, filed.ratio)


def test_what_is_playable_gets_no_remedies() -> None:
    attacks = attacks_in("01-slack-water.mid")
    assert not advice_on(attacks).passages
    assert not live_remedies(attacks)


def test_voices() -> None:
    """Under a held A5 nothing is melody; a key let go within the overlap does not count as held."""
    attacks = (
        Gathered(0, ((48, 900_000), (81, 2_000_000))),
        Gathered(1_000_000, ((60, 1_400_000), (64, 1_400_000))),
        Gathered(2_050_000, ((72, 2_400_000),)),
    )
    voices = Voices.of(attacks, 80_000)
    assert voices.melody((0, 81))
    assert not voices.melody((0, 48))
    assert not voices.melody((1, 64))
    assert not voices.protected((1, 64))
    assert voices.melody((2, 72))
    assert voices.protected((2, 72))
    assert voices.outer((1, 60))
    assert not voices.outer((1, 64))


def test_the_json_has_remedies_under_each_passage() -> None:
    report = check_file(RECORDINGS / "03-paddle-wheel.mid", only=["pedals"], remedies=True)
    part = json.loads(json.dumps(report.to_dict()))["files"][0]["parts"][0]
    (passage,) = part["passages"]
    remedy, second = passage["remedies"]
    assert remedy["kind"] == "tempo"
    assert remedy["second_harp"] is None
    assert second["kind"] == "second-harp"
    assert second["second_harp"]["notes"] > 0
    assert remedy["bpm"] == int(100 * Fraction(str(remedy["ratio"])))
    assert {"kind", "what", "ratio", "bpm", "notes"} <= set(remedy)
    assert [one["player"] for one in part["tempo"]] == ["relaxed", "working", "virtuoso"]
    plain = check_file(RECORDINGS / "03-paddle-wheel.mid", only=["pedals"]).to_dict()
    assert "remedies" not in plain["files"][0]["parts"][0]["passages"][0]


def test_on_the_command_line(capsys: pytest.CaptureFixture[str]) -> None:
    file = str(RECORDINGS / "03-paddle-wheel.mid")
    assert cli.main(["check", "--only", "pedals", file]) == 1
    assert "playable for the working player" not in capsys.readouterr().out
    assert cli.main(["check", "--only", "pedals", "--remedies", file]) == 1
    told = capsys.readouterr().out
    assert "What would make it playable for the working player" in told
    assert "bars 1 to 4 at ♩ = 56 instead of 100 (56%" in told
    assert cli.main(["check", "--from", "99", file]) == 2
    assert "no notes from bar 99 on" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("bar", "first", "there"), [(0, 1, False), (-2, 1, False), (1, 1, True), (0, 0, True), (3, 4, False)]
)
def test_from_a_bar_before_the_first(
    bar: int, first: int, there: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    """The first one is bar 0 where a pickup is counted so."""
    file = str(RECORDINGS / "01-slack-water.mid")
    code = cli.main(["check", "--from", str(bar), "--first-bar", str(first), file])
    assert code == (0 if there else 2)
    said = capsys.readouterr().err
    assert (f"there is no bar {bar}: the first bar has the number {first} " in said) is not there
    assert len(said.splitlines()) == int(not there)


def test_a_longer_rest_where_the_feet_had_no_time_between_passages() -> None:
    """From D C B E F G A all natural to F♯ major, for a player who takes a second from change to change.

    D, G and A are on one string only, so they are left for D♯ or D♭ and so on: more than two changes of one
    foot, and 1.8 s are too short for three.
    """
    attacks = [
        attack(0, 50, 53, 55, 57, 60, 64, 71, end=100_000),
        attack(1_800_000, 49, 54, 56, 58, 61, 63, 66, end=2_600_000),
    ]
    assert not judged(attacks, "relaxed")
    advice = advice_on(attacks, player="relaxed")
    remedies = [remedy for passage in advice.passages for remedy in passage.remedies]
    (remedy,) = [remedy for remedy in remedies if remedy.kind is RemedyKind.REST]
    assert remedies[0] is remedy
    for other in remedies[1:]:
        assert helps(attacks, other, "relaxed"), other
    assert remedy.longer is not None

    def later(us: int) -> list[Gathered]:
        moved = tuple((pitch, (end or 0) + us) for pitch, end in attacks[1].notes)
        return [attacks[0], Gathered(attacks[1].us + us, moved)]

    assert judged(later(remedy.longer), "relaxed")
    assert not judged(later(remedy.longer - 100_000), "relaxed")


def test_a_second_harp_takes_over_what_one_cannot_and_both_can_play() -> None:
    """A bar of G, A♭, A in semiquavers between bars of C major: the second harp has what no setting holds."""
    calm = line([72, 76, 79, 76] * 2, 500_000, above=48)
    turn = tuple(
        attack(4_000_000 + n * 150_000, 48, p, end=4_120_000 + n * 150_000)
        for n, p in enumerate((67, 68, 69, 68) * 3)
    )
    after = tuple(
        attack(one.us + 6_000_000, *(p for p, _ in one.notes), end=one.us + 6_400_000) for one in calm
    )
    attacks = (*calm, *turn, *after)
    advice = advice_on(attacks, time_map=TimeMap.steady())
    (remedy,) = [r for p in advice.passages for r in p.remedies if r.kind is RemedyKind.SECOND_HARP]
    first, second = apart(attacks, remedy)
    assert judged(first)
    assert judged(second)
    assert not judged(attacks)
    assert sum(len(a.notes) for a in (*first, *second)) == sum(len(a.notes) for a in attacks)
    assert Teller(HARP, TimeMap.steady()).what(remedy) == "bar 3: give the Gs to a second harp (3 notes)"


@pytest.mark.slow
def test_a_second_harp_has_whole_bars_where_it_can() -> None:
    """Two bars of C major, two of F♯ major, two of C major, at once: the middle ones are no trouble to who has
    nothing to play before them.
    """
    white, black = (60, 62, 64, 65, 67, 69, 71, 72), (61, 63, 66, 68, 70, 73, 78, 75)
    pitches = [*white * 4, *black * 4, *white * 4]
    attacks = line(pitches, 125_000, above=36)
    time_map = TimeMap.steady()
    advice = advice_on(attacks, time_map=time_map)
    seconds = [r for p in advice.passages for r in p.remedies if r.kind is RemedyKind.SECOND_HARP]
    assert [Teller(HARP, time_map).what(one) for one in seconds] == ["give bar 3 to a second harp"]
    for remedy in seconds:
        assert helps(attacks, remedy), remedy


def test_from_a_bar_on() -> None:
    """03 from bar 4 on has no chromatic turn any more (recordings/README.md)."""
    file = RECORDINGS / "03-paddle-wheel.mid"
    assert check_file(file, only=["pedals"]).exit_code == 1
    assert check_file(file, only=["pedals"], from_bar=4).exit_code == 0


def test_what_is_hard_in_one_of_several_places_does_not_hide_the_others() -> None:
    """G, A♭ and A at once, a note above the harp's highest string, and pedals that were set wrong: each in the same
    passage, and no change mends all of them.
    """
    attacks = [
        attack(50_000, 61, 65, 68, end=400_000),  # D♭ F A♭
        attack(1_000_000, 67, 68, 69, end=1_400_000),
        attack(2_000_000, 60, 108, end=2_400_000),
        attack(3_000_000, 60, 64, end=3_400_000),
    ]
    advice = advice_on(attacks, Setting.parse("Db C Bb Eb F G A"), layers=())
    (passage,) = advice.passages
    assert [len(place.troubles) for place in passage.places] == [1, 1, 1]
    assert [place.remedies[0].kind for place in passage.places] == [
        RemedyKind.SETTING,
        RemedyKind.OMIT,
        RemedyKind.OCTAVE,
    ]
    moments = [{note.us for note in place.remedies[0].notes} for place in passage.places]
    assert moments[1:] == [{1_000_000}, {2_000_000}]


def test_a_slower_bar_is_judged_without_the_trouble_before_it() -> None:
    """The pedals stand wrong for the very first note, which no tempo mends; the turns after it only need time."""
    file = RECORDINGS / "03-paddle-wheel.mid"
    (part,) = check_file(file, start="Ab major", remedies=True).files[0].parts
    assert part.advice is not None
    first, *others = (place for passage in part.advice.passages for place in passage.places)
    assert first.remedies[0].kind is RemedyKind.SETTING
    assert others
    assert all(RemedyKind.TEMPO in {remedy.kind for remedy in place.remedies} for place in others)
    assert others[0].start < 1_000_000 < others[0].end  # in the first bar, too


def test_the_pedals_stand_as_asked_where_the_judging_begins() -> None:
    """Whoever comes in at bar 3 with the pedals so cannot have moved one in bar 2."""
    file = RECORDINGS / "03-paddle-wheel.mid"
    report = check_file(file, from_bar=3, start="Ab major", only=["pedals"], remedies=True)
    (part,) = report.files[0].parts
    assert part.plan.setting == Setting.parse("Ab major")
    bars = [part.place(change.us).bar for change in part.plan.changes]
    assert bars
    assert min(bars) == 3
    assert part.findings[0].us == part.time_map.us_of_bar(3)
    # No tempo gives a pedal time before the first note.
    assert part.advice is not None
    assert not any(tempo.sensible for tempo in part.advice.tempos)
    assert says(part).endswith("30 notes in 25 attacks from bar 3 on, 3.90 s.")


def test_bars_are_told_by_what_is_struck_in_them() -> None:
    """Two seconds a bar: what is struck in bar 2 and held into bar 5 is told as bars 1 and 2."""
    teller = Teller(HARP, TimeMap.steady(), struck=(0, 2_500_000, 12_000_000))
    assert teller.bars(0, 9_000_000) == "bars 1 and 2"
    assert teller.bars(0, 2_000_000) == "bar 1"
    assert teller.bars(0, 12_100_000) == "bars 1 to 7"
    assert Teller(HARP, TimeMap.steady()).bars(0, 9_000_000) == "bars 1 to 5"


@pytest.mark.slow
def test_bars_that_are_told_to_be_slower_say_what_cannot_be_played_there_even_so(tmp_path: Path) -> None:
    """For a player who keeps up 2.4 changes a second 14 is no more too much a little slower; two attacks need less
    tempo, and have a remedy of their own.
    """
    own = tmp_path / "own.toml"
    own.write_text("[players.working]\nsustained = 2.4\n")
    path = RECORDINGS / "14-engine-bells.mid"
    (part,) = check_file(path, remedies=True, figures=own).files[0].parts
    assert part.advice is not None
    (passage,) = part.advice.passages
    (heavy,) = (place.remedies[0] for place in passage.places if place.too_much)
    (feet,) = (place.remedies[0] for place in passage.places if not place.too_much)
    assert heavy.ratio is not None
    assert feet.ratio is not None
    assert heavy.ratio > feet.ratio
    assert heavy.others > 1
    told = Teller(HARP, part.time_map).what(heavy)
    others = f"; {heavy.others} other attacks in these bars still cannot be played (listed separately)"
    assert others in told
    assert "; playable" not in told
    assert not feet.others


@pytest.mark.slow
def test_many_troubles_that_are_alike_stay_one_place() -> None:
    """Not a remedy for each of six notes that come too soon."""
    (part,) = check_file(RECORDINGS / "03-paddle-wheel.mid", player="relaxed", remedies=True).files[0].parts
    assert part.advice is not None
    (passage,) = part.advice.passages
    assert [len(place.troubles) for place in passage.places if not place.too_much] == [6]


def test_a_quick_chromatic_line_has_a_glissando_as_its_first_remedy() -> None:
    """Common practice, no source: a glissando between the same two notes does for a quick chromatic line."""
    before = (attack(0, 48, end=500_000),)
    run = tuple(attack(1_000_000 + note.us, note.notes[0][0], end=0) for note in line(range(60, 85), 83_000))
    run = tuple(Gathered(one.us, ((one.notes[0][0], one.us + 75_000),)) for one in run)
    attacks = (*before, *run)
    assert not monitor_plays(attacks)
    first = next(remedy for passage in advice_on(attacks).passages for remedy in passage.remedies)
    assert first.kind is RemedyKind.GLISSANDO
    assert first.setting is not None
    sounding = {
        pitch % 12 for one in carried_out(attacks, first) for pitch, _ in one.notes if one.us >= 1_000_000
    }
    # C to C stay, and nothing is left that the setting does not have.
    assert 0 in sounding
    assert sounding <= first.setting.pitch_classes
    assert monitor_plays(carried_out(attacks, first))
