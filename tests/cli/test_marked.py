"""`check --marked`: read back, the music is the same to the tick, and the marks are where they belong. Readers of
other people are the judges: mido message by message, pretty_midi note by note.
"""

from __future__ import annotations

import io
import json
import re
import warnings
from pathlib import Path

import mido
import pretty_midi
import pytest

from livepedal import check_file, cli
from livepedal.errors import LivepedalError
from livepedal.harp import Setting
from livepedal.sources.marking import Put, marked
from livepedal.sources.reading import read_raw

from .test_check import AUDIBLE, EASY, HARD, RECORDINGS, TWO

ALL = sorted(RECORDINGS.glob("*.mid"))
MUSIC = sorted((RECORDINGS.parent.parent / "shared" / "music").glob("*/*.mid"))


def timed(track: mido.MidiTrack, ours: bool = False) -> list[tuple[int, mido.Message]]:
    """(tick, message) of what is not ours, or of what is, without the ends of tracks."""
    tick = 0
    found = []
    for message in track:
        tick += message.time
        is_ours = message.type in ("text", "marker", "lyrics") and message.text.startswith(
            ("livepedal: ", "LP ")
        )
        if message.type != "end_of_track" and is_ours is ours:
            found.append((tick, message.copy(time=0)))
    return found


def opened(data: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(data))


@pytest.mark.slow
@pytest.mark.parametrize("path", ALL + MUSIC, ids=lambda path: path.stem)
def test_every_message_stays_where_it_is(path: Path) -> None:
    data = path.read_bytes()
    try:
        before = opened(data)
    except Exception:  # mido raises whatever it likes
        pytest.skip("mido cannot read it")
    ticks = sorted({tick for track in before.tracks for tick, _ in timed(track)})
    if not ticks:
        pytest.skip("there is nothing in it")
    markers = [Put(tick, f"LP {number} here") for number, tick in enumerate(ticks[::7])]
    markers.append(Put(ticks[-1] + 100, "livepedal: beyond the end"))
    texts = [Put(0, "livepedal: set D"), Put(ticks[-1] // 2, "livepedal: A# right foot")]
    try:
        written = marked(data, str(path), markers, texts)
    except LivepedalError as refusal:
        assert "damaged" in str(refusal)  # then livepedal reads it with a remark
        assert read_raw(data).remarks
        return
    after = opened(written)
    number = len(before.tracks)
    assert after.type == before.type
    assert after.ticks_per_beat == before.ticks_per_beat
    assert [timed(track) for track in after.tracks[:number]] == [timed(track) for track in before.tracks]
    places = [
        (tick, message.text)
        for tick, message in timed(after.tracks[0], ours=True)
        if message.type == "marker"
    ]
    assert places == [(put.tick, put.text) for put in markers]
    alone = before.type == 2 or (before.type == 0 and number == 1)
    last = after.tracks[0] if alone else after.tracks[-1]
    said = [(tick, message.text) for tick, message in timed(last, ours=True) if message.type == "text"]
    assert said == [(put.tick, put.text) for put in texts]
    # Marked once more, what was put in before is taken out; with nothing to put in, all of it is.
    assert marked(written, "again", markers, texts) == written
    bare = opened(marked(written, "again", [], []))
    assert [timed(track) for track in bare.tracks] == [timed(track) for track in before.tracks]
    assert not any(timed(track, ours=True) for track in bare.tracks)


@pytest.fixture
def mark(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """Runs check --marked on a file; the new one, and the report as JSON."""

    def do(path: Path | str, *arguments: str) -> tuple[Path, dict]:
        target = tmp_path / f"marked {Path(path).name}"
        cli.main(["check", "--json", "--marked", str(target), *arguments, str(path)])
        return target, json.loads(capsys.readouterr().out)["files"][0]

    return do


@pytest.mark.slow
@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_the_marks_are_the_report_and_the_notes_are_the_same(path: Path, mark) -> None:
    target, report = mark(path)

    def notes(file: Path) -> list[tuple[bool, int, list[tuple[float, float, int, int]]]]:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # tempo changes beside the first track; deprecations of its own
            read = pretty_midi.PrettyMIDI(str(file))
        return [
            (
                one.is_drum,
                one.program,
                [(note.start, note.end, note.pitch, note.velocity) for note in one.notes],
            )
            for one in read.instruments
        ]

    assert notes(target) == notes(path)
    after = mido.MidiFile(target)
    ours = [one for track in after.tracks for one in timed(track, ours=True)]
    groups = [group for part in report["parts"] for group in part["groups"]]
    marks = [(tick, message.text) for tick, message in ours if message.type == "marker"]
    time_map = check_file(path).files[0].parts[0].time_map
    # A finding lies at an attack's first note, so its marker is on that very tick.
    assert sorted(round(time_map.us(tick) / 1e6, 6) for tick, _ in marks) == sorted(
        round(group["from"]["seconds"], 6) for group in groups
    )
    # What stands on a ruler is short; its number leads to the report, and to the sentence beside it.
    assert all(len(text) <= 32 and text.isascii() for _, text in marks)
    if len(report["parts"]) == 1:
        assert {text.split()[1] for _, text in marks} == {str(group["number"]) for group in groups}
    texts = [
        (tick, message.text.removeprefix("livepedal: ")) for tick, message in ours if message.type == "text"
    ]
    told = [
        (tick, text)
        for tick, text in texts
        if re.search(r"\b(easy|playable|virtuoso|unplayable|audible): bar", text)
    ]
    assert [tick for tick, _ in told] == [tick for tick, _ in marks]
    texts = [one for one in texts if one not in told]
    changes = sum(len(part["changes"]) for part in report["parts"])
    assert len(texts) == len(report["parts"]) + changes
    if len(report["parts"]) == 1:
        (part,) = report["parts"]
        tick, first = texts[0]
        assert tick == 0
        if "-" not in first:  # all letters are used
            said = Setting.parse(first.removeprefix("set "))
            assert [position.word for position in said.positions] == list(part["setting"].values())
        sign = {"flat": "b", "natural": "n", "sharp": "#"}
        assert [text.split()[0] for _, text in texts[1:]] == [
            change["pedal"] + sign[change["to"]] for change in part["changes"]
        ]
        assert [time_map.place_of_tick(tick).bar for tick, _ in texts[1:]] == [
            change["bar"] for change in part["changes"]
        ]
    # It is judged as before, and its marks are no rehearsal marks.
    again = check_file(target).files[0].to_dict()
    for part in (*again["parts"], *report["parts"]):
        part.pop("remarks")
    assert again["parts"] == report["parts"]


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["markers", "lyrics"])
def test_pedal_changes_as_something_else(kind: str, mark) -> None:
    """Some sequencers drop texts; then the changes can be had as markers, or as lyrics under the notes."""
    target, report = mark(HARD, "--changes-as", kind)
    (part,) = report["parts"]
    after = mido.MidiFile(target)
    number = 0 if kind == "markers" else part["tracks"][0]["number"] - 1
    texts = [
        (tick, message.text)
        for tick, message in timed(after.tracks[number], ours=True)
        if message.type == kind.replace("markers", "marker") and re.match("LP [A-G][bn#]", message.text)
    ]
    time_map = check_file(HARD).files[0].parts[0].time_map
    sign = {"flat": "b", "natural": "n", "sharp": "#"}
    assert [text.split()[1] for _, text in texts] == [
        change["pedal"] + sign[change["to"]] for change in part["changes"]
    ]
    assert [time_map.place_of_tick(tick).bar for tick, _ in texts] == [
        change["bar"] for change in part["changes"]
    ]
    assert all(len(text) <= 32 for _, text in texts)
    # Judged again they are neither rehearsal marks nor anything else.
    again = check_file(target).files[0].to_dict()
    assert again["parts"][0]["findings"] == part["findings"]


def test_a_changes_as_that_cannot_be_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "new.mid"
    assert cli.main(["check", HARD, "--marked", str(target), "--changes-as", "lyric"]) == 2
    assert "texts, markers, lyrics" in capsys.readouterr().err
    assert not target.exists()
    assert cli.main(["check", HARD, "--changes-as", "lyrics"]) == 2
    assert "--marked" in capsys.readouterr().err


def test_from_a_bar_on_the_setting_stands_there(mark) -> None:
    target, report = mark(TWO, "--from", "3")
    track = mido.MidiFile(target).tracks[-1]
    starts = [tick for tick, message in timed(track, ours=True) if " set " in message.text]
    time_map = check_file(TWO).files[0].parts[0].time_map
    assert [time_map.place_of_tick(tick) for tick in starts] == [time_map.place(time_map.us_of_bar(3))] * 2
    assert len(report["parts"]) == 2


def test_type_2_keeps_each_piece_its_own() -> None:
    file = mido.MidiFile(type=2)
    for pitch in (60, 62):
        file.tracks.append(
            mido.MidiTrack(
                [mido.Message("note_on", note=pitch), mido.Message("note_off", note=pitch, time=9)]
            )
        )
    data = io.BytesIO()
    file.save(file=data)
    after = opened(marked(data.getvalue(), "x", [Put(3, "livepedal: m", 2)], [Put(0, "livepedal: t", 2)]))
    assert len(after.tracks) == 2
    assert timed(after.tracks[0], ours=True) == []
    assert [tick for tick, _ in timed(after.tracks[1], ours=True)] == [0, 3]


def test_running_status_comes_back_after_a_mark() -> None:
    body = bytes.fromhex("00 90 3C 40 0A 3C 00 0A 3E 40 0A 3E 00 00 FF 2F 00")
    data = b"MThd\0\0\0\6\0\0\0\1\0\x60MTrk" + len(body).to_bytes(4, "big") + body
    written = marked(data, "x", [Put(20, "livepedal: m")], [])
    assert timed(opened(written).tracks[0]) == timed(opened(data).tracks[0])
    assert bytes.fromhex("00 90 3E 40") in written  # SMF 1.0: a meta event ends running status


def test_only_texts_that_begin_as_ours_are_taken_out() -> None:
    file = mido.MidiFile()
    texts = [
        "A livepedal: my own",
        "LP",
        "LPs 3 and 4",
        "LP side",
        "livepedal: of an earlier pass",
        "LP 3 A2 too fast",
    ]
    texts += [
        "LP 2.13 too wide",
        "LP A# right foot",
        "LP set Dn - Bn | En - Gn An",
        "livepedal: " + "long " * 30,
    ]
    file.tracks.append(mido.MidiTrack([mido.MetaMessage("marker", text=text) for text in texts]))
    data = io.BytesIO()
    file.save(file=data)
    (track,) = opened(marked(data.getvalue(), "x", [], [])).tracks
    assert [message.text for message in track if message.type == "marker"] == texts[:4]


@pytest.mark.parametrize("kind", [0, 1])
def test_marks_may_lie_farther_apart_than_a_number_can_say(kind: int) -> None:
    longest = 0x0FFFFFFF  # SMF 1.0: the largest number that a time between two events may be
    file = mido.MidiFile(type=kind, ticks_per_beat=32767)
    struck, released = mido.Message("note_on", note=60), mido.Message("note_on", note=60, velocity=0)
    file.tracks.append(
        mido.MidiTrack([struck, *(released.copy(time=longest), struck.copy(time=longest)) * 2])
    )
    data = io.BytesIO()
    file.save(file=data)
    last = Put(4 * longest, "livepedal: late")
    written = marked(data.getvalue(), "x", [Put(longest + 9, "livepedal: m")], [Put(0, "livepedal: t"), last])
    after = opened(written)
    assert timed(after.tracks[0]) == timed(opened(data.getvalue()).tracks[0])
    assert timed(after.tracks[-1], ours=True)[-1] == (last.tick, mido.MetaMessage("text", text=last.text))


def test_a_text_taken_out_may_leave_a_longer_time_than_a_number_can_say() -> None:
    longest = 0x0FFFFFFF
    ours = mido.MetaMessage("text", text="livepedal: t", time=longest)
    late = mido.Message("note_on", note=60, time=longest)
    file = mido.MidiFile(type=0)
    file.tracks.append(mido.MidiTrack([mido.Message("note_on", note=60), ours, late]))
    data = io.BytesIO()
    file.save(file=data)
    (track,) = opened(marked(data.getvalue(), "x", [], [])).tracks
    assert timed(track)[-1] == (2 * longest, late.copy(time=0))


@pytest.mark.parametrize(
    ("arguments", "taught"),
    [
        ([HARD, EASY, "--marked", "new.mid"], "one file"),
        ([HARD, "--marked", HARD], "is the file being read"),
        ([HARD, "--marked", HARD, "--force"], "is the file being read"),
        ([HARD, "--marked", "there.mid"], "--force"),
        ([HARD, "--marked", "."], "--marked"),
        ([HARD, "--marked", "none/new.mid"], "cannot be written"),
        (["missing.mid", "--marked", "new.mid"], "missing.mid"),
    ],
)
def test_what_is_there_is_never_overwritten(
    arguments: list[str],
    taught: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("there.mid").write_bytes(b"kept")
    before = Path(HARD).read_bytes()
    assert cli.main(["check", *arguments]) == 2
    (sentence,) = capsys.readouterr().err.splitlines()
    assert taught in sentence
    assert Path(HARD).read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["there.mid"]
    assert Path("there.mid").read_bytes() == b"kept"


def test_forced_it_is_and_it_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "there.mid"
    target.write_bytes(b"old")
    assert cli.main(["check", AUDIBLE, "--marked", str(target), "--force"]) == 0
    assert f"Written with marks: {target}" in capsys.readouterr().out
    assert target.read_bytes()[:4] == b"MThd"
