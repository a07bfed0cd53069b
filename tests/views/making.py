"""Reports and snapshots made by hand, so that views are tested without the model behind them."""

from __future__ import annotations

from dataclasses import replace

from livepedal.advice.judging.report import Count
from livepedal.advice.report import CheckedPart, FileReport, Report
from livepedal.harp import Figures, HarpString, Pedal, Position, Setting, Spelling
from livepedal.model.findings import (
    Constraint,
    Finding,
    Kind,
    Layer,
    Outcome,
    Passage,
    PlayerCount,
    Reason,
    Verdict,
)
from livepedal.model.plan.planner import Plan
from livepedal.model.plan.timing import PedalChange
from livepedal.model.snapshot import ChangeView, NextNote, NoteView, PedalView, Snapshot
from livepedal.music.timemap import TimeMap
from livepedal.music.tracks import TrackInfo
from livepedal.views.dashboard.screen import Scene

SECOND = 1_000_000
STEADY = TimeMap.steady()  # 120 quarters a minute in 4/4: a bar lasts 2 s
FIGURES = Figures.builtin()


def spelling(letter: str, position: Position, octave: int) -> Spelling:
    return Spelling(HarpString(Pedal[letter], octave), position)


def finding(number: int = 1, us: int = 3 * SECOND, **changes: object) -> Finding:
    """G♯4, which comes 0.21 s after the string was let go; the change needs half a second."""
    reasons = (
        Reason(
            spelling("G", Position.SHARP, 4), Constraint.WANTED, "the G string is wanted", 500_000, 210_000
        ),
        Reason(spelling("A", Position.FLAT, 4), Constraint.SAME_LETTER, "A is in use", other_pitches=(69,)),
    )
    made = Finding(
        id=number,
        kind=Kind.PEDAL_TIME,
        layer=Layer.PEDALS,
        verdict=Verdict.VIRTUOSO,
        audible=False,
        us=us,
        pitches=(50, 68),
        note=68,
        player="working",
        pedal=Pedal.G,
        start=Position.NATURAL,
        goal=Position.SHARP,
        needed=500_000,
        available=210_000,
        reasons=reasons,
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def change(us: int, pedal: Pedal, start: Position, goal: Position, **flags: bool) -> PedalChange:
    return PedalChange(
        us,
        us + SECOND,
        pedal,
        start,
        goal,
        pedal.foot,
        audible=flags.get("audible", False),
        tight=flags.get("tight", False),
    )


def part(**changes: object) -> CheckedPart:
    plan = Plan(
        setting=Setting.parse("Db C Bb Eb F G"),
        changes=(
            change(SECOND, Pedal.G, Position.NATURAL, Position.SHARP),
            change(2 * SECOND, Pedal.B, Position.FLAT, Position.NATURAL, tight=True),
            change(3 * SECOND, Pedal.E, Position.FLAT, Position.NATURAL, audible=True),
        ),
        attacks=(),
        spellings=(),
        given_up=(SECOND,),
        audible=1,
        tight=1,
        bounded=0,
    )
    made = CheckedPart(
        name="Harp",
        tracks=(TrackInfo(2, "Harp", 46, 9),),
        notes=9,
        attacks=7,
        end=4 * SECOND,
        verdict=Verdict.VIRTUOSO,
        audible=False,
        player="working",
        outcome=Outcome.CANNOT,
        counts=(Count("relaxed", 2, 1, 3, {}), Count("working", 1, 1, 3, {}), Count("virtuoso", 0, 0, 3, {})),
        bounded=0,
        plan=plan,
        passages=(Passage(0, 4 * SECOND, 4 * SECOND, Verdict.VIRTUOSO, False, 7),),
        findings=(finding(),),
        time_map=STEADY,
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def report(*files: FileReport) -> Report:
    judged = files or (FileReport("ferry.mid", (part(),)),)
    return Report(FIGURES.instrument("47"), FIGURES.player("working"), judged)


def next_note(pitch_class: int) -> NextNote:
    """At 3 s: all now, but F♯ in 0.3 s, A♭ and A not while G♯ is held, A♭ and B♭ now if they may slide."""
    pedal, position = {
        0: (Pedal.B, Position.SHARP),
        1: (Pedal.D, Position.FLAT),
        3: (Pedal.E, Position.FLAT),
        6: (Pedal.F, Position.SHARP),
        8: (Pedal.A, Position.FLAT),
        10: (Pedal.B, Position.FLAT),
    }.get(pitch_class) or next((p, Position.NATURAL) for p in Pedal if p.natural % 12 == pitch_class)
    at, held, slides = {
        6: (3_300_000, (), 3_300_000),
        8: (None, (68,), 3 * SECOND),
        9: (9 * SECOND, (68,), 9 * SECOND),
        10: (3_700_000, (), 3 * SECOND),
    }.get(pitch_class, (3 * SECOND, (), 3 * SECOND))
    return NextNote(pitch_class, pedal, position, at, held, slides)


def snapshot(**changes: object) -> Snapshot:
    """In mid-passage: D not used, C undecided, G held, A changed lately, and G♯ went wrong."""
    flat, natural, sharp = Position
    pedals = (
        PedalView(Pedal.D, (), anywhere=True),
        PedalView(Pedal.C, (flat, natural), needed=170_000),
        PedalView(Pedal.B, (sharp,), sure=True, needed=170_000),
        PedalView(Pedal.E, (natural,), sure=True, ready_at=3_350_000, busy=True, needed=170_000),
        PedalView(Pedal.F, (natural,), sure=True, ready_at=3_060_000, needed=170_000),
        PedalView(Pedal.G, (sharp,), sure=True, ready_at=None, held_by=(68,), needed=170_000),
        PedalView(
            Pedal.A,
            (flat,),
            sure=True,
            changed=ChangeView(2_400_000, Pedal.A, natural, flat, 170_000, 300_000),
        ),
    )
    notes = (
        NoteView(2_000_000, 64, (spelling("E", natural, 4),)),
        NoteView(2_500_000, 60, (spelling("C", natural, 4), spelling("B", sharp, 3))),
        NoteView(3_000_000, 50, (spelling("D", natural, 3),)),
        NoteView(3_000_000, 68, (spelling("G", sharp, 4),)),
    )
    made = Snapshot(
        us=3 * SECOND,
        player="working",
        pedals=pedals,
        notes=notes,
        passage=Passage(0, 3 * SECOND, 3 * SECOND, Verdict.VIRTUOSO, False, 7, open=True),
        counts=(PlayerCount("relaxed", 3, 1), PlayerCount("working", 1, 0), PlayerCount("virtuoso", 0, 0)),
        findings=(finding(),),
        attacks=7,
        latest=Verdict.VIRTUOSO,
        changes=(ChangeView(2_500_000, Pedal.A, natural, flat, 170_000, 300_000),),
        next_notes=tuple(next_note(pitch_class) for pitch_class in range(12)),
    )
    return replace(made, **changes)  # type: ignore[arg-type]


def scene(**changes: object) -> Scene:
    made = Scene(snapshot=snapshot(), title="ferry.mid: Harp", place=STEADY.place, end=6 * SECOND)
    return replace(made, **changes)  # type: ignore[arg-type]
