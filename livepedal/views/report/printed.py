"""A printed pedalling, proofread: the marks as they stand, and what a proofreader would say about them."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import groupby

from livepedal.advice.judging.report import PartReport
from livepedal.advice.proofreading.slips import Fault, Printed, Slip
from livepedal.harp import pitch_name
from livepedal.music.pedal_words import PedalMark
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line, Tone, line
from livepedal.views.report.look import INDENT, Look, wrapped

MOST = 12  # slips that are told unless all are asked for


def printed_lines(printed: Printed, part: PartReport, look: Look) -> Iterator[Line]:
    """The heading, the marks by bar, the slips in order of time."""
    yield line()
    count = words.counted(len(printed.marks), "mark")
    yield line(
        (f"{INDENT}Printed pedalling", Tone.STRONG),
        (f": {count}, {words.counted(printed.changes, 'change')}", Tone.FAINT),
    )
    shown = [(part.place(mark.us), mark) for mark in printed.marks]
    width = max(len(str(place.bar)) for place, _ in shown)
    for bar, group in groupby(shown, key=lambda item: item[0].bar):
        cells = [f"beat {words.beat(place.beat)} {_stands(mark)}" for place, mark in group]
        head = f"{INDENT * 2}bar {bar:>{width}}  "
        yield from wrapped(" · ".join(cells), look, indent=head, hang=len(head))
    if printed.before:
        needed = "one change is" if printed.before == 1 else f"{printed.before} changes are"
        yield from wrapped(
            f"Before the first mark {needed} needed but not marked.", look, Tone.FAINT, INDENT * 2
        )
    if not printed.faults:
        text = f"From the first mark on every pedal is right, and a {part.player} player has time for each change."
        yield from wrapped(text, look, indent=INDENT * 2)
    told = printed.faults if look.every else printed.faults[:MOST]
    for fault in told:
        yield from wrapped(sentence(fault, part, look), look, indent=INDENT * 2, hang=3 * len(INDENT))
    if len(told) < len(printed.faults):
        yield from wrapped(
            f"and {len(printed.faults) - len(told)} more (--all)", look, Tone.FAINT, indent=INDENT * 2
        )


def _stands(mark: PedalMark) -> str:
    """The pedals of a mark, with their foot where it is a change."""
    if mark.whole:
        return " ".join(f"{pedal.letter}{position.sign}" for pedal, position in mark.stands)
    return ", ".join(f"{pedal.letter}{position.sign} {pedal.foot.value}" for pedal, position in mark.stands)


def sentence(fault: Fault, part: PartReport, look: Look) -> str:
    """A slip with its place: "bar 47, beat 3: F♯ is needed and was not set since F♮ in bar 41"."""
    return f"{words.where(part.place(fault.us))}: {_said(fault, part, look)}"


def _said(fault: Fault, part: PartReport, look: Look) -> str:
    letter = fault.pedal.letter
    name = f"{letter}{fault.position.sign}"
    other = "" if fault.other is None else f"{letter}{fault.other.sign}"
    there = "" if fault.other_us is None else _place(fault.other_us, fault.us, part)
    if fault.slip is Slip.MISSING:
        return f"{name} is needed, but the last mark is {other} in {there}"
    if fault.slip is Slip.LATE:
        return f"the mark for {name} is {_beats(fault, part)} too late: {name} is needed in {there}"
    if fault.slip is Slip.EARLY:
        return f"the mark for {name} is too early: {other} is still needed in {there}"
    if fault.slip is Slip.HURRIED:
        short = words.span(fault.needed - fault.available)
        return (
            f"the mark for {name} is {short} too late for the {part.player} player"
            f" ({words.span(fault.needed)} needed, {words.span(fault.available)} available)"
        )
    if fault.slip is Slip.CONTRADICTED:
        if fault.other_us == fault.us:
            return f"two marks at once: {name} and {other}"
        return f"the mark for {name} is contradicted by {other} in {there}, and no {letter} is played between them"
    if fault.slip is Slip.AUDIBLE:
        note = (
            "" if fault.pitch is None else f" of {clean(pitch_name(fault.pitch, fault.other, look.middle_c))}"
        )
        return f"the change to {name} is audible: the string{note} is still needed for {words.span(fault.needed)}"
    if fault.other is fault.position:
        return f"the mark for {name} is needless: {letter} is there already"
    until = "again" if fault.other_us is None else f"before its next mark in {there}"
    return f"the mark for {name} is needless: {letter} is not played {until}"


def _place(us: int, here: int, part: PartReport) -> str:
    """A moment seen from another: its bar, or bar and beat if the bar is the same."""
    place = part.place(us)
    return words.where(place) if place.bar == part.place(here).bar else f"bar {place.bar}"


def _beats(fault: Fault, part: PartReport) -> str:
    """How far a mark is behind its note, in beats of the metre there."""
    time_map, note = part.time_map, fault.other_us or 0
    per_quarter = time_map.division.per_quarter
    if per_quarter is None:
        return words.span(fault.us - note)
    ticks = time_map.tick(fault.us) - time_map.tick(note)
    beats = Fraction(ticks * time_map.metre(note)[1], 4 * per_quarter)
    return "1 beat" if beats == 1 else f"{words.beat(beats)} beats"
