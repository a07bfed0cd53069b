"""Harp parts must not light up, music for beginners hardly, and keyboard music does. Skipped where the music is not
there.

A verdict on these files is a fact about livepedal, not about the piece: nobody has had a harpist check them.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from livepedal.advice.check import check_file
from livepedal.advice.judging.report import Count, PartReport
from livepedal.music.parts import NoHarpTrack, choose_parts
from livepedal.music.song import read_song
from tests.places import MUSIC

from .playing import FIGURES

pytestmark = pytest.mark.skipif(not MUSIC.is_dir(), reason="the music is not here")


def checked(path: Path, player: str = "working") -> PartReport:
    """What `check` says of a file as one harp part, whether its tracks are the harp's or not."""
    song = read_song(path, name=path.name)
    try:
        tracks = {track.number for part in choose_parts(song) for track in part.tracks}
    except NoHarpTrack:
        tracks = {track.number for track in song.tracks if track.notes}
    wanted = tuple(str(number) for number in sorted(tracks))
    (part,) = check_file(path, player=player, figures=FIGURES, tracks=wanted, merge=True).files[0].parts
    return part


def count_of(part: PartReport, player: str) -> Count:
    return next(count for count in part.counts if count.player == player)


def files(folder: str) -> list[Path]:
    return sorted((MUSIC / folder).glob("*.mid"))


@pytest.mark.slow
@pytest.mark.parametrize("path", files("harp"), ids=lambda path: path.stem[:20])
def test_harp_parts_do_not_light_up(path: Path) -> None:
    part = checked(path)
    assert count_of(part, "working").unplayable == 0
    assert [finding for finding in part.findings if not finding.audible] == []
    # Nor was it because a search gave up.
    assert count_of(part, "working").undecided == 0


@pytest.mark.slow
def test_easy_music_hardly_lights_up() -> None:
    lit = [path.name for path in files("easy") if count_of(checked(path), "virtuoso").unplayable]
    assert len(lit) <= 1


@pytest.mark.slow
@pytest.mark.parametrize("path", files("keyboard"), ids=lambda path: path.stem[:20])
def test_keyboard_music_lights_up(path: Path) -> None:
    # Chromatic music for ten fingers and no pedals.
    part = checked(path)
    count = count_of(part, "working")
    assert count.unplayable + count.audible > 0
    # What is counted is what is found, attack by attack.
    assert len({f.us for f in part.findings if not f.audible and f.load is None}) == count.unplayable
    # What is not decided counts as no fault, and is the exception.
    assert count.undecided < count.unplayable
