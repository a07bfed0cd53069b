"""Why the hands, or a string, cannot: one sentence for people, with what it would take and what there is."""

from __future__ import annotations

from livepedal.harp import Instrument, pitch_name
from livepedal.model.hands import HandsFault, HandTrouble
from livepedal.model.repeats import StringFault


def hands_sentence(fault: HandsFault, middle_c: str = "C4") -> str:
    """What the hands cannot do. middle_c: what middle C is called."""
    hand = "left hand" if fault.left else "right hand"
    notes = _listed(fault.pitches, middle_c)
    times = f"{_seconds(fault.needed)} needed, {_seconds(fault.available)} there"
    match fault.kind:
        case HandTrouble.TOO_MANY:
            what = f"{len(fault.pitches)} notes at once are more than two hands have fingers for"
            return f"{what}, and there is no time to roll them ({times})" if fault.needed else what
        case HandTrouble.TOO_WIDE:
            what = f"no way to share the chord out lets both hands reach it ({hand}: {notes})"
            return f"{what}, and there is no time to roll it ({times})" if fault.needed else what
        case HandTrouble.TOO_FAR:
            return f"the {hand} has to go {fault.strings} strings beyond its reach for {notes} ({times})"
        case HandTrouble.TOO_FAST:
            return f"the {hand} cannot be placed again so soon for {notes} ({times})"


def string_sentence(fault: StringFault, instrument: Instrument, middle_c: str = "C4") -> str:
    """Why a string cannot be plucked again; D, G and A natural have no second string, and that is said."""
    name = pitch_name(fault.pitch, middle_c=middle_c)
    times = f"{_seconds(fault.needed)} needed, {_seconds(fault.available)} there"
    often = "a third time" if fault.often else "again"
    what = f"the string {fault.string.name} would be plucked {often} too soon for {name} ({times})"
    if fault.only:
        return f"{what}; no other string gives this note"
    others = [s for s in instrument.spellings(fault.pitch) if s.string != fault.string]
    named = " or ".join(s.named(middle_c) for s in others)
    return f"{what}, and {named} is no way out here"


def _listed(pitches: tuple[int, ...], middle_c: str) -> str:
    return " ".join(pitch_name(pitch, middle_c=middle_c) for pitch in pitches)


def _seconds(us: int) -> str:
    # Hundredths, needed rounded up and there rounded down would hide nothing; plain rounding reads best.
    return f"{us / 1_000_000:.2f} s"
