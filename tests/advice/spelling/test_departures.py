"""Why a note has another name than the ordinary one: held against a plan of the whole part that has the ordinary one."""

from __future__ import annotations

import random

import pytest

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import judge_part, planner_for
from livepedal.advice.judging.report import PartReport
from livepedal.advice.spelling.departures import Departure, Drawback, departures
from livepedal.harp import Figures
from livepedal.harp.fifths import alteration, strings
from livepedal.model.feet.chords import Narrowing
from livepedal.model.plan.prepared import Music
from livepedal.music.parts import choose_parts
from livepedal.music.song import read_song
from tests.advice.making_midi import Struck, midi

FIGURES = Figures.builtin()
BASIS = Basis(FIGURES, FIGURES.instrument("47"))


def chromatic(seed: int) -> list[Struck]:
    """A random line of steps or of leaps, with other notes now and then."""
    rng = random.Random(seed)
    pace, stepping = rng.choice((0.2, 0.35, 0.5, 0.8, 1.2)), rng.random()
    pitch, at, struck = rng.randint(50, 75), 0.0, []
    for _ in range(rng.randint(16, 26)):
        steps = (-2, -1, 1, 2) if rng.random() < stepping else (-7, -5, -4, -3, 3, 4, 5, 7)
        pitch = min(max(pitch + rng.choice(steps), 40), 88)
        chord = tuple(sorted({pitch, *rng.sample(range(43, 86), rng.choice((0, 0, 0, 1, 2)))}))
        length = pace * rng.choice((0.5, 1, 1, 1, 2))
        struck.append((at, length * rng.choice((0.5, 0.9, 1.8)), chord))
        at += length
    return struck


def ordinary_names(report: PartReport, departure: Departure) -> dict[int, Narrowing]:
    """The ordinary names of the attacks of a place, as they are asked for."""
    asked, fifths = {}, iter(report.written)
    for attack, spellings in zip(report.music, report.plan.spellings, strict=True):
        notes = [(pitch, strings(fifth), fifth) for (pitch, _), fifth in zip(attack.notes, fifths, strict=False)]
        bar = report.time_map.place(attack.us + FIGURES.window.attack).bar
        if departure.first_bar <= bar <= departure.last_bar and any(
            one is not None and (one.pedal, one.position) not in names
            for one, (_, names, _) in zip(spellings, notes, strict=True)
        ):
            asked[attack.us] = tuple((pitch, names) for pitch, names, fifth in notes if abs(alteration(fifth)) < 2)
    return asked


@pytest.mark.parametrize("seed", range(2))
def test_the_ordinary_names_would_bring_what_the_reason_says(seed: int) -> None:
    looked = set()
    for number in range(6):
        (part,) = choose_parts(read_song(midi(("Harp", chromatic(6 * seed + number)), bpm=60), name="test"))
        report = judge_part(part, BASIS)
        planner = planner_for(BASIS)
        for departure in departures(report, BASIS):
            if departure.reason in (None, Drawback.AROUND):
                continue
            asked = ordinary_names(report, departure)
            music = Music(report.music, planner.chords, FIGURES.ringing, asked, report.written)
            bound = planner.plan(report.music, start_us=part.begin_us, asked=asked, music=music)
            minded = zip(Drawback, report.plan.minded, bound.minded, strict=False)
            worse = [(reason, other > own) for reason, own, other in minded if other != own]
            expected = [(departure.reason, True)]
            if departure.reason is Drawback.NOTHING:
                expected = [one for one in worse if not one[1]]
            assert worse[:1] == expected[:1], f"{number}: {departure}"
            looked.add(departure.reason)
    assert Drawback.UNPLAYABLE in looked
