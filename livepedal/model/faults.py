"""The findings of one attack, made from what the searches know: which note broke it, and on what.

`make` makes a finding about the attack: what is still open is its kind, its note and its figures.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from livepedal.model.feet.chords import Chords
from livepedal.model.feet.tracker import Tracker
from livepedal.model.feet.tunings import Tunings, called
from livepedal.model.findings import Constraint, Finding, Kind, Layer, Outcome, Reason, Verdict, grade
from livepedal.model.hands import HandsFault, HandTrouble, StringFault
from livepedal.model.load import Busiest

HAND_KINDS = {
    HandTrouble.TOO_MANY: Kind.TOO_MANY,
    HandTrouble.TOO_WIDE: Kind.TOO_WIDE,
    HandTrouble.TOO_FAR: Kind.TOO_FAR,
    HandTrouble.TOO_FAST: Kind.TOO_FAST,
    HandTrouble.LINE: Kind.TOO_FAST,
}
Make = Callable[..., Finding]


def pedals_finding(make: Make, tracker: Tracker, chords: Chords, strung: Sequence[int], us: int) -> Finding:
    """What the feet cannot do in the attack at `us` (µs), without its reasons (why.py).

    Args:
        make: see the head of this file.
        tracker: that could not play it, with the readings from before it.
        chords: of the instrument.
        strung: its notes in the order of arrival.
        us: its moment.
    """
    # The first note in the order of arrival with which no setting holds the attack, or it cannot be played.
    one_letter = not chords.ways(tuple(sorted(strung)))
    count = next(
        n
        for n in range(1, len(strung) + 1)
        if not (ways := chords.ways(tuple(sorted(strung[:n]))))
        or not (one_letter or tracker.attempt(tracker.before, ways, us))
    )
    kind = Kind.PEDAL_TIME if tracker.sliding else Kind.AUDIBLE
    return make(kind=Kind.ONE_LETTER if one_letter else kind, note=strung[count - 1])


def hands_finding(
    make: Make, faults: tuple[HandsFault | None, StringFault | None], strung: Sequence[int]
) -> Finding:
    """What the hands cannot do, or a string cannot. strung: the notes in the order of arrival."""
    hands, string = faults
    if hands is None:
        assert string is not None
        kind, note, needed, available = Kind.STRING_AGAIN, string.pitch, string.needed, string.available
        return make(kind=kind, note=note, needed=needed, available=available, string=string)
    note = next((pitch for pitch in reversed(strung) if pitch in hands.pitches), strung[-1])
    times = {"needed": hands.needed, "available": hands.available} if hands.needed else {}
    return make(kind=HAND_KINDS[hands.kind], note=note, hands=hands, **times)


def strings_finding(make: Make, note: int, tunings: Tunings) -> Finding:
    """A note that no string of this harp gives, or only one without a pedal, tuned otherwise."""
    stands, above = tunings.stands(note), tunings.above(note)
    if stands is not None:
        spelling, position, used = stands
        string = spelling.string
        why = f"the {called(string)} has no pedal and is tuned to {string.pedal.letter}{position.sign}"
        reason = Reason(spelling, Constraint.NO_PEDAL, why, other_us=used)
    elif above is not None:
        why = f"the {called(above.string)} has no pedal, and tuning it up strains it"
        reason = Reason(above, Constraint.NO_PEDAL, why)
    else:
        return make(kind=Kind.RANGE, note=note)
    return make(kind=Kind.NO_PEDAL, note=note, reasons=(reason,))


def bearable(busiest: Busiest) -> Verdict:
    """The verdict on a passage with this busiest part."""
    relaxed, working, virtuoso = (Outcome.CANNOT if no else Outcome.PLAYS for no in busiest.too_much)
    return grade((relaxed, working, virtuoso))[0]


def load_finding(identity: int, busiest: Busiest, number: int, player: str) -> Finding:
    """What is too much at once in a passage for a player (0 to 2) of this name."""
    loads, pitches = busiest.loads()
    return Finding(
        identity,
        Kind.TOO_MUCH,
        Layer.LOAD,
        bearable(busiest),
        audible=False,
        us=loads[number].start,
        pitches=tuple(sorted(pitches)),
        note=max(pitches),
        player=player,
        load=loads[number],
    )
