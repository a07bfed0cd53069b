"""The file reader against the standard's own examples, against mido, and against damage.

SMF 1.0 below: "Standard MIDI Files 1.0", MIDI Manufacturers Association, RP-001.
"""

from __future__ import annotations

import io
from fractions import Fraction
from pathlib import Path

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livepedal.errors import LivepedalError
from livepedal.sources import reading, smf
from livepedal.sources.raw import SET_TEMPO, TEXT, Division, Message, Meta, RawSong, RawTrack, unpacked
from livepedal.sources.reading import read_raw
from livepedal.sources.text import clean, decode
from tests.places import MUSIC, RECORDINGS

FILES = sorted(MUSIC.glob("*/*.mid")) + sorted(RECORDINGS.glob("*.mid"))

END = "00 FF 2F 00"


def midi(*tracks: str, kind: int = 1, division: int = 96) -> bytes:
    """A MIDI file from the hexadecimal bytes of its tracks."""
    data = b"MThd" + (6).to_bytes(4, "big")
    data += b"".join(value.to_bytes(2, "big") for value in (kind, len(tracks), division))
    for track in tracks:
        body = bytes.fromhex(track)
        data += b"MTrk" + len(body).to_bytes(4, "big") + body
    return data


def only_track(body: str) -> RawTrack:
    (track,) = read_raw(midi(body)).tracks
    return track


# SMF 1.0, "Conventions", table of variable-length quantities: number, then its bytes.
VARIABLE_LENGTH = [
    (0x00000000, "00"),
    (0x00000040, "40"),
    (0x0000007F, "7F"),
    (0x00000080, "81 00"),
    (0x00002000, "C0 00"),
    (0x00003FFF, "FF 7F"),
    (0x00004000, "81 80 00"),
    (0x00100000, "C0 80 00"),
    (0x001FFFFF, "FF FF 7F"),
    (0x00200000, "81 80 80 00"),
    (0x08000000, "C0 80 80 00"),
    (0x0FFFFFFF, "FF FF FF 7F"),
]


@pytest.mark.parametrize(("number", "data"), VARIABLE_LENGTH)
def test_variable_length_numbers_of_the_standard(number: int, data: str) -> None:
    track = only_track(f"{data} 90 3C 40 {END}")
    assert list(map(unpacked, track.packed)) == [Message(number, 0x90, 60, 64)]


# SMF 1.0, "Program Fragments and Example MIDI Files": the same music as type 0 and as type 1.
STANDARD_TYPE_0 = midi(
    "00 FF 58 04 04 02 18 08  00 FF 51 03 07 A1 20  00 C0 05  00 C1 2E  00 C2 46  00 92 30 60  00 3C 60"
    "60 91 43 40  60 90 4C 20  81 40 82 30 40  00 3C 40  00 81 43 40  00 80 4C 40  00 FF 2F 00",
    kind=0,
)
STANDARD_TYPE_1 = midi(
    "00 FF 58 04 04 02 18 08  00 FF 51 03 07 A1 20  83 00 FF 2F 00",
    "00 C0 05  81 40 90 4C 20  81 40 4C 00  00 FF 2F 00",
    "00 C1 2E  60 91 43 40  82 20 43 00  00 FF 2F 00",
    "00 C2 46  00 92 30 60  00 3C 60  83 00 30 00  00 3C 00  00 FF 2F 00",
)


def notes(song: RawSong) -> set[tuple[int, int, int, bool]]:
    """(tick, channel, pitch, struck) of the whole file."""
    return {
        (message.tick, message.status & 15, message.data1, message.status >= 0x90 and message.data2 > 0)
        for track in song.tracks
        for message in map(unpacked, track.packed)
        if message.status < 0xA0
    }


def test_example_files_of_the_standard() -> None:
    # The table beside the examples: E5 on channel 1 from tick 192, G4 on channel 2 from 96, C3 and C4 on
    # channel 3 from 0, all of them up to 384.
    expected = {(384, channel, pitch, False) for channel, pitch in ((0, 76), (1, 67), (2, 48), (2, 60))}
    expected |= {(192, 0, 76, True), (96, 1, 67, True), (0, 2, 48, True), (0, 2, 60, True)}
    type_0, type_1 = read_raw(STANDARD_TYPE_0), read_raw(STANDARD_TYPE_1)
    assert notes(type_0) == notes(type_1) == expected
    assert type_1.division == Division(per_quarter=96)
    assert [track.end for track in type_1.tracks] == [384, 384, 384, 384]
    assert Meta(0, SET_TEMPO, b"\x07\xa1\x20") in type_1.tracks[0].metas
    assert type_0.remarks == type_1.remarks == ()


def test_running_status_and_velocity_0() -> None:
    # 90 3C 40 3C 00 is middle C on and off (MIDI 1.0).
    track = only_track(f"00 90 3C 40 60 3C 00 {END}")
    assert list(map(unpacked, track.packed)) == [Message(0, 0x90, 60, 64), Message(96, 0x90, 60, 0)]


@pytest.mark.parametrize(
    ("division", "per_second"),
    [
        (0xE728, Fraction(1000)),  # SMF 1.0: E7 28 is 25 frames of 40 ticks, millisecond timing
        (0xE808, Fraction(24 * 8)),
        (0xE364, Fraction(30_000, 1001) * 100),  # -29: 30 drop-frame, 29.97 frames a second (SMPTE ST 12-1)
        (0xE250, Fraction(30 * 80)),
    ],
)
def test_smpte_division(division: int, per_second: Fraction) -> None:
    assert read_raw(midi(END, division=division)).division == Division(per_second=per_second)


@pytest.mark.parametrize("division", [0, 0x8000, 0xFF28, 0xE700, 0xE628])
def test_a_division_that_names_no_time_is_refused(division: int) -> None:
    with pytest.raises(LivepedalError, match="time division"):
        read_raw(midi(END, division=division))


# What players accept, and so does this reader.


def test_riff_wrapper_is_taken_off() -> None:
    # RP-029: RIFF, size, "RMID", then a "data" chunk with the file in it; sizes little-endian, chunks even.
    inner = STANDARD_TYPE_1
    chunks = (
        b"LIST" + (3).to_bytes(4, "little") + b"abc\0" + b"data" + len(inner).to_bytes(4, "little") + inner
    )
    wrapped = b"RIFF" + (4 + len(chunks)).to_bytes(4, "little") + b"RMID" + chunks
    assert notes(read_raw(wrapped)) == notes(read_raw(inner))


def test_unknown_chunks_a_long_header_and_trailing_bytes_are_passed_over() -> None:
    # SMF 1.0: "your programs should expect alien chunks and treat them as if they weren't there", and honour
    # the length of the header chunk.
    plain = STANDARD_TYPE_1
    odd = (
        plain[:4] + (8).to_bytes(4, "big") + plain[8:14] + b"\x01\x02"
        + b"XFIH" + (3).to_bytes(4, "big") + b"abc" + plain[14:] + b"\0\0*"
    )  # fmt: skip
    song = read_raw(odd)
    assert notes(song) == notes(read_raw(plain))
    assert song.remarks == ()


@pytest.mark.parametrize(
    "between",
    ["F0 03 7E 7F F7", "F7 01 F8", "F1 7F", "F2 01 02", "F3 05", "F4", "F6", "F8", "FE", "FF 01 01 41"],
)
def test_running_status_goes_on_after_system_messages(between: str) -> None:
    track = only_track(f"00 90 3C 40 00 {between} 60 3C 00 {END}")
    assert list(map(unpacked, track.packed)) == [Message(0, 0x90, 60, 64), Message(96, 0x90, 60, 0)]


def test_a_track_without_an_end_is_whole() -> None:
    song = read_raw(midi("00 90 3C 40 60 3C 00"))
    assert len(notes(song)) == 2
    assert song.tracks[0].end == 96
    assert song.remarks == ()


def test_bytes_after_the_end_of_a_track_do_not_count() -> None:
    assert list(map(unpacked, only_track(f"{END} 00 90 3C 40").packed)) == []


def test_messages_without_use_are_stepped_over() -> None:
    track = only_track(f"00 A0 3C 10 00 B0 0B 7F 00 D0 10 00 E0 00 40 00 B0 40 7F {END}")
    assert list(map(unpacked, track.packed)) == [Message(0, 0xB0, 64, 127)]


# Damage.


@pytest.mark.parametrize("cut", range(1, 25))
def test_a_file_that_breaks_off_is_read_up_to_there(cut: int) -> None:
    whole = midi(f"00 90 3C 40 60 3C 00 00 3E 40 60 3E 00 00 40 40 60 40 00 00 41 40 60 41 00 {END}")
    song = read_raw(whole[:-cut])
    assert notes(song) < notes(read_raw(whole)) or cut <= 4
    assert len(song.remarks) == 1
    assert "track 1 breaks off" in song.remarks[0]
    assert "export it again from the program" in song.remarks[0]  # what to do


def test_a_byte_that_cannot_be_right_does_not_lose_the_rest_of_its_track() -> None:
    """Data bytes have seven bits (MIDI 1.0); mido clips a velocity of 0x85 to 127, if it is asked to."""
    data = midi(f"00 90 40 40 10 90 3C 85 10 80 3C 00 00 90 3C 40 10 80 3C 00 {END}")
    song = read_raw(data)
    struck = [(one.data1, one.data2) for one in map(unpacked, song.tracks[0].packed) if one.status == 0x90]
    theirs = mido.MidiFile(file=io.BytesIO(data), clip=True)
    assert struck == [(one.note, one.velocity) for one in theirs if one.type == "note_on"]
    assert len(struck) == 3
    (remark,) = song.remarks
    assert "track 1 has a byte that cannot be right (the first at byte " in remark
    assert not remark.endswith(smf.IN_PART)


def test_a_track_of_bytes_that_cannot_be_right_is_not_read_on() -> None:
    (remark,) = read_raw(midi(f"00 90 40 40 {'01 90 3C 85 ' * 30} {END}")).remarks
    assert remark.endswith(smf.IN_PART)


def test_one_damaged_track_does_not_cost_the_others() -> None:
    song = read_raw(midi("00 90 3C 40 60 3C", f"00 91 3E 40 60 3E 00 {END}"))
    assert notes(song) == {(0, 0, 60, True), (0, 1, 62, True), (96, 1, 62, False)}
    assert len(song.remarks) == 1
    assert "track 1" in song.remarks[0]


def test_a_wrong_track_length_does_not_cost_the_next_track() -> None:
    first = bytes.fromhex(f"00 90 3C 40 60 3C 00 {END}")
    second = bytes.fromhex(f"00 91 3E 40 60 3E 00 {END}")
    data = midi(END, END)[:14]
    data += b"MTrk" + (len(first) - 6).to_bytes(4, "big") + first
    data += b"MTrk" + len(second).to_bytes(4, "big") + second
    assert (0, 1, 62, True) in notes(read_raw(data))


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"not a MIDI file", "no MThd"),
        (b"RIFF\x04\0\0\0RMID", "no MThd"),
        (b"MThd", "cut short"),
        (b"MThd\0\0\0\x06\0\x01\0\x01", "cut short"),
        (b"MThd\0\0\0\x06\0\x01\0\x01\0\x60", "no track"),
        (midi(END, kind=3), "type 3"),
        (midi("FF FF FF FF 7F 90 3C 40"), "no note in it is whole"),
        (midi("00 3C 40"), "no note in it is whole"),  # running status without a status
        (midi("00 90 3C"), "no note in it is whole"),
    ],
)
def test_what_cannot_be_read_is_refused_in_one_sentence(data: bytes, says: str) -> None:
    with pytest.raises(LivepedalError, match=says) as caught:
        read_raw(data, name="ferry.mid")
    message = str(caught.value)
    assert message.startswith("ferry.mid ")
    assert message.endswith(".")
    assert "\n" not in message


def test_an_endless_delta_is_refused() -> None:
    # A reader that goes on adding bits takes minutes here (the number would have seven million bits).
    with pytest.raises(LivepedalError, match="more than four bytes"):
        read_raw(midi("FF " * 1_000_000))


def test_limits_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(smf, "MAX_EVENTS", 10)
    with pytest.raises(LivepedalError, match="more than 5 notes"):
        read_raw(midi("00 90 3C 40" + " 00 3C 00 00 3C 40" * 10))
    monkeypatch.setattr(smf, "MAX_TRACKS", 2)
    with pytest.raises(LivepedalError, match="more than 2 tracks"):
        read_raw(midi(END, END, END))
    monkeypatch.setattr(reading, "MAX_BYTES", 1024 * 1024)
    large = tmp_path / "large.mid"
    large.write_bytes(midi(END) + bytes(1024 * 1024))
    with pytest.raises(LivepedalError, match="larger than 1 MB"):
        read_raw(large)
    with pytest.raises(LivepedalError, match="larger than 1 MB"):
        read_raw(large.read_bytes())


def test_files_that_cannot_be_opened(tmp_path: Path) -> None:
    for path in (tmp_path / "missing.mid", tmp_path, Path("a\0b.mid")):
        with pytest.raises(LivepedalError):
            read_raw(path)


def test_names_in_messages_cannot_act_on_a_terminal(tmp_path: Path) -> None:
    with pytest.raises(LivepedalError) as caught:
        read_raw(tmp_path / "\x1b[2J\nferry.mid")
    assert str(caught.value).isprintable()


# Against mido, the independent reader.


def kept(message: mido.Message) -> bool:
    if message.type == "control_change":
        return message.control in {7, 64, 120, 121, 123, 124, 125, 126, 127}
    return message.type in {"note_on", "note_off", "program_change"}


def as_mido_reads(track: mido.MidiTrack) -> list[tuple[int, ...]]:
    tick = 0
    found = []
    for message in track:
        tick += message.time
        if message.type == "end_of_track":
            break
        if kept(message):
            data = message.bytes()
            found.append((tick, data[0], data[1], data[2] if len(data) > 2 else 0))
    return found


@pytest.mark.skipif(not FILES, reason="no files to try")
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_file_reads_as_mido_reads_it(path: Path) -> None:
    try:
        reference = mido.MidiFile(path)
    except Exception as refusal:  # mido raises whatever it likes
        pytest.skip(f"mido cannot read it: {type(refusal).__name__}")
    song = read_raw(path)
    assert song.kind == reference.type
    assert [list(map(tuple, map(unpacked, track.packed))) for track in song.tracks] == list(
        map(as_mido_reads, reference.tracks)
    )


channels, data_bytes = st.integers(0, 15), st.integers(0, 127)
ticks = st.one_of(st.integers(0, 300), st.integers(0, 0x0FFFFFFF))
messages = st.one_of(
    st.builds(
        mido.Message, st.just("note_on"), channel=channels, note=data_bytes, velocity=data_bytes, time=ticks
    ),
    st.builds(mido.Message, st.just("note_off"), channel=channels, note=data_bytes, time=ticks),
    st.builds(
        mido.Message, st.just("control_change"), channel=channels, control=data_bytes, value=data_bytes
    ),
    st.builds(mido.Message, st.just("program_change"), channel=channels, program=data_bytes, time=ticks),
    st.builds(mido.Message, st.just("pitchwheel"), channel=channels, pitch=st.integers(-8192, 8191)),
    st.builds(mido.Message, st.just("aftertouch"), channel=channels, value=data_bytes, time=ticks),
    st.builds(mido.Message, st.just("sysex"), data=st.lists(data_bytes, max_size=200)),
    st.builds(mido.MetaMessage, st.just("text"), text=st.text("abc", max_size=200), time=ticks),
    st.builds(mido.MetaMessage, st.just("set_tempo"), tempo=st.integers(1, 0xFFFFFF), time=ticks),
)


@given(st.lists(st.lists(messages, max_size=30), min_size=1, max_size=4), st.integers(1, 0x7FFF))
def test_what_mido_writes_is_read_back(tracks: list[list[mido.Message]], division: int) -> None:
    written = mido.MidiFile(type=1, ticks_per_beat=division)
    for track in tracks:
        written.tracks.append(mido.MidiTrack(track))
    data = io.BytesIO()
    written.save(file=data)
    song = read_raw(data.getvalue())
    assert song.division == Division(per_quarter=division)
    assert [list(map(tuple, map(unpacked, track.packed))) for track in song.tracks] == list(map(as_mido_reads, tracks))
    assert [track.end for track in song.tracks] == [
        sum(message.time for message in track) for track in tracks
    ]
    metas = [meta for track in song.tracks for meta in track.metas]
    texts = [meta.data.decode() for meta in metas if meta.kind == TEXT]
    assert texts == [message.text for track in tracks for message in track if message.type == "text"]
    tempos = [int.from_bytes(meta.data, "big") for meta in metas if meta.kind == SET_TEMPO]
    assert tempos == [message.tempo for track in tracks for message in track if message.type == "set_tempo"]


@settings(max_examples=300)
@given(
    st.sampled_from([STANDARD_TYPE_0, STANDARD_TYPE_1]),
    st.lists(st.tuples(st.integers(0, 200), st.binary(max_size=6), st.integers(0, 6)), max_size=5),
)
def test_damage_never_raises_anything_else(data: bytes, damage: list[tuple[int, bytes, int]]) -> None:
    for at, inserted, removed in damage:
        data = data[:at] + inserted + data[at + removed :]
    try:
        song = read_raw(data)
    except LivepedalError as refusal:
        assert str(refusal).isprintable()
    else:
        assert len(song.tracks) >= 1


@given(st.binary(max_size=200))
def test_random_tracks_never_raise_anything_else(body: bytes) -> None:
    data = midi(END)[:14] + b"MTrk" + len(body).to_bytes(4, "big") + body
    try:
        (track, *_) = read_raw(data).tracks
    except LivepedalError as refusal:
        assert "damaged" in str(refusal) or "holds" in str(refusal)
    else:
        ticks_seen = [message.tick for message in map(unpacked, track.packed)]
        assert ticks_seen == sorted(ticks_seen)
        assert all(message.data1 < 128 and message.data2 < 128 for message in map(unpacked, track.packed))


# Text.


@pytest.mark.parametrize(
    ("data", "text"),
    [
        ("Prélude".encode(), "Prélude"),  # UTF-8
        ("Prélude".encode("latin-1"), "Prélude"),
        (b"\xef\xbb\xbfHarp", "Harp"),  # byte order mark
        (b" Harp\0\0", "Harp"),
        (b"\x1b[2J", "␛[2J"),
        (b"one\ntwo\x7f", "one␊two␡"),
        (b"\x9b2J", "\ufffd2J"),  # the one-byte CSI of latin-1
        ("a\u202eb\u2028c\u200bd".encode(), "a\ufffdb\ufffdc\ufffdd"),
        ("Harp\u00a01".encode(), "Harp 1"),
        ("é".encode() * 5000, "é" * 199 + "…"),
    ],
)
def test_names_are_decoded_and_harmless(data: bytes, text: str) -> None:
    assert decode(data) == text
    assert decode(data).isprintable()


@given(st.text())
def test_clean_text_is_printable_and_stays(text: str) -> None:
    once = clean(text)
    assert once.isprintable()
    assert clean(once) == once
