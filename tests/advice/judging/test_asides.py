"""What is worth knowing and no fault: when it is told, and with which setting."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from livepedal import check_file
from livepedal.advice.judging.asides import Aside, AsideKind
from livepedal.advice.judging.report import PartReport
from livepedal.harp import Figures, Setting
from livepedal.views.report.asides import aside_texts
from tests.advice.changed import BUILTIN, RECORDINGS
from tests.advice.making_midi import Struck, midi

# A second is two quarters at the tempo that `midi` has.
QUARTERS = 2.0
# C major upwards from middle C: whole tones and semitones of neighbouring strings.
SCALE = (60, 62, 64, 65, 67, 69, 71, 72, 74, 76, 77, 79, 81, 83, 84)


def report(struck: Sequence[Struck], figures: Figures = BUILTIN, player: str = "working") -> PartReport:
    return check_file(midi(("Harp", struck)), figures=figures, player=player).files[0].parts[0]


def asides(part: PartReport, kind: AsideKind) -> list[Aside]:
    return [aside for aside in part.asides if aside.kind is kind]


def run(pitches: Sequence[int], step: float) -> list[Struck]:
    """Notes in a row, `step` seconds from one to the next."""
    return [(QUARTERS * step * n, QUARTERS * step * 0.9, (pitch,)) for n, pitch in enumerate(pitches)]


def test_the_glissando_of_the_wake_with_its_one_setting() -> None:
    # Berlioz, p. 90: D♯ C♮ B♯ | E♭ F♯ G♭ A♮, and no other setting gives this set (recordings/README.md, 09).
    part = check_file(RECORDINGS / "09-wake-glissando.mid").files[0].parts[0]
    found = asides(part, AsideKind.GLISSANDO)
    assert found
    assert {one.settings for one in found} == {(Setting.parse("D# C B# Eb F# Gb A"),)}
    assert part.plan.setting == Setting.parse("D# C B# Eb F# Gb A")


@pytest.mark.parametrize(("notes", "told"), [(7, True), (6, False)])
def test_short_runs_are_not_told(notes: int, told: bool) -> None:
    # figures.toml, [glissando]: remark_notes.
    found = asides(report(run(SCALE[:notes], 0.06)), AsideKind.GLISSANDO)
    assert bool(found) is told


@pytest.mark.parametrize(("step", "told"), [(0.088, True), (0.095, False)])
def test_slow_runs_are_not_told(step: float, told: bool) -> None:
    # figures.toml, [glissando]: remark_step; a run is one up to `step` from string to string, 0.12 s.
    assert bool(asides(report(run(SCALE, step)), AsideKind.GLISSANDO)) is told


def test_the_figures_decide() -> None:
    own = replace(BUILTIN, glissando=replace(BUILTIN.glissando, remark_notes=16))
    assert asides(report(run(SCALE, 0.06)), AsideKind.GLISSANDO)
    assert not asides(report(run(SCALE, 0.06), own), AsideKind.GLISSANDO)


@pytest.mark.parametrize(("notes", "told"), [(9, True), (8, False)])
def test_a_chromatic_run_is_no_glissando(notes: int, told: bool) -> None:
    # Two hands have up to eight notes placed beforehand: thumb and three fingers each (Volpé Bligh, item 2).
    found = asides(report(run(range(60, 60 + notes), 0.08)), AsideKind.NO_GLISSANDO)
    assert bool(found) is told
    for one in found:
        # A letter has one string an octave, so seven of its twelve semitones are the most there can be.
        left_out = one.what.split("without ")[1].split(" set ")[0].split()
        assert len(left_out) >= notes - 8


def test_the_right_hand_in_the_bass() -> None:
    # Freund & Cutler: the right hand down to G2 (43).
    low = report([(0, 4, (24, 28, 31, 36, 40, 43, 48, 52))])
    high = report([(0, 4, (36, 40, 43, 48, 52, 55, 60, 64))])
    assert [one.pitches[0] < 43 for one in asides(low, AsideKind.RIGHT_LOW)] == [True]
    assert not asides(high, AsideKind.RIGHT_LOW)
    assert [text for text in aside_texts(low.asides, low.place) if "right hand" in text] == [
        "the right hand low in the bass: bar 1"
    ]


@pytest.mark.parametrize(
    ("per_second", "told"),
    [(4, False), (4.9, False), (5.5, True), (8, True)],
)
def test_wire_strings_in_quick_succession(per_second: float, told: bool) -> None:
    # From memory, no source: 4 strokes a second are heard clearly, 8 buzz and blur; 5 here, of the working player.
    bass = (31, 33, 36, 38, 40, 38, 36, 33) * 3  # G1 to E2
    part = report(run(bass, 1 / per_second))
    found = asides(part, AsideKind.WIRE)
    assert bool(found) is told
    for one in found:
        assert one.per_second == pytest.approx(per_second, rel=0.01)
        assert one.us == part.begin
        assert one.end == pytest.approx(part.begin + 23 * 1e6 / per_second, abs=2000)
        assert one.what.endswith(f"blur at this speed, {per_second:.1f} strokes a second")
    # The same an octave and a fifth higher lies on gut and nylon.
    assert not asides(report(run([pitch + 19 for pitch in bass], 1 / per_second)), AsideKind.WIRE)


def test_a_stretch_on_wire_strings_is_told_once_with_its_bars() -> None:
    # 24 notes at 8 a second: three seconds, a bar and a half at this tempo.
    part = report(run((31, 33, 36, 38, 40, 38, 36, 33) * 3, 1 / 8))
    assert [text for text in aside_texts(part.asides, part.place) if "wire" in text] == [
        "low wire strings in quick succession, which blur: bars 1 and 2, up to 8.0 strokes a second"
    ]


def test_the_lowest_octave_again_and_again_buzzes() -> None:
    # Common practice, no source.
    low, high = (report(run([pitch] * 14, 1 / 6.8)) for pitch in (28, 40))  # E1, E2
    assert [len(asides(low, kind)) for kind in (AsideKind.WIRE, AsideKind.BUZZ)] == [0, 1]
    assert [len(asides(high, kind)) for kind in (AsideKind.WIRE, AsideKind.BUZZ)] == [1, 0]


def test_a_pedal_that_moves_while_its_letter_rings() -> None:
    # C♮2 (not B♯, as B♮ sounds with it) is let go and rings for seconds (no dampers: Volpé Bligh, item 5) while
    # the C pedal goes to C♯, as D is wanted natural with it.
    struck: list[Struck] = [(0, 1, (36, 47)), (2, 1, (62,)), (4, 1, (73, 74))]
    (smear,) = asides(report(struck), AsideKind.SMEAR)
    assert smear.what.startswith("C2 still rings")
    # Struck long before, nothing of it is left (figures.toml, [ring]: 10 s).
    late: list[Struck] = [(0, 1, (36, 47)), (60, 1, (62,)), (62, 1, (73, 74))]
    assert not asides(report(late), AsideKind.SMEAR)


@pytest.mark.parametrize(("missing", "told"), [(-0.01, False), (0.02, True), (0.04, True), (0.08, False)])
def test_what_is_missed_by_less_than_a_twentieth_is_just_playable(missing: float, told: bool) -> None:
    # One string again and again, on D natural, which has no second string: `repeat` on the average is met, missed by
    # less than 5 % of it, or missed by more (figures.toml; issue: what counts as met is said as *just*).
    needed = BUILTIN.player("working").repeat / 1e6
    part = report(run([62] * 6, needed / (1 + missing)))
    assert bool(asides(part, AsideKind.JUST)) is told
    assert bool(part.findings) is (missing > 0.05)
    texts = [text for text in aside_texts(part.asides, part.place) if "just" in text]
    assert texts == (["attacks that the hands only just manage: bar 1"] if told else [])


def test_a_chord_that_two_hands_take_at_once_is_not_told_as_rolled() -> None:
    # E3 and C5 before a long rest: one hand would have to break the thirteenth, two need not.
    line: list[Struck] = [(n / 2, 0.4, (pitch,)) for n, pitch in enumerate((72, 76, 79, 76))]
    assert not asides(report([*line, (2, 1, (52, 72)), (8, 1, (41,))]), AsideKind.ROLLED)
    # Eight notes over four octaves lie in two hands only when both break them.
    assert asides(report([(0, 1, (36, 40, 43, 55, 60, 64, 67, 88))]), AsideKind.ROLLED)
