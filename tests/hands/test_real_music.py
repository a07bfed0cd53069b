"""Harp parts must not light up, keyboard music for beginners hardly. Skipped where the music is not there.

A verdict on these files is a fact about livepedal, not about the piece: nobody has had a harpist check them.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from livepedal.model.chords import Chords
from livepedal.music.attacks import Gathered, gather_held
from livepedal.music.parts import NoHarpTrack, choose_parts
from livepedal.music.song import read_song

from .playing import FIGURES, HARP, VIRTUOSO, WORKING, joint_outcomes

MUSIC = Path(__file__).parents[3] / "shared" / "music"
CHORDS = Chords(HARP)

pytestmark = pytest.mark.skipif(not MUSIC.is_dir(), reason="the music is not here")


def attacks_of(path: Path) -> tuple[Gathered, ...]:
    """A file as one harp part, without notes that no string gives or no setting holds."""
    song = read_song(path, name=path.name)
    try:
        parts = choose_parts(song)
    except NoHarpTrack:
        parts = choose_parts(song, [str(track.number) for track in song.tracks if track.notes], merge=True)
    if len(parts) > 1:
        parts = choose_parts(song, [str(track.number) for part in parts for track in part.tracks], merge=True)
    found = []
    for attack in gather_held(parts[0].events, FIGURES.attack_window):
        kept: list[tuple[int, int | None]] = []
        for note in attack.notes:
            if CHORDS.options[note[0]] is not None and CHORDS.ways(
                tuple(sorted([*(p for p, _ in kept), note[0]]))
            ):
                kept.append(note)
        if kept:
            found.append(Gathered(attack.us, tuple(kept)))
    return tuple(found)


def files(folder: str) -> list[Path]:
    return sorted((MUSIC / folder).glob("*.mid"))


@pytest.mark.parametrize("path", files("harp"), ids=lambda path: path.stem[:20])
def test_harp_parts_do_not_light_up(path: Path) -> None:
    assert not any(joint.failed for joint in joint_outcomes(attacks_of(path), WORKING, sliding=True))


def test_easy_music_hardly_lights_up() -> None:
    lit = [
        path.name
        for path in files("easy")
        if any(joint.failed for joint in joint_outcomes(attacks_of(path), VIRTUOSO, sliding=True))
    ]
    assert len(lit) <= 1
