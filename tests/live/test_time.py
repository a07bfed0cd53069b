"""The grid against `TimeMap`, which reads the saved file; clock and taps against what the MIDI standard says."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livepedal.live.grid import TICKS, Grid
from livepedal.live.session import Session
from livepedal.music.timemap import Tempo, TimeMap
from livepedal.sources.raw import Division, unpacked
from tests.live.streams import setup

PERIODS = st.integers(120_000, 6_000_000)


@given(
    first=PERIODS,
    changes=st.lists(st.tuples(st.integers(1, 5000), PERIODS), max_size=6),
    ticks=st.lists(st.integers(0, 40_000), max_size=20),
)
def test_grid_counts_as_the_file_does(first: int, changes: list[tuple[int, int]], ticks: list[int]) -> None:
    """However it came to its tempos, every tick is at the very microsecond at which it is in the file.

    A second tempo, further on, stands until the next bend takes its place. Grids that were made before stay as they
    were, and what is cut out for a passage is the same from there on.
    """
    grid = Grid(first)
    tempos = [Tempo(0, first)]
    made = [(grid, tempos)]
    at = 0
    for gap, period in changes:
        at += gap
        grid = grid.retimed(Tempo(at, period), Tempo(at + 960, first))
        tempos = [*(tempo for tempo in tempos if tempo.tick < at), Tempo(at, period), Tempo(at + 960, first)]
        made.append((grid, tempos))
    for grid, tempos in made:
        time_map = TimeMap(Division(per_quarter=TICKS), tempos)
        for tick in ticks:
            us = time_map.us(tick)
            assert grid.us(tick) == grid.since(tick).us(tick) == us
            assert grid.tick(us) == time_map.tick(us) == tick
            assert grid.since(tick).us(tick + 9_999) == time_map.us(tick + 9_999)
            assert grid.beats_per_minute(us) == time_map.beats_per_minute(us) == grid.since(tick).beats_per_minute(us)
            assert grid.place(us) == grid.since(tick).place(us)


def test_what_is_cut_out_for_a_passage_is_short_however_long_the_take_is() -> None:
    """A sequencer's clock that jitters bends the tempo at each beat, for hours."""
    grid = Grid(500_000)
    for beat in range(2000):
        period = 480_000 + beat % 2 * 40_000
        grid = grid.bent(beat * TICKS, grid.us(beat * TICKS), (beat + 1) * TICKS, period, period)
    assert len(grid.tempos) > 1990
    assert len(grid.since(1900 * TICKS).tempos) < 250


@given(
    first=PERIODS,
    used=st.integers(0, 3000),
    period=st.integers(200_000, 2_000_000),
    late=st.integers(-100_000, 100_000),
)
def test_leaning_moves_no_moment_in_use(first: int, used: int, period: int, late: int) -> None:
    made = Grid(first)
    moments = [made.us(tick) for tick in range(0, used + 1, 7)]
    beat = (used // TICKS + 2) * TICKS
    made = made.bent(used, max(made.us(used) + late, 0), beat, period, period)
    assert [made.us(tick) for tick in range(0, used + 1, 7)] == moments


@given(st.integers(250_000, 1_500_000), st.integers(250_000, 1_500_000))
def test_leaning_meets_the_beat(first: int, period: int) -> None:
    """After a few beats of a steady tempo each falls where it was foretold, within the 4 ms that jitter is
    let pass.
    """
    made = Grid(first)
    us = 700_000
    for number in range(1, 12):
        tick = made.tick(us)
        beat = ((tick + TICKS // 2) // TICKS + 1) * TICKS
        made = made.bent(tick, us, beat, period, period)
        us += period
        if number > 6:
            assert abs(made.us(beat) - us) <= 4_100


# -- The sequencer's clock -----------------------------------------------------------------------------------

CLOCK, START, CONTINUE, STOP = b"\xf8", b"\xfa", b"\xfb", b"\xfc"


def position(sixteenths: int) -> bytes:
    """A song position pointer (MIDI 1.0: low seven bits first)."""
    return bytes((0xF2, sixteenths & 0x7F, sixteenths >> 7))


def run(session: Session, us: float, beats: int, period: float, jitter: int = 0) -> float:
    """Clock for so many quarters; a note a little after each quarter's pulse. Returns the moment it stops."""
    for pulse in range(beats * 24):
        session.message(round(us + pulse * period / 24) + (jitter if pulse % 2 else 0), 0, CLOCK)
        if pulse % 24 == 0:
            moment = round(us + pulse * period / 24) + 1_000
            session.message(moment, 0, b"\x90\x45\x40")
            session.message(moment + 100_000, 0, b"\x80\x45\x40")
    return us + beats * period


def places(session: Session) -> list[tuple[int, Fraction]]:
    """Where the notes of the current take fell, to the nearest sixteenth, with at most a 32nd between."""
    take = session.take
    found = []
    for tick, status, _, _ in map(unpacked, take.kept):
        if status & 0xF0 == 0x90:
            place = take.time_map.place_of_tick(tick)
            near = Fraction(round(place.beat * 4), 4)
            assert abs(place.beat - near) <= Fraction(1, 20)
            found.append((place.bar, near))
    return found


@pytest.mark.parametrize("period", [400_000, 500_000, 652_174, 1_000_000])
@pytest.mark.parametrize("jitter", [0, 1_300])
def test_start_counts_bars_from_one(period: int, jitter: int) -> None:
    session = Session(setup(metre=(3, 4)))
    session.message(10_000, 0, START)
    run(session, 12_000, 7, period, jitter)
    expected = [(1 + n // 3, Fraction(1 + n % 3)) for n in range(7)]
    assert places(session) == expected


def test_song_position_and_continue() -> None:
    """Position 28 sixteenths is the fourth quarter of the second 4/4 bar (MIDI 1.0: a MIDI beat is six
    clocks).
    """
    session = Session(setup())
    session.message(5_000, 0, position(28))
    session.message(10_000, 0, CONTINUE)
    run(session, 12_000, 3, 500_000)
    assert places(session) == [(2, Fraction(4)), (3, Fraction(1)), (3, Fraction(2))]


def test_stop_and_continue_goes_on_where_it_was() -> None:
    session = Session(setup())
    session.message(10_000, 0, START)
    us = run(session, 12_000, 6, 500_000)
    session.message(round(us), 0, STOP)
    us += 3_000_000
    session.message(round(us), 0, CONTINUE)
    run(session, us + 2_000, 2, 500_000)
    assert places(session) == [(2, Fraction(3)), (2, Fraction(4))]
    assert [take.notes for take in session.finished] == [6]


def test_tempo_of_the_clock_stands_in_the_file() -> None:
    session = Session(setup())
    session.message(10_000, 0, START)
    run(session, 12_000, 16, 60_000_000 / 92)
    assert session.take.time_map.tempos[-1].per_quarter == pytest.approx(60_000_000 / 92, rel=0.01)


def test_clock_that_was_never_started_is_only_counted() -> None:
    session = Session(setup())
    run(session, 0, 4, 600_000)
    assert not session.take.musical
    assert session.take.bars is None
    assert session.ignored["clock"] == 96


def test_taps_give_tempo_and_beats() -> None:
    """Four taps in quarters of 0.75 s while playing: 80 quarters a minute, and taps that follow fall on
    beats.
    """
    session = Session(setup())
    session.message(0, 0, b"\x90\x45\x40")
    us = 300_000
    for _ in range(9):
        session.command(us, "tap")
        us += 750_000
    take = session.take
    assert take.musical
    assert take.time_map.tempos[-1].per_quarter == 750_000
    for tap in (us, us + 750_000, us + 1_500_000):
        beat = take.time_map.place(tap).beat
        assert abs(beat - round(beat)) <= Fraction(1, 100)


def test_one_tap_says_nothing() -> None:
    session = Session(setup())
    session.message(0, 0, b"\x90\x45\x40")
    session.command(200_000, "tap")
    session.command(9_000_000, "tap")
    assert not session.take.musical


def test_tempo_option_counts_from_the_first_note() -> None:
    session = Session(setup(652_174, metre=(6, 8)))
    session.message(3_000_000, 0, b"\x90\x45\x40")
    assert session.take.time_map.place(0) == session.take.time_map.place(0)
    place = session.take.time_map.place(652_174 * 3)
    assert place is not None
    assert (place.bar, place.beat) == (2, 1)
