"""Why the hands, a string, or hands and feet together cannot play it: one clause, without times."""

from __future__ import annotations

from livepedal.harp import pitch_name
from livepedal.model.findings import Finding
from livepedal.model.hands import HandsFault, HandTrouble, StringFault
from livepedal.model.load import Load
from livepedal.music.wording import listed


def clause(finding: Finding, middle_c: str = "C4") -> str:
    """What is wrong, for a finding of the layers hands and load; "" for other layers."""
    if finding.hands is not None:
        return hands_clause(finding.hands, middle_c)
    if finding.string is not None:
        return string_clause(finding.string, middle_c)
    if finding.load is not None:
        return load_clause(finding.load)
    return ""


def hands_clause(fault: HandsFault, middle_c: str = "C4") -> str:
    """What the hands cannot do. middle_c: what middle C is called."""
    hand = "left hand" if fault.left else "right hand"
    notes = _listed(fault.pitches, middle_c)
    match fault.kind:
        case HandTrouble.TOO_MANY:
            what = f"{len(fault.pitches)} notes at once are too many for two hands"
            return f"{what}, and there is no time to roll them" if fault.needed else what
        case HandTrouble.TOO_WIDE:
            if not fault.needed:
                if not fault.pitches:
                    return "this chord is too wide for two hands, however it is shared"
                return f"{notes} are too wide for two hands, however they are shared"
            return f"{notes} are too wide for the {hand}, and there is no time to roll the chord"
        case HandTrouble.TOO_FAR:
            strings = "1 string" if fault.strings == 1 else f"{fault.strings} strings"
            return f"the {hand} must leap {strings} further than it spans to reach {notes}"
        case HandTrouble.TOO_FAST:
            return f"too fast for the {hand}: there is no time to place it on {notes}"
        case HandTrouble.LINE:
            rate = f"{fault.notes * 1_000_000 / fault.available:.0f} notes a second"
            most = f"{fault.notes * 1_000_000 / fault.needed:.0f}"
            return f"too fast for both hands: {rate}, and only {most} can be kept up"


def string_clause(fault: StringFault, middle_c: str = "C4") -> str:
    """Why a string cannot be plucked again, and whether a second string would help."""
    name = pitch_name(fault.pitch, middle_c=middle_c)
    what = f"{name} repeats too fast here"
    if not fault.others:
        return f"{what}, and no other string gives it"
    named = " or ".join(one.pedal.at(one.position) for one in fault.others)
    return f"{what}, and {named} does not help"


def load_clause(load: Load) -> str:
    """What is too much at once, and what the player could keep up."""
    pedals = "1 pedal change" if load.changes == 1 else f"{load.changes} pedal changes"
    span = f"{load.span / 1_000_000:g} s"
    return f"too much at once: at least {pedals} within {span}, and only {load.most} can be kept up"


def _listed(pitches: tuple[int, ...], middle_c: str) -> str:
    return listed([pitch_name(pitch, middle_c=middle_c) for pitch in pitches])
