"""What the model says: verdicts, findings and their reasons, as plain values.

A verdict grades an attack by who can play it: the relaxed, the working or the virtuoso player (harp/figures.py
has the scale of the three). A finding is one thing that the chosen player cannot do, or does only audibly, with its
cause and its figures.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import IntEnum, StrEnum
from fractions import Fraction
from typing import TYPE_CHECKING

from livepedal.errors import LivepedalError
from livepedal.harp import Pedal, Position, Spelling

if TYPE_CHECKING:
    from livepedal.model.hands import HandsFault, StringFault
    from livepedal.model.load import Load


class Verdict(IntEnum):
    """Best to worst. `unplayable` means by these figures; it never means that nobody can play it."""

    EASY = 0
    PLAYABLE = 1
    VIRTUOSO = 2
    UNPLAYABLE = 3

    @property
    def word(self) -> str:
        """The verdict as screens and the JSON have it."""
        return self.name.lower()


class Layer(StrEnum):
    """Which part of the instrument or the player a finding is about."""

    PEDALS = "pedals"
    HANDS = "hands"  # the hands, and the same string struck again
    STRINGS = "strings"  # the range of the harp, and its strings without pedals
    LOAD = "load"  # the pedal changes of a passage together


class Kind(StrEnum):
    """The kind of a finding. The values are used in the JSON and explained in the manual."""

    PEDAL_TIME = "pedal-time"  # a pedal change that the feet have no time for
    AUDIBLE = "audible"  # a pedal change made while its string is still sounding
    ONE_LETTER = "one-letter"  # notes struck together that no pedal setting has
    NO_PEDAL = "no-pedal"  # a note for a string without a pedal that is tuned to another pitch
    RANGE = "range"  # a note that no string of this harp gives
    TOO_MANY = "too-many-notes"  # more notes at once than fingers, and no time to roll them
    TOO_WIDE = "too-wide"  # one hand cannot reach its notes, and there is no time to roll the chord
    TOO_FAR = "too-far"  # a hand is too far from where it has to be
    TOO_FAST = "too-fast"  # a hand cannot be placed again so soon
    STRING_AGAIN = "string-again"  # a string is plucked again too soon
    TOO_MUCH = "too-much-at-once"  # more pedal changes in a row than the player can keep up


class Outcome(IntEnum):
    """Whether one player can play one attack."""

    PLAYS = 0
    AUDIBLE = 1
    CANNOT = 2


class Constraint(StrEnum):
    """Why one spelling of a note cannot be used."""

    WANTED = "wanted"  # the string is still wanted, so its pedal cannot change in time
    FOOT_BUSY = "foot-busy"  # the foot has other pedals to change
    WANTED_AND_BUSY = "wanted-and-busy"  # either of the two would be enough
    SAME_LETTER = "same-letter"  # another note of the attack needs the letter in another position
    NO_PEDAL = "no-pedal"  # the string has no pedal and is tuned to another pitch
    ASKED = "asked"  # another spelling of the note was asked for
    OTHER_NOTES = "other-notes"  # this spelling works, but not together with the rest of the attack


@dataclass(frozen=True, slots=True)
class Reason:
    """Why one spelling of the offending note fails.

    Attributes:
        why: the reason, one clause.
        needed, available: the time for the pedal change (µs); None if it is not about time.
        free_at: when the string is free (µs).
        other_pitches: the notes struck with it that are in the way (MIDI).
        other_us: when the string was last needed at another pitch (µs).
    """

    spelling: Spelling
    constraint: Constraint
    why: str
    needed: int | None = None
    available: int | None = None
    free_at: int | None = None
    other_pitches: tuple[int, ...] = ()
    other_us: int | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that the chosen player cannot do at one attack, or does only audibly.

    Attributes:
        id: stays the same when a late note of the attack revises the finding.
        us: the moment of the attack (µs).
        pitches: the notes of the attack (MIDI).
        note: the note that broke it (MIDI).
        pedal, start, goal: the pedal change in question.
        needed, available: the time for it (µs).
        reasons: why each spelling of the note fails.
        hands, string, load: what the hands, a string, or the feet over a longer time cannot do.
        revised: how often a late note has revised it.
        withdrawn: a late note has solved it, such as when the hands can roll the chord after all.
        bar, beat: its place, in the report of a file (beats count from 1); None if nobody counts bars.
    """

    id: int
    kind: Kind
    layer: Layer
    verdict: Verdict
    audible: bool
    us: int
    pitches: tuple[int, ...]
    note: int
    player: str
    pedal: Pedal | None = None
    start: Position | None = None
    goal: Position | None = None
    needed: int | None = None
    available: int | None = None
    reasons: tuple[Reason, ...] = ()
    hands: HandsFault | None = None
    string: StringFault | None = None
    load: Load | None = None
    revised: int = 0
    withdrawn: bool = False
    bar: int | None = field(default=None, compare=False)
    beat: Fraction | None = field(default=None, compare=False)


def keep(known: dict[int, Finding], found: Iterable[Finding]) -> None:
    """Add what the monitor has just said to the findings, by their ids.

    Revised ones replace what they were, withdrawn ones are removed.
    """
    for finding in found:
        if finding.withdrawn:
            known.pop(finding.id, None)
        else:
            known[finding.id] = finding


@dataclass(frozen=True, slots=True)
class Graded:
    """The verdict on one attack at `us` (µs).

    Attributes:
        outcomes: of the three players, the slowest first.
    """

    us: int
    verdict: Verdict
    outcomes: tuple[Outcome, ...]


@dataclass(frozen=True, slots=True)
class Passage:
    """Music between two rests.

    Attributes:
        start, last: its first and last attack (µs), which also give its bars.
        end: when its last key came up (µs).
        open: whether it is still being played.
        loads: what it asks of the feet of the three players at once, where that is judged, once it is over.
    """

    start: int
    last: int
    end: int
    verdict: Verdict
    audible: bool
    attacks: int
    open: bool = False
    loads: tuple[Load, ...] = ()


@dataclass(frozen=True, slots=True)
class PlayerCount:
    """How many attacks one player cannot play so far, or only with an audible pedal change."""

    player: str
    unplayable: int
    audible: int


def grade(outcomes: tuple[Outcome, ...]) -> tuple[Verdict, bool]:
    """The verdict of an attack and whether it is audible for the player that the verdict names.

    `outcomes`: of the relaxed, the working and the virtuoso player, in that order.
    """
    relaxed, working, virtuoso = outcomes
    if virtuoso is Outcome.CANNOT:
        return Verdict.UNPLAYABLE, False
    if working is Outcome.CANNOT:
        return Verdict.VIRTUOSO, virtuoso is Outcome.AUDIBLE
    # Where one of them could not go on before, another may stand better than a quicker one.
    if relaxed is not Outcome.PLAYS or working is not Outcome.PLAYS:
        return Verdict.PLAYABLE, working is Outcome.AUDIBLE
    return Verdict.EASY, False


def missing(finding: Finding) -> float:
    """How much time is missing, as a share of what is needed: 0 to 1; 1 if it is not about time."""
    if not finding.needed or finding.available is None:
        return 1.0
    return min(max(1 - finding.available / finding.needed, 0.0), 1.0)


def worst_first(finding: Finding) -> tuple[bool, int, float, int, int]:
    """The key that sorts findings for a report.

    Silent troubles before audible ones, the worst verdict first, then by how much is missing, then by time.
    """
    return finding.audible, -finding.verdict, -missing(finding), finding.us, finding.id


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The worst of some verdicts; easy if there are none."""
    return max(verdicts, default=Verdict.EASY)


def layers_named(names: Iterable[str]) -> tuple[Layer, ...]:
    """The layers of these names, each once; none means all.

    Raises:
        LivepedalError: for an unknown name.
    """
    layers: dict[Layer, None] = {}
    for name in names:
        try:
            layers[Layer(name)] = None
        except ValueError:
            known = ", ".join(layer.value for layer in Layer)
            raise LivepedalError(f"There is no layer {name!r}; the layers are {known}.") from None
    return tuple(layers)
