"""Glissandi: recognised as they are played, exempt from placing, and the setting that they need."""

from __future__ import annotations

import random
from collections import Counter
from io import BytesIO
from itertools import pairwise, product

import mido
import pytest

from livepedal.advice.check import check_file
from livepedal.advice.judging.asides import AsideKind
from livepedal.advice.judging.report import PartReport
from livepedal.harp import HarpString, Position, Setting
from livepedal.model.findings import Verdict
from livepedal.model.hands import FigurationKind
from livepedal.model.hands.glissando import Run, Runs
from livepedal.model.hands.nearest_setting import nearest_glissando
from livepedal.music.attacks import Gathered
from tests.places import RECORDINGS

from .playing import FIGURES, HARP, WORKING, line, merged, told

MS = 1_000
ALL = [Setting(positions) for positions in product(Position, repeat=7)]


def strings(low: str, high: str) -> list[HarpString]:
    first, last = HarpString.parse(low).number, HarpString.parse(high).number
    return [HarpString.numbered(number) for number in range(first, last + 1)]


def drawn(setting: Setting, low: str = "C3", high: str = "G6", *, doubled: bool = True) -> list[int]:
    """What sounds when a finger is drawn upwards; not `doubled`: each pitch once, as a keyboard may play it."""
    pitches = [string.natural + (setting[string.pedal] or 0) for string in strings(low, high)]
    return pitches if doubled else [p for n, p in enumerate(pitches) if n == 0 or p != pitches[n - 1]]


def heard(attacks: tuple[Gathered, ...]) -> Runs:
    runs = Runs(HARP, FIGURES.glissando.notes, 2_000_000)
    for attack in attacks:
        runs.open(attack.us)
        runs.hear(attack.pitches, attack.us)
    return runs


def long(attacks: tuple[Gathered, ...]) -> list[Run]:
    """The glissandi that end with the last attack."""
    return list(heard(attacks).glissandi())


def hands_with_glissandi(attacks: tuple[Gathered, ...]) -> list[int]:
    """Attacks that even the virtuoso's hands cannot play."""
    _, found = told(attacks, "virtuoso")
    moments = [attack.us for attack in attacks]
    return [moments.index(finding.us) for finding in found]


# Section 6 of the facts: every setting of its table (Berlioz p. 90 for the diminished seventh; the others
# computed).
SETTINGS = [
    "D# C B# | Eb F# Gb A", "Db C# Bb | E Fb G A#", "D Cb B | E# F G# Ab", "D C Bb | E F# G# A#",
    "Db C# B | Eb F G A", "D C B# | E Fb G A", "D C B# | E# F G A", "Db C# Bb | Eb F# Gb Ab",
    "Db C# Bb | E Fb Gb A#", "D C B# | E# F G# Ab", "D# C B# | Eb F G# Ab", "Db C B# | E# F G# Ab",
    "D C B# | E Fb G# Ab", "D C Bb | E Fb G A#", "D Cb B | E# F G A", "Db C Bb | E Fb G A#",
]  # fmt: skip


@pytest.mark.parametrize("written", SETTINGS)
@pytest.mark.parametrize("doubled", [True, False])
@pytest.mark.parametrize("up", [True, False])
@pytest.mark.parametrize("step", [17 * MS, 30 * MS, 100 * MS])
def test_every_setting_of_the_table_makes_glissandi(written: str, doubled: bool, up: bool, step: int) -> None:
    setting = Setting.parse(written)
    pitches = drawn(setting, doubled=doubled)
    played = line(pitches if up else pitches[::-1], step)
    (run,) = long(played)
    assert len(run.pitches) == len(pitches)
    assert run.up is up
    assert setting in run.settings
    assert hands_with_glissandi(played) == []


def test_every_setting_of_all_makes_a_glissando_as_it_stands() -> None:
    """Strings in order are a glissando whatever the setting, unless neighbours cross in pitch (F♭ on F under
    E♯ on E).
    """
    for setting in ALL[::7]:
        pitches = drawn(setting, "C4", "C6")
        if pitches == sorted(pitches):
            (run,) = long(line(pitches, 20 * MS))
            assert setting in run.settings


def test_berlioz_p90_has_one_setting() -> None:
    # Berlioz, Grand traité, p. 90: C E♭ G♭ A from E♭6/G♭6 down to A♭3 in three fingers; only D♯ C♮ B♯ | E♭ F♯
    # G♭ A♮.
    setting = Setting.parse("D# C B# | Eb F# Gb A")
    advice = nearest_glissando([0, 3, 6, 9])
    assert (advice.setting, advice.count, advice.left_out) == (setting, 1, ())
    (run,) = long(line(drawn(setting, "A3", "G6", doubled=False)[::-1], 25 * MS))
    assert run.settings == (setting,)


# Table E: 2187 settings give 977 different sets of pitch classes, 25 + 178 + 415 + 359 of four to seven
# notes.
def test_advice_for_every_set_that_a_setting_sounds() -> None:
    sets = {setting.pitch_classes for setting in ALL}
    assert Counter(map(len, sets)) == {4: 25, 5: 178, 6: 415, 7: 359}
    assert len(sets) == 977
    for notes in sorted(map(sorted, sets))[::23]:
        advice = nearest_glissando(notes)
        assert advice.setting.pitch_classes == set(notes)
        assert advice.left_out == ()


def test_advice_says_which_notes_are_too_many() -> None:
    """The least that has to go is found: no setting does with fewer."""
    for asked in ({0, 1, 2, 3, 4, 5, 6, 8}, set(range(12)), {0, 1, 2, 4, 5, 7, 9, 11}):
        advice = nearest_glissando(asked)
        assert advice.setting.pitch_classes <= asked
        most = max(len(s.pitch_classes & asked) for s in ALL if s.pitch_classes <= asked)
        assert len(advice.left_out) == len(asked) - most


def test_advice_counts_the_settings_that_sound_the_same() -> None:
    # Section 6: the whole-tone scale on C has five settings.
    assert nearest_glissando([0, 2, 4, 6, 8, 10]).count == 5


def crossings(setting: Setting) -> int:
    """Neighbouring strings of which the lower sounds higher, over an octave: on C E♯ sounds above F♭."""
    sounding = [string.natural + (setting[string.pedal] or 0) for string in strings("C4", "C5")]
    return sum(low > high for low, high in pairwise(sounding))


def test_advice_takes_strings_in_order_then_the_flattest() -> None:
    """Flats sound fuller (Berlioz, p. 86). Over all settings that sound the same; in some of them strings cross."""
    crossed = sharper = 0
    for notes in sorted({tuple(sorted(setting.pitch_classes)) for setting in ALL})[::60]:
        same = [setting for setting in ALL if setting.pitch_classes == set(notes)]
        best = nearest_glissando(notes).setting
        ranks = [(crossings(one), sum(position or 0 for position in one.positions)) for one in (best, *same)]
        assert ranks[0] == min(ranks)
        crossed += max(ranks)[0] > ranks[0][0]
        sharper += max(rank[1] for rank in ranks) > ranks[0][1]
    assert crossed > 0
    assert sharper > 3


@pytest.mark.parametrize("start", range(60, 72))
def test_a_chromatic_run_never_is_one(start: int) -> None:
    # Seven strings an octave: max. seven pitches (music.stackexchange.com/questions/130146; computed).
    played = line(list(range(start, start + 13)), 30 * MS)
    assert all(len(run.pitches) < 8 for run in long(played))
    # In both hands, so that neither can help the other.
    both = merged(played, line(list(range(start - 24, start - 11)), 30 * MS))
    assert hands_with_glissandi(both) != []


def test_both_hands_at_once() -> None:
    """In parallel and in contrary motion."""
    setting = Setting.parse("D C Bb | E Fb G A#")
    low, high = drawn(setting, "C2", "C4"), drawn(setting, "C5", "C7")
    for one, other in ((low, high), (low, high[::-1]), (low[::-1], high)):
        played = merged(line(one, 25 * MS), line(other, 25 * MS))
        assert sorted(len(run.pitches) for run in long(played)) == [15, 15]
        assert hands_with_glissandi(played) == []


def test_a_glissando_under_a_held_chord() -> None:
    setting = Setting.parse("Eb major")
    played = merged(line([(39, 46)], 2_000 * MS), line(drawn(setting, "E3", "E6"), 20 * MS, 60 * MS))
    assert hands_with_glissandi(played) == []


def test_a_scale_played_slowly_is_one_too_and_not_told_of() -> None:
    # The same notes are the same figuration at every tempo, so that slower is never harder where it begins.
    (run,) = long(line(drawn(Setting.parse("C"), "C4", "C5"), 200 * MS))
    assert len(run.pitches) == 8
    assert checked_line(drawn(Setting.parse("C"), "C4", "C6"), 200).played == ()


def test_it_turns_round_and_is_handed_over() -> None:
    up = drawn(Setting.parse("C"), "C3", "C6")
    music = line(up + up[-2::-1] + up[1:], 20 * MS)
    assert hands_with_glissandi(music) == []
    assert any(run.notes > 2 * len(up) for run in long(music))


def test_thirds_and_three_voices_in_one_hand() -> None:
    # Berlioz p. 90 has three fingers of one hand; thirds and sixths are common practice.
    scale = drawn(Setting.parse("C"), "C3", "C7")
    for apart in ((0, 2), (0, 5), (0, 2, 4)):
        voices = [line(scale[n : n + 20], 22 * MS) for n in apart]
        assert hands_with_glissandi(merged(*voices)) == []


def test_octaves_at_any_speed_and_uneven_as_fingers_are() -> None:
    """Through the whole program: the attack window must not swallow what passes quicker than it is long."""
    c_major = {0, 2, 4, 5, 7, 9, 11}
    rng = random.Random(5)
    for step in (17, 22, 28, 33, 40, 60):
        for uneven in (0, step // 3):
            notes = [
                (n * step + rng.randint(0, uneven), pitch)
                for low in (36, 48)
                for n, pitch in enumerate(p for p in range(low, low + 37) if p % 12 in c_major)
            ]
            part = checked_notes(notes)
            assert part.verdict is Verdict.EASY, (step, uneven)
            assert {one.kind for one in part.played} == {FigurationKind.GLISSANDO}


@pytest.mark.parametrize("notes", [5, 6, 8])
def test_short_and_uneven_ones(notes: int) -> None:
    # A run of five to eight strings, uneven by 10 to 20 ms, is a short glissando played by hand.
    rng = random.Random(notes)
    for _ in range(10):
        moments = [n * 25 + rng.randint(0, 20) for n in range(notes)]
        pitches = [p for p in range(60, 80) if p % 12 in {0, 2, 4, 5, 7, 9, 11}][:notes]
        part = checked_notes([(3_000 + us, pitch) for us, pitch in zip(moments, pitches, strict=True)])
        assert part.verdict is Verdict.EASY


def test_two_at_once_are_judged_on_one_setting() -> None:
    # C major and D♭ major share no setting: fingers would have to play one of them.
    low, high = drawn(Setting.parse("C"), "C3", "C5"), drawn(Setting.parse("Db"), "C5", "C7")
    assert len(long(line(low, 25 * MS))) == len(long(line(high, 25 * MS))) == 1
    assert len(long(merged(line(low, 25 * MS), line(high, 25 * MS)))) == 1


def test_a_broken_chord_over_more_strings_is_none() -> None:
    # C E G C: the strings between were not played and do not sound those notes in any setting.
    assert long(line([48, 52, 55, 60, 64, 67, 72, 76, 79], 30 * MS)) == []


def test_an_open_attack_is_heard_again() -> None:
    runs = Runs(HARP, FIGURES.glissando.notes, 2_000_000)
    scale = drawn(Setting.parse("C"), "C4", "C5")
    for number, pitch in enumerate(scale):
        runs.open(number * 20 * MS)
        runs.hear((pitch,), number * 20 * MS)
        runs.hear((36, pitch), number * 20 * MS)
    (run,) = runs.glissandi()
    assert run.pitches == tuple(scale)


def test_the_working_player_slides_too() -> None:
    assert WORKING.name == "working"
    assert hands_with_glissandi(line(drawn(Setting.parse("C"), "C2", "C7"), 17 * MS)) == []


@pytest.mark.slow
@pytest.mark.parametrize("step", [17, 25, 34, 40, 60, 90])
def test_a_file_may_draw_a_glissando_at_any_speed(step: int) -> None:
    # Through the whole program, as a keyboard or a sequencer writes it. C major; Berlioz p. 90;
    # the pentatonic glissando of every composer's harp part, and a chromatic run, which is none at any speed: seven strings an octave.
    c_major, dim7 = {0, 2, 4, 5, 7, 9, 11}, {0, 3, 6, 9}
    for classes in (c_major, dim7, {0, 2, 4, 7, 9}):
        for notes in (drawn_line(classes), drawn_line(classes)[::-1]):
            part = checked_line(notes, step)
            assert part.verdict is Verdict.EASY
            asides = [
                aside for aside in part.asides if aside.kind in (AsideKind.GLISSANDO, AsideKind.NO_GLISSANDO)
            ]
            assert [aside.kind for aside in asides] == [AsideKind.GLISSANDO]
            assert all(
                one.pitch_classes == classes for one in asides[0].settings if None not in one.positions
            )
    part = checked_line(list(range(60, 85)), step)
    assert part.verdict is Verdict.UNPLAYABLE
    assert {aside.kind for aside in part.asides} & {AsideKind.GLISSANDO, AsideKind.NO_GLISSANDO} == {
        AsideKind.NO_GLISSANDO
    }


def drawn_line(classes: set[int]) -> list[int]:
    return [pitch for pitch in range(48, 85) if pitch % 12 in classes]


def checked_line(notes: list[int], step: int) -> PartReport:
    """What `check` says of a line, a note every `step` ms."""
    return checked_notes([(n * step, pitch) for n, pitch in enumerate(notes)])


def checked_notes(notes: list[tuple[int, int]]) -> PartReport:
    """What `check` says of notes, (ms, pitch) each, that are short."""
    file = mido.MidiFile(ticks_per_beat=500)  # at 120 a minute a tick is a millisecond
    events: list[mido.Message] = [mido.Message("program_change", program=46)]
    timed = sorted([(ms, 1, pitch) for ms, pitch in notes] + [(ms + 10, 0, pitch) for ms, pitch in notes])
    last = 0
    for ms, on, pitch in timed:
        events.append(mido.Message("note_on" if on else "note_off", note=pitch, time=ms - last))
        last = ms
    file.tracks.append(mido.MidiTrack(events))
    data = BytesIO()
    file.save(file=data)
    (part,) = check_file(data.getvalue(), name="run", figures=FIGURES).files[0].parts
    return part


def test_a_string_without_a_pedal_sets_none() -> None:
    # C1 and D1 have no pedal (Volpé Bligh, item 3): they are drawn over as they are tuned, whatever C and D are set to.
    pitches = [24, 26, *drawn(Setting.parse("Db C# B | E F G A"), "E1", "C3")]
    (run,) = long(line(pitches, 30 * MS))
    assert len(run.pitches) == len(pitches)
    assert run.settings == (Setting.parse("Db C# B | E F G A"),)


def test_a_glissando_whose_pedals_stand_otherwise_says_so() -> None:
    """09 goes over D♯ and E♭, which E♮ from a setting that was asked for does not give."""
    file = RECORDINGS / "09-wake-glissando.mid"
    for start, said in ((None, False), ("D♯ C♮ B♯ | E♭ F♯ G♭ A♮", False), ("D♯ C♮ B♮ | E♮ F♯ G♯ A♮", True)):
        (part,) = check_file(file, start=start).files[0].parts
        told = [aside.what for aside in part.asides if aside.kind is AsideKind.GLISSANDO]
        assert len(told) == 2
        assert all(("but the pedals are set differently here" in what) is said for what in told)
