"""Laws that the verdict must keep, whatever the music: slower, thinner, a quicker player are never worse.

They are stated for attacks that were gathered once and are then scaled or thinned, and speak of the first
attack that cannot be played. A release that counts as at an attack (keyboard legato) is moved there first:
how long fingers lie over does not grow with the tempo's beat, and whether it counts must not depend on an
attack that is thinned out.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import judge_part
from livepedal.harp import Figures, Player, Ringing
from livepedal.model.findings import Finding, Layer, Outcome
from livepedal.model.snapshot import Snapshot
from livepedal.model.watching import Monitor
from livepedal.music.attacks import Gathered, events_of
from livepedal.music.events import Event, NoteOn
from tests.judge import cpsat, passages
from tests.model import playing, real
from tests.music.tempo import scale

Music = tuple[Gathered, ...]
BUILTIN = Figures.builtin()
GATHERED = replace(BUILTIN, window=replace(BUILTIN.window, attack=0))
UNDYING = replace(GATHERED, ringing=Ringing(None))
HARP = BUILTIN.instrument("47")
FEET = (Layer.PEDALS, Layer.STRINGS)
WHOLE = tuple(Layer)
MS = 1_000
NEVER = 1 << 62
QUICK = settings(max_examples=60, derandomize=True)


# -- music -------------------------------------------------------------------------------------------------------------


@st.composite
def played(draw: st.DrawFn) -> Music:
    """Attacks of one to four notes on a few keys, detached, legato or held long; times in whole milliseconds."""
    keys = draw(st.lists(st.integers(48, 79), min_size=2, max_size=9, unique=True))
    gaps = draw(st.sampled_from([(100, 160, 200), (60, 250, 400), (300, 500, 700), (40, 1200, 90)]))
    now, found = 0, []
    for _ in range(draw(st.integers(2, 16))):
        now += draw(st.sampled_from(gaps))
        pitches = draw(st.lists(st.sampled_from(keys), min_size=1, max_size=4, unique=True))
        lengths = st.sampled_from((10, 50, 120, 240, 300, 900, 5000, None))
        ends = [draw(lengths) for _ in pitches]
        notes = tuple(
            (p, None if end is None else (now + end) * MS)
            for p, end in sorted(zip(pitches, ends, strict=True))
        )
        found.append(Gathered(now * MS, notes))
    return tuple(found)


@st.composite
def thrown(draw: st.DrawFn) -> Music:
    """The judge's random passages, long busy ones among them."""
    kind = draw(st.sampled_from(sorted(passages.KINDS)))
    passage = passages.draw(kind, draw(st.integers(0, 10_000)), draw(st.sampled_from((250, 500, 1000))) * MS)
    return tuple(
        Gathered(a.us // MS * MS, tuple((p, None if end is None else end // MS * MS) for p, end in a.notes))
        for a in playing.gathered(passage)
    )


@st.composite
def excerpts(draw: st.DrawFn) -> Music:
    """Stretches of the recordings and of scores, perhaps hurried."""
    rng = random.Random(draw(st.integers(0, 10_000)))
    return playing.gathered(real.cut(rng, [*real.RECORDINGS, *real.SCORES], 24))


def legato_moved(music: Music) -> Music:
    """The same with every release where it counts: at the next strike of its key, or at the attack that it
    lies over.
    """
    passage = real.passage_of(music)
    figures = replace(passages.PLAYERS["working"], overlap=BUILTIN.players[0].overlap)
    ends = cpsat.free_times(passage, figures, "held")
    return tuple(
        Gathered(attack.us, tuple((pitch, ends[k][pitch]) for pitch, _ in attack.notes))
        for k, attack in enumerate(music)
    )


SAME_STRING = 2  # semitones from flat to sharp
MUSIC = st.one_of(played(), thrown(), excerpts()).map(legato_moved)


# -- the first attack that cannot be played ----------------------------------------------------------------------------


def first_lost(music: Music, figures: Figures = GATHERED) -> tuple[int, ...]:
    """For each player, held and sliding, the moment (µs) of the first attack that cannot be played; NEVER
    where all can.
    """
    monitor = Monitor(figures, HARP, figures.players[1].name, FEET)
    for event in events_of(music):
        monitor.feed(event)
    monitor.finish()
    found = [NEVER] * 6
    for moment, outcomes in reversed(monitor.record.troubles):
        for player, outcome in enumerate(outcomes):
            if outcome >= Outcome.AUDIBLE:
                found[2 * player] = moment
            if outcome is Outcome.CANNOT:
                found[2 * player + 1] = moment
    return tuple(found)


def never_worse(good: Iterable[int | Fraction], bad: Iterable[int | Fraction]) -> bool:
    return all(a >= b for a, b in zip(good, bad, strict=True))


@QUICK
@given(MUSIC, st.sampled_from([Fraction(9, 8), Fraction(5, 4), Fraction(3, 2), Fraction(2), Fraction(7)]))
def test_slower_is_never_worse(music: Music, ratio: Fraction) -> None:
    slower = [NEVER if us == NEVER else us / ratio for us in first_lost(scale(music, ratio))]
    assert never_worse(slower, first_lost(music))


@QUICK
@given(MUSIC, st.data())
def test_one_note_fewer_is_never_worse(music: Music, data: st.DataObject) -> None:
    """Without slides this holds where the note's finger damps nothing: a string that still sounds when it comes back."""
    number = data.draw(st.integers(0, len(music) - 1))
    attack = music[number]
    gone = data.draw(st.integers(0, len(attack.notes) - 1))
    notes = attack.notes[:gone] + attack.notes[gone + 1 :]
    thinner = (*music[:number], *([Gathered(attack.us, notes)] if notes else []), *music[number + 1 :])
    pitch, since = attack.notes[gone][0], attack.us - max(player.damp for player in BUILTIN.players)
    damps = any(
        abs(other - pitch) <= SAME_STRING and (end is None or end > since)
        for before in music[:number]
        for other, end in before.notes
    )
    step = 2 if damps else 1  # the sliding ones alone, or all
    assert never_worse(first_lost(thinner)[step - 1 :: step], first_lost(music)[step - 1 :: step])


def test_without_the_finger_that_damps_it_a_string_sounds_on() -> None:
    # D4 is held; D♭4 is plucked on the same string, so D can move quietly. Left out, D moves under it for D♭5: B and C
    # have no string left that is C♯.
    ms = 1_000
    music = tuple(
        Gathered(us * ms, ((59, us * ms + 50 * ms), (60, us * ms + 50 * ms), (pitch, end)))
        for us, pitch, end in ((0, 62, None), (1_000, 61, 1_100 * ms), (2_000, 73, 2_100 * ms))
    )
    thinner = (music[0], music[2])
    working = slice(2, 4)  # held, sliding
    assert first_lost(music)[working] == (NEVER, NEVER)
    assert first_lost(thinner)[working] == (2_000 * ms, NEVER)


def players(shared: Player, *quicker: tuple[int, int]) -> Figures:
    """Three players alike but for flick and cycle (µs)."""
    made = tuple(
        replace(shared, name=name, flick=flick, cycle=cycle)
        for name, (flick, cycle) in zip(("relaxed", "working", "virtuoso"), quicker, strict=True)
    )
    return replace(GATHERED, players=made)


SPEEDS = st.tuples(st.integers(10, 500), st.integers(20, 1500))


@QUICK
@given(MUSIC, st.lists(SPEEDS, min_size=3, max_size=3))
def test_a_faster_player_is_never_worse(music: Music, speeds: list[tuple[int, int]]) -> None:
    """The built-in players side by side, and any three of which each is at least as quick in both ways as the
    one before.
    """
    flicks = sorted((flick for flick, _ in speeds), reverse=True)
    cycles = sorted((cycle for _, cycle in speeds), reverse=True)
    three = players(BUILTIN.players[1], *((f * MS, c * MS) for f, c in zip(flicks, cycles, strict=True)))
    for figures in (GATHERED, three):
        first = first_lost(music, figures)
        assert never_worse(first[2:], first[:-2])


@QUICK
@given(MUSIC)
def test_sliding_is_never_worse_than_held(music: Music) -> None:
    first = first_lost(music)
    assert never_worse(first[1::2], first[0::2])


@pytest.mark.slow
@QUICK
@given(
    st.one_of(played(), excerpts()), st.lists(st.sampled_from((-12, 0, 0, 12, 24)), min_size=12, max_size=12)
)
def test_octaves_do_not_matter_to_the_feet(music: Music, shifts: list[int]) -> None:
    """With dying away off, and away from the strings without pedals; a pitch class moves as a whole, so keys
    stay apart.
    """

    def within(pitch: int) -> int:
        return 48 + (pitch - 48) % 24  # some octave in which every shift stays between C1 and G7

    def moved(pitch: int) -> int:
        return within(pitch) + shifts[pitch % 12]

    def with_pitches(to: Callable[[int], int]) -> Music:
        found = []
        for attack in music:
            notes: dict[int, int | None] = {}
            for pitch, end in attack.notes:
                notes.setdefault(to(pitch), end)
            found.append(Gathered(attack.us, tuple(sorted(notes.items()))))
        return tuple(found)

    assert first_lost(with_pitches(moved), UNDYING) == first_lost(with_pitches(within), UNDYING)


@QUICK
@given(MUSIC)
def test_more_notes_never_improve_a_verdict(music: Music) -> None:
    """Neither late notes of the attack that is open, nor what comes after it, unsay that something cannot be
    played.
    """
    monitor = Monitor(GATHERED, HARP, only=FEET)
    counts = [(0, 0)] * 3
    for event in events_of(music):
        monitor.feed(event)
        now = [(count.unplayable, count.unplayable + count.audible) for count in monitor.counts()]
        assert all(a <= b and c <= d for (a, c), (b, d) in zip(counts, now, strict=True))
        counts = now


# -- live equals file --------------------------------------------------------------------------------------------------


def every(
    monitor: Monitor, events: Sequence[Event], disturb: Callable[[Monitor], Monitor] | None = None
) -> tuple[list[Finding], tuple[object, ...]]:
    """Every finding that the events make or revise, in order, and the rest of what the monitor says in the
    end.

    `disturb` may look at the monitor, or put another in its place, before each event.
    """
    found: list[Finding] = []
    for event in events:
        if disturb is not None:
            monitor = disturb(monitor)
        found += monitor.feed(event)
    found += monitor.finish()
    return found, (monitor.counts(), monitor.passages, monitor.record.troubles, monitor.attacks)


FILES = [*real.RECORDINGS, *real.SCORES]


@pytest.mark.parametrize("path", real.RECORDINGS, ids=lambda path: path.stem)
@pytest.mark.parametrize("player", ["working"])
def test_fed_one_by_one_a_file_gives_the_findings_of_check(path: Path, player: str) -> None:
    for part in real.parts_of(path):
        monitor = Monitor(BUILTIN, HARP, player)
        told = {finding.id: finding for finding in every(monitor, part.events)[0]}
        report = judge_part(part, Basis(BUILTIN, HARP, player))
        assert tuple(told.values()) == report.findings
        assert monitor.passages == report.passages


@pytest.mark.slow
@pytest.mark.parametrize("layers", [FEET, WHOLE], ids=["feet", "whole"])
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_nothing_that_is_done_meanwhile_changes_what_is_told(path: Path, layers: tuple[Layer, ...]) -> None:
    """Forks and snapshots at random moments: the same findings, revisions included."""
    if layers is WHOLE and "keyboard" in path.parts:
        pytest.skip("six whole players at once take minutes on that")
    rng = random.Random(path.stem)

    def disturb(monitor: Monitor) -> Monitor:
        chance = rng.random()
        if chance < 0.1:
            monitor.snapshot()
        elif chance < 0.15:
            old, monitor = monitor, monitor.fork()
            for pitch in (60, 61, 62):  # what the old one is fed now must not matter
                old.feed(NoteOn(old.now + 40 * MS, pitch))
        return monitor

    for part in real.parts_of(path):
        plain = every(Monitor(BUILTIN, HARP, only=layers), part.events)
        assert every(Monitor(BUILTIN, HARP, only=layers), part.events, disturb) == plain


@pytest.mark.slow
@QUICK
@given(MUSIC, st.randoms(use_true_random=False), st.sampled_from([FEET, WHOLE]))
def test_nor_on_generated_music(music: Music, rng: random.Random, layers: tuple[Layer, ...]) -> None:
    seen: list[tuple[Snapshot, str]] = []

    def disturb(monitor: Monitor) -> Monitor:
        if rng.random() < 0.1:
            seen.append((monitor.snapshot(), repr(monitor.snapshot())))
        return monitor.fork() if rng.random() < 0.2 else monitor

    events = events_of(music)
    plain = every(Monitor(BUILTIN, HARP, only=layers), events)
    assert every(Monitor(BUILTIN, HARP, only=layers), events, disturb) == plain
    assert all(repr(snapshot) == then for snapshot, then in seen)
