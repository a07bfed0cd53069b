"""Which notes are the harp's, and the events made of them."""

from __future__ import annotations

import csv
import io
import pickle
from collections import Counter
from fractions import Fraction
from pathlib import Path

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from livepedal.errors import LivepedalError
from livepedal.music.choosing import Wanted
from livepedal.music.events import Event, NoteOff, NoteOn, Sustain
from livepedal.music.parts import NoHarpTrack, choose_parts
from livepedal.music.song import KeySignature, Part, read_song
from livepedal.music.timemap import Place
from tests.places import MUSIC, RECORDINGS

FILES = sorted(MUSIC.glob("*/*.mid")) + sorted(RECORDINGS.glob("*.mid"))
HARP_FILES = sorted((MUSIC / "harp").glob("*.mid"))

# 500 ticks a quarter at the default tempo: a tick is a millisecond.
DIVISION = 500
MS = 1000


def track(*messages: str, name: str = "", program: int | None = None, channel: int = 0) -> mido.MidiTrack:
    """A track; each message as mido writes it, "note_on note=60 time=10"; channel unless given."""
    made = mido.MidiTrack()
    if name:
        made.append(mido.MetaMessage("track_name", name=name))
    if program is not None:
        made.append(mido.Message("program_change", program=program, channel=channel))
    for text in messages:
        message = mido.Message.from_str(text)
        if "channel=" not in text:
            message = message.copy(channel=channel)
        made.append(message)
    return made


def file(*tracks: mido.MidiTrack, kind: int = 1) -> bytes:
    """With the default tempo where the tracks name none, which would be remarked upon."""
    written = mido.MidiFile(type=kind, ticks_per_beat=DIVISION, charset="utf-8")
    written.tracks.extend(tracks)
    if tracks and not any(message.type == "set_tempo" for one in tracks for message in one):
        written.tracks[0] = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=DIVISION * MS), *tracks[0]])
    data = io.BytesIO()
    written.save(file=data)
    return data.getvalue()


def parts(
    *tracks: mido.MidiTrack, kind: int = 1, choose: tuple[str, ...] = (), merge: bool = False
) -> tuple[Part, ...]:
    return choose_parts(read_song(file(*tracks, kind=kind)), Wanted(tuple(choose), merge))


def events(*messages: str) -> list[Event]:
    (part,) = parts(track(*messages))
    return list(part.events)


NOTE = ("note_on note=60 velocity=64", "note_off note=60 time=100")


def a_note(pitch: int = 60) -> tuple[str, str]:
    return f"note_on note={pitch} velocity=64", f"note_off note={pitch} time=100"


def names(chosen: tuple[Part, ...]) -> list[str]:
    return [part.name for part in chosen]


# Which notes.


def test_example_of_the_standard_has_a_harp() -> None:
    # SMF 1.0, example file of type 0: program 46 on channel 2, which plays G4 from tick 96 to 384 of 96 a
    # quarter at 120 quarters a minute.
    body = bytes.fromhex(
        "00 FF 58 04 04 02 18 08  00 FF 51 03 07 A1 20  00 C0 05  00 C1 2E  00 C2 46  00 92 30 60  00 3C 60"
        "60 91 43 40  60 90 4C 20  81 40 82 30 40  00 3C 40  00 81 43 40  00 80 4C 40  00 FF 2F 00"
    )
    data = b"MThd\0\0\0\6\0\0\0\1\0\x60MTrk" + len(body).to_bytes(4, "big") + body
    song = read_song(data)
    assert [(info.number, info.program, info.notes) for info in song.tracks] == [
        (1, 5, 1),
        (2, 46, 1),
        (3, 70, 2),
    ]
    (part,) = choose_parts(song)
    assert part.tracks == (song.tracks[1],)
    assert list(part.events) == [NoteOn(500_000, 67, 64, 1), NoteOff(2_000_000, 67, 1)]
    assert part.end_us == 2_000_000


def test_tracks_by_program_or_by_name_each_a_part() -> None:
    chosen = parts(
        track(*NOTE, name="Flute", program=73),
        track(*NOTE, name="Plucked", program=46, channel=1),
        track(*NOTE, name="Arpa II", program=0, channel=2),
        track(name="Harp", channel=3),  # no notes: nothing to judge
    )
    # Where one is called a harp's, a track of another name under the harp's program is only offered.
    assert names(chosen) == ["Arpa II"]
    assert "Plucked is not judged" in chosen[0].remarks[0]
    chosen = parts(track(*NOTE, name="Plucked", program=46), track(*NOTE, name="Strummed", program=46))
    assert names(chosen) == ["Plucked", "Strummed"]
    assert "--merge" in chosen[0].remarks[0]


def test_merged_they_are_one_part() -> None:
    (part,) = parts(
        track(*a_note(60), name="Harp 1"),
        track("note_on note=48 time=50", "note_off note=48 time=20", name="Harp 2"),
        merge=True,
    )
    assert part.name == "Harp 1 + Harp 2"
    assert [(type(event).__name__, event.us // MS) for event in part.events] == [
        ("NoteOn", 0), ("NoteOn", 50), ("NoteOff", 70), ("NoteOff", 100),
    ]  # fmt: skip
    assert len({event.source for event in part.events}) == 2  # type: ignore[union-attr]


def test_the_only_track_with_notes() -> None:
    assert names(parts(track(name="Tempo"), track(*NOTE, name="Grand Piano", program=0))) == ["Grand Piano"]
    assert names(parts(track(), track(*NOTE))) == ["track 2"]


def test_otherwise_the_user_is_asked_with_a_table() -> None:
    tracks = track(*NOTE, name="Flute", program=73), track(*NOTE, *NOTE, name="Oboe", program=68, channel=1)
    with pytest.raises(NoHarpTrack, match="--track NUMBER_OR_NAME") as caught:
        parts(*tracks)
    table = [(info.number, info.name, info.program, info.notes) for info in caught.value.tracks]
    assert table == [(1, "Flute", 73, 1), (2, "Oboe", 68, 2)]
    assert pickle.loads(pickle.dumps(caught.value)).tracks == caught.value.tracks
    with pytest.raises(NoHarpTrack, match="“Viola”"):
        parts(*tracks, choose=("Viola",))


def test_the_users_choice_by_number_or_name() -> None:
    tracks = (
        track(*NOTE, name="Flute 2", program=73),
        track(*NOTE, name="Oboe", channel=1),
        track(*NOTE, name="Bass Oboe", channel=2),
        track(*NOTE, name="Harp", channel=3),
    )
    assert names(parts(*tracks, choose=("3",))) == ["Bass Oboe"]
    assert names(parts(*tracks, choose=("oboe",))) == ["Oboe"]  # the whole name goes before a part of one
    assert names(parts(*tracks, choose=("OBO", "1"))) == ["Flute 2", "Oboe", "Bass Oboe"]
    assert names(parts(*tracks, choose=("1", "flute"), merge=True)) == ["Flute 2"]
    with pytest.raises(LivepedalError, match="no track “9”"):
        parts(*tracks, choose=("9",))
    with pytest.raises(LivepedalError, match="no notes"):
        parts(track(name="Tempo"), *tracks, choose=("Tempo",))


def test_programs_in_mid_track() -> None:
    (part,) = parts(
        track(*a_note(60), "program_change program=46", *a_note(62), "program_change program=0", *a_note(64)),
        track(*NOTE, program=40, channel=1),
    )
    assert [event.pitch for event in part.events if isinstance(event, NoteOn)] == [62]
    assert part.tracks[0].program == 46
    assert part.tracks[0].notes == 3


@pytest.mark.parametrize("channel", [0, 15])
def test_a_harp_note_that_is_held_over_a_change_of_program_is_released(channel: int) -> None:
    (part,) = parts(
        track("note_on note=60", "program_change program=0 time=10", "note_on note=62",
              "note_off note=60 time=10", "note_off note=62 time=30", program=46, channel=channel),
        track(*NOTE, channel=1),
    )  # fmt: skip
    assert list(part.events) == [NoteOn(0, 60, 64, channel), NoteOff(20 * MS, 60, channel)]
    assert part.remarks == ()


@pytest.mark.parametrize("channel", [0, 15])
def test_a_sustain_pedal_is_no_change_of_program(channel: int) -> None:
    (part,) = parts(
        track("note_on note=60", "control_change control=64 value=127 time=10", "note_off note=60 time=10",
              "note_on note=62", "note_off note=62 time=10", "program_change program=0", "note_on note=65 time=10",
              "note_off note=65 time=10", program=46, channel=channel),
        track(*NOTE, channel=1),
    )  # fmt: skip
    assert [event.pitch for event in part.events if isinstance(event, NoteOn)] == [60, 62]
    assert Sustain(10 * MS, True, channel) in part.events


@pytest.mark.parametrize("channel", [0, 15])
def test_a_change_of_program_releases_nothing(channel: int) -> None:
    (part,) = parts(
        track(
            "note_on note=60",
            "program_change program=46 time=10",
            "note_off note=60 time=10",
            channel=channel,
        )
    )
    assert list(part.events) == [NoteOn(0, 60, 64, channel), NoteOff(20 * MS, 60, channel)]


def test_only_the_harps_channel_of_a_track() -> None:
    (part,) = parts(
        track("program_change program=46 channel=3", "note_on note=60 channel=3", "note_on note=72 channel=4",
              "control_change control=64 value=127 channel=4", "note_off note=60 channel=3 time=5",
              "note_off note=72 channel=4"),
        track(*NOTE, channel=1),
    )  # fmt: skip
    assert list(part.events) == [NoteOn(0, 60, 64, 3), NoteOff(5 * MS, 60, 3)]


def test_a_set_up_track_speaks_for_tracks_without_programs() -> None:
    setup = track("program_change program=46 channel=1", "program_change program=40 channel=2")
    assert names(parts(setup, track(*NOTE, channel=1), track(*NOTE, channel=2))) == ["track 2"]
    # A track with notes of its own on that channel speaks for nobody else.
    used = (
        track(*NOTE, channel=1, program=46, name="One"),
        track(*NOTE, channel=1, name="Two"),
        track(*NOTE, channel=2),
    )
    assert names(parts(*used)) == ["One"]


def test_a_set_up_track_says_nothing_to_tracks_with_programs_of_their_own() -> None:
    setup = track("program_change program=46 channel=1")
    own = track(*a_note(60), "program_change program=40", *a_note(62), channel=1)
    assert [info.program for info in read_song(file(setup, own, track(*NOTE, channel=2))).tracks] == [
        46,
        40,
        None,
    ]
    with pytest.raises(NoHarpTrack):
        parts(setup, own, track(*NOTE, channel=2))


def test_a_track_is_silent_by_its_volume_and_no_other_controller() -> None:
    # MIDI 1.0: controller 7 is the volume, 64 the sustain pedal, 123 all notes off.
    others = ("control_change control=64 value=0", "control_change control=123 value=0")
    assert names(parts(track(*others, *NOTE, name="Harp I"), track(*NOTE, name="Harp II", channel=1))) == [
        "Harp I",
        "Harp II",
    ]


def test_drums_are_left_out_and_said_so() -> None:
    data = file(track(*NOTE, name="Keys"), track(*NOTE, *NOTE, name="Kit", channel=9))
    song = read_song(data)
    (keys,) = choose_parts(song)
    assert keys.name == "Keys"
    assert song.remarks_on(keys.tracks) == ("drums on channel 10 were left out (2 notes)",)
    (kit,) = choose_parts(song, Wanted(("Kit",)))
    assert kit.notes == 2  # the user insists
    assert song.remarks_on(kit.tracks) == ()
    with pytest.raises(NoHarpTrack, match="nothing but drums"):
        parts(track(*NOTE, name="Kit", channel=9))


@pytest.mark.parametrize(
    ("tracks", "channels", "left_out"),
    [
        ((), (), 6),
        (("Harp",), (), 6),
        (("Harp",), (1,), 6),
        (("Kit",), (), 4),
        (("Harp", "Kit"), (), 4),
        (("Cymbals",), (), 3),
        (("Kit", "Cymbals"), (), 1),
        (("Harp",), (10,), 5),  # of a track with a channel of drums too, that channel alone
        ((), (10,), 0),
    ],
)
def test_drums_that_are_judged_are_not_left_out(
    tracks: tuple[str, ...], channels: tuple[int, ...], left_out: int
) -> None:
    drum = ("note_on note=36 channel=9", "note_off note=36 channel=9 time=5")
    song = read_song(
        file(
            track(*NOTE, *drum, name="Harp"),
            track(*NOTE, *NOTE, name="Kit", channel=9),
            track(*NOTE, *NOTE, *NOTE, name="Cymbals", channel=9),
        )
    )
    chosen = choose_parts(song, Wanted(tracks, channels=channels))
    counted = {0: "", 1: "1 note"}.get(left_out, f"{left_out} notes")
    assert song.remarks_on(one for part in chosen for one in part.tracks) == (
        (f"drums on channel 10 were left out ({counted})",) if left_out else ()
    )


def test_drums_of_a_track_that_was_asked_for_are_left_out_too() -> None:
    both = track(
        "note_on note=60",
        "note_on note=36 channel=9",
        "note_off note=60 time=5",
        "note_off note=36 channel=9",
    )
    (part,) = parts(both, track(*NOTE, channel=1), choose=("1",))
    assert list(part.events) == [NoteOn(0, 60), NoteOff(5 * MS, 60)]


def test_what_is_not_judged_is_said_of_the_first_part() -> None:
    tracks = (track(*a_note(pitch), name=f"Harp {pitch}", channel=pitch - 60) for pitch in (60, 62))
    first, second = parts(*tracks, track(*a_note(64), name="Harp 3 (muted)", channel=4))
    assert first.remarks[1:] == ("Harp 3 (muted) is not judged: its name says it is muted",)
    assert second.remarks == ()


def test_type_0_is_split_by_channel() -> None:
    one = track(
        "program_change program=46 channel=4", "note_on note=60 channel=4", "note_on note=72 channel=0",
        "note_off note=60 channel=4 time=10", "note_off note=72 channel=0", name="Crossing",
    )  # fmt: skip
    (part,) = parts(one, kind=0)
    assert (part.name, part.tracks[0].number, part.tracks[0].channel, part.notes) == ("channel 5", 5, 5, 1)
    assert names(parts(one, kind=0, choose=("1",))) == ["channel 1"]
    assert names(parts(track(*NOTE, name="Crossing"), kind=0)) == ["Crossing"]


def test_type_2_judges_each_track_with_its_own_time() -> None:
    slow = track(*NOTE)
    slow.insert(0, mido.MetaMessage("set_tempo", tempo=1_000_000))
    chosen = parts(slow, track(*NOTE, channel=1), kind=2)
    assert [part.end_us for part in chosen] == [200 * MS, 100 * MS]
    assert "type 2" in read_song(file(slow, kind=2)).remarks[0]


def test_names_in_utf_8_and_latin_1_and_with_control_characters() -> None:
    data = file(track(*NOTE, name="XXXXXX"), track(*NOTE, name="YYYYYYY", channel=1))
    data = data.replace(b"XXXXXX", "Harfé".encode()).replace(b"YYYYYYY", b"Harp\xe9 \x1b")
    assert [info.name for info in read_song(data).tracks] == ["Harfé", "Harpé ␛"]


def test_no_notes_at_all() -> None:
    with pytest.raises(LivepedalError, match="no notes"):
        parts(track(name="Harp"))


# What becomes of the notes.


def test_velocity_0_is_a_release() -> None:
    assert events("note_on note=60 velocity=9", "note_on note=60 velocity=0 time=5") == [
        NoteOn(0, 60, 9), NoteOff(5 * MS, 60),
    ]  # fmt: skip


def test_struck_again_while_held_is_released_first() -> None:
    assert events("note_on note=60", "note_on note=60 time=5", "note_off note=60 time=5") == [
        NoteOn(0, 60), NoteOff(5 * MS, 60), NoteOn(5 * MS, 60), NoteOff(10 * MS, 60),
    ]  # fmt: skip


def test_releases_before_strikes_of_the_same_moment() -> None:
    # Written the wrong way round, as sequencers do.
    assert events("note_on note=60", "note_on note=62 time=5", "note_on note=60", "note_off note=60",
                  "note_off note=62 time=5", "note_off note=60") == [
        NoteOn(0, 60), NoteOff(5 * MS, 60), NoteOn(5 * MS, 62), NoteOn(5 * MS, 60),
        NoteOff(10 * MS, 62), NoteOff(10 * MS, 60),
    ]  # fmt: skip


def test_a_note_of_no_length_is_still_released() -> None:
    later = ("note_on note=62 time=5", "note_off note=62 time=5")
    assert events("note_on note=60 time=5", "note_off note=60", *later)[:2] == [
        NoteOn(5 * MS, 60),
        NoteOff(5 * MS, 60),
    ]


def test_a_note_doubled_at_one_moment_counts_once() -> None:
    (part,) = parts(
        track("note_on note=60", "note_on note=60", "note_off note=60 time=5", "note_off note=60 time=5")
    )
    assert list(part.events) == [NoteOn(0, 60), NoteOff(10 * MS, 60)]
    assert part.notes == 1
    assert part.remarks == ("1 unison counts as one note",)


def test_a_doubled_note_of_which_one_has_no_length_is_held_for_the_other() -> None:
    later = ("note_on note=62 time=5", "note_off note=62 time=5")
    doubled = ("note_on note=60", "note_on note=60", "note_off note=60", "note_off note=60 time=5")
    assert events(*doubled, *later)[:2] == [NoteOn(0, 60), NoteOff(5 * MS, 60)]


def test_a_note_never_released_is_held_to_the_end() -> None:
    (part,) = parts(track("note_on note=60", *a_note(64)))
    assert list(part.events)[-1] == NoteOff(100 * MS, 60)
    assert part.remarks == ("1 note is never released; it is held to the end of the track",)


def test_notes_never_released_are_held_to_the_end() -> None:
    made = track("note_on note=60", "note_on note=64")
    made.append(mido.MetaMessage("end_of_track", time=700))
    (part,) = parts(made)
    assert list(part.events)[2:] == [NoteOff(700 * MS, 60), NoteOff(700 * MS, 64)]
    assert part.remarks == ("2 notes are never released; they are held to the end of the track",)


def test_releases_without_a_note_are_dropped() -> None:
    assert events("note_off note=60", *NOTE, "note_off note=60 time=5") == [
        NoteOn(0, 60),
        NoteOff(100 * MS, 60),
    ]


def test_sustain_is_down_from_64() -> None:
    # MIDI 1.0: a switch is off from 0 to 63, on from 64. Only changes are told.
    pedal = [f"control_change control=64 value={value} time=1" for value in (0, 63, 64, 127, 70, 63, 0)]
    sustain = [event for event in events(*pedal, *NOTE) if isinstance(event, Sustain)]
    assert sustain == [Sustain(3 * MS, True), Sustain(6 * MS, False)]
    reset = events("control_change control=64 value=127", "control_change control=121 time=5", *NOTE)
    assert reset[:2] == [Sustain(0, True), Sustain(5 * MS, False)]


@pytest.mark.parametrize("controller", [120, 123, 124, 125, 126, 127])
def test_mode_messages_let_go_of_all_keys(controller: int) -> None:
    # MIDI 1.0 Detailed Specification, channel mode messages.
    played = events("note_on note=60", f"control_change control={controller} time=5", *a_note(62))
    assert played == [NoteOn(0, 60), NoteOff(5 * MS, 60), NoteOn(5 * MS, 62), NoteOff(105 * MS, 62)]


def test_a_note_struck_again_after_all_notes_off_in_the_same_moment_counts_once() -> None:
    track = mido.MidiTrack(
        [
            mido.Message("note_on", note=60, velocity=64),
            mido.Message("control_change", control=123, value=0),
            mido.Message("note_on", note=60, velocity=64),
            mido.Message("note_off", note=60, time=100),
        ]
    )
    (part,) = parts(track)
    assert part.notes == 1
    assert part.remarks == ("1 unison counts as one note",)


messages = st.lists(
    st.one_of(
        st.tuples(st.just("note_on"), st.integers(0, 1), st.integers(60, 62), st.integers(0, 3),
                  st.integers(0, 2)),
        st.tuples(st.just("note_off"), st.integers(0, 1), st.integers(60, 62), st.just(0), st.integers(0, 2)),
        st.tuples(st.just("control_change"), st.integers(0, 1), st.sampled_from([64, 123]),
                  st.sampled_from([0, 127]), st.integers(0, 2)),
    ),
    max_size=40,
)  # fmt: skip


@given(messages)
def test_keys_go_down_and_up_in_turn(made: list[tuple[str, int, int, int, int]]) -> None:
    one = mido.MidiTrack()
    struck = set()
    at = 0
    for kind, channel, first, second, time in made:
        data = {"note_on": 0x90, "note_off": 0x80, "control_change": 0xB0}[kind] | channel, first, second
        one.append(mido.Message.from_bytes(data, time=time))
        at += time
        if kind == "note_on" and second:
            struck.add((at * MS, channel, first))
    one.append(mido.Message("note_on", note=80, velocity=1))
    (part,) = parts(one)
    played = list(part.events)
    assert [event.us for event in played] == sorted(event.us for event in played)
    down: set[tuple[int, int]] = set()
    seen = Counter()
    for event in played:
        if isinstance(event, NoteOn):
            assert (event.source, event.pitch) not in down
            down.add((event.source, event.pitch))
            seen[event.us, event.source, event.pitch] += 1
        elif isinstance(event, NoteOff):
            down.remove((event.source, event.pitch))
    assert not down
    assert struck <= set(seen)
    assert part.notes == len({(us, pitch) for us, _, pitch in seen})  # two channels at once are one string


def test_the_list_of_events_is_a_sequence() -> None:
    (part,) = parts(track("control_change control=64 value=127", *a_note(60), *a_note(62)))
    whole = list(part.events)
    assert len(part.events) == len(whole) == 5
    assert [part.events[index] for index in range(-5, 5)] == whole + whole
    assert list(part.events[1:3]) == whole[1:3]
    assert part.events[:] == part.events
    assert pickle.loads(pickle.dumps(part)) == part
    with pytest.raises(IndexError):
        part.events[5]


# The file as a whole.


def test_key_signatures_of_the_standard() -> None:
    # SMF 1.0: FF 59 02 sf mi.
    made = track(*NOTE)
    data = file(made)
    for sf_mi, name in (
        (b"\xf9\0", "C♭ major"),
        (b"\x07\0", "C♯ major"),
        (b"\xfd\1", "C minor"),
        (b"\0\0", "C major"),
    ):
        body = b"\0\xff\x59\x02" + sf_mi + data[22:]
        song = read_song(data[:18] + len(body).to_bytes(4, "big") + body)
        (keys,) = song.keys
        assert keys == (KeySignature(0, int.from_bytes(sf_mi[:1], "big", signed=True), bool(sf_mi[1])),)
        assert [key.name for key in keys] == [name]


def test_impossible_events_are_passed_over_with_a_remark() -> None:
    body = bytes.fromhex(
        "00 FF 51 03 00 00 00  00 FF 58 04 00 02 18 08  00 FF 58 04 04 40 18 08  00 FF 59 02 09 0000 90 3C 40"
    )
    song = read_song(b"MThd\0\0\0\6\0\1\0\1\x01\xf4MTrk" + len(body).to_bytes(4, "big") + body)
    assert song.time_map.beats_per_minute(0) == 120
    assert song.time_map.place(2_000_000) == Place(2, Fraction(1))
    assert song.keys == ((),)
    assert song.remarks == (
        "1 Set Tempo event says something impossible and was ignored",
        "2 time signatures say something impossible and were ignored",
        "1 key signature says something impossible and was ignored",
    )


def test_markers_are_rehearsal_marks_and_cue_points_are_not() -> None:
    made = track(*NOTE)
    made.insert(0, mido.MetaMessage("cue_marker", text="boat leaves"))
    made.insert(1, mido.MetaMessage("marker", text="- % -"))  # nor what has no letter and no digit
    made.insert(2, mido.MetaMessage("marker", text="A", time=1000))
    song = read_song(file(made), first_bar=-1)
    assert song.time_map.place(0) == Place(-1, Fraction(1), None)
    assert song.time_map.place(1_000_000) == Place(-1, Fraction(3), "A")
    assert song.time_map.place(1_500_000) == Place(-1, Fraction(4), "A")


def test_each_change_of_key_is_told_once() -> None:
    made = track(*NOTE)
    for time, key in ((0, "G"), (500, "G"), (500, "Em"), (500, "Em"), (500, "D")):
        made.append(mido.MetaMessage("key_signature", key=key, time=time))
    (keys,) = read_song(file(made)).keys
    assert [(key.us // MS, key.name) for key in keys] == [
        (100, "G major"),
        (1100, "E minor"),
        (2100, "D major"),
    ]


def test_a_part_has_the_keys_of_its_own_track_and_else_those_of_the_first_that_says_any() -> None:
    def keyed(key: str, *messages: str) -> mido.MidiTrack:
        made = track(*messages)
        made.insert(0, mido.MetaMessage("key_signature", key=key))
        return made

    harp = "program_change program=46"
    clarinet = keyed("Db", "program_change program=71", *NOTE)
    for made, name in (
        ((keyed("B"), clarinet, keyed("Cb", harp, *NOTE)), "C♭ major"),
        ((keyed("B"), clarinet, keyed("C", harp, *NOTE)), "B major"),
        ((keyed("C"), clarinet, track(harp, *NOTE)), "D♭ major"),
        ((keyed("C"), track(harp, *NOTE)), "C major"),
    ):
        (part,) = choose_parts(read_song(file(*made)))
        assert [key.name for key in part.keys] == [name]


def test_the_finest_metre_is_in_128ths() -> None:
    # SMF 1.0: the denominator is a power of two, here 2 ** 7; 2 ** 8 is passed over and said.
    for power, bar in ((7, 9), (8, 1)):
        made = track("note_on note=60", "note_off note=60 time=500")
        made.insert(0, mido.UnknownMetaMessage(0x58, data=(4, power, 24, 8)))
        song = read_song(file(made))
        assert song.time_map.place(500 * MS).bar == bar
        assert any("time signature" in remark for remark in song.remarks) is (power == 8)


def test_a_file_of_months_is_refused() -> None:
    made = track(*NOTE)
    made.insert(0, mido.MetaMessage("text", text="", time=0x0FFFFFFF))
    made.insert(0, mido.MetaMessage("set_tempo", tempo=0xFFFFFF))
    with pytest.raises(LivepedalError, match="more than 31 days"):
        parts(made)


def test_the_longest_file_lasts_31_days_to_the_tick() -> None:
    days = 31 * 24 * 3600
    for seconds, fits in ((days, True), (days + 1, False)):
        made = track()
        made.append(mido.MetaMessage("set_tempo", tempo=DIVISION * 10_000))  # 10 ms a tick
        made.append(mido.Message("note_on", note=60, time=0))
        made.append(mido.Message("note_off", note=60, time=100 * seconds))
        if fits:
            assert parts(made)[0].end_us == days * 1000 * MS
        else:
            with pytest.raises(LivepedalError, match="more than 31 days"):
                parts(made)


def test_type_0_with_two_tracks_is_read_as_type_1_and_said() -> None:
    # SMF 1.0: a file of type 0 holds one track chunk. Byte 9 of the file is the type.
    data = bytearray(file(track(*NOTE, name="Harp"), track(*NOTE, name="Flute", channel=1)))
    data[9] = 0
    song = read_song(bytes(data))
    assert song.remarks == ("a MIDI file of type 0 should hold one track; this one was read as type 1",)
    assert names(choose_parts(song)) == ["Harp"]


@pytest.mark.skipif(not FILES, reason="no files to try")
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_file_gives_parts_or_one_sentence(path: Path) -> None:
    try:
        chosen = choose_parts(read_song(path))
    except LivepedalError as refusal:
        assert str(refusal).startswith(str(path))
        assert str(refusal).isprintable()
    else:
        assert all(part.notes for part in chosen)


@pytest.mark.skipif(not HARP_FILES, reason="no files to try")
@pytest.mark.parametrize("path", HARP_FILES, ids=lambda path: path.stem)
def test_notes_as_the_score_has_them(path: Path) -> None:
    # The .notes.csv beside each file was made from the notation, not from the MIDI file.
    with open(path.with_suffix("").with_suffix(".notes.csv"), encoding="utf-8") as rows:
        score = list(csv.DictReader(rows))
    (part,) = choose_parts(read_song(path), Wanted(merge=True))
    ours = sorted((event.us, event.pitch) for event in part.events if isinstance(event, NoteOn))
    theirs = sorted((round(float(row["onset_s"]) * 1e6), int(row["midi"])) for row in score)
    assert len(ours) == len(theirs)
    # A tick of these files is up to half a millisecond.
    assert all(abs(one[0] - other[0]) < 600 for one, other in zip(ours, theirs, strict=True))
    assert Counter(pitch for _, pitch in ours) == Counter(pitch for _, pitch in theirs)


@pytest.mark.parametrize(
    "name",
    ["boulanger_matin_de_printemps", "brahms_requiem_1", "hertz-michal--syrena",
     "moniuszko-stanislaw--sonety-krymskie-intrada", "paderewski-ignacy-jan--manru-erster-akt-i-scene"],
)  # fmt: skip
def test_bars_as_the_score_counts_them(name: str) -> None:
    # The scores without pickups in the middle (repeats count differently); up to seven changes of metre.
    path = MUSIC / "harp" / f"{name}.mid"
    if not path.exists():
        pytest.skip("no file to try")
    with open(MUSIC / "harp" / f"{name}.notes.csv", encoding="utf-8") as rows:
        score = list(csv.DictReader(rows))
    time_map = read_song(path).time_map
    assert [time_map.place(round(float(row["onset_s"]) * 1e6)).bar for row in score] == [
        int(row["measure"]) for row in score
    ]


def test_a_tempo_that_nobody_named_is_not_called_written() -> None:
    """Standard MIDI Files 1.0: 120 quarters a minute where no tempo is given."""
    notes = track("note_on note=60", "note_off note=60 time=500")
    data = io.BytesIO()
    written = mido.MidiFile(ticks_per_beat=DIVISION)
    written.tracks.append(notes)
    written.save(file=data)
    assert read_song(data.getvalue()).remarks == (
        "the file names no tempo, so bars and tempos are counted at ♩ = 120, as the standard says",
    )
    assert read_song(file(notes)).remarks == ()
