"""A printed pedalling, proofread: the marks as they stand, and what a proofreader would say about them."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from livepedal.advice.judging.report import PartReport
from livepedal.advice.proofreading.slips import Fault, Printed, Slip
from livepedal.harp import pitch_name
from livepedal.music.pedal_words import PedalMark
from livepedal.sources.text import clean
from livepedal.views import words
from livepedal.views.lines import Line
from livepedal.views.report.look import Look

MOST = 12  # slips that are shown unless all are asked for


def printed_lines(printed: Printed, part: PartReport, look: Look) -> Iterator[Line]:
    """The heading, the marks by bar, the slips in order of time."""
    count = words.counted(len(printed.marks), "mark")
    # One mark can move several pedals, and one that repeats the setting moves none.
    does = f"{'makes' if len(printed.marks) == 1 else 'make'} {words.changes(printed.changes)}"
    yield from look.heading("Printed pedalling", f": {count}, which {does}")
    places = [part.place(mark.us) for mark in printed.marks]
    marks = zip(places, printed.marks, strict=True)
    yield from look.bars((at.bar, f"beat {words.beat(at.beat)} {_pedals(mark)}") for at, mark in marks)
    if printed.before:
        yield from look.faint(f"Before the first mark {words.are(printed.before, 'change')} needed but not marked.")
    if not printed.faults:
        text = f"From the first mark on every pedal is right, and a {part.player} player has time for each change."
        yield from look.text(text, 2)
    shown = printed.faults if look.every else printed.faults[:MOST]
    for fault in shown:
        yield from look.text(sentence(fault, part, look), 2, hang=2)
    if left := len(printed.faults) - len(shown):
        yield from look.faint(f"and {words.counted(left, 'more mistake')}; --all shows all of them")


def _pedals(mark: PedalMark) -> str:
    """The pedals of a mark, with their foot where it is a change."""
    if mark.whole:
        return " ".join(pedal.at(position) for pedal, position in mark.stands)
    return ", ".join(f"{pedal.at(position)} {pedal.foot.value}" for pedal, position in mark.stands)


def sentence(fault: Fault, part: PartReport, look: Look) -> str:
    """A slip with its place: "bar 47, beat 3: the mark for F♯ is 1 beat too late: F♯ is needed in bar 47"."""
    return f"{words.where(part.place(fault.us))}: {_what(fault, part, look)}"


def _what(fault: Fault, part: PartReport, look: Look) -> str:
    letter = fault.pedal.letter
    name = fault.pedal.at(fault.position)
    other = "" if fault.other is None else fault.pedal.at(fault.other)
    there = "" if fault.other_us is None else _place(fault.other_us, fault.us, part)
    match fault.slip:
        case Slip.MISSING:
            return f"{name} is needed, but no mark has set it: the pedal has been at {other} since {there}"
        case Slip.LATE:
            return f"the mark for {name} is {_beats(fault, part)} too late: {name} is needed in {there}"
        case Slip.EARLY:
            return f"the mark for {name} is too early: {other} is still needed in {there}"
        case Slip.HURRIED:
            late = words.span(fault.needed - fault.available)
            return f"the mark for {name} is {late} too late for the {part.player} player ({words.figures(fault)})"
        case Slip.CONTRADICTED if fault.other_us == fault.us:
            return f"two marks at once: {name} and {other}"
        case Slip.CONTRADICTED:
            return f"the mark for {name} is contradicted by {other} in {there}, and no {letter} is played between them"
        case Slip.AUDIBLE:
            pitch = fault.pitch
            note = "" if pitch is None else f" of {clean(pitch_name(pitch, fault.other, look.middle_c))}"
            rest = words.span(fault.needed)
            return f"the change to {name} is audible: the string{note} has to sound for another {rest}"
        case _ if fault.other is fault.position:
            return f"the mark for {name} is not needed: the pedal is there already"
        case _:
            until = "again" if fault.other_us is None else f"before its next mark in {there}"
            return f"the mark for {name} is not needed: {letter} is not played {until}"


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
