"""Remedies as the report shows them: what one makes needless is not asked for again, and what no tempo mends says so."""

from __future__ import annotations

from pathlib import Path

import mido
import pytest

from livepedal import cli
from livepedal.advice.check import check_file
from livepedal.views.report.remedies import places_of, together
from tests.places import RECORDINGS

# Two tempos for the same bars; hard places of which some lie inside others.
HARD = ("03-paddle-wheel", "07-fog-bell", "11-weir", "14-engine-bells")
LOWEST_D, LOWEST_D_FLAT = 26, 25


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> list[str]:
    assert cli.main(["check", *arguments]) == 1
    return [line.strip() for line in capsys.readouterr().out.splitlines()]


@pytest.fixture
def tuned_lower(tmp_path: Path) -> str:
    """Music whose lowest D string is tuned to D♭ and has to give D♮ once."""
    file = mido.MidiFile()
    track = mido.MidiTrack([mido.Message("program_change", program=46)])
    for pitch in (LOWEST_D_FLAT, LOWEST_D, LOWEST_D_FLAT, LOWEST_D_FLAT):
        track += [mido.Message("note_on", note=pitch, velocity=64), mido.Message("note_off", note=pitch, time=960)]
    file.tracks.append(track)
    file.save(tmp_path / "low.mid")
    return str(tmp_path / "low.mid")


def test_a_tempo_that_mends_other_findings_too_is_told_once(capsys: pytest.CaptureFixture[str]) -> None:
    slower = [line for line in told(capsys, "--remedies", "14-engine-bells") if "instead of 84" in line]
    assert len(slower) == 1
    assert slower[0].startswith("Findings 1 to 3 (")
    every = told(capsys, "--all", "14-engine-bells")
    assert any(line.startswith("Finding") and "that tempo mends this, too" in line for line in every)


@pytest.mark.parametrize("name", HARD)
def test_each_place_is_told_once_and_none_that_another_one_mends(name: str) -> None:
    for part in check_file(RECORDINGS / f"{name}.mid", remedies=True).files[0].parts:
        places, groups = places_of(part), together(places_of(part))
        assert sorted(numbers for group in groups for _, numbers in group) == sorted(
            numbers for _, numbers in places
        )
        firsts = [group[0][0] for group in groups]
        assert not any(one.mends(other) for one in firsts for other in firsts if one is not other)
        assert all(group[0][0].mends(other) for group in groups for other, _ in group[1:])


def test_where_a_note_has_no_string_the_tempo_is_not_blamed(
    capsys: pytest.CaptureFixture[str], tuned_lower: str
) -> None:
    lines = told(capsys, "--remedies", tuned_lower)
    assert "No tempo makes all of it playable: no string gives D1 (bar 1, beat 3)" in lines
    assert not any("half the tempo" in line for line in lines)
    cli.main(["check", "--remedies", tuned_lower, str(RECORDINGS / "01-slack-water.mid")])
    row = next(line for line in capsys.readouterr().out.splitlines() if "low.mid" in line)
    assert "no tempo" in row
