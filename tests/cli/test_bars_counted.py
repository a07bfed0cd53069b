"""A MIDI file without a time signature has bars that nobody knows: said once, and only where bars are shown."""

from __future__ import annotations

import json
from pathlib import Path

import mido
import pytest

from livepedal import cli
from livepedal.music.song import NO_METRE

EASY = (60, 64, 67, 72)
MOVING = (60, 61, 60, 61)  # C, then D♭ or C♯


def written(path: Path, pitches: tuple[int, ...], metre: bool) -> str:
    file = mido.MidiFile()
    track = mido.MidiTrack([mido.Message("program_change", program=46)])
    if metre:
        track.append(mido.MetaMessage("time_signature", numerator=3, denominator=4))
    for pitch in pitches:
        track += [mido.Message("note_on", note=pitch, velocity=64), mido.Message("note_off", note=pitch, time=960)]
        track += [mido.Message("note_on", note=59, velocity=64), mido.Message("note_off", note=59, time=960)]
        track += [mido.Message("note_on", note=62, velocity=64), mido.Message("note_off", note=62, time=960)]
    file.tracks.append(track)
    file.save(path)
    return str(path)


@pytest.mark.parametrize(
    ("pitches", "metre", "times"), [(MOVING, False, 1), (MOVING, True, 0), (EASY, False, 0)]
)
def test_that_bars_are_counted_in_four_is_said_once(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, pitches: tuple[int, ...], metre: bool, times: int
) -> None:
    path = written(tmp_path / "reach.mid", pitches, metre)
    cli.main(["check", path])
    report = capsys.readouterr().out
    assert report.count(NO_METRE) == times
    cli.main(["check", "--json", path])
    assert json.loads(capsys.readouterr().out)["files"][0]["remarks"].count(NO_METRE) == times


def test_where_no_bar_is_shown_nothing_is_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = written(tmp_path / "reach.mid", MOVING, False)
    cli.main(["tracks", path])
    assert NO_METRE not in capsys.readouterr().out
    cli.main(["spell", path])
    assert NO_METRE[4:] in capsys.readouterr().out
