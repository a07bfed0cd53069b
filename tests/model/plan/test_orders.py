"""In which order one foot can make its changes, where they need different distances, against every permutation."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import permutations

import pytest

from livepedal.harp import Figures, Ringing
from livepedal.model.feet.chords import Chords
from livepedal.model.plan.orders import orderable, possible
from livepedal.model.plan.planner import Planner
from livepedal.model.plan.prepared import Music
from livepedal.model.plan.prices import CHANGE, PART
from livepedal.model.plan.search import Search
from livepedal.model.plan.stands import Move
from livepedal.model.plan.timing import Due, Moments, Timing, in_order
from livepedal.music.attacks import Gathered
from livepedal.music.beats import Beats
from livepedal.music.timemap import TimeMap
from livepedal.sources.raw import Division

FIGURES = Figures.builtin()
HARP = FIGURES.instrument("47")
RELAXED, WORKING, _ = FIGURES.players
MS = 1_000

Job = tuple[int, int, int]  # latest start, earliest start, distance from the start before


def starts_in(order: tuple[Job, ...]) -> list[int] | None:
    """The earliest starts in this order, or None where one comes too late."""
    starts: list[int] = []
    for latest, earliest, distance in order:
        start = max([earliest, *(before + distance for before in starts[-1:])])
        if start > latest:
            return None
        starts.append(start)
    return starts


def some_jobs(rng: random.Random) -> list[Job]:
    distances = rng.choice(((0,), (3,), (0, 3), (1, 2, 4)))
    jobs = []
    for _ in range(rng.randint(0, 5)):
        earliest = rng.randint(0, 10)
        jobs.append((earliest + rng.randint(-1, 6), earliest, rng.choice(distances)))
    return jobs


@pytest.mark.parametrize("seed", range(4))
def test_an_order_is_found_where_there_is_one(seed: int) -> None:
    rng = random.Random(seed)
    both = {True: 0, False: 0}
    for _ in range(400):
        jobs = some_jobs(rng)
        there_is = any(starts_in(order) is not None for order in permutations(jobs))
        starts = orderable(jobs)
        assert (starts is not None) is possible(jobs) is there_is, jobs
        both[there_is] += 1
        if starts is not None:
            # Whatever may start at one moment (distance 0) may go in either order.
            held = sorted(zip(starts, jobs, strict=True), key=lambda one: (one[0], one[1][2] == 0))
            for number, (start, (latest, earliest, distance)) in enumerate(held):
                assert earliest <= start <= latest, jobs
                assert number == 0 or start - held[number - 1][0] >= distance, jobs
    assert min(both.values()) > 40


def due(window: Job, widest: Job) -> Due:
    return Due(Move(0, 0, 1, window, False, False, True), window[0], window, widest, 0)


@pytest.mark.parametrize("seed", range(3))
def test_all_moves_are_kept_that_a_foot_has_time_for(seed: int) -> None:
    rng = random.Random(seed)
    widened = left_out = 0
    for _ in range(300):
        jobs = some_jobs(rng)
        moves = [due(job, (job[0], job[1] - rng.randint(0, 4), job[2])) for job in jobs if job[1] <= job[0]]
        kept, starts = in_order(moves)
        assert len(kept) == len(starts)
        for number, (one, start) in enumerate(zip(kept, starts, strict=True)):
            latest, earliest, distance = one.window
            assert earliest <= start <= latest
            assert number == 0 or start - starts[number - 1] >= distance
            assert one in moves or any(one == replace(move, window=move.widest) for move in moves)
        if any(starts_in(order) is not None for order in permutations([move.window for move in moves])):
            assert sorted(move.window for move in kept) == sorted(move.window for move in moves)
        elif any(starts_in(order) is not None for order in permutations([move.widest for move in moves])):
            # Widened as far as that takes, none need be left out.
            assert len(kept) == len(moves)
            widened += 1
        else:
            assert len(kept) < len(moves)
            left_out += 1
    assert min(widened, left_out) > 5


def test_moves_that_cannot_be_made_take_no_time() -> None:
    possible = due((9, 0, 3), (9, 0, 3))
    impossible = Due(possible.move._replace(possible=False), 9, (9, 0, 3), (9, 0, 3), 0)
    assert in_order([impossible, possible]) == ([possible], [0])


@pytest.mark.parametrize("seed", range(2))
def test_changes_go_as_late_as_they_may_and_leave_those_after_them_their_own(seed: int) -> None:
    rng = random.Random(seed)
    planner = Planner(WORKING, RELAXED, HARP, Ringing(None))
    several = 0
    for _ in range(200):
        moves = [due(job, job) for job in some_jobs(rng) if job[1] <= job[0]]
        kept, _ = in_order(moves)
        for beats in (Metre(), None):
            timing = Timing(Moments([], beats), planner.easy_lead, planner.easy_cycle)  # type: ignore[arg-type]
            changes = [one for one in timing.changes(moves) if one.possible]
            assert len(changes) == len(kept)
            for number, (one, change) in enumerate(zip(kept, changes, strict=True)):
                latest, earliest, distance = one.window
                assert earliest <= change.us <= latest
                assert number == 0 or change.us - changes[number - 1].us >= distance
        several += len(kept) > 2
    assert several > 30


def test_tight_is_what_the_relaxed_player_has_no_time_for() -> None:
    # figures.toml: the relaxed player needs 300 ms and 20 more before the attack, and gets round in a second.
    planner = Planner(WORKING, RELAXED, HARP, Ringing(None))

    def tight(*starts_and_attacks: tuple[int, int]) -> list[bool]:
        moves = [
            Due(
                Move(number, 0, 1, (start * MS, start * MS, 500 * MS), False, False, True),
                attack * MS,
                (start * MS, start * MS, 500 * MS),
                (start * MS, start * MS, 500 * MS),
                0,
            )
            for number, (start, attack) in enumerate(starts_and_attacks)
        ]
        timing = Timing(Moments([], None), planner.easy_lead, planner.easy_cycle)
        return [change.tight for change in timing.changes(moves)]

    assert tight((0, 320)) == [False]
    assert tight((0, 319)) == [True]
    assert tight((0, 2000), (1000, 2000)) == [False, False]
    assert tight((0, 2000), (999, 2000)) == [False, True]
    assert tight((0, 9000), (999, 9000), (1999, 9000)) == [False, True, False]


def test_no_bound_is_met_in_little_music() -> None:
    # G and A, then A flat with A: G has to move while it is held, or there is no time at all.
    planner = Planner(WORKING, RELAXED, HARP, Ringing(None))
    for gap in (2000, 300, 100):
        attacks = (
            Gathered(0, ((67, 50 * MS), (69, 50 * MS))),
            Gathered(gap * MS, ((68, None), (69, None))),
            Gathered(2 * gap * MS, ((67, None), (69, None))),
        )
        assert planner.plan(attacks).bounded == 0


@pytest.mark.parametrize(("attack", "audible", "tight"), [(2000, 0, 0), (370, 0, 1), (369, 1, 1)])
def test_a_change_in_time_to_the_microsecond(attack: int, audible: int, tight: int) -> None:
    # The strings are let go at 200 ms, and G♯5 is on another one, so nothing damps G4; a change takes the working player 150 ms and is over 20 ms before the note.
    planner = Planner(WORKING, RELAXED, HARP, Ringing(None))
    attacks = (
        Gathered(0, ((67, 200 * MS), (69, 200 * MS))),
        Gathered(attack * MS, ((69, None), (80, None))),
    )
    plan = planner.plan(attacks)
    assert (plan.unplayable, plan.audible, plan.tight) == (0, audible, tight)


def test_the_least_that_is_to_come_goes_on_from_where_a_change_led() -> None:
    # B, C and C♯ together have D at flat whichever strings they take, D itself has it at natural: two changes of one
    # notch, there and back, however often each is struck.
    struck = [(62,)] * 3 + [(71, 72, 73)] * 3 + [(62,)] * 3
    attacks = tuple(Gathered(k, tuple((pitch, None) for pitch in chord)) for k, chord in enumerate(struck))
    music = Music(attacks, Chords(HARP), Ringing(None))
    search = Search(music, WORKING, RELAXED)
    first = search.first(None, 0)
    assert first.least // CHANGE % PART == 2
    least = [
        search.rest(number)
        + sum(music.ahead(number, foot, (first.left, first.right)[foot].stand) for foot in (0, 1))
        for number in range(9)
    ]
    assert [one // CHANGE % PART for one in least] == [2, 2, 2, 1, 1, 1, 0, 0, 0]


class Metre:
    """Four beats of half a second a bar."""

    metre_known = True

    def bar_line(self, us: int) -> int:
        return us // (2000 * MS) * 2000 * MS

    def beat(self, us: int) -> int:
        return us // (500 * MS) * 500 * MS

    def length(self, us: int) -> int:
        return 500 * MS

    def bar_length(self, us: int) -> int:
        return 2000 * MS


def test_a_change_goes_into_the_rest_or_on_the_bar_line_or_on_the_beat() -> None:
    # harpists: in the rest, at the bar line, at the beginning of the beat before (common practice, no source)
    def attack(ms: int, until: int) -> Gathered:
        return Gathered(ms * MS, ((60, until * MS),))

    def best(attacks: list[Gathered], low: int, high: int, due: int) -> int:
        moments = Moments(attacks, Metre())  # type: ignore[arg-type]
        return moments.best(low * MS, high * MS, due * MS) // MS

    legato = [attack(0, 3000), attack(3000, 9000)]
    assert best(legato, 100, 2900, 3250) == 2000  # the bar line
    assert best(legato, 2100, 2900, 3250) == 2500  # the beat
    assert best(legato, 2600, 2900, 3250) == 2600  # none: as soon as it may
    assert best(legato, 700, 600, 3250) == 700
    assert best([attack(0, 2200), attack(3000, 9000)], 100, 2900, 3250) == 2500  # a beat in the rest
    assert best([attack(0, 2600), attack(3150, 9000)], 100, 2900, 3250) == 2600  # the rest, on no beat
    assert best([attack(0, 2000), attack(2500, 9000)], 100, 3400, 3600) == 2000  # not on its last beat, the next attack
    assert best([attack(0, 2900), attack(3000, 9000)], 100, 2950, 3250) == 2000  # too short to be a rest
    assert best([attack(0, 200), attack(1000, 9000)], 100, 6000, 7000) == 6000  # a short rest too long ago
    assert best([attack(0, 200), attack(4000, 9000)], 100, 8600, 9000) == 2000  # a rest of a bar, however long ago
    assert best(legato, 700, 4100, 4250) == 2000  # not on the bar line half a beat before
    unsaid = TimeMap(Division(per_quarter=480))
    for beats in (None, Beats(unsaid)):  # nobody says where the bars are: as soon as it may
        assert Moments(legato, beats).best(700 * MS, 2900 * MS, 3250 * MS) == 700 * MS


def test_left_and_right_go_together_where_they_can() -> None:
    timing = Timing(Moments([Gathered(0, ((60, 9000 * MS),))], Metre()), (0, 320 * MS, 410 * MS), 1000 * MS)  # type: ignore[arg-type]
    window, late = (2600 * MS, 0, 500 * MS), (3400 * MS, 2100 * MS, 500 * MS)
    changes = timing.changes(
        [
            Due(Move(0, 0, 1, window, False, False, True), 3000 * MS, window, window, 0),
            Due(Move(4, 0, 1, late, False, False, True), 3500 * MS, late, late, 0),
        ]
    )
    assert [change.us // MS for change in changes] == [2500, 2500]


def test_a_foots_changes_in_a_long_rest_stand_together() -> None:
    # harpists write a setting in the rest before an entry (common practice, no source): not one change a bar
    rest = Moments([Gathered(0, ((60, 200 * MS),)), Gathered(12_000 * MS, ((60, 13_000 * MS),))], Metre())  # type: ignore[arg-type]
    window = (11_600 * MS, 200 * MS, 500 * MS)
    dues = [
        Due(Move(pedal, 0, 1, window, False, False, True), 12_000 * MS, window, window, 0)
        for pedal in (3, 4, 5)
    ]
    changes = Timing(rest, (0, 320 * MS, 410 * MS), 1000 * MS).changes(dues)
    assert [change.us // MS for change in changes] == [8000, 9000, 10_000]
