"""Advice that stays until it is not wanted any more, and that can be acted on at once."""

from __future__ import annotations

from collections import Counter
from random import Random

import pytest

from livepedal.harp import Figures, Setting
from livepedal.model.findings import Finding, keep
from livepedal.model.instead import Case, Instead
from livepedal.model.watching import Monitor
from livepedal.music.events import NoteOff, NoteOn, SetPedals
from livepedal.sources.journal import Word
from livepedal.views import words

from .on_screen import Played

CLUSTER = (67, 68, 69)  # G, G♯ and A at once, which no setting holds
FIGURES = Figures.builtin()


def broken() -> Played:
    """A passage that is over and cannot be played."""
    played = Played()
    played.chord(60)
    played.chord(*CLUSTER)
    played.over()
    return played


# -- Advice that stays -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (200, 60)])
def test_advice_stays_beside_the_passage_that_goes_on(size: tuple[int, int]) -> None:
    played = broken()
    mend = played.chapters[-1].mend
    for pitch in (60, 62, 64):
        played.chord(pitch)
        said = "\n".join(played.screen(*size))
        assert "so far" in said
        assert "passage 1, 0.00 s to 0.60 s" in said
        assert mend[:40] in said
        assert len(played.screen(*size)) == size[1]


def test_it_is_dismissed_and_brought_back_full_size() -> None:
    played = broken()
    played.chord(60)
    played.key("\x1b")
    assert not any("passage 1," in row for row in played.screen())
    played.chord(62)
    assert not any("passage 1," in row for row in played.screen())  # and it stays away
    played.key("\r")
    said = "\n".join(played.screen())
    assert "passage 1: " in said
    assert "cannot be struck together with" in said
    played.key("\x1b")
    assert any(
        "passage 1, " in row for row in played.screen()
    )  # back to what is played, and it is wanted again


def test_only_a_later_passage_with_something_to_say_takes_its_place() -> None:
    played = broken()
    played.chord(60)
    played.over()
    played.chord(60)
    assert any("passage 1, " in row for row in played.screen())
    played.chord(*CLUSTER)
    played.over()
    played.chord(60)
    assert any("passage 2, " in row for row in played.screen()) is False
    assert any("passage 3, " in row for row in played.screen())


# -- What could be played instead ------------------------------------------------------------------------------------


def asked(*attacks: tuple[int, tuple[int, ...]], setting: str = "", quarter: int | None = None) -> Instead:
    """Attacks (ms, pitches), each released 50 ms later; what could be played instead of the last."""
    one = Monitor(FIGURES, FIGURES.instrument("47"))
    if setting:
        one.feed(SetPedals(0, Setting.parse(setting)))
    found = None
    for ms, pitches in attacks:
        for pitch in pitches:
            for finding in one.feed(NoteOn(ms * 1000, pitch, 64)):
                found = None if finding.withdrawn else Case.of(one, finding)
        for pitch in pitches:
            one.feed(NoteOff((ms + 50) * 1000, pitch))
    assert found is not None
    return found.instead(quarter)


def test_a_note_that_the_pedals_have_no_time_for_comes_later_or_not_at_all() -> None:
    """G, A♭, A in 0.2 s. By figures.toml a working player's pedal takes 0.15 s, and 0.02 s until the pluck, and it may
    slide 0.06 s after the pluck at the soonest, or once the key is up (0.05 s here): 0.22 s after the A♭.
    """
    instead = asked((0, (67,)), (100, (68,)), (200, (69,)))
    assert instead == Instead(69, later=200_000, without=(69,), every=True)
    assert asked((0, (67,)), (100, (68,)), (200, (69,)), quarter=600_000).later == 150_000
    assert asked((0, (67,)), (100, (68,)), (200, (69,)), quarter=480_000).later == 120_000


def test_a_string_that_repeats_too_fast_has_another_octave() -> None:
    instead = asked((0, (62,)), (55, (62,)))
    assert instead.octave == (62, 74)


def test_of_notes_that_no_setting_holds_one_is_left_out() -> None:
    instead = asked((0, CLUSTER))
    assert (instead.octave, instead.without, instead.every) == (None, (69,), False)


def unplayable(attacks: list[tuple[int, tuple[int, ...]]]) -> int:
    """How many attacks (µs, pitches; each released 50 ms later) a working player cannot play, in one go."""
    one = Monitor(FIGURES, FIGURES.instrument("47"))
    events: list[NoteOn | NoteOff] = []
    for us, pitches in attacks:
        events += [NoteOn(us, pitch, 64) for pitch in pitches]
        events += [NoteOff(us + 50_000, pitch) for pitch in pitches]
    for event in sorted(events, key=lambda event: (event.us, isinstance(event, NoteOn))):
        one.feed(event)
    one.finish()
    return one.counts()[1].unplayable


def test_what_is_offered_can_be_played() -> None:
    """Played from the beginning, with that attack as it is offered and nothing after it."""
    random = Random(19)
    offered = Counter[str]()
    for _ in range(60):
        step = random.choice((90_000, 140_000, 220_000))
        attacks = [
            (n * step, tuple(sorted(random.sample(range(40, 88), random.choice((1, 1, 2, 4))))))
            for n in range(8)
        ]
        one, case, known = Monitor(FIGURES, FIGURES.instrument("47")), None, 0
        for number, (us, pitches) in enumerate(attacks):
            found: dict[int, Finding] = {}
            for pitch in pitches:
                keep(found, one.feed(NoteOn(us, pitch, 64)))
            wrong = [finding for finding in found.values() if not finding.audible]
            if wrong:
                case, known = Case.of(one, wrong[-1]), number
                break
            for pitch in pitches:
                one.feed(NoteOff(us + 50_000, pitch))
        if case is None:
            continue
        (us, pitches), before = attacks[known], attacks[:known]
        assert unplayable([*before, (us, pitches)]) == 1
        instead = case.instead(None)
        if instead.octave is not None:
            changed = {*pitches} - {instead.octave[0]} | {instead.octave[1]}
            offered["octave"] += 1
            assert unplayable([*before, (us, tuple(sorted(changed)))]) == 0
        if instead.without:
            offered["without"] += 1
            assert unplayable([*before, (us, tuple(p for p in pitches if p not in instead.without))]) == 0
        if instead.later is not None:
            offered["later"] += 1
            rest = tuple(pitch for pitch in pitches if pitch != instead.note)
            assert unplayable([*before, (us, rest), (us + instead.later, (instead.note,))]) == 0
    assert min(offered[kind] for kind in ("octave", "without", "later")) > 3


def test_it_is_among_the_rows_that_there_are() -> None:
    """At 80x24 what went wrong has three rows, and this takes two to tell."""
    played = Played()
    played.chord(60)
    played.chord(*CLUSTER)
    rows = played.screen()
    at = next(number for number, row in enumerate(rows) if "cannot be struck together" in row)
    assert rows[at + 1].strip().startswith("instead: A4 0.3 s later")


def test_it_stands_beside_the_finding_and_in_its_line() -> None:
    played = Played(tempo=600_000)
    played.line(67, 68, 69, seconds=0.1)
    played.wait(0.1)
    said = "instead: A4 a semiquaver later, or a rest"
    assert any(said in row for row in played.screen())
    assert sum(said in line for line in played.lines) == 1


def test_no_note_is_put_where_another_one_already_stands() -> None:
    """A semiquaver is 0.15 s: C stands there, or a little before, and then all the longer delays are out too."""
    for wait in (0.05, 0.04):
        played = Played(tempo=600_000)
        played.line(67, 68, 69, seconds=0.1)
        played.wait(wait)
        played.chord(60)
        rows = played.screen()
        assert not any("A4 a semiquaver later" in row for row in rows)
        assert any("instead: a rest" in row for row in rows)


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (Instead(62, (62, 74), 100_000, None, (62,)), "instead: D5 for D4, or D4 0.1 s later, or without D4"),
        (Instead(62, None, 250_000, 500_000, (62, 65)), "instead: D4 a quaver later, or without D4 and F4"),
        (Instead(62, None, 500_000, 500_000, (62,), True), "instead: D4 a crotchet later, or a rest"),
        (Instead(62), ""),
    ],
)
def test_it_is_told_in_words(one: Instead, said: str) -> None:
    assert words.instead(one, "C4") == said


# -- Keeping ---------------------------------------------------------------------------------------------------------


def test_k_answers_at_once_and_knows_what_it_has_kept() -> None:
    played = Played()
    played.command(Word.KEEP)
    assert played.lines[-1] == "there is no passage to keep yet"
    played.chord(60)
    played.command(Word.KEEP)
    assert played.lines[-1] == "kept as session-passage-1.mid when it is over"
    played.command(Word.KEEP)
    assert played.lines[-1] == "this passage is already kept, as session-passage-1.mid"
    played.over()
    played.command(Word.KEEP)
    assert played.lines[-1] == "this passage is already kept, as session-passage-1.mid"
    assert [(take.number, number) for take, number in played.session.to_keep] == [(1, 0)]
    played.chord(62)
    played.over()
    played.command(Word.KEEP)
    assert played.lines[-1] == "kept as session-passage-2.mid"
    assert [(take.number, number) for take, number in played.session.to_keep] == [(1, 0), (1, 1)]
