"""Names of tracks that say harp, and names that do not. Common practice, no source."""

from __future__ import annotations

import pytest

from livepedal.music.names import says_harp


@pytest.mark.parametrize(
    "name",
    ["Harp", "HARP 1", "harps", "Harp1", "Harp_2", "harp-gliss", "Harp (Legato)", "Piano (or Harp)", "Arpa",
     "Arpa II", "arpe", "Harfe", "2 Harfen", "Harpe 1", "Harpes", "Hp. 1", "Hp.", "hp 2", "Hp I", "Hp",
     "ConcertHarp", "1st Harp", "Harp/Celesta", "Celtic Harp", "Mouth harp and Harp"],
)  # fmt: skip
def test_harps(name: str) -> None:
    assert says_harp(name)


@pytest.mark.parametrize(
    "name",
    ["Harpsichord", "F sharp", "Sharp", "Harpist", "Autoharp", "Jew's Harp", "Blues Harp", "Arpeggio",
     "Harpoon", "HP filter", "HPF", "php", "Chp. 1", "", "Flute", "Piano", "arpabc"],
)  # fmt: skip
def test_others(name: str) -> None:
    assert not says_harp(name)
