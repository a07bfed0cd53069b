"""What comes down a wire besides notes, commands, takes and passages."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livepedal.live import saving
from livepedal.live.question import Question
from livepedal.live.recover import played_again
from livepedal.live.session import Session
from livepedal.model.findings import Finding
from livepedal.music.song import read_song
from livepedal.sources.journal import Command, Header, Heard, Journal
from livepedal.sources.raw import TICK, unpacked
from tests.live.streams import Step, play, setup, steps

ON, OFF = b"\x90\x45\x40", b"\x80\x45\x40"


def fresh() -> Session:
    return Session(setup())


def kept(session: Session) -> list[tuple[int, int]]:
    return [(status, pitch) for _, status, pitch, _ in map(unpacked, session.take.kept)]


def test_velocity_0_is_a_release() -> None:
    """MIDI 1.0: a note-on with velocity 0 is a note-off."""
    session = fresh()
    play(session, [Step(0, 0, ON), Step(5_000, 0, b"\x90\x45\x00")])
    assert [status for status, _ in kept(session)] == [0x90, 0x80]


def test_running_status_on_the_wire() -> None:
    session = fresh()
    play(session, [Step(0, 0, b"\x90\x45\x40\x46\x40\x45\x00"), Step(10, 0, b"\x46\x00")])
    assert sorted(kept(session)) == [(0x80, 0x45), (0x80, 0x46), (0x90, 0x45), (0x90, 0x46)]


@pytest.mark.parametrize("number", [120, 123, 124, 125, 126, 127])
def test_all_notes_off(number: int) -> None:
    """Channel mode messages 120 and 123 to 127 let go of their channel's keys (MIDI 1.0), of that source
    alone.
    """
    session = fresh()
    for source, channel, pitch in ((0, 0, 69), (0, 1, 70), (1, 0, 71)):
        session.message(1_000, source, bytes((0x90 | channel, pitch, 64)))
    session.message(2_000, 0, bytes((0xB0, number, 0)))
    assert session.take.monitor.keys.down == (70, 71)


def test_system_reset_is_a_panic_for_its_source() -> None:
    session = fresh()
    for source, channel, pitch in ((0, 0, 69), (0, 1, 70), (1, 0, 71)):
        session.message(1_000, source, bytes((0x90 | channel, pitch, 64)))
    session.message(2_000, 0, b"\xff")
    assert session.take.monitor.keys.down == (71,)


def test_port_that_went_away_lets_go_of_its_keys_and_half_messages() -> None:
    session = fresh()
    session.message(0, 0, ON + b"\x90\x47")
    session.message(0, 1, b"\x90\x50\x40")
    session.command(5_000, "gone", "0")
    assert session.take.monitor.keys.down == (0x50,)
    session.message(9_000, 0, b"\x40")  # would be the velocity of the half message
    assert session.take.notes == 2
    session.message(10_000, 0, ON)
    assert session.take.monitor.keys.down == (0x45, 0x50)


def test_what_was_ignored_is_known_after_its_port_went_away() -> None:
    session = fresh()
    session.message(0, 0, b"\xf0\1\2\3\xf7")
    session.command(5_000, "gone", "0")
    session.message(9_000, 0, b"\xf0\1\xf7")
    assert session.ignored["system exclusive"] == 2


def test_ignored_kinds_are_counted() -> None:
    session = fresh()
    flood = [b"\5"] + [b"\xf8"] * 200 + [b"\xfe"] * 30 + [b"\xe0\1\2"] * 5 + [b"\xd0\1", b"\xa0\1\2"]
    flood += [b"\xc0\5", b"\xb0\7\x64", b"\xf0\1\2\3\xf7", b"\x80\x50\0", b"\x99\x24\x40", b"\xf6"]
    play(session, [Step(1_000, 0, data) for data in flood])
    assert session.ignored == Counter(
        {
            "clock": 200,
            "active sensing": 30,
            "pitch bend": 5,
            "aftertouch": 2,
            "program changes": 1,
            "controllers": 1,
            "system exclusive": 1,
            "note-offs without a note": 1,
            "drums (channel 10)": 1,
            "stray bytes": 1,
            "other system messages": 1,
        }
    )
    assert session.messages == len(flood)
    assert session.finished == []


def test_channels_can_be_narrowed_even_to_10() -> None:
    session = Session(replace(setup(), channels=frozenset({10})))
    play(session, [Step(0, 0, ON), Step(0, 0, b"\x99\x45\x40"), Step(9, 0, b"\x89\x45\0")])
    assert session.finished[0].notes == 1
    assert session.ignored == {"other channels": 1}


def test_stuck_key_and_minutes_of_sustain() -> None:
    """A key that never comes up is held to the end; the pedal changes nothing about that (design: held is the
    key).
    """
    session = fresh()
    made = [Step(0, 0, b"\xb0\x40\x7f"), Step(0, 0, ON)]
    made += [Step(500_000, 0, bytes((0x90 if n % 2 == 0 else 0x80, 60, 64))) for n in range(600)]
    play(session, made)
    assert session.finished[0].kept[-1] >> 16 & 0xFF == 0x80
    assert [p.attacks for p in session.finished[0].monitor.passages] == [301]


def test_flood_of_notes_keeps_time() -> None:
    """2,000 messages a second, twice what a cable carries, are put off by ticks but never run away from the
    clock.
    """
    session = fresh()
    for number in range(4_000):
        session.message(number * 500, 0, bytes((0x90 if number % 2 == 0 else 0x80, 60 + number % 7, 64)))
    last = session.take.time_map.us(session.take.end)
    assert abs(last - 4_000 * 500) < 5_000


def test_time_never_goes_back() -> None:
    """Messages of two ports may be queued in another order than that of their stamps."""
    session = fresh()
    session.message(5_000, 0, ON)
    session.message(4_000, 1, b"\x90\x47\x40")
    ticks = [tick for tick, *_ in map(unpacked, session.take.kept)]
    assert ticks == sorted(ticks)


def test_start_afresh_makes_another_take() -> None:
    session = fresh()
    play(
        session,
        [
            Step(0, 0, ON),
            Step(100, word="afresh"),
            Step(50, 0, OFF),
            Step(2_000_000, 0, ON),
            Step(50, 0, OFF),
        ],
    )
    first, second = session.finished
    assert (first.number, second.number) == (1, 2)
    assert second.kept[0] >> TICK == 0
    assert session.ignored["note-offs without a note"] == 1


def test_passages_close_after_the_rest_and_are_told_once() -> None:
    session = fresh()
    told: list[Question] = []
    for us, data in ((0, ON), (100_000, OFF), (3_000_000, ON), (3_100_000, OFF)):
        session.message(us, 0, data)
        session.advance(us + 90_000)
        told += [news.what for news in session.news() if isinstance(news.what, Question)]
    session.advance(4_590_000)
    told += [news.what for news in session.news() if isinstance(news.what, Question)]
    assert len(told) == 1
    session.advance(4_602_000)
    told += [news.what for news in session.news() if isinstance(news.what, Question)]
    assert [question.passage.attacks for question in told] == [1, 1]


def test_a_passage_has_its_own_findings() -> None:
    """G, G♯ and A at once, which nobody can play, in the first of three and the last."""
    session = fresh()
    for us, pitches in ((0, (67, 68, 69)), (3_000_000, (60,)), (6_000_000, (67, 68, 69))):
        for status, later in ((0x90, 0), (0x80, 200_000)):
            for pitch in pitches:
                session.message(us + later, 0, bytes((status, pitch, 64)))
    session.finish(9_000_000)
    news = [news.what for news in session.news()]
    found = [what for what in news if isinstance(what, Finding)]
    first, second, third = (what for what in news if isinstance(what, Question))
    assert (*first.findings, *third.findings) == tuple(found)
    assert len(first.findings) == len(third.findings) > 0
    assert second.findings == ()


def test_keep_without_a_passage_says_so() -> None:
    session = fresh()
    session.command(10, "keep")
    assert [news.what for news in session.news()] == ["there is no passage to keep yet"]
    assert session.to_keep == []


def test_unknown_commands_of_a_newer_version_are_passed_over() -> None:
    session = fresh()
    session.command(10, "levitate", "please")
    assert session.news() == []


def journal_of(made: list[Step]) -> Journal:
    """What the session that took these steps has journaled."""
    records: list[Heard | Command] = []
    us = 0
    for step in made:
        us += step.gap
        if step.data:
            records.append(Heard(us, step.source, step.data))
        elif step.word:
            records.append(Command(us, step.word, step.argument))
    records.append(Command(us, "end"))
    return Journal(Path("none"), Header("now"), tuple(records), (), False)


@settings(max_examples=60, deadline=None)
@given(made=steps())
def test_journal_plays_the_session_again(made: list[Step]) -> None:
    """What `recover` makes of the records is what was made live."""
    session = fresh()
    play(session, made)
    played = played_again(journal_of(made).records, setup())
    assert [take.found for take in played.finished] == [take.found for take in session.finished]
    assert [list(take.kept) for take in played.finished] == [list(take.kept) for take in session.finished]


@settings(max_examples=40, deadline=None)
@given(made=steps(), most=st.integers(0, 60))
def test_what_is_not_judged_is_kept_all_the_same(made: list[Step], most: int) -> None:
    """With no more than so many messages judged, the files have the same notes at the same ticks, and the findings of
    the beginning.
    """
    journal = journal_of(made)
    whole, part = played_again(journal.records, setup()), played_again(journal.records, setup(), most=most)
    assert [list(take.kept) for take in part.finished] == [list(take.kept) for take in whole.finished]
    for one, other in zip(part.finished, whole.finished, strict=True):
        assert one.judged_until is not None or one.found == other.found
        # A finding of the attack in which it ended might have been revised.
        found, others = [*one.found.values()], [*other.found.values()]
        known = [mark for mark in found if mark.us < found[-1].us]
        assert known == others[: len(known)]
        closed = one.closed[:-1]
        assert closed == other.closed[: len(closed)]
    for take in part.finished:
        assert read_song(saving.whole(take, "part").data, name="saved").remarks == ()


@pytest.mark.slow
@settings(max_examples=100, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 50_000), st.integers(0, 2), st.binary(min_size=1, max_size=8)), max_size=60
    )
)
def test_any_bytes_from_any_source(rubbish: list[tuple[int, int, bytes]]) -> None:
    """Nothing that comes down a wire raises, and what is saved of it can be read."""
    session = fresh()
    play(session, [Step(gap, source, data) for gap, source, data in rubbish])
    for take in session.finished:
        assert read_song(saving.whole(take, "rubbish").data, name="saved").remarks == ()
