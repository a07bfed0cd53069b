"""What could be struck next, held against the model itself: it is struck, in a fork, then and a moment before."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from livepedal.harp import Figures, HarpString, Pedal, Position, Setting
from livepedal.harp.ringing import Ringing
from livepedal.model.findings import Layer
from livepedal.model.snapshot import Snapshot
from livepedal.model.watching import Monitor
from livepedal.music.events import Event, NoteOff, NoteOn, SetPedals
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from tests.places import EVERY_RECORDING

FIGURES = Figures.builtin()
RECORDINGS = EVERY_RECORDING
MINUTE = 60_000_000


def monitor(player: str = "working", figures: Figures = FIGURES) -> Monitor:
    return Monitor(figures, figures.instrument("47"), player, only=[Layer.PEDALS])


def strike(before: Monitor, pitch_class: int, us: int) -> str:
    """How it goes when a note of this class is struck then and nothing happens until then: on whatever string
    of the class that was not heard lately, for the finger that comes back to one that sounds damps it (free.py).
    """
    fork = before.fork()
    fork.explain = None
    shown = before.snapshot()
    heard = {*before.keys.down, *(note.pitch for note in shown.notes)}
    pitch = next(p for p in range(29, 101) if p % 12 == pitch_class and heard.isdisjoint(range(p - 2, p + 3)))
    findings = fork.feed(NoteOn(us, pitch))
    if not findings:
        return "plays"
    return "audible" if findings[0].audible else "cannot"


def check(now: Monitor) -> int:
    """Every answer of this moment; how many are not "now"."""
    shown = now.snapshot()
    soonest = shown.us
    if now.open is not None:
        soonest = max(soonest, now.open.us + FIGURES.window.attack + 1)
    later = 0
    for note in shown.next_notes:
        assert (note.pedal.natural + note.position) % 12 == note.pitch_class
        if note.at is None:
            assert note.held_by
            assert set(note.held_by) <= set(now.keys.down)
            assert strike(now, note.pitch_class, soonest + 20 * MINUTE) != "plays"
            later += 1
        else:
            assert note.at >= soonest
            assert strike(now, note.pitch_class, note.at) == "plays"
            if note.at > soonest:
                later += 1
                assert strike(now, note.pitch_class, note.at - 1) != "plays"
        assert strike(now, note.pitch_class, note.slides_at) != "cannot"
        if note.slides_at > soonest:
            assert strike(now, note.pitch_class, note.slides_at - 1) == "cannot"
    return later


def moments(events: list[Event], now: Monitor, every: int, seed: int) -> Iterator[Monitor]:
    """The monitor after some of the events and some time."""
    rng = random.Random(seed)
    for number, event in enumerate(events):
        now.feed(event)
        if number % every == 0:
            after = events[number + 1].us if number + 1 < len(events) else event.us + MINUTE
            if after > event.us:
                now.advance(rng.randrange(event.us, min(after, event.us + 3_000_000)))
                yield now


def chromatic(seed: int, notes: int = 60) -> list[Event]:
    rng = random.Random(seed)
    us, timed = 0, []
    for _ in range(notes):
        us += rng.choice((10_000, 90_000, 200_000, 450_000, 1_100_000))
        pitch = rng.randrange(54, 74)
        end = us + rng.choice((30_000, 300_000, 2_000_000))
        timed += [
            (us, 1, NoteOn(us, pitch, source=len(timed))),
            (end, 0, NoteOff(end, pitch, source=len(timed))),
        ]
    return [event for *_, event in sorted(timed, key=lambda one: one[:2])]


@pytest.mark.slow
@pytest.mark.parametrize("path", RECORDINGS, ids=lambda path: path.stem)
def test_in_the_recordings(path: Path) -> None:
    for part in choose_parts(read_song(path)):
        for now in moments(list(part.events), monitor(), 31, 1):
            check(now)


@pytest.mark.slow
@pytest.mark.parametrize("player", ["relaxed", "working", "virtuoso"])
def test_in_chromatic_music(player: str) -> None:
    seen = sum(check(now) for seed in (1, 2) for now in moments(chromatic(seed), monitor(player), 5, seed))
    assert seen > 8


@pytest.mark.slow
@pytest.mark.parametrize("technique", ["two_at_once", "reach_across"])
def test_with_techniques(technique: str) -> None:
    players = tuple(replace(player, **{technique: True}) for player in FIGURES.players)
    figures = replace(FIGURES, players=players)
    assert sum(check(now) for now in moments(chromatic(5, 60), monitor("relaxed", figures), 9, 5)) > 4


def test_strings_that_never_die_away_have_to_be_let_go() -> None:
    """C, D and E are held as they stand; C♯ is on the C and D strings only, E♭ on the D and E strings."""
    now = monitor(figures=replace(FIGURES, ringing=Ringing(None)))
    now.feed(SetPedals(0, Setting.parse("D C B E F G A")))
    for pitch in (60, 62, 64):
        now.feed(NoteOn(0, pitch))
    now.advance(10 * MINUTE)
    check(now)
    notes = {note.pitch_class: note for note in now.snapshot().next_notes}
    for pitch_class, holding in ((1, {60, 62}), (3, {62, 64})):
        assert notes[pitch_class].at is None
        assert set(notes[pitch_class].held_by) < holding
    assert notes[2].at == 10 * MINUTE  # D itself
    assert (notes[10].pedal, notes[10].at) == (Pedal.B, 10 * MINUTE)  # B♭: nobody holds the B string
    now.feed(NoteOff(10 * MINUTE, 62))
    now.advance(10 * MINUTE + 100_000)
    notes = {note.pitch_class: note for note in now.snapshot().next_notes}
    assert notes[1].at == 10 * MINUTE + 170_000
    check(now)


def test_before_the_first_note_everything_can_be_struck() -> None:
    shown = monitor().snapshot()
    assert [note.pitch_class for note in shown.next_notes] == list(range(12))
    assert all(note.at == 0 and not note.held_by for note in shown.next_notes)


def test_the_time_of_one_change_by_hand() -> None:
    """All pedals natural, nothing held: F♯ takes a working player's flick and settle, 0.15 + 0.02 s, and so
    does G♭; seven letters at ♮ leave no other string for either.
    """
    now = monitor()
    now.feed(SetPedals(1_000_000, Setting.parse("D C B E F G A")))
    now.advance(1_000_000)
    notes = {note.pitch_class: note for note in now.snapshot().next_notes}
    assert notes[6].at == 1_170_000
    assert notes[0].at == 1_000_000
    assert (notes[6].position, notes[6].pedal) == (Position.FLAT, Pedal.G)
    check(now)


def test_pedals_say_when_they_could_move_and_what_holds_them() -> None:
    now = monitor()
    now.feed(SetPedals(0, Setting.parse("D C B E F G A")))
    now.feed(NoteOn(1_000_000, HarpString(Pedal.G, 4).natural))
    now.advance(1_100_000)
    pedal = now.snapshot().pedals[Pedal.G]
    assert pedal.held_by == (67,)
    assert pedal.needed == 170_000
    # As long as the key stays down, the string is wanted until it has died away.
    assert pedal.ready_at == 1_000_000 + FIGURES.ringing.ring(67) + 170_000
    now.feed(NoteOff(1_200_000, 67))
    now.feed(NoteOn(1_500_000, 68))  # G♯ or A♭
    now.advance(1_540_000)
    assert len(now.snapshot().pedals[Pedal.A].positions) == 2
    assert not now.snapshot().changes
    now.feed(NoteOff(1_550_000, 68))
    now.feed(NoteOn(1_600_000, 69))  # A♮, so soon that it was G♯: now that is certain
    now.advance(1_700_000)
    shown: Snapshot = now.snapshot()
    (change,) = (change for change in shown.changes if change.pedal is Pedal.G)
    assert (change.us, change.start, change.goal) == (1_500_000, Position.NATURAL, Position.SHARP)
    assert (change.needed, change.available) == (170_000, 300_000)
    assert shown.pedals[Pedal.G].changed == change


def test_changes_of_a_recording_have_the_time_that_was_worked_out_by_hand() -> None:
    """recordings/README.md, 05: G♮ to G♯ for 2.85, 6.45 s, with 0.255 s each (and for 7.65 s, which nothing settles)."""
    (path,) = (path for path in RECORDINGS if path.stem.startswith("05"))
    now = monitor()
    changes = {}
    for event in choose_parts(read_song(path))[0].events:
        now.advance(max(event.us - 1, 0))
        now.feed(event)
        changes |= {(c.us, c.pedal): c for c in now.snapshot().changes}
    to_sharp = [c for c in changes.values() if c.pedal is Pedal.G and c.goal is Position.SHARP]
    assert [(c.us, c.available) for c in to_sharp][:2] == [(2_850_000, 255_000), (6_450_000, 255_000)]
    assert all(c.needed == 170_000 for c in to_sharp)


def test_a_change_under_a_held_string_had_no_time() -> None:
    """recordings/README.md, 12: G3 is down while G♯4 is struck. The readings that go on are those in which the pedal
    slides; the time they have is not what there was without a slide. And G, once used, is never "not used" again.
    """
    (path,) = (path for path in RECORDINGS if path.stem.startswith("12"))
    now = monitor()
    seen = []
    for event in choose_parts(read_song(path))[0].events:
        now.advance(max(event.us - 1, 0))
        now.feed(event)
        seen.append(now.snapshot().pedals[Pedal.G].positions)
    now.finish()
    shown = now.snapshot()
    (change,) = (change for change in shown.changes if change.pedal is Pedal.G)
    (told,) = shown.findings
    assert (change.us, change.available) == (told.us, 0)
    assert told.available == 0
    first = next(number for number, positions in enumerate(seen) if positions)
    assert all(seen[first:])
    assert shown.pedals[Pedal.G].positions == (Position.SHARP,)
