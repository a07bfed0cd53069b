"""Files that are written whole, read back by our own reader, which shares no code with mido, the writer."""

from __future__ import annotations

import io

import mido
import pytest

from livepedal.sources.raw import MARKER, SET_TEMPO, TRACK_NAME, Message, is_own, unpacked
from livepedal.sources.reading import read_raw
from livepedal.sources.smf_writing import LONGEST_NUMBER, midi_file, text_event


def test_what_is_written_is_read_back() -> None:
    head = [
        (0, text_event("track_name", "Fähre ♪")),
        (0, mido.MetaMessage("set_tempo", tempo=0x090001)),
        (7, text_event("marker", "A")),
    ]
    harp = [
        (0, mido.Message("note_on", channel=3, note=60, velocity=64)),
        (480, mido.Message("note_off", channel=3, note=60, velocity=0)),
    ]
    song = read_raw(midi_file(960, [(head, 480), (harp, 1920)]))
    assert (song.kind, song.division.per_quarter, song.remarks) == (1, 960, ())
    first, second = song.tracks
    assert [(meta.tick, meta.kind, meta.data) for meta in first.metas] == [
        (0, TRACK_NAME, "Fähre ♪".encode()),
        (0, SET_TEMPO, bytes((9, 0, 1))),
        (7, MARKER, b"A"),
    ]
    assert list(map(unpacked, second.packed)) == [Message(0, 0x93, 60, 64), Message(480, 0x83, 60, 0)]
    assert (first.end, second.end) == (480, 1920)


@pytest.mark.parametrize("length", [0, 1, 127, 128, 129, 255, 256, 2000])
def test_a_long_text_is_written_too(length: int) -> None:
    """SMF 1.0: from 128 bytes on its length has two bytes. Markers of findings are often so long."""
    text = "x" * length
    made = midi_file(960, [([(0, text_event("marker", text))], 0)])
    (track,) = read_raw(made).tracks
    assert [meta.data for meta in track.metas] == [text.encode()]
    assert mido.MidiFile(file=io.BytesIO(made)).tracks[0][0].text == text
    assert made.count(b"\xff\x2f\x00") == 1


def test_a_pause_that_no_number_can_say_is_parted() -> None:
    # SMF 1.0: a time has four bytes at the most
    late = 3 * LONGEST_NUMBER + 5
    song = read_raw(midi_file(960, [([(late, mido.Message("note_on", note=60))], 0)]))
    (track,) = song.tracks
    assert [message.tick for message in map(unpacked, track.packed)] == [late]
    assert len(track.metas) == 3
    assert all(is_own(meta.data) for meta in track.metas)
