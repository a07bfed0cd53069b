"""A MIDI file written out as a score: read back by our own reader, by the schema and by verovio, none of which wrote it."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from livepedal.cli import main
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from livepedal.sources.scores.measures import TICKS
from livepedal.views import written_out
from tests.advice import making_midi
from tests.places import RECORDINGS
from tests.sources.scores.test_marked import XLINK, said

pytest.importorskip("music21")
CHROMATIC = (64, 65, 67, 66, 64, 67, 48, 72)  # E, F, F♯ and G are on three letters, so one has to change


def midi(path: Path, notes: list[tuple[float, float, int]], metre: tuple[int, int] = (3, 4)) -> Path:
    """(onset, length, pitch), in quarters."""
    struck = [(at, length, [pitch]) for at, length, pitch in notes]
    path.write_bytes(making_midi.midi(("Harp", struck), bpm=60, key="Bb", metre=metre))
    return path


def written(path: Path, *options: str) -> Path:
    out = path.with_suffix(".musicxml")
    assert main(["spell", "--plain", "--musicxml", str(out), *options, str(path)]) == 0
    return out


FERRY = [(n * 0.75, 0.7, pitch) for n, pitch in enumerate(CHROMATIC)] + [
    (n / 3 + 7, 0.3, 60 + 2 * n) for n in range(4)
]


def test_its_notes_their_spelling_and_the_pedals_are_in_it(tmp_path: Path) -> None:
    out = written(midi(tmp_path / "ferry.mid", FERRY))
    song = read_song(out)
    (part,) = choose_parts(song)
    assert part.written is not None
    found = sorted((round(tick / TICKS, 2), pitch) for tick, pitch in part.written.spelled)
    assert found == sorted((round(at, 2), pitch) for at, _, pitch in FERRY)
    assert part.time_map.metre(0) == (3, 4)
    assert float(part.time_map.beats_per_minute(0)) == 60
    assert [key.fifths for key in part.keys] == [-2]
    marks = [text for _, text in said(out.read_bytes())]
    assert any(len(text.split()) >= 5 for text in marks)  # the setting
    assert any(len(text) == 2 for text in marks)  # a change


def test_the_schema_and_verovio_take_it(tmp_path: Path) -> None:
    out = written(midi(tmp_path / "ferry.mid", FERRY))
    xmlschema = pytest.importorskip("xmlschema")
    package = importlib.util.find_spec("musicxml")
    if package is not None and package.origin is not None:
        path = Path(package.origin).parent / "generate_classes" / "musicxml_4_0.xsd"
        schema = xmlschema.XMLSchema(
            str(path), locations={"http://www.w3.org/1999/xlink": XLINK}, allow="local"
        )
        assert [error.reason for error in schema.iter_errors(str(out))] == []
    verovio = pytest.importorskip("verovio")
    toolkit = verovio.toolkit()
    assert toolkit.loadData(out.read_text(encoding="utf-8"))
    onsets = [
        round(one["qstamp"], 2)
        for one in toolkit.renderToTimemap({"includeMeasures": False})
        if one.get("on")
    ]
    assert set(onsets) >= {round(at, 2) for at, _, _ in FERRY}


def test_a_recording_on_a_grid_is_written_out(tmp_path: Path) -> None:
    source = RECORDINGS / "03-paddle-wheel.mid"
    out = tmp_path / "wheel.musicxml"
    assert main(["spell", "--plain", "--musicxml", str(out), str(source)]) == 0
    (part,) = choose_parts(read_song(out))
    (original,) = choose_parts(read_song(source))
    assert part.notes == original.notes


def test_what_lies_on_no_grid_is_told_and_what_was_played_freely_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    straight = [(float(n), 0.9, 60 + n % 5) for n in range(12)]
    out = written(midi(tmp_path / "ferry.mid", [*straight, (12.07, 0.5, 72)]))
    assert "1 attack on no grid" in capsys.readouterr().out
    assert out.exists()
    freely = midi(tmp_path / "freely.mid", [(n * 0.93 + 0.04, 0.5, 60 + n % 5) for n in range(12)])
    assert main(["spell", "--musicxml", str(tmp_path / "no.musicxml"), str(freely)]) == 2
    assert "seems to be played freely" in capsys.readouterr().err
    assert not (tmp_path / "no.musicxml").exists()


def test_without_music21_one_sentence_says_how(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(written_out, "can_write", lambda: False)
    assert (
        main(["spell", "--musicxml", str(tmp_path / "no.musicxml"), str(RECORDINGS / "03-paddle-wheel.mid")])
        == 2
    )
    assert "pip install 'livepedal[score]'" in capsys.readouterr().err
