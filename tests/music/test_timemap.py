"""Ticks, microseconds, bars and beats, against mido's own arithmetic, exact sums, and counting bar by bar."""

from __future__ import annotations

import io
from collections import defaultdict
from fractions import Fraction
from pathlib import Path

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livepedal.music.beats import Beats
from livepedal.music.song import read_song
from livepedal.music.timemap import Mark, Metre, Place, Tempo, TimeMap
from livepedal.sources.raw import Division, unpacked
from livepedal.sources.reading import read_raw
from tests.places import MUSIC

FILES = [path for path in sorted(MUSIC.glob("*/*.mid")) if "type-2" not in path.name]

QUARTER = Division(per_quarter=480)


def test_no_set_tempo_means_120_quarters_a_minute() -> None:
    # SMF 1.0: 500,000 µs a quarter.
    time_map = TimeMap(QUARTER)
    assert time_map.us(480) == 500_000
    assert time_map.beats_per_minute(0) == 120


def test_smpte_ticks_do_not_heed_set_tempo() -> None:
    # SMF 1.0: division E7 28 has ticks of 1 ms.
    time_map = TimeMap(Division(per_second=Fraction(1000)), [Tempo(0, 1_000_000), Tempo(500, 250_000)])
    assert [time_map.us(tick) for tick in (0, 1, 600, 10**9)] == [0, 1000, 600_000, 10**12]
    assert time_map.tick(600_400) == 600
    # Quarters of a second: the fifth beat is the first of bar 2.
    assert time_map.place(4_000_000) == Place(2, Fraction(1))


def test_drop_frame_time_is_exact() -> None:
    # 30 drop-frame: 30,000 / 1001 frames a second (SMPTE ST 12-1); 107,892 frames make an hour but 3.6 ms.
    time_map = TimeMap(Division(per_second=Fraction(30_000, 1001) * 80))
    assert time_map.us(107_892 * 80) == 3_599_996_400


def test_us_rounds_half_up() -> None:
    # 1 µs a quarter, 2 ticks a quarter: half a microsecond a tick.
    time_map = TimeMap(Division(per_quarter=2), [Tempo(0, 1)])
    assert [time_map.us(tick) for tick in range(6)] == [0, 1, 1, 2, 2, 3]


def test_what_is_in_force_after_changes_of_tempo_and_metre() -> None:
    # 4/4 at 120 quarters a minute, from bar 2 on at 60, from bar 3 on 3/4, from its second beat on at 240.
    time_map = TimeMap(
        QUARTER,
        [Tempo(0, 500_000), Tempo(4 * 480, 1_000_000), Tempo(9 * 480, 250_000)],
        [Metre(0, 4, 4), Metre(8 * 480, 3, 4)],
    )
    bars = [0, 2_000_000, 6_000_000, 7_500_000, 8_250_000]
    assert [time_map.us_of_bar(bar) for bar in range(1, 6)] == bars
    assert time_map.us_of_bar(3, 2) == 7_000_000
    assert time_map.us_of_bar(0) == -2_000_000
    moments = (-1, 0, 1_999_999, 2_000_000, 6_999_999, 7_000_000, 9_000_000)
    assert [time_map.beats_per_minute(us) for us in moments] == [120, 120, 120, 60, 60, 240, 240]
    assert [time_map.metre(us) for us in (-9_000_000, 0, 5_000_000, 6_000_000)] == [(4, 4)] * 3 + [(3, 4)]


@pytest.mark.parametrize("metre", [Metre(0, 0, 4), Metre(0, 4, 0), Metre(960, -1, 4)])
def test_a_metre_has_beats(metre: Metre) -> None:
    with pytest.raises(ValueError, match="at least one beat"):
        TimeMap(QUARTER, metres=[metre])


tempo_lists = st.lists(st.builds(Tempo, st.integers(0, 5000), st.integers(1, 0xFFFFFF)), max_size=8)
divisions = st.integers(1, 0x7FFF)


@given(tempo_lists, divisions, st.integers(0, 8000))
def test_us_is_the_exact_sum_tick_by_tick(tempos: list[Tempo], division: int, tick: int) -> None:
    time_map = TimeMap(Division(per_quarter=division), tempos)
    in_force = {tempo.tick: tempo.per_quarter for tempo in tempos}
    per_quarter, numerator = 500_000, 0
    for passing in range(tick):
        per_quarter = in_force.get(passing, per_quarter)
        numerator += per_quarter
    exact = Fraction(numerator, division)
    assert time_map.us(tick) == (exact + Fraction(1, 2)).__floor__()


@given(tempo_lists, divisions, st.lists(st.integers(0, 10**6), max_size=30))
def test_many_ticks_at_once(tempos: list[Tempo], division: int, ticks: list[int]) -> None:
    time_map = TimeMap(Division(per_quarter=division), tempos)
    ticks.sort()
    assert time_map.us_of(ticks) == [time_map.us(tick) for tick in ticks]


@given(
    st.integers(1, 2000).flatmap(
        lambda division: st.tuples(
            st.just(division),
            # More than a microsecond a tick, so that every tick has a moment of its own.
            st.lists(st.builds(Tempo, st.integers(0, 5000), st.integers(division + 1, 0xFFFFFF)), max_size=8),
        )
    ),
    st.integers(0, 10**6),
)
def test_tick_is_the_inverse_of_us(made: tuple[int, list[Tempo]], tick: int) -> None:
    division, tempos = made
    time_map = TimeMap(Division(per_quarter=division), tempos)
    for near in (tick, *(change.tick for change in tempos)):
        assert time_map.tick(time_map.us(near)) == near


metre_lists = st.lists(
    st.builds(Metre, st.integers(0, 20_000), st.integers(1, 15), st.sampled_from([1, 2, 4, 8, 16])),
    max_size=6,
)


def count_bars(metres: list[Metre], division: int, tick: int) -> tuple[int, Fraction]:
    """Bar and beat by walking from bar to bar; a change of metre starts a bar, a repetition does not."""
    beats, unit = 4, 4
    changes = []
    for at, new_beats, new_unit in sorted({metre.tick: metre for metre in metres}.values()):
        if at == 0 or (new_beats, new_unit) != (changes[-1][1:] if changes else (beats, unit)):
            if at == 0:
                beats, unit = new_beats, new_unit
            else:
                changes.append((at, new_beats, new_unit))
    bar, start = 1, Fraction(0)
    while True:
        end = start + Fraction(4 * division * beats, unit)
        new = changes and changes[0][0] <= end
        if new:
            end = Fraction(changes[0][0])
        if tick < end:
            return bar, 1 + (tick - start) * Fraction(unit, 4 * division)
        if new:
            _, beats, unit = changes.pop(0)
        bar, start = bar + 1, end


@given(metre_lists, st.integers(1, 960), st.integers(0, 25_000))
def test_bars_counted_one_by_one(metres: list[Metre], division: int, tick: int) -> None:
    time_map = TimeMap(Division(per_quarter=division), metres=metres)
    place = time_map.place_of_tick(tick)
    assert (place.bar, place.beat) == count_bars(metres, division, tick)
    # Half a tick at most: the time of a place is given in whole microseconds.
    assert abs(time_map.us_of_bar(place.bar, place.beat) - time_map.us(tick)) <= 1


def test_bar_and_beat_over_changes_of_metre() -> None:
    # 4/4 for two bars, 3/8 for two, 6/8; beats in units of the denominator. Worked out by hand.
    metres = [Metre(0, 4, 4), Metre(3840, 3, 8), Metre(5280, 6, 8)]
    time_map = TimeMap(QUARTER, metres=metres, marks=[Mark(3840, "A"), Mark(5280, "B")])
    expected = {
        0: Place(1, Fraction(1)),
        480 * 3 + 160: Place(1, Fraction(13, 3)),  # the second note of a triplet on beat 4
        1920: Place(2, Fraction(1)),
        3839: Place(2, Fraction(1) + Fraction(1919, 480)),
        3840: Place(3, Fraction(1), "A"),
        3840 + 240: Place(3, Fraction(2), "A"),
        4560: Place(4, Fraction(1), "A", 1),
        5280: Place(5, Fraction(1), "B"),
        5280 + 1440 + 600: Place(6, Fraction(7, 2), "B", 1),
    }
    for tick, place in expected.items():
        assert time_map.place(time_map.us(tick)) == place
    # Told to people, what is struck just before a beat stands on it, in its bar and metre; a 32nd before does not.
    told = {3839: 3840, 5279: 5280, 480 * 4 - 29: 1920, 470: 480, 2: 2, 480 - 60: 480 - 60}
    assert {tick: time_map.told(time_map.us(tick)) for tick in told} == {
        tick: time_map.place(time_map.us(meant)) for tick, meant in told.items()
    }
    assert time_map.metre(time_map.us(4000)) == (3, 8)
    assert time_map.us_of_bar(6, Fraction(7, 2)) == time_map.us(5280 + 1440 + 600)


def test_bars_are_counted_from_any_number() -> None:
    # A pickup of one quarter, written as a bar of 1/4: bar 0, so that the first whole bar is bar 1.
    time_map = TimeMap(QUARTER, metres=[Metre(0, 1, 4), Metre(480, 3, 4)], first_bar=0)
    assert time_map.place(0) == Place(0, Fraction(1))
    assert time_map.place(500_000) == Place(1, Fraction(1))
    assert time_map.us_of_bar(2) == 2_000_000


def test_the_last_bar_line_and_beat_are_not_after_the_moment() -> None:
    # 72 a minute: a quarter is no whole number of microseconds, and a microsecond before a line is nearest to its tick.
    time_map = TimeMap(QUARTER, [Tempo(0, 833_333)], [Metre(0, 3, 4)])
    beats = Beats(time_map)
    for bar in range(2, 60):
        line = time_map.us_of_bar(bar)
        assert (beats.bar_line(line), beats.bar_line(line - 1)) == (line, time_map.us_of_bar(bar - 1))
        assert (beats.beat(line), beats.beat(line - 1)) == (line, time_map.us_of_bar(bar - 1, 3))


def test_a_metre_written_once_more_starts_no_bar() -> None:
    time_map = TimeMap(QUARTER, metres=[Metre(0, 3, 4), Metre(480, 3, 4)])
    assert time_map.place_of_tick(480) == Place(1, Fraction(2))


def test_far_away_nothing_drifts() -> None:
    # 333,333 µs a quarter over a million bars: a float of seconds would be wrong in the seventh digit.
    time_map = TimeMap(QUARTER, [Tempo(0, 333_333)])
    assert time_map.us(480 * 4_000_000) == 333_333 * 4_000_000
    assert time_map.place(333_333 * 4_000_000) == Place(1_000_001, Fraction(1))


@pytest.mark.skipif(not FILES, reason="no files to try")
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_times_as_mido_computes_them(path: Path) -> None:
    try:
        reference = mido.MidiFile(path)
        seconds, theirs = 0.0, defaultdict(list)
        for message in reference:
            seconds += message.time
            if message.type in {"note_on", "note_off"}:
                theirs[tuple(message.bytes()[:2])].append(seconds * 1e6)
    except Exception as refusal:  # mido raises whatever it likes
        pytest.skip(f"mido cannot read it: {type(refusal).__name__}")
    time_map = read_song(path).time_map
    ours = defaultdict(list)
    for track in read_raw(path).tracks:
        for message in map(unpacked, track.packed):
            if message.status < 0xA0:
                ours[message.status, message.data1].append(time_map.us(message.tick))
    assert ours.keys() == theirs.keys()
    for key, times in ours.items():
        assert sorted(times) == pytest.approx(theirs[key], abs=2)


@given(tempo_lists, st.integers(1, 1000), st.lists(st.integers(0, 500), min_size=1, max_size=20))
def test_times_as_mido_computes_them_in_made_files(
    tempos: list[Tempo], division: int, deltas: list[int]
) -> None:
    written = mido.MidiFile(type=1, ticks_per_beat=division)
    conductor, player = mido.MidiTrack(), mido.MidiTrack()
    written.tracks += [conductor, player]
    at = 0
    for tick, per_quarter in sorted(tempos, key=lambda tempo: tempo.tick):
        conductor.append(mido.MetaMessage("set_tempo", tempo=per_quarter, time=tick - at))
        at = tick
    player += [mido.Message("note_on", note=60, time=delta) for delta in deltas]
    data = io.BytesIO()
    written.save(file=data)
    seconds, theirs = 0.0, []
    for message in written:
        seconds += message.time
        if message.type == "note_on":
            theirs.append(seconds * 1e6)
    time_map = read_song(data.getvalue()).time_map
    ticks = [sum(deltas[: count + 1]) for count in range(len(deltas))]
    for ours, expected in zip(map(time_map.us, ticks), theirs, strict=True):
        assert ours == pytest.approx(expected, abs=1)
