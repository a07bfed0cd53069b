"""The findings of one attack, made from what the searches know: which note broke it, on what, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from livepedal.harp import Instrument, Player
from livepedal.model.feet.chords import Chords
from livepedal.model.feet.tracker import Tracker
from livepedal.model.feet.tunings import Tunings, called
from livepedal.model.findings import Constraint, Finding, Kind, Layer, Outcome, Reason, grade
from livepedal.model.hands import HandsFault, HandTrouble, StringFault
from livepedal.model.record import Judged
from livepedal.model.why import explain

HAND_KINDS = {
    HandTrouble.TOO_MANY: Kind.TOO_MANY,
    HandTrouble.TOO_WIDE: Kind.TOO_WIDE,
    HandTrouble.TOO_FAR: Kind.TOO_FAR,
    HandTrouble.TOO_FAST: Kind.TOO_FAST,
    HandTrouble.LINE: Kind.TOO_FAST,
}
Outcomes = tuple[Outcome, Outcome, Outcome]


@dataclass(frozen=True, slots=True)
class Where:
    """The attack that findings are about.

    Attributes:
        outcomes: of the three players in the layer at stake.
    """

    us: int
    pitches: tuple[int, ...]
    player: str
    outcomes: Outcomes
    audible: bool
    outcome: Outcome = Outcome.CANNOT  # of the player whose findings these are

    @classmethod
    def of(cls, attack: Judged, layer: Layer, number: int, player: Player) -> Where:
        """An attack that was judged.

        Args:
            attack: the attack.
            layer: the layer that is meant.
            number: of the player (0: the slowest).
            player: that player.
        """
        outcomes = attack.outcomes[layer]
        outcome = outcomes[number]
        return cls(
            attack.us,
            tuple(sorted(attack.pitches)),
            player.name,
            outcomes,
            outcome is Outcome.AUDIBLE,
            outcome,
        )

    def finding(self, kind: Kind, layer: Layer, note: int) -> Finding:
        """A finding about it, without its figures and reasons; its id comes later (monitor.py)."""
        return Finding(
            id=0,
            kind=kind,
            layer=layer,
            verdict=grade(self.outcomes)[0],
            audible=self.audible,
            us=self.us,
            pitches=self.pitches,
            note=note,
            player=self.player,
        )


def pedals_finding(
    where: Where,
    tracker: Tracker,
    chords: Chords,
    instrument: Instrument,
    strung: Sequence[int],
    one_letter: bool,
    explains: bool,
) -> Finding:
    """What the feet cannot do. strung: the notes in the order of arrival; one_letter: whether no setting holds them."""
    # The first note in the order of arrival with which no setting holds the attack, or it cannot be played.
    count = next(
        n
        for n in range(1, len(strung) + 1)
        if not (ways := chords.ways(tuple(sorted(strung[:n]))))
        or not (one_letter or tracker.attempt(tracker.before, ways, where.us))
    )
    note, others = strung[count - 1], tuple(strung[: count - 1])
    kind = Kind.ONE_LETTER if one_letter else Kind.AUDIBLE if where.audible else Kind.PEDAL_TIME
    reasons, stake = explain(tracker, chords, instrument, others, note, where.us) if explains else ((), None)
    return replace(
        where.finding(kind, Layer.PEDALS, note),
        pedal=stake.pedal if stake else None,
        start=stake.start if stake else None,
        goal=stake.goal if stake else None,
        needed=stake.needed if stake else None,
        available=stake.available if stake else None,
        reasons=reasons,
    )


def hands_finding(
    where: Where, faults: tuple[HandsFault | None, StringFault | None], strung: Sequence[int]
) -> Finding:
    """What the hands cannot do, or a string cannot. strung: the notes in the order of arrival."""
    hands, string = faults
    note, needed, available = strung[-1], None, None
    kind = Kind.STRING_AGAIN
    if hands is not None:
        kind = HAND_KINDS[hands.kind]
        mine = [pitch for pitch in strung if pitch in hands.pitches]
        note = mine[-1] if mine else note
        if hands.needed:
            needed, available = hands.needed, hands.available
    elif string is not None:
        note, needed, available = string.pitch, string.needed, string.available
    return replace(
        where.finding(kind, Layer.HANDS, note),
        needed=needed,
        available=available,
        hands=hands,
        string=string,
    )


def strings_finding(where: Where, note: int, tunings: Tunings) -> Finding:
    """A note that no string of this harp gives, or only one without a pedal, tuned otherwise."""
    stands, above = tunings.stands(note), tunings.above(note)
    reason = None
    if stands is not None:
        spelling, position, used = stands
        string = spelling.string
        why = f"the {called(string)} has no pedal and is tuned to {string.pedal.letter}{position.sign}"
        reason = Reason(spelling, Constraint.NO_PEDAL, why, other_us=used)
    elif above is not None:
        why = f"the {called(above.string)} has no pedal, and tuning it up strains it"
        reason = Reason(above, Constraint.NO_PEDAL, why)
    kind = Kind.RANGE if reason is None else Kind.NO_PEDAL
    return replace(where.finding(kind, Layer.STRINGS, note), reasons=() if reason is None else (reason,))
