"""Names of tracks that say harp, and names that do not. Common practice, no source."""

from __future__ import annotations

import pytest

from livepedal.music.names import family, says_hand, says_harp, shares_its_name


@pytest.mark.parametrize(
    "name",
    ["Harp", "HARP 1", "harps", "Harp1", "Harp_2", "harp-gliss", "Harp (Legato)", "Piano (or Harp)", "Arpa",
     "Arpa II", "arpe", "Harfe", "2 Harfen", "Harpe 1", "Harpes", "Hp. 1", "Hp.", "hp 2", "Hp I", "Hp",
     "ConcertHarp", "1st Harp", "Hrp", "Hrp.", "Hrp 1", "Hfe", "Hfe. 2", "Arfa", "Arp.", "Arp. 2", "1ère Harpe", "Harp/Celesta", "Celtic Harp", "Mouth harp and Harp"],
)  # fmt: skip
def test_harps(name: str) -> None:
    assert says_harp(name)


@pytest.mark.parametrize(
    "name",
    ["Harpsichord", "F sharp", "Sharp", "Harpist", "Autoharp", "Jew's Harp", "Blues Harp", "Arpeggio",
     "Harpoon", "Arp", "Arp 2", "HP filter", "HPF", "php", "Chp. 1", "", "Flute", "Piano", "arpabc"],
)  # fmt: skip
def test_others(name: str) -> None:
    assert not says_harp(name)


def test_a_harp_that_is_counted_before_its_name_has_its_staves_counted_behind_it() -> None:
    one, other = family("1ère Harpe 1"), family("1ère Harpe 2")
    assert one == other
    assert one != family("2ème Harpe")
    assert family("2ème Harpe 1")[0] == family("2ème Harpe")[0]
    assert family("1. Harfe 2")[0] == "1 harfe"
    assert family("Harfe 1") != family("Harfe 2")


def test_a_name_that_is_shared() -> None:
    for name in ("Harp/str", "HARP/horn", "oboe2/harp", "Harp and Celesta", "Harfe + Streicher"):
        assert shares_its_name(name), name
    for name in ("Harp", "Harp 1", "Harp & Harp 2", "Harp (Legato)", "Harp, upper", "Flute/oboe", "Harp 1/2"):
        assert not shares_its_name(name), name


def test_hands_and_staves() -> None:
    for name in (
        "upper",
        "lower:1",
        "RH",
        "L.H.",
        "right hand",
        "Piano_left",
        "linke Hand",
        "main gauche",
        "m.d.",
    ):
        assert says_hand(name), name
    for name in ("", "Piano", "Upright", "Flute", "Rhodes"):
        assert not says_hand(name), name
