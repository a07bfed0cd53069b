"""What whoever watches is told of the readings: how each pedal stands, notes as the harp plays them, changes.

The readings hold every history that still matters, and most of them differ in something. What all agree on is
certain; where they differ the likeliest comes first, by how it reads (chords.reads), and the others beside
it. A change is told once it has become certain: at the attack after which a pedal certainly stands elsewhere
than it last certainly stood.

Nothing here is part of a verdict. It is fed once an attack, when that is over.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

from livepedal.harp import Instrument, Pedal, Position
from livepedal.model.feet.chords import RIGHT_FIRST_PEDAL, Chords, pitches_of, reads
from livepedal.model.feet.readings import UNSET, Letter
from livepedal.model.feet.tracker import Pair, Tracker
from livepedal.model.findings import ChangeView, NoteView, PedalView
from livepedal.model.next_notes import FAR, Ready, table

RECENT_NOTES = 64
RECENT_CHANGES = 32


class Following:
    """What was seen of one piece so far."""

    def __init__(self, instrument: Instrument) -> None:
        self._instrument = instrument
        self.notes: deque[NoteView] = deque(maxlen=RECENT_NOTES)
        self.changes: deque[ChangeView] = deque(maxlen=RECENT_CHANGES)
        self.entry: dict[Pedal, Position] = {}  # where each pedal first certainly stood in this passage
        self._stood: dict[Pedal, Position] = {}
        self._last: dict[Pedal, Position] = {}  # where each was last seen to stand
        # Since when the letter's strings were free, when it was last heard of where it stood.
        self._free: dict[Pedal, int] = {}
        # Positions that a pedal may have been moved to: for which attack, and the time there was.
        self._maybe: dict[Pedal, dict[int, tuple[int, int | None]]] = {}

    def fork(self) -> Following:
        """A copy that goes its own way."""
        copy = object.__new__(Following)
        copy.__dict__.update(self.__dict__)
        copy.notes = deque(self.notes, maxlen=RECENT_NOTES)
        copy.changes = deque(self.changes, maxlen=RECENT_CHANGES)
        copy.entry = dict(self.entry)
        copy._stood, copy._free, copy._last = dict(self._stood), dict(self._free), dict(self._last)
        copy._maybe = {pedal: dict(known) for pedal, known in self._maybe.items()}
        return copy

    def over(self, tracker: Tracker, moment: int, pitches: Sequence[int], wanted: Sequence[int] = ()) -> None:
        """The attack at `moment` (µs), of these pitches, is over. wanted: the keys that were still down, where it can
        be played only audibly.
        """
        heard = self.spelled(tracker, moment, pitches)
        self.notes.extend(heard)
        for note in heard:
            # A natural is taken at its word; of two others nobody knows which.
            known = [s for s in note.spellings if s.position is Position.NATURAL] or [*note.spellings]
            if len(known) == 1 and not known[0].fixed:
                self._last[known[0].string.pedal] = known[0].position
        for pedal in Pedal:
            self._follow(tracker, pedal, moment, wanted)

    def _follow(self, tracker: Tracker, pedal: Pedal, moment: int, wanted: Sequence[int]) -> None:
        """Whether a pedal has certainly changed, and for which attack: G♯ or A♭ may be settled only when A♮ follows."""
        start = self._stood.get(pedal)
        frees = [tracker.rules.free_since(one) for one in letters(tracker.before, pedal) if one[0] == start]
        if any(
            (spelling.string.pedal, spelling.position) == (pedal, start)
            for pitch in wanted
            for spelling in self._instrument.spellings(pitch)
        ):
            # The readings are those in which pedals slide; a key that is down leaves no time without that.
            self._free[pedal] = moment
        elif frees and max(frees) < FAR:
            self._free[pedal] = max(frees)
        after = {one[0] for one in letters(tracker.after, pedal)}
        since = self._free.get(pedal)
        maybe = self._maybe.setdefault(pedal, {})
        for position in after - {UNSET, start}:
            # The change, if it is one, was made for the attack at which this position came up.
            maybe.setdefault(position, (moment, None if since is None else max(moment - since, 0)))
        if len(after) != 1 or UNSET in after:
            return
        goal = Position(after.pop())
        self.entry.setdefault(pedal, goal)
        if start is not None and start is not goal:
            us, had = maybe[goal]
            needed = tracker.rules.lead[abs(goal - start)]
            self.changes = deque(
                sorted([*self.changes, ChangeView(us, pedal, start, goal, needed, had)], key=lambda c: c.us),
                RECENT_CHANGES,
            )
        if start is not goal:
            self._free.pop(pedal, None)
        self._stood[pedal] = self._last[pedal] = goal
        maybe.clear()

    def spelled(self, tracker: Tracker, moment: int, pitches: Sequence[int]) -> list[NoteView]:
        """The notes of an attack with every spelling that some reading has."""
        stand: dict[Pedal, set[int]] = {}
        found = []
        for pitch in sorted(pitches):
            spellings = []
            for spelling in self._instrument.spellings(pitch):
                pedal = spelling.string.pedal
                if pedal not in stand:
                    stand[pedal] = {one[0] for one in letters(tracker.after, pedal)}
                if spelling.fixed or spelling.position in stand[pedal]:
                    spellings.append(spelling)
            found.append(NoteView(moment, pitch, tuple(spellings)))
        return found

    def pedals(
        self, tracker: Tracker, pairs: tuple[Pair, ...], down: int, moment: int
    ) -> tuple[PedalView, ...]:
        """The seven pedals at `moment` (µs). pairs: of the tracker, as next_notes.table wants them; down: a bit mask
        of the keys that are down.

        When each could be elsewhere is told of the likeliest reading alone: a pedal that another spelling
        would have left free is no freer for somebody who looks at this one.
        """
        likely = _likely(tracker)
        ready = table(tracker, _standing(pairs, likely), moment)
        changed = {change.pedal: change for change in self.changes}
        views = []
        for pedal in Pedal:
            known = letters(pairs, pedal)
            stands = likely[pedal]
            others = sorted({one[0] for one in known} - {UNSET, stands})
            positions = () if stands == UNSET else tuple(Position(p) for p in (stands, *others))
            held = any(one[2] & down for one in known)
            free = max((tracker.rules.free_since(one) for one in known if one[0] != UNSET), default=0)
            away = _away(ready[pedal], stands)
            views.append(
                PedalView(
                    pedal,
                    positions,
                    None if held else free,
                    away.at if away.at < FAR else None,
                    pitches_of(away.held_by & down),
                    away.busy,
                    tracker.rules.lead[1],
                    changed.get(pedal),
                    self._last.get(pedal),
                )
            )
        return tuple(views)


def letters(pairs: tuple[Pair, ...], pedal: int) -> set[Letter]:
    """Every state that some reading has the pedal's letter in."""
    group, index = Chords.group(pedal)
    return {reading[0][index] for pair in pairs for reading in pair[group]}


def _standing(pairs: tuple[Pair, ...], positions: tuple[int, ...]) -> tuple[Pair, ...]:
    """The pairs with those readings alone in which the pedals stand so."""
    found = []
    lefts, rights = positions[:RIGHT_FIRST_PEDAL], positions[RIGHT_FIRST_PEDAL:]
    for left, right in pairs:
        mine = tuple(one for one in left if tuple(letter[0] for letter in one[0]) == lefts)
        others = tuple(one for one in right if tuple(letter[0] for letter in one[0]) == rights)
        if mine and others:
            found.append((mine, others))
    return tuple(found)


def _away(row: tuple[Ready, Ready, Ready], stands: int) -> Ready:
    """When the pedal could be one notch from where it stands; at once where it was never set."""
    near = [row[p + 1] for p in Position if stands == UNSET or abs(p - stands) == 1]
    return min(near, key=lambda ready: ready.at)


def _likely(tracker: Tracker) -> tuple[int, ...]:
    """The positions of all pedals in the reading that is written most simply."""
    best: tuple[int, tuple[int, ...]] | None = None
    for left, right in tracker.after:
        price = 0
        positions: tuple[int, ...] = ()
        for side, first in ((left, 0), (right, RIGHT_FIRST_PEDAL)):
            simplest = min(
                (sum(reads(first + n, p, 1) for n, p in enumerate(stand) if p != UNSET), stand)
                for stand in {tuple(letter[0] for letter in reading[0]) for reading in side}
            )
            price, positions = price + simplest[0], positions + simplest[1]
        if best is None or (price, positions) < best:
            best = price, positions
    assert best is not None
    return best[1]
