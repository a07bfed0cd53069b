"""What could be struck next: for each pitch class now, from some moment on, or not while a key is held.

It follows from the readings (readings.py), the best over all of them, so it never says no while some history
of spellings and pedal changes says yes, whatever the octave. For one letter and position it asks each reading of
the letter's foot:

- the letter stands there, or was never set: at once;
- it stands elsewhere: its pedal has to change, not before its strings are free, the flick and `settle` before
  the note, together with whatever else the foot owes. Which octave it will be nobody knows, so that the note's own
  finger would damp its string beforehand (free.py) is left out.

The later the note, the longer the window of that change, so there is an earliest moment; from it on the note
can always be struck, as long as nothing else is played. It is found exactly: in a schedule in which nothing
can start sooner, each change starts when its string comes free or one cycle after another change, so the
change in question starts at (some string's release) + k cycles. Of these few moments the first that the foot
can keep (schedule.py) is looked for by halving.

A key that is down holds its string until it has died away; what the answer is when the key is let go sooner,
nobody knows yet, so `held_by` names the key. The hands and the range are not asked here: it is what a player
can have of the feet.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from livepedal.harp import Foot, Pedal, Position
from livepedal.harp.ringing import NEVER
from livepedal.model.feet.chords import RIGHT_FIRST_PEDAL, pitches_of, reads
from livepedal.model.feet.free import LONG_AGO
from livepedal.model.feet.letters import UNSET, Letter
from livepedal.model.feet.readings import FootRules
from livepedal.model.feet.schedule import B_PEDAL, E_PEDAL, Changes, places_for
from livepedal.model.feet.tracker import Pair, Tracker
from livepedal.model.snapshot import NextNote

_Case = tuple[Letter, int, Changes]

FAR = NEVER >> 1  # later than any music; what strings that never die away have to be let go for


@dataclass(frozen=True, slots=True)
class Ready:
    """When a note on one letter in one position could be struck.

    That is the moment (µs), FAR or later where a key holds the string for good; the keys that hold it; and whether it
    is the foot that is busy.
    """

    at: int
    held_by: int = 0  # bit mask of MIDI numbers
    busy: bool = False


# The strings of each pitch class, from C.
_OPTIONS = tuple(
    tuple((p, q) for p in Pedal for q in Position if (p.natural + q) % 12 == pitch_class)
    for pitch_class in range(12)
)

# By pedal and position, the latter from flat.
Table = tuple[tuple[Ready, Ready, Ready], ...]


def table(tracker: Tracker, pairs: tuple[Pair, ...], moment: int) -> Table:
    """When each letter could sound in each position, at `moment` (µs) or later.

    pairs: of the tracker, after its last attack, with all keys let go that came up since; all of them, or
    those that one wants to know about.
    """
    query = _Query(tracker, moment)
    return tuple(_row(query, pairs, pedal) for pedal in Pedal)


def _row(query: _Query, pairs: tuple[Pair, ...], pedal: Pedal) -> tuple[Ready, Ready, Ready]:
    cases = _cases(query, pairs, pedal)
    flat, natural, sharp = (query.earliest(cases, pedal, int(position)) for position in Position)
    return flat, natural, sharp


def _cases(query: _Query, pairs: tuple[Pair, ...], pedal: Pedal) -> dict[_Case, None]:
    """(letter, not to be changed before, what the foot that changes it owes besides), each once."""
    right = pedal.foot is Foot.RIGHT
    index = pedal - RIGHT_FIRST_PEDAL if right else int(pedal)
    seen: dict[_Case, None] = {}
    for pair in pairs:
        mine = pair[right]
        for letters, owed in mine:
            seen[letters[index], LONG_AGO, owed] = None
        if query.across and pedal in (B_PEDAL, E_PEDAL):
            # The other foot makes it, in the gap after the last attack (tracker.py).
            for letter in {letters[index] for letters, _ in mine}:
                for _, owed in pair[not right]:
                    seen[letter, query.latest, owed] = None
    return seen


class _Query:
    """What all answers of one tracker at one moment have in common."""

    def __init__(self, tracker: Tracker, moment: int) -> None:
        self.rules: FootRules = tracker.rules
        self.across = tracker.across
        self.latest = tracker.latest
        self.moment = moment
        # Not the tracker's own, which remembers its answers: these would only push out better ones.
        self._can_place = places_for(self.rules.cycle, self.rules.two_at_once)

    def earliest(self, cases: Iterable[_Case], pedal: int, position: int) -> Ready:
        """The best over all cases."""
        moment, rules = self.moment, self.rules
        best = Ready(1 << 61)
        for letter, gap, owed in cases:
            stands, _, keys, _ = letter
            if stands in (UNSET, position):
                return Ready(moment)
            free = max(rules.free_since(letter), gap)
            lead = rules.lead[abs(position - stands)]
            soonest = max(moment, free + lead)
            if soonest >= best.at:
                continue
            at = soonest if not owed else self._placed(owed, free, lead, soonest, pedal)
            if at < best.at:
                best = Ready(at, keys if free + lead > moment else 0, at > soonest)
        return best

    def _placed(self, owed: Changes, free: int, lead: int, soonest: int, pedal: int) -> int:
        """The earliest moment of the note at which its change goes in with all that the foot owes."""

        def possible(at: int) -> bool:
            change = self.rules.change(at - lead, free, pedal)
            return self._can_place(tuple(sorted([*owed, change])))

        if possible(soonest):
            return soonest
        cycle = self.rules.cycle
        moments = sorted(
            {
                start + lead
                for release in (free, *(change[1] for change in owed))
                for start in range(release, release + cycle * len(owed) + 1, cycle)
                if start + lead > soonest
            }
        )
        low, high = 0, len(moments) - 1
        while low < high:
            middle = (low + high) // 2
            if possible(moments[middle]):
                high = middle
            else:
                low = middle + 1
        return moments[low]


def next_notes(held: Table, sliding: Table) -> tuple[NextNote, ...]:
    """The twelve pitch classes from C, each on the string that gives it soonest.

    held, sliding: the tables of one player under both notions of free. Among strings that give it at the same
    moment the one that reads best.
    """
    found = []
    for pitch_class in range(12):
        options = _OPTIONS[pitch_class]
        pedal, position = min(options, key=lambda o: (held[o[0]][o[1] + 1].at, reads(o[0], o[1], 1)))
        ready = held[pedal][position + 1]
        slide = min(sliding[p][q + 1].at for p, q in options)
        # After an attack that could not be played each tracker went on in its own way, so the one that allows
        # slides may know of less; the model asks both.
        at = max(ready.at, slide)
        found.append(
            NextNote(
                pitch_class,
                pedal,
                position,
                at if at < FAR else None,
                pitches_of(ready.held_by),
                slide,
            )
        )
    return tuple(found)
