"""What is judged live is judged alike in the saved file: the main promise of listening."""

from __future__ import annotations

import io
from dataclasses import replace
from itertools import pairwise

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livepedal.advice.check import check_file
from livepedal.harp import Figures
from livepedal.live import piece, saving
from livepedal.live.session import Session
from livepedal.live.take import SLOTS
from livepedal.model.findings import Finding
from livepedal.model.watching import Monitor
from livepedal.music.events import ChoosePlayer, Event, SetPedals, StartAfresh
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from livepedal.sources.raw import unpacked
from tests.live.streams import Step, of_file, play, saved, setup, steps

TEMPOS = st.sampled_from([None, 500_000, 652_174, 333_333, 1_500_000])
_COMMANDS = (ChoosePlayer, SetPedals, StartAfresh)
QUICK = settings(max_examples=70)


@QUICK
@given(made=steps(), tempo=TEMPOS)
def test_file_has_the_findings_of_the_session(made: list[Step], tempo: int | None) -> None:
    """Every finding that was told live, with id, moment, verdict, figures and revisions, and no other."""
    own = setup(tempo)
    session = Session(own)
    told = play(session, made)
    files = saved(session)
    assert len(files) <= 1
    assert [f for data in files for f in of_file(data, own)] == told


@QUICK
@given(made=steps(), tempo=TEMPOS)
def test_file_has_the_events_of_the_session(made: list[Step], tempo: int | None) -> None:
    """Stronger: what the model is fed from the file is, event by event, what it was fed live."""
    fed: list[Event] = []

    class Listening(Monitor):
        def feed(self, event: Event) -> tuple[Finding, ...]:
            fed.append(event)
            return super().feed(event)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(piece, "Monitor", Listening)
        session = Session(setup(tempo))
        play(session, made)
    for data in saved(session):
        events = choose_parts(read_song(data, name="saved"))[0].events
        assert [_as_live(event) for event in events] == fed


def _as_live(event: Event) -> Event:
    """The event with the slot in place of the file's track and channel."""
    assert not isinstance(event, _COMMANDS)
    assert event.source is not None
    return replace(event, source=SLOTS.index(event.source & 15))


@QUICK
@given(made=steps(), tempo=TEMPOS)
def test_letting_time_pass_only_tells_earlier(made: list[Step], tempo: int | None) -> None:
    """The journal knows nothing of time that passes, so a session made of it must come to the same."""
    with_time, without = Session(setup(tempo)), Session(setup(tempo))
    assert play(with_time, made) == play(without, made, pass_time=False)
    assert saved(with_time) == saved(without)
    assert [t.monitor.passages for t in with_time.finished] == [t.monitor.passages for t in without.finished]


@settings(max_examples=25)
@given(made=steps(most=30))
def test_check_says_what_was_said_live(made: list[Step]) -> None:
    """The same through the front door of `check`."""
    session = Session(setup(500_000))
    told = play(session, made)
    for data in saved(session):
        part = check_file(data, name="saved", figures=Figures.builtin()).files[0].parts[0]
        assert list(part.findings) == told
        assert [part.time_map.place(f.us) for f in told] == [
            session.finished[0].time_map.place(f.us) for f in told
        ]


@QUICK
@given(made=steps(), choices=st.lists(st.sampled_from(["relaxed", "working", "virtuoso"]), max_size=3))
def test_other_player_from_now_on(made: list[Step], choices: list[str]) -> None:
    """Between two choices the findings are those that the file gives for the player who was chosen then."""
    for number, player in enumerate(choices):
        made.insert(min(len(made), 15 * (number + 1)), Step(100_000, word="player", argument=player))
    own = setup()
    session = Session(own)
    told = [finding for finding in play(session, made) if not _straddles(finding.us, made)]
    for data in saved(session):
        for player in {finding.player for finding in told}:
            of_player = {(f.us, f.kind, f.note, f.verdict) for f in of_file(data, own, player)}
            theirs = {(f.us, f.kind, f.note, f.verdict) for f in told if f.player == player}
            assert theirs <= of_player


def _straddles(us: int, made: list[Step]) -> bool:
    """Whether the choice fell into the finding's attack: then its first notes were judged for another player."""
    now = base = 0
    started = False
    for step in made:
        now += step.gap
        if (
            not started
            and step.data[:1]
            and step.data[0] & 0xF0 == 0x90
            and step.data[0] & 15 != 9
            and step.data[2]
        ):
            started, base = True, now
        if step.word == "player" and -1_000 <= now - base - us <= 140_000:
            return True
    return False


@settings(max_examples=50)
@given(made=steps(), tempo=TEMPOS)
def test_mido_reads_the_file_as_it_was_meant(made: list[Step], tempo: int | None) -> None:
    """mido is the reference: type 1, 960 ticks, program 46 on every channel, and all keys come up."""
    session = Session(setup(tempo, metre=(6, 8)))
    play(session, made)
    for data in saved(session):
        file = mido.MidiFile(file=io.BytesIO(data), charset="utf-8")
        assert (file.type, file.ticks_per_beat, len(file.tracks)) == (1, 960, 2)
        head, harp = file.tracks
        tempos = [message.tempo for message in head if message.type == "set_tempo"]
        # Taps and a MIDI clock change the tempo that was asked for, and may do so before a take begins.
        if not any(step.word == "tap" or step.data[:1] >= b"\xf0" for step in made):
            assert tempos[0] == (tempo or tempos[0])
        metre = next(message for message in head if message.type == "time_signature")
        assert (metre.numerator, metre.denominator) == (6, 8)
        assert any("entry setting" in message.text for message in head if message.type == "text")
        channels = {m.channel for m in harp if m.type in ("note_on", "control_change")}
        programs = {
            (message.channel, message.program) for message in harp if message.type == "program_change"
        }
        assert programs == {(channel, 46) for channel in channels}
        assert 9 not in channels
        down: set[tuple[int, int]] = set()
        for message in harp:
            if message.type == "note_on":
                assert (message.channel, message.note) not in down
                down.add((message.channel, message.note))
            elif message.type == "note_off":
                down.remove((message.channel, message.note))
        assert not down
        marks = [message.text for message in head if message.type == "marker"]
        assert len(marks) == len(session.finished[0].found)


def test_markers_are_no_rehearsal_marks() -> None:
    """The markers at the findings must not come back as places in the music."""
    own = setup(500_000)
    session = Session(own)
    told = play(session, [Step(0, 0, bytes((0x90, pitch, 64))) for pitch in (67, 68, 69)])
    (data,) = saved(session)
    part = check_file(data, name="saved", figures=Figures.builtin()).files[0].parts[0]
    assert told
    assert [part.time_map.place(f.us).mark for f in part.findings] == [None] * len(told)


def test_entry_setting_knows_the_whole_take() -> None:
    """A pedal that is not needed before the end stands right from the start, as in the plan that `check`
    prints.
    """
    session = Session(setup(500_000))
    made = [Step(250_000, 0, bytes((0x90 if n % 2 == 0 else 0x80, 60, 64))) for n in range(80)]
    play(session, [*made, Step(250_000, 0, bytes((0x90, 70, 64)))])
    file = saving.whole(session.finished[0], "test")
    part = check_file(file.data, name="saved", figures=Figures.builtin()).files[0].parts[0]
    assert str(file.entry) == str(part.plan.setting)
    assert str(file.entry) in ("· C♮ B♭ | · · · ·", "· C♮ · | · · · A♯")


# -- Passages ------------------------------------------------------------------------------------------------


def passages(session: Session) -> list[tuple[bytes, int]]:
    return [(saving.passage(take, number, "test").data, number) for take, number in session.to_keep]


@settings(max_examples=40)
@given(made=steps(most=40), more=steps(most=40), tempo=TEMPOS)
def test_kept_passage_has_its_findings(made: list[Step], more: list[Step], tempo: int | None) -> None:
    """A passage saved by itself is judged as it was in its place, whatever was played before it."""
    own = setup(tempo)
    session = Session(own)
    panic = [Step(200, s, bytes((0xB0 | c, 123, 0))) for s in (0, 1) for c in (0, 1)]
    told = play(
        session, [*made, *panic, Step(1_600_000), *more, *panic, Step(100, word="keep"), Step(1_600_000)]
    )
    for data, number in passages(session):
        live = session.finished[0].monitor.passages[number]
        there = [f for f in told if live.start <= f.us <= live.end]
        found = of_file(data, own)
        assert len(found) >= len(there)
        found = found[len(found) - len(there) :]
        assert [(f.kind, f.verdict, f.audible, f.note, f.revised) for f in found] == [
            (f.kind, f.verdict, f.audible, f.note, f.revised) for f in there
        ]
        assert [f.us - g.us for f, g in pairwise(found)] == pytest.approx(
            [f.us - g.us for f, g in pairwise(there)], abs=2
        )


def test_passage_takes_in_what_still_matters() -> None:
    """A passage whose first note needs a foot that the one before kept busy cannot stand alone."""

    def chord(gap: int, *pitches: int) -> list[Step]:
        down = [Step(gap if n == 0 else 0, 0, bytes((0x90, p, 64))) for n, p in enumerate(pitches)]
        return down + [Step(30_000 if n == 0 else 0, 0, bytes((0x80, p, 64))) for n, p in enumerate(pitches)]

    own = setup(500_000, player="relaxed")
    session = Session(own)
    # E F G A natural, then E♭ (D is played too), F♯ or G♭, G♯ or A♭: three pedals of the right foot in 1.6 s,
    # which take a relaxed foot two cycles of 1.0 s and a flick of 0.3 s.
    told = play(
        session,
        [
            *chord(0, 64, 65, 67, 69),
            *chord(1_570_000, 62, 63, 66, 68),
            Step(100, word="keep"),
            Step(1_700_000),
        ],
    )
    second = session.finished[0].monitor.passages[1]
    assert [f.us >= second.start for f in told] == [True]
    alone = of_file(saving.passage(session.finished[0], 0, "test").data, own)
    assert alone == []
    ((data, number),) = passages(session)
    assert number == 1
    assert [(f.kind, f.verdict, f.note) for f in of_file(data, own)] == [
        (f.kind, f.verdict, f.note) for f in told
    ]


# -- Many keyboards ------------------------------------------------------------------------------------------


def test_more_keyboards_than_channels_share() -> None:
    """Two ports with sixteen channels each: thirty keyboards on the fifteen channels of a file, judged alike."""
    made = [
        Step(5_000, source, bytes((0x90 | channel, 40 + channel + 16 * source, 64)))
        for source in (0, 1)
        for channel in range(16)
    ]
    made += [
        Step(5_000, source, bytes((0x80 | channel, 40 + channel + 16 * source, 64)))
        for source in (0, 1)
        for channel in range(16)
    ]
    own = setup()
    session = Session(own)
    told = play(session, made)
    assert session.ignored["drums (channel 10)"] == 4
    (data,) = saved(session)
    assert of_file(data, own) == told
    assert session.finished[0].notes == 30
    used = {status & 15 for _, status, _, _ in map(unpacked, session.finished[0].kept)}
    assert used == set(SLOTS)


def test_same_note_from_two_keyboards_is_held_until_both_let_go() -> None:
    session = Session(setup())
    play(
        session,
        [Step(0, 0, b"\x90\x45\x40"), Step(100_000, 1, b"\x90\x45\x40"), Step(100_000, 0, b"\x80\x45\x40")],
    )
    kept = [(status, pitch) for _, status, pitch, _ in map(unpacked, session.finished[0].kept)]
    assert kept == [(0x90, 0x45), (0x91, 0x45), (0x80, 0x45), (0x81, 0x45)]
