"""Too much at once: nobody keeps up the quickest pedalling for long (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livepedal.advice.check import check_file
from livepedal.harp import LoadFigures
from livepedal.model.findings import Verdict
from livepedal.model.load import load
from livepedal.model.shares import Share, share_out
from livepedal.music.attacks import Attack
from tests.advice.making_midi import midi

from .playing import FIGURES, HARP, RELAXED, VIRTUOSO, WORKING, line, merged

S = 1_000_000
MUSIC = Path(__file__).parents[3] / "shared" / "music"


@given(
    st.lists(st.integers(-5, 60)),
    st.integers(1, 20),
    st.tuples(st.integers(0, 30), st.integers(0, 30)).map(sorted),
    st.sampled_from([0.1, 0.5, 1.0, 2.5]),
)
def test_the_densest_stretch_against_every_stretch(
    changes: list[int], span: int, passage: list[int], rate: float
) -> None:
    """Brute force: the changes of the passage in every stretch of this length, wherever it begins."""
    start, end = passage
    found = load(start, end, changes, replace(WORKING, sustained=rate * S), LoadFigures(span))
    there = [us for us in changes if start <= us <= end]
    assert found.changes == max(sum(a <= us <= a + span for us in there) for a in range(-30, 61))
    assert found.most == pytest.approx(rate * span)
    assert found.too_much is (found.changes > rate * span)
    if there:
        assert sum(found.start <= us <= found.end for us in there) == found.changes
        assert {found.start, found.end} <= set(there)
        assert found.end - found.start <= span


def test_the_figures_by_hand() -> None:
    """figures.toml: 1, 2 and 4 changes a second over six seconds; so 6, 12 and 24, and one more is too much."""
    assert FIGURES.loads.span == 6 * S
    for player, most in ((RELAXED, 6), (WORKING, 12), (VIRTUOSO, 24)):
        for more in (0, 1):
            changes = [n * 6 * S // (most + more) for n in range(most + more)]
            found = load(0, 10 * S, changes, player, FIGURES.loads)
            assert (found.changes, found.most) == (most + more, most)
            assert found.too_much is bool(more)
    # As many over a longer time are not.
    assert not load(0, 60 * S, [n * S for n in range(60)], WORKING, FIGURES.loads).too_much
    assert load(0, 60 * S, [], WORKING, FIGURES.loads).changes == 0


def test_a_chromatic_scale_is_not_playable_because_each_change_could_be_made() -> None:
    """Two octaves up and down (common practice, no source): at four notes a second no working harpist keeps up with the
    pedals, at one a second they do.
    """
    pitches = [*range(60, 84), *range(84, 59, -1)]
    for bpm, too_much in ((240, True), (60, False)):
        data = midi(("Harp", [(n, 1, (pitch,)) for n, pitch in enumerate(pitches)]), bpm=bpm)
        (part,) = check_file(data).files[0].parts
        assert bool(part.counts[1].too_much) is too_much
        assert (part.verdict >= Verdict.VIRTUOSO) is too_much


@pytest.mark.skipif(not MUSIC.is_dir(), reason="needs the real music")
def test_the_densest_harp_parts_are_not_too_much_and_chromatic_keyboard_music_is() -> None:
    for name in ("boulanger_matin_de_printemps", "mozart_k299_harpaallegro"):
        (part,) = check_file(MUSIC / "harp" / f"{name}.mid", only=["load"]).files[0].parts
        assert not part.counts[1].too_much, name
    path = MUSIC / "keyboard" / "mutopia_bachjs_bwv903fan.mid"
    (part,) = check_file(path, only=["load"], tracks=["1", "2"], merge=True).files[0].parts
    assert part.counts[1].too_much


def shares_of(*voices: tuple[object, ...]) -> tuple[Share, ...]:
    return share_out([attack.attack for attack in merged(*voices)], WORKING, HARP)  # type: ignore[arg-type]


def test_who_plays_what() -> None:
    """Bass to the left, melody to the right, and no crossing without need."""
    bass = line([36, 43, 40, 43] * 2, S // 2)
    melody = line([72, 74, 76, 77, 79, 77, 76, 74] * 2, S // 4)
    shares = shares_of(bass, melody)
    assert len(shares) == 16
    assert all(share.possible and not share.rolled for share in shares)
    for share in shares:
        assert all(pitch < 60 for pitch in share.left)
        assert all(pitch > 60 for pitch in share.right)


def test_an_arpeggio_is_shared_four_and_four() -> None:
    """Upwards over two octaves at 16 notes a second: each hand gets groups that it can place."""
    shares = shares_of(line([48, 52, 55, 60, 64, 67, 72, 76], S // 16))
    hands = ["L" if share.left else "R" for share in shares]
    assert hands == sorted(hands)
    assert set(hands) == {"L", "R"}


def test_what_cannot_be_played_is_shared_out_all_the_same() -> None:
    attacks = [Attack(0, (40, 64)), Attack(50_000, (36, 60, 84)), Attack(900_000, (60,))]
    shares = share_out(attacks, WORKING, HARP)
    assert [share.possible for share in shares] == [True, False, True]
    assert sorted(shares[1].left + shares[1].right) == [36, 60, 84]


def test_notes_that_no_string_gives_are_left_out() -> None:
    assert share_out([Attack(0, (10,)), Attack(S, (10, 60))], WORKING, HARP)[0].us == S


def test_a_line_alone_is_the_hands_that_it_lies_under() -> None:
    low, high = (shares_of(line([base + n for n in (0, 2, 4, 5, 7)], S)) for base in (36, 84))
    assert [share.left for share in low] == [(36,), (38,), (40,), (41,), (43,)]
    assert [share.right for share in high] == [(84,), (86,), (88,), (89,), (91,)]


def test_hands_do_not_cross_without_need() -> None:
    # Common practice, no source: the left hand, just above, is not left there while the right one plays below it.
    struck = ((0, (52,)), (130, (40, 42)), (190, (48, 50)), (250, (40,)), (350, (40,)))
    shares = share_out([Attack(ms * 1000, pitches) for ms, pitches in struck], WORKING, HARP)
    assert [(share.left, share.right) for share in shares[-3:]] == [((), (48, 50)), ((40,), ()), ((40,), ())]
