"""Pedals that somebody has set stand so from then on, and there is time until the first note; in the file too."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livepedal import check_file
from livepedal.harp import Setting
from livepedal.live.recover import played_again, recover
from livepedal.live.session import Session
from livepedal.live.setup import setup_of
from livepedal.live.take import LONGEST_LEAD
from livepedal.sources.journal import Command, Header, Heard, JournalWriter, Word, read_journal
from livepedal.sources.raw import unpacked
from livepedal.sources.writing import put

from .streams import Step, of_file, play, saved, setup, steps
from .test_same_as_file import QUICK, TEMPOS

SECOND = 1_000_000
G_FLAT = "G♭ major"
C_ON, C_OFF = b"\x90\x3c\x40", b"\x80\x3c\x00"


def set_and_played(wait: int, tempo: int | None = None, metre: tuple[int, int] = (4, 4)) -> Session:
    """G♭ major is set one second after the start (C♭ and B♭ are in it), and C is struck so much later (µs)."""
    session = Session(setup(tempo, metre=metre))
    session.command(SECOND, Word.PEDALS, str(Setting.parse(G_FLAT)))
    session.message(SECOND + wait, 0, C_ON)
    session.message(2 * SECOND + wait, 0, C_OFF)
    session.finish(3 * SECOND + wait)
    return session


@pytest.mark.parametrize("tempo", [None, 500_000])
def test_six_seconds_are_time_enough_to_move_a_pedal(tempo: int | None) -> None:
    session = set_and_played(6 * SECOND, tempo)
    (take,) = session.finished
    assert not take.found
    (data,) = saved(session)
    assert of_file(data, take.setup) == []
    (part,) = check_file(data, start=Setting.parse(G_FLAT)).files[0].parts
    assert part.findings == ()


def test_at_once_there_is_no_time() -> None:
    session = set_and_played(5_000)
    (take,) = session.finished
    assert len(take.found) == 1
    (data,) = saved(session)
    assert len(of_file(data, take.setup)) == 1
    (part,) = check_file(data, start=Setting.parse(G_FLAT)).files[0].parts
    assert [finding.us for finding in part.findings] == [next(iter(take.found.values())).us]


def test_where_nobody_counts_the_first_note_is_as_far_off_as_it_was() -> None:
    (take,) = set_and_played(1_234_567).finished
    assert abs(take.monitor.passages[0].start - 1_234_567) < 600  # a tick is half a millisecond


@pytest.mark.parametrize("tempo", [None, 500_000])
def test_time_passes_before_the_first_note(tempo: int | None) -> None:
    """All pedals stand somewhere, and can soon be elsewhere for the next note."""
    session = Session(setup(tempo))
    session.command(SECOND, Word.PEDALS, str(Setting.parse(G_FLAT)))
    waits = []
    for us in (SECOND, 2 * SECOND, 3_600 * SECOND):
        session.advance(us)
        shown = session.take.snapshot()
        waits.append(max((view.ready_at or 0) - shown.us for view in shown.pedals))
    assert waits[0] > 0
    assert waits[1] <= 0
    assert waits[2] == waits[0] - LONGEST_LEAD
    session.message(3_601 * SECOND, 0, C_ON)
    assert session.take.snapshot().us >= LONGEST_LEAD


def test_no_more_comes_before_it_than_anybody_could_need() -> None:
    (take,) = set_and_played(3_600 * SECOND).finished
    assert abs(take.monitor.passages[0].start - LONGEST_LEAD) < 600


@pytest.mark.parametrize(("wait", "bars"), [(5_000, 1), (2_100_000, 2), (6_000_000, 4)])
def test_with_a_tempo_the_first_note_is_still_bar_1_beat_1(wait: int, bars: int) -> None:
    """In 3/4 at 120 quarters a minute a bar lasts 1.5 s."""
    session = set_and_played(wait, 500_000, (3, 4))
    (take,) = session.finished
    start = take.monitor.passages[0].start
    assert start == bars * 1_500_000
    place = take.time_map.place(start)
    assert place is not None
    assert (place.bar, place.beat) == (1, 1)
    assert take.time_map.first_bar == 1 - bars


def test_the_clock_of_a_sequencer_counts_as_ever() -> None:
    """Started with the pedals set, its first bar is bar 1, and its second quarter beat 2."""
    session = Session(replace(setup(), setting=Setting.parse(G_FLAT)))
    session.message(4_000_000, 0, b"\xfa")
    us = 4_002_000
    for pulse in range(5 * 24):
        session.message(us + pulse * 500_000 // 24, 0, b"\xf8")
        if pulse % 24 == 0:
            session.message(us + pulse * 500_000 // 24 + 1_000, 0, C_ON)
            session.message(us + pulse * 500_000 // 24 + 90_000, 0, C_OFF)
    take = session.take
    places = [
        take.time_map.place_of_tick(tick)
        for tick, status, _, _ in map(unpacked, take.kept)
        if status >> 4 == 9
    ]
    assert [(place.bar, round(place.beat)) for place in places] == [(1, 1), (1, 2), (1, 3), (1, 4), (2, 1)]


@pytest.mark.slow
@QUICK
@given(made=steps(), tempo=TEMPOS, wait=st.sampled_from([0, 30_000, 700_000, 5_000_000]))
def test_the_file_has_the_findings_of_the_session(made: list[Step], tempo: int | None, wait: int) -> None:
    own = replace(setup(tempo), setting=Setting.parse(G_FLAT))
    session = Session(own)
    told = play(session, [Step(wait), *made])
    assert [f for data in saved(session) for f in of_file(data, own)] == told


def test_what_is_recovered_is_judged_so_too(tmp_path: Path) -> None:
    header = Header("2024-05-01T20:15:00+02:00")
    path = tmp_path / "a.journal"
    writer = JournalWriter(path, header)
    writer.write(Command(SECOND, Word.PEDALS, str(Setting.parse(G_FLAT))))
    writer.write(Heard(7 * SECOND, 0, C_ON))
    writer.write(Heard(8 * SECOND, 0, C_OFF))
    writer.close()
    journal = read_journal(path)
    assert not played_again(journal.records, setup_of(header)).finished[0].found
    (written,) = recover(journal, tmp_path)
    (part,) = check_file(written.path, start=Setting.parse(written.start)).files[0].parts
    assert part.findings == ()


def test_a_kept_passage_is_judged_so_too(tmp_path: Path) -> None:
    session = Session(setup())
    session.command(SECOND, Word.PEDALS, str(Setting.parse(G_FLAT)))
    session.message(7 * SECOND, 0, C_ON)
    session.message(8 * SECOND, 0, C_OFF)
    session.advance(12 * SECOND)
    session.command(12 * SECOND, "keep")
    from livepedal.live import saving

    ((take, number),) = session.to_keep
    kept = saving.passage(take, number, "kept")
    put(tmp_path / "kept.mid", kept.data)
    (part,) = check_file(tmp_path / "kept.mid", start=Setting.parse(kept.start)).files[0].parts
    assert part.findings == ()
