"""Too much at once: the trade's fact that difficulty adds up in layers (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from livepedal.model.load import Load, Thin, load
from livepedal.model.shares import Share, share_out
from livepedal.music.attacks import Attack

from .playing import FIGURES, HARP, WORKING, line, merged

S = 1_000_000


def together(count: int, step: int) -> list[Share]:
    """Both hands strike together and go the same way."""
    return [Share(n * step, (48 + n % 5,), (72 + n % 5,), 0, False, True) for n in range(count)]


def contrary(count: int, step: int) -> list[Share]:
    """Both hands strike together, one goes up while the other goes down."""
    return [Share(n * step, (48 + n % 5,), (76 - n % 5,), 0, False, True) for n in range(count)]


def apart(count: int, step: int) -> list[Share]:
    """The hands have rhythms of their own."""
    return [
        Share(n * step, (48 + n % 5,) if n % 3 == 0 else (), (72 + n % 5,), 0, False, True)
        for n in range(count)
    ]


def in_turn(count: int, step: int) -> list[Share]:
    """One line, shared by the hands."""
    return [
        Share(n * step, *(((48 + n,), ()) if n // 4 % 2 == 0 else ((), (48 + n,))), 0, False, True)
        for n in range(count)
    ]


def of(shares: list[Share], changes: list[int]) -> Load:
    return load(0, 10 * S, changes, shares, WORKING, FIGURES.loads)


PEDALS = [n * S // 3 for n in range(30)]  # three changes a second
FEW = [0, 5 * S]


def test_with_many_pedal_moves_hands_that_move_together_are_safer() -> None:
    moving_together = of(together(40, S // 4), PEDALS)
    for independent in (contrary(40, S // 4), apart(40, S // 4)):
        assert of(independent, PEDALS).total > moving_together.total
        assert of(independent, PEDALS).too_much
    assert not moving_together.too_much


def test_hands_that_take_turns_are_one_line() -> None:
    assert of(in_turn(40, S // 4), PEDALS).troubles == 0


def test_with_few_pedal_moves_independent_hands_are_nothing_special() -> None:
    assert not of(apart(40, S // 4), FEW).too_much
    assert of(apart(40, S // 4), []).total == 0


def test_it_names_the_layer_to_thin_out() -> None:
    assert of(together(40, S // 4), PEDALS).thin is Thin.FEET
    assert of(contrary(80, S // 8), FEW).thin is Thin.HANDS


def test_the_busiest_stretch_counts() -> None:
    """A rest before and after does not thin out what lies between."""
    busy = of(apart(40, S // 4), PEDALS)
    later = load(0, 100 * S, [us + 40 * S for us in PEDALS], [
        Share(s.us + 40 * S, s.left, s.right, s.beyond, s.rolled, s.possible) for s in apart(40, S // 4)
    ], WORKING, FIGURES.loads)  # fmt: skip
    assert later.total == pytest.approx(busy.total)
    assert 40 * S <= later.start < later.end <= 50 * S


def test_the_formula_by_hand() -> None:
    """model/load.py: feet * (1 + hands) over the stretch, a stretch of [load] span that begins with a change."""
    span, second = FIGURES.loads.span, S
    assert (FIGURES.loads.feet, FIGURES.loads.hands, span) == (1, 2, 6 * second)
    both, one = ((48,), (72,)), ((), (72,))
    here = [Share(us * second, *hands, beyond, False, True) for us, hands, beyond in (
        (0, one, 0), (1, both, 0), (2, one, 0), (20, one, 0), (21, one, 1), (23, both, 0), (27, both, 2), (28, both, 0),
    )]  # fmt: skip
    # The busiest six seconds begin at 21 s: three changes, at both ends; a leap of one string at 21 s, both hands
    # after one at 23 s, and a leap of two at 27 s. The two troubles at 1 s and 2 s lie before.
    changes = [0, 21 * second, 24 * second, 27 * second, 27 * second + 1]
    found = load(0, 40 * second, changes, here, WORKING, FIGURES.loads)
    assert (found.start, found.end, found.changes, found.troubles) == (21 * second, 27 * second, 3, 3)
    assert (found.feet, found.hands, found.total) == (0.5, 0.25, 0.625)
    # What lies outside the passage is another one's.
    assert load(30 * second, 40 * second, changes, here, WORKING, FIGURES.loads).total == 0
    alone = load(24 * second, 25 * second, changes, here, WORKING, FIGURES.loads)
    assert (alone.end, alone.changes, alone.troubles) == (25 * second, 1, 0)


def test_only_more_than_the_players_figure_is_too_much() -> None:
    changes = [0] * 6
    for figure, too_much in ((1.0, False), (0.99, True)):
        assert load(0, S, changes, [], replace(WORKING, load=figure), FIGURES.loads).too_much is too_much


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
