"""When the changes of a plan are made. Four crotchets a bar, half a second each; where harpists move their pedals is
common practice, no source, but for the setting for what follows: printed parts have it in the rest before the entry.
"""

from __future__ import annotations

from itertools import pairwise

from livepedal.harp import Figures, Foot, Pedal
from livepedal.model.plan.planner import Plan, Planner
from livepedal.music.attacks import Gathered
from livepedal.music.beats import Beats
from livepedal.music.timemap import Division, Metre, TimeMap

BUILTIN = Figures.builtin()
RELAXED, WORKING, _ = BUILTIN.players
BEAT = 500_000
BAR = 4 * BEAT
BEATS = Beats(TimeMap(Division(per_quarter=480), metres=[Metre(0, 4, 4)]))


def planned(*chords: tuple[float, float, tuple[int, ...]]) -> Plan:
    """The plan of chords, each with its moment and its length in beats from the beginning."""
    attacks = [
        Gathered(round(at * BEAT), tuple((pitch, round((at + length) * BEAT)) for pitch in pitches))
        for at, length, pitches in chords
    ]
    return Planner(WORKING, RELAXED, BUILTIN.instrument("47"), BUILTIN.ringing).plan(attacks, beats=BEATS)


def test_a_long_rest_is_where_the_setting_for_what_follows_is_made() -> None:
    # A flat major; eight bars' rest; then A major, whose notes come one after the other over two bars.
    flats = (0, 4, (56, 60, 63)), (4, 4, (56, 61, 65, 70))
    sharps = (40, 2, (57, 61, 64)), (42, 2, (59, 62, 66)), (44, 2, (61,)), (46, 1, (62, 66)), (47, 1, (69,))
    plan = planned(*flats, *sharps)
    assert {change.pedal for change in plan.changes} >= {Pedal.A, Pedal.B, Pedal.D}
    assert all(8 * BEAT <= change.us < 40 * BEAT for change in plan.changes)
    assert all(change.us % BEAT == 0 for change in plan.changes)
    for foot in Foot:
        own = [change.us for change in plan.changes if change.foot is foot]
        assert all(after - before >= RELAXED.cycle for before, after in pairwise(own))


def test_a_change_comes_a_beat_before_its_note_at_the_latest_where_its_string_is_free() -> None:
    # F sharp on beat 1¾ of the second bar; F natural was over on beat 3 of the first.
    triads = [(float(at), 1.0, (60, 64, 67)) for at in range(1, 4)]
    plan = planned((0, 2, (60, 65)), *triads, (4, 0.5, (67,)), (4.75, 0.5, (66,)))
    (change,) = plan.changes
    assert (change.pedal, change.us) == (Pedal.F, 3 * BEAT)


def test_where_the_string_is_free_too_late_for_that_it_comes_on_the_last_beat() -> None:
    # The same with F natural until just before the bar line.
    plan = planned((0, 3.75, (60, 65)), (4, 0.5, (67,)), (4.75, 0.5, (66,)))
    (change,) = plan.changes
    assert (change.pedal, change.us) == (Pedal.F, BAR)


def test_a_change_that_is_heard_comes_as_late_as_the_foot_allows() -> None:
    # G3 and A2 are held for a bar, so no string gives G sharp 4 without a slide, which is loudest right after the pluck
    # (Canton & Overlach, read).
    (heard,) = planned((0, 4, (45, 55)), (2, 1, (68,))).changes
    assert heard.audible
    assert heard.us == 2 * BEAT - RELAXED.flick - RELAXED.settle  # at ease
