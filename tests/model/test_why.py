"""The reasons in a finding: the constraint that is named is the one that stands in the way.

On random passages that cannot be played, lifting the named constraint lets that spelling through, and lifting
nothing (or, where both are named, only one of the two) does not. And three reasons worked out by hand, with
their figures.
"""

from __future__ import annotations

import random
import re
from collections import Counter
from dataclasses import replace
from itertools import product

import pytest

from livepedal.harp import Figures, Pedal, Position
from livepedal.model.feet.chords import Chords, Sharing
from livepedal.model.feet.tracker import Tracker
from livepedal.model.findings import Constraint, Finding, Kind, Layer, Outcome, Reason, Verdict
from livepedal.model.watching import Monitor
from livepedal.model.why import lifted, ways_on
from livepedal.music.events import NoteOff, NoteOn
from tests.judge import passages
from tests.model import playing

BUILTIN = Figures.builtin()
HARP = BUILTIN.instrument("47")
CHORDS = Chords(HARP)
MS = 1_000
TIMED = {Constraint.WANTED, Constraint.FOOT_BUSY, Constraint.WANTED_AND_BUSY}


def tracker_of(monitor: Monitor, finding: Finding) -> Tracker:
    """The tracker whose readings before the attack the finding speaks of."""
    number = [player.name for player in monitor.players].index(finding.player)
    return monitor.feet.trackers[2 * number + (0 if finding.audible else 1)]


def upwards(*pitches: int) -> tuple[int, ...]:
    return tuple(sorted(set(pitches)))


def check(tracker: Tracker, finding: Finding, others: tuple[int, ...], reason: Reason) -> None:
    note, moment, pedal = finding.note, finding.us, reason.spelling.pedal
    together = ways_on(CHORDS, upwards(*others, note), note, pedal)
    alone = ways_on(CHORDS, (note,), note, pedal)

    def plays(ways: tuple[Sharing, ...], wanted: bool = False, busy: bool = False) -> bool:
        return lifted(tracker, ways, moment, CHORDS, pedal, wanted=wanted, busy=busy)

    # The spelling does fail.
    assert not together or not plays(together)
    if reason.constraint is Constraint.SAME_LETTER:
        # No setting holds it with the others; without the ones that are named one does.
        assert not together
        assert set(reason.other_pitches) <= set(others)
        spared = set(others) - set(reason.other_pitches)
        for one in reason.other_pitches if len(reason.other_pitches) < len(others) else [None]:
            left = spared if one is None else set(others) - {one}
            assert ways_on(CHORDS, upwards(*left, note), note, pedal)
        return
    if reason.constraint is Constraint.OTHER_NOTES:
        # By itself it could be played, and so it could without any one of those that are named.
        assert plays(alone)
        assert set(reason.other_pitches) <= set(others)
        for one in reason.other_pitches if len(reason.other_pitches) < len(others) else ():
            assert plays(ways_on(CHORDS, upwards(*(set(others) - {one}), note), note, pedal))
        return
    assert reason.constraint in TIMED
    # Where others are named, it is the note by itself that fails, else the whole attack.
    ways = alone if reason.other_pitches else together
    assert not plays(ways)
    if reason.constraint is Constraint.WANTED:
        assert plays(ways, wanted=True)
    elif reason.constraint is Constraint.FOOT_BUSY:
        assert plays(ways, busy=True)
    else:
        assert plays(ways, wanted=True, busy=True)
        assert not plays(ways, wanted=True)
        assert not plays(ways, busy=True)
    if reason.needed is not None:
        assert reason.available is not None
        assert reason.needed > reason.available >= 0


@pytest.mark.slow
def test_lifting_the_named_constraint_lets_the_spelling_through() -> None:
    rng = random.Random(0)
    met: Counter[Constraint] = Counter()
    kinds = [kind for kind in passages.KINDS if kind not in ("edges", "busy")]
    drawn = [
        (kinds[n % len(kinds)], rng.choice((250, 500, 1000)), rng.choice(BUILTIN.players).name)
        for n in range(180)
    ]
    # A quicker player's pedalling, where a slow one's feet and strings are both too late.
    drawn += [("tight", 250, "relaxed")] * 60 + [("busy", 250, "working")] * 4
    for number, (kind, pace, player) in enumerate(drawn):
        passage = passages.draw(kind, number, pace * MS)
        monitor = Monitor(replace(BUILTIN, window=replace(BUILTIN.window, attack=0)), HARP, player, (Layer.PEDALS,))
        arrived: list[int] = []
        opened = None
        for event in playing.events_of(passage):
            if isinstance(event, NoteOn):
                if event.us != opened:
                    opened, arrived = event.us, []
                if event.pitch not in arrived:
                    arrived.append(event.pitch)
            for finding in monitor.feed(event):
                others = tuple(pitch for pitch in arrived if CHORDS.options[pitch] is not None)
                others = others[: others.index(finding.note)]
                if not CHORDS.ways(upwards(*others)):
                    continue  # the notes before it were already too many for one setting
                tracker = tracker_of(monitor, finding)
                assert [reason.spelling for reason in finding.reasons] == [
                    spelling for spelling in HARP.spellings(finding.note) if not spelling.fixed
                ]
                for reason in finding.reasons:
                    check(tracker, finding, others, reason)
                    met[reason.constraint] += 1
    assert all(met[constraint] for constraint in TIMED | {Constraint.SAME_LETTER, Constraint.OTHER_NOTES}), (
        met
    )


def found(monitor: Monitor, *events: NoteOn | NoteOff) -> Finding:
    """The last finding that the events make."""
    last = None
    for event in events:
        for finding in monitor.feed(event):
            last = finding
    assert last is not None
    return last


def working() -> Monitor:
    return Monitor(BUILTIN, HARP, "working", (Layer.PEDALS,))


def test_a_string_that_is_wanted_until_just_before() -> None:
    # A♮ has one string only (follows from the pedals), so A♭ right after it is a change of A, or G♯ on the
    # G string, which G holds. The working player's change takes 150 ms, and is over 20 ms before the note:
    # 170 ms. A4 and G4 come up 100 ms before it, which is an octave higher: no finger comes back to them.
    finding = found(
        working(),
        NoteOn(0, 67),
        NoteOn(0, 69),
        NoteOff(1_000 * MS, 67),
        NoteOff(1_000 * MS, 69),
        NoteOn(1_100 * MS, 80),
    )
    # Not impossible: 60 ms after the pluck the string may be slid. The relaxed player's finding is audible
    # too.
    assert (finding.kind, finding.verdict, finding.audible) == (Kind.AUDIBLE, Verdict.PLAYABLE, True)
    on_g, on_a = finding.reasons
    assert (on_g.spelling.name, on_g.constraint) == ("G♯5", Constraint.WANTED)
    assert (on_a.spelling.name, on_a.constraint) == ("A♭5", Constraint.WANTED)
    for reason in (on_g, on_a):
        assert (reason.needed, reason.available, reason.free_at) == (170 * MS, 100 * MS, 1_000 * MS)
    assert finding.pedal in (Pedal.G, Pedal.A)
    assert (finding.needed, finding.available) == (170 * MS, 100 * MS)


def test_a_wire_string_that_is_still_loud() -> None:
    # G1 was let go 100 ms after its pluck, and is loud for longer than that (figures.toml), so G♯ half a second after
    # the pluck comes too soon for the pedal; A♭ is no way out, since A is struck with it. G3 is no wire string.
    def struck(g: int) -> tuple[NoteOn | NoteOff, ...]:
        return NoteOn(0, g), NoteOff(100 * MS, g), NoteOn(500 * MS, 69), NoteOn(500 * MS, 68)

    low = found(working(), *struck(31))
    on_g = low.reasons[0]
    assert (low.kind, on_g.spelling.name, on_g.constraint) == (Kind.AUDIBLE, "G♯4", Constraint.WANTED)
    assert on_g.why == "no time for G♮→G♯ while a low G string is still loud"
    assert on_g.free_at == BUILTIN.ringing.loud(31)
    other = working()
    for event in struck(55):
        assert other.feed(event) == ()


def test_a_foot_that_is_busy() -> None:
    # All seven letters are natural and up at 300 ms. Then F♯, G♯ and A at 800 ms: A♮ needs its string, so G♯
    # is a change of G, and F♯ beside it a change of F. Both are the right foot's, 500 ms apart, the last 170
    # ms before the attack, so the first could not start later than 130 ms; it may at 300 ms, which leaves the
    # second 170 ms too late.
    natural = (60, 62, 64, 65, 67, 69, 71)
    monitor = working()
    finding = found(
        monitor,
        *(NoteOn(0, pitch) for pitch in natural),
        *(NoteOff(300 * MS, pitch) for pitch in natural),
        NoteOn(800 * MS, 69),
        NoteOn(800 * MS, 68),
        NoteOn(800 * MS, 66),
    )
    assert (finding.note, finding.audible) == (66, True)
    on_f, on_g = finding.reasons
    # G♭ on the G string is no way out: G♯ is there, and A♭ would need the string of A.
    assert (on_g.spelling.name, on_g.constraint, on_g.other_pitches) == (
        "G♭4",
        Constraint.SAME_LETTER,
        (69, 68),
    )
    assert (on_f.spelling.name, on_f.constraint) == ("F♯4", Constraint.FOOT_BUSY)
    # The second round of the foot takes 500 ms; of that 500 - 170 ms are there.
    assert (on_f.needed, on_f.available) == (500 * MS, 330 * MS)
    assert (finding.pedal, finding.start, finding.goal) == (Pedal.F, Position.NATURAL, Position.SHARP)


def test_one_letter_for_two_notes() -> None:
    # G, A♭ and A are the only three neighbouring semitones that no setting holds (counted over all 2187 settings).
    finding = found(working(), NoteOn(0, 67), NoteOn(1 * MS, 69), NoteOn(2 * MS, 68))
    assert (finding.kind, finding.verdict) == (Kind.ONE_LETTER, Verdict.UNPLAYABLE)
    assert [reason.constraint for reason in finding.reasons] == [Constraint.SAME_LETTER] * 2
    assert [(reason.spelling.name, reason.other_pitches) for reason in finding.reasons] == [
        ("G♯4", (67,)),
        ("A♭4", (69,)),
    ]
    assert finding.needed is finding.available is None


def test_a_virtuoso_is_short_of_twenty_milliseconds_where_a_string_must_be_slid() -> None:
    # A and G together, and A♭ 160 ms after it while both are held. Sliding, the string is free 60 ms after
    # the pluck; a virtuoso's change takes 100 ms and 20 ms: 120 ms needed, 100 ms there.
    monitor = Monitor(BUILTIN, HARP, "virtuoso", (Layer.PEDALS,))
    finding = found(monitor, NoteOn(0, 67), NoteOn(0, 69), NoteOn(160 * MS, 80))
    assert (finding.kind, finding.verdict, finding.us) == (Kind.PEDAL_TIME, Verdict.UNPLAYABLE, 160 * MS)
    for reason in finding.reasons:
        assert (reason.constraint, reason.needed, reason.available) == (Constraint.WANTED, 120 * MS, 100 * MS)
        assert reason.free_at == 60 * MS
    # 20 ms later it can.
    later = Monitor(BUILTIN, HARP, "virtuoso", (Layer.PEDALS,))
    for event in (NoteOn(0, 67), NoteOn(0, 69), NoteOn(180 * MS, 80)):
        later.feed(event)
    later.finish()
    assert later.record.troubles == [(180 * MS, (Outcome.CANNOT, Outcome.CANNOT, Outcome.AUDIBLE))]


def test_what_no_setting_has_together_is_true_of_the_notes_that_are_named() -> None:
    """By trying all ways of spelling them; each note struck with it stands in the sentence as its spellings."""
    chance = random.Random(9)
    told = 0
    for _ in range(1_000):
        monitor = Monitor(BUILTIN, HARP, only=[Layer.PEDALS])
        chord = [NoteOn(0, pitch, 64) for pitch in chance.sample(range(48, 72), 5)]
        found = [finding for event in chord for finding in monitor.feed(event)]
        monitor.finish()
        for reason in (reason for finding in found for reason in finding.reasons):
            if reason.constraint is not Constraint.SAME_LETTER:
                continue
            told += 1
            one, others = reason.why.removeprefix("no pedal setting has ").split(" together with ")
            for way in product([one], *(other.split("/") for other in re.split(", | and ", others))):
                assert len({letter for letter, _ in map(tuple, way)}) < len(set(way)), reason.why
    assert told > 50
