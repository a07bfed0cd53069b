"""What of a sequencer's export is the harp's. Common practice of sequencers and sample libraries, no source, where
a test names none.
"""

from __future__ import annotations

import mido
import pytest

from livepedal.advice.tracklist import list_tracks
from livepedal.harp import Figures
from livepedal.music.choosing import Wanted, choose
from livepedal.music.events import NoteOff, NoteOn
from livepedal.music.names import decode_name, family, says_harp, says_muted
from livepedal.music.parts import NoHarpTrack, choose_parts
from livepedal.music.song import Part, read_song

from .test_parts import MS, NOTE, a_note, file, names, track

BUILTIN = Figures.builtin()
HARP = BUILTIN.instrument("47")


def wanted(*tracks: mido.MidiTrack, kind: int = 1, **asked: object) -> tuple[Part, ...]:
    return choose_parts(read_song(file(*tracks, kind=kind)), Wanted(**asked))  # type: ignore[arg-type]


def whys(*tracks: mido.MidiTrack, **asked: object) -> list[tuple[int | None, str]]:
    chosen = choose(read_song(file(*tracks)), Wanted(**asked))  # type: ignore[arg-type]
    return [(one.part, one.why) for one in chosen]


def struck(part: Part) -> list[int]:
    return [event.pitch for event in part.events if isinstance(event, NoteOn)]


# Names.


@pytest.mark.parametrize(
    ("one", "other"),
    [("Harp (Legato)", "Harp gliss"), ("Harp LH", "Harp R.H."), ("Arpa II [stacc]", "arpa ii harmonics"),
     ("Harfe_sus", "Harfe"), ("Hp. 1 Étouffés", "Hp. 1"), ("HarpLegato", "Harp"),
     ("Harp st1", "Harp st2"), ("Piano (or Harp) st1", "Piano (or Harp) st2"), ("Harp upper", "Harp lower"),
     ("Harp 2 (treble)", "Harp 2 (bass)"), ("Harp staff I", "Harp staff II"), ("Harp 1 Upper Staff", "Harp 1 lower staff"),
     ("harp_up", "harp_down"), ("Harp, bass clef", "Harp, treble clef")],
)  # fmt: skip
def test_articulations_hands_and_staves_of_one_harp(one: str, other: str) -> None:
    assert family(one)[0] == family(other)[0]
    assert family(one)[1]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Harp 1", "Harp 2"),
        ("Harp I (near bank)", "Harp II (far bank)"),
        ("Harp I", "Harp II"),
        ("1st Harp", "2nd Harp"),
        ("Harp a", "Harp b"),
    ],
)
def test_two_harps_are_two(one: str, other: str) -> None:
    assert family(one)[0] != family(other)[0]
    assert not family(one)[1]


@pytest.mark.parametrize(
    ("name", "encoding"),
    [("Арфа 1", "cp1251"), ("арфа", "koi8_r"), ("ハープ１", "cp932"), ("ハープ", "euc_jp"), ("竖琴", "gb18030"),
     ("豎琴", "big5"), ("하프", "cp949"), ("Άρπα", "cp1253"), ("Hárfa", "latin_1"), ("Harfe «Fähre»", "latin_1"),
     ("Harfe", "utf_16"), ("арфа", "utf_8"), ("Harpe à pédales", "utf_8")],
)  # fmt: skip
def test_the_name_in_its_own_encoding(name: str, encoding: str) -> None:
    assert decode_name(name.encode(encoding)) == name
    assert says_harp(name)


def test_other_names_are_read_as_before() -> None:
    assert decode_name(b"Fl\xf6te") == "Flöte"
    assert decode_name("Flöte".encode()) == "Flöte"


@pytest.mark.parametrize(
    ("name", "muted"),
    [("Harp (muted)", True), ("MUTE Harp", True), ("Harfe [off]", True), ("Harpe_muette", True),
     ("Harp offstage", False), ("Harp off", False), ("Harp", False), ("Commuted Harp", False)],
)  # fmt: skip
def test_muted_by_its_name(name: str, muted: bool) -> None:
    assert says_muted(name) is muted


# Which tracks.


def test_articulations_are_one_harp_and_doubled_notes_count_once() -> None:
    (part,) = wanted(
        track(*a_note(60), *a_note(62), name="Harp (Legato)"),
        track(
            *a_note(60), "note_on note=64 time=200", "note_off note=64 time=5", name="Harp (Gliss)", channel=1
        ),
        track(*NOTE, name="Flute", channel=2),
    )
    assert part.name == "Harp (Legato) + Harp (Gliss)"
    assert part.notes == 3
    assert "2 tracks judged as one harp" in part.remarks[0]
    assert "1 unison counts as one note" in part.remarks
    assert "--merge" not in " ".join(part.remarks)


def test_a_layer_of_the_same_name_is_left_out_and_said() -> None:
    tracks = track(*a_note(60), *a_note(62), name="Harp"), track(*a_note(60), name="Harp", channel=1)
    (part,) = wanted(*tracks)
    assert part.notes == 2
    assert part.remarks == ("Harp is not judged: doubles “Harp”, track 1, note for note",)
    # A note of its own, and it is the other staff; of two harps their names would say so.
    staves = tracks[0], track(*a_note(61), name="Harp", channel=1)
    (both,) = wanted(*staves)
    assert sorted(struck(both)) == [60, 61, 62]
    assert "--track 1 --track 2 judges each on its own" in both.remarks[0]
    assert len(wanted(*staves, tracks=("1", "2"))) == 2
    assert whys(*staves)[1] == (0, "another stave of “Harp”, track 1, with the same name")
    # Of three nobody can tell, nor of tracks without a name.
    assert len(wanted(*staves, track(*a_note(66), name="Harp", channel=2))) == 3
    assert len(wanted(track(*a_note(60), program=46), track(*a_note(62), program=46, channel=1))) == 2
    assert len(wanted(*tracks, tracks=("harp",))) == 2  # the user insists


def test_staves_of_one_harp_are_one_and_harps_are_two() -> None:
    """Two staves of one player, as MuseScore, LilyPond and ABC exporters name them (common practice, no source)."""
    staves = track(*a_note(60), name="Harp st1"), track(*a_note(40), name="Harp st2", channel=1)
    (part,) = wanted(*staves)
    assert part.name == "Harp st1 + Harp st2"
    assert part.remarks[0].startswith("2 tracks judged as one harp, because by their names they are its staves")
    assert len(wanted(*staves, tracks=("st1", "st2"))) == 2
    four = [
        track(*a_note(60 + n), name=name, channel=n)
        for n, name in enumerate(("Harp 1 upper", "Harp 1 lower", "Harp 2 upper", "Harp 2 lower"))
    ]
    assert names(wanted(*four)) == ["Harp 1 upper + Harp 1 lower", "Harp 2 upper + Harp 2 lower"]
    bare = (
        track(*a_note(60), name="upper", program=46),
        track(*a_note(40), name="lower", program=46, channel=1),
    )
    assert len(wanted(*bare)) == 1


def test_muted_tracks_are_left_out_unless_there_is_no_other() -> None:
    silent = track("control_change control=7 value=0", *a_note(50), name="Harp sketch")
    loud = track("control_change control=7 value=0", "control_change control=7 value=90", *NOTE, name="Arpa")
    muted = track(*a_note(52), name="Harp (muted)")
    (part,) = wanted(silent, loud, muted)
    assert names((part,)) == ["Arpa"]
    assert part.remarks == (
        "Harp sketch is not judged: its volume is 0 throughout",
        "Harp (muted) is not judged: its name says it is muted",
    )
    assert names(wanted(muted)) == ["Harp (muted)"]
    assert names(wanted(silent, loud, tracks=("1",))) == ["Harp sketch"]


def test_volume_lets_go_of_nothing() -> None:
    (part,) = wanted(
        track("note_on note=60", "control_change control=7 value=3 time=5", "note_off note=60 time=5")
    )
    assert list(part.events) == [NoteOn(0, 60), NoteOff(10 * MS, 60)]


def test_why_in_words() -> None:
    tracks = (
        track(name="Tempo"),
        track(*NOTE, name="Harp"),
        track(*NOTE, "program_change program=0", *NOTE, program=46, channel=1),
        track(*NOTE, program=46, channel=2),
        track(*NOTE, name="Flute", channel=3),
        track(*NOTE, name="Kit", channel=9),
    )
    assert whys(*tracks) == [
        (None, "no notes"),
        (0, "its name says harp"),
        (1, "1 of its 2 notes under program 46, the harp"),
        (2, "program 46, the orchestral harp"),
        (None, "not the harp's"),
        (None, "drums on channel 10"),
    ]
    assert whys(*tracks, tracks=("5",), channels=(4,))[1:5] == [
        (None, "not on the channel that was asked for"),
        (None, "not on the channel that was asked for"),
        (None, "not on the channel that was asked for"),
        (0, "it was asked for"),
    ]
    assert whys(track(*NOTE), track()) == [(0, "the only track with notes"), (None, "no notes")]


# One option away.


def test_a_channel_of_a_track_that_carries_several() -> None:
    several = track("note_on note=60 channel=3", "note_on note=72 channel=4", "note_off note=60 channel=3 time=5",
                    "note_off note=72 channel=4", name="Pad")  # fmt: skip
    flute = track(*NOTE, name="Flute")
    assert struck(wanted(several, flute, channels=(5,))[0]) == [72]
    assert struck(wanted(several, flute, tracks=("Pad",), channels=(4,))[0]) == [60]
    assert struck(wanted(several, flute, tracks=("Pad",))[0]) == [60, 72]
    with pytest.raises(NoHarpTrack, match="no notes on channel 9"):
        wanted(several, flute, channels=(9,))
    with pytest.raises(NoHarpTrack, match="track Flute, channel 4"):
        wanted(several, flute, tracks=("Flute",), channels=(4,))
    # Of several tracks on the channel the harp's is meant.
    assert names(wanted(track(*NOTE, name="Harp", channel=4), several, channels=(5,))) == ["Harp"]


def test_type_0_by_channel() -> None:
    one = track("note_on note=60 channel=4", "note_on note=72 channel=0", "note_off note=60 channel=4 time=10",
                "note_off note=72 channel=0")  # fmt: skip
    assert names(wanted(one, kind=0, channels=(5,))) == ["channel 5"]


def test_transposed() -> None:
    (part,) = wanted(track(*a_note(60), *a_note(120), "control_change control=64 value=127"), transpose=12)
    assert struck(part) == [72]
    assert part.remarks == ("1 note is left out, because --transpose goes beyond MIDI's range",)
    assert struck(wanted(track(*a_note(60)), transpose=-12)[0]) == [48]


def test_keyswitches_above_the_lowest_string() -> None:
    (part,) = wanted(track(*a_note(24), *a_note(30), *a_note(60)), ignore_below=30, transpose=12)
    assert struck(part) == [42, 72]  # below counts as the file has it
    assert part.remarks == ("1 note is left out by --ignore-below",)


def hints(*tracks: mido.MidiTrack, **asked: object) -> list[str]:
    found = list_tracks(read_song(file(*tracks)), Wanted(**asked), BUILTIN, HARP)  # type: ignore[arg-type]
    return [hint for one in found.entries for hint in one.hints]


def test_hints_at_what_one_option_would_mend() -> None:
    (hint,) = hints(track(*a_note(24), *a_note(26), *a_note(60), *a_note(64)))
    assert hint.startswith("2 notes up to D1")
    assert hint.endswith("--ignore-below 27")
    assert hints(track(*a_note(24), *a_note(26), *a_note(60)), ignore_below=27) == []
    assert hints(track(*a_note(24), *a_note(35), *a_note(47))) != []  # B1 to B2 is an octave
    assert hints(track(*a_note(24), *a_note(35), *a_note(46))) == []  # a bass line
    (hint,) = hints(track(*a_note(107), *a_note(112)))
    assert hint.endswith("--transpose -12")
    (hint,) = hints(track(*a_note(12), *a_note(60)))
    assert "keyswitches" in hint


# Whose notes: exports as composers have them. Files are written by mido.


def program(number: int, channel: int = 0) -> str:
    return f"program_change program={number} channel={channel}"


def named(name: str, *messages: str) -> mido.MidiTrack:
    return track(*messages, name=name)


def test_a_sketch_is_one_harp() -> None:
    upper, lower = named("upper", program(0), *NOTE), named("lower", program(0), *a_note(48))
    (both,) = wanted(upper, lower)
    assert struck(both) == [60, 48]
    assert "because none is called harp" in both.remarks[0]
    assert "--track 1 --track 2 judges each on its own" in both.remarks[0]
    (one,) = wanted(upper, lower, tracks=("2",))
    assert struck(one) == [48]
    # No programs, no names; a guitar; four staves.
    assert len(wanted(track(*NOTE), track(*a_note(48)))) == 1
    assert len(wanted(named("", program(24), *NOTE), named("", program(24), *a_note(48)))) == 1
    four = [
        named(f"{name}:", *a_note(pitch))
        for name, pitch in zip(("RH", "LH", "up", "down"), range(60, 64), strict=True)
    ]
    assert len(wanted(*four)) == 1


@pytest.mark.parametrize(
    "tracks",
    [
        (named("Flute", program(73), *NOTE), named("Piano", program(0), *a_note(48))),
        (named("Violin", program(40), *NOTE), named("Viola", program(40), *a_note(48))),
        tuple(named(name, program(0), *NOTE) for name in ("one", "two", "three")),
        tuple(
            named(f"{name} hand", program(0), *NOTE) for name in ("left", "right", "left", "right", "left")
        ),
    ],
    ids=["two programs", "strings", "three without hands", "five"],
)
def test_other_music_is_no_sketch(tracks: tuple[mido.MidiTrack, ...]) -> None:
    with pytest.raises(NoHarpTrack) as caught:
        wanted(*tracks)
    assert caught.value.likeliest[0] == "--track"
    # All of it, where that is what is wanted.
    (part,) = wanted(*tracks, merge=True)
    assert len(part.tracks) == len(tracks)


def test_the_likeliest_choice_is_what_a_harp_part_is_sketched_with() -> None:
    flute, piano = named("Flute", program(73), *NOTE, *NOTE), named("Piano", program(0), *NOTE)
    with pytest.raises(NoHarpTrack) as caught:
        wanted(flute, piano)
    assert caught.value.likeliest == ("--track", "2")


def test_of_a_shared_track_only_the_harps_notes_are_judged() -> None:
    shared = named(
        "Harp/str", *a_note(40), program(46), *a_note(60), program(48), *a_note(61), program(46), *a_note(62)
    )
    (part,) = wanted(shared)
    # What comes before any program is the harp's, as the name says so.
    assert struck(part) == [40, 60, 62]
    assert part.remarks[0].startswith("1 note is left out of “Harp/str”, under programs other than the harp's")
    (all_of_it,) = wanted(shared, tracks=("1",))
    assert struck(all_of_it) == [40, 60, 61, 62]
    (strings,) = wanted(shared, programs=(48,))
    assert struck(strings) == [61]
    with pytest.raises(NoHarpTrack, match="no notes under program 5"):
        wanted(shared, programs=(5,))


def test_a_shared_name_without_the_harps_program_is_said() -> None:
    (part,) = wanted(named("oboe2/harp", program(68), *NOTE))
    assert struck(part) == [60]
    assert "names another instrument too" in part.remarks[0]
    (alone,) = wanted(named("Harp", program(68), *NOTE))
    assert not alone.remarks


def test_the_named_harp_comes_first() -> None:
    timpani, harp = (
        named("Timpani", program(46), *a_note(40)),
        named("Harp", *(f"{one} channel=9" for one in NOTE)),
    )
    (part,) = wanted(timpani, harp)
    assert struck(part) == [60]
    assert (
        "Timpani is not judged: another track is called a harp (this one: program 46, the orchestral harp); --track 1 judges it"
        in part.remarks
    )
    assert whys(timpani, harp)[1] == (0, "its name says harp, though it is on channel 10")
    # Without the named one the program counts; and a track without any name may be a second harp.
    assert names(wanted(timpani)) == ["Timpani"]
    assert len(wanted(named("", program(46), *NOTE), named("Harp", *NOTE))) == 2


def test_a_few_stray_notes_are_no_harp_beside_a_real_one() -> None:
    real = named("", program(46), *(message for n in range(90) for message in a_note(40 + n % 40)))
    stray = named("", program(0), *NOTE, program(46), *NOTE * 4)
    (part,) = wanted(real, stray)
    assert len(part.events) == 180
    assert any("4 of its 5 notes under program 46" in remark for remark in part.remarks)
    assert len(wanted(stray)) == 1
