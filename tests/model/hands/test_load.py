"""Too much at once: nobody keeps up the quickest pedalling for long (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from livepedal.advice.check import check_file
from livepedal.harp import LoadFigures
from livepedal.model.findings import Verdict
from livepedal.model.load import load
from tests.advice.making_midi import midi
from tests.places import MUSIC

from .playing import FIGURES, RELAXED, VIRTUOSO, WORKING

S = 1_000_000


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
    assert FIGURES.load.span == 6 * S
    for player, most in ((RELAXED, 6), (WORKING, 12), (VIRTUOSO, 24)):
        for more in (0, 1):
            changes = [n * 6 * S // (most + more) for n in range(most + more)]
            found = load(0, 10 * S, changes, player, FIGURES.load)
            assert (found.changes, found.most) == (most + more, most)
            assert found.too_much is bool(more)
    # As many over a longer time are not.
    assert not load(0, 60 * S, [n * S for n in range(60)], WORKING, FIGURES.load).too_much
    assert load(0, 60 * S, [], WORKING, FIGURES.load).changes == 0


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


@pytest.mark.slow
@pytest.mark.skipif(not MUSIC.is_dir(), reason="needs the real music")
def test_the_densest_harp_parts_are_not_too_much_and_chromatic_keyboard_music_is() -> None:
    for name in ("boulanger_matin_de_printemps", "mozart_k299_harpaallegro"):
        (part,) = check_file(MUSIC / "harp" / f"{name}.mid", only=["load"]).files[0].parts
        assert not part.counts[1].too_much, name
    path = MUSIC / "keyboard" / "mutopia_bachjs_bwv903fan.mid"
    (part,) = check_file(path, only=["load"], tracks=["1", "2"], merge=True).files[0].parts
    assert part.counts[1].too_much
