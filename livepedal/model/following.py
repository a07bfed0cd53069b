"""What whoever watches is told of the readings: how each pedal stands, notes as the harp plays them, changes.

The readings hold every history that still matters, and most of them differ in something. What all agree on is
certain; where they differ the likeliest comes first, by how little it moves and how it reads (chords.reads), and the
others beside it. A reading that forgets where a pedal stands leaves it where it may have stood before: nobody moves a
pedal for nothing. Where it was never set nor certain, it may be anywhere else as well. A change is told once it has
become certain: at the attack after which a pedal certainly stands elsewhere than it last certainly stood.

Nothing here is part of a verdict. It is fed once an attack, when that is over.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from copy import copy

from livepedal.harp import Instrument, Pedal, Position, Setting, Spelling
from livepedal.model.feet.chords import RIGHT_FIRST_PEDAL, Chords, pitches_of, reads
from livepedal.model.feet.letters import UNSET, Letter
from livepedal.model.feet.tracker import Pair, Tracker
from livepedal.model.next_notes import FAR, Ready, table
from livepedal.model.snapshot import ChangeView, NoteView, PedalView

RECENT_NOTES = 64
RECENT_CHANGES = 32


class Following:
    """What was seen of one piece so far."""

    def __init__(self, instrument: Instrument) -> None:
        self._instrument = instrument
        self.notes: deque[NoteView] = deque(maxlen=RECENT_NOTES)
        self.changes: deque[ChangeView] = deque(maxlen=RECENT_CHANGES)
        self._stood: dict[Pedal, Position] = {}
        # Where each may stand, and those that may stand anywhere else as well.
        self._may: dict[Pedal, frozenset[Position]] = dict.fromkeys(Pedal, frozenset())
        self._open = frozenset(Pedal)
        # Since when the letter's strings were free, when it was last heard of where it stood.
        self._free: dict[Pedal, int] = {}
        # Positions that a pedal may have been moved to: for which attack, and the time there was.
        self._maybe: dict[Pedal, dict[int, tuple[int, int | None]]] = {}

    def fork(self) -> Following:
        """A copy that goes its own way."""
        twin = copy(self)
        twin.notes, twin.changes = self.notes.copy(), self.changes.copy()
        twin._stood, twin._free, twin._may = dict(self._stood), dict(self._free), dict(self._may)
        twin._maybe = {pedal: dict(known) for pedal, known in self._maybe.items()}
        return twin

    def set_to(self, setting: Setting) -> None:
        """Somebody has set the pedals."""
        stand = {pedal: at for pedal in Pedal if (at := setting.positions[pedal]) is not None}
        self._stood = dict(stand)
        self._may = {pedal: frozenset({stand[pedal]} if pedal in stand else ()) for pedal in Pedal}
        self._open = frozenset(Pedal) - stand.keys()
        self._free, self._maybe = {}, {}

    def over(self, tracker: Tracker, moment: int, pitches: Sequence[int], wanted: Sequence[int] = ()) -> None:
        """The attack at `moment` (µs), of these pitches, is over.

        Args:
            tracker: with the readings after it.
            moment: when it was struck (µs).
            pitches: its notes.
            wanted: the keys that were still down, where it can be played only audibly.
        """
        self.notes.extend(self.spelled(tracker, moment, pitches))
        for pedal in Pedal:
            self._follow(tracker, pedal, moment, wanted)
            self._may[pedal], anywhere = self._where(pedal, letters(tracker.after, pedal))
            self._open = self._open | {pedal} if anywhere else self._open - {pedal}

    def _where(self, pedal: Pedal, states: set[Letter]) -> tuple[frozenset[Position], bool]:
        """Where a pedal may stand whose letter the readings have in these states; and whether anywhere else as well."""
        known = frozenset(Position(one[0]) for one in states if one[0] != UNSET)
        forgotten = any(one[0] == UNSET for one in states)
        return (known | self._may[pedal] if forgotten else known), forgotten and pedal in self._open

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
        if start is not None and start is not goal:
            us, had = maybe[goal]
            needed = tracker.rules.lead[abs(goal - start)]
            self.changes = deque(
                sorted([*self.changes, ChangeView(us, pedal, start, goal, needed, had)], key=lambda c: c.us),
                RECENT_CHANGES,
            )
        if start is not goal:
            self._free.pop(pedal, None)
        self._stood[pedal] = goal
        maybe.clear()

    def spelled(self, tracker: Tracker, moment: int, pitches: Sequence[int]) -> list[NoteView]:
        """The notes of an attack with every spelling that some reading has, the likeliest first.

        The likeliest is on the string that stood so before, else as it reads best.
        """
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
            spellings.sort(key=self._likelihood)
            found.append(NoteView(moment, pitch, tuple(spellings)))
        return found

    def _likelihood(self, spelling: Spelling) -> tuple[bool, int, int]:
        pedal, position = spelling.string.pedal, spelling.position
        stood = pedal not in self._open and self._may[pedal] == {position}
        return not stood, abs(position), position

    def pedals(
        self, tracker: Tracker, pairs: tuple[Pair, ...], down: int, moment: int
    ) -> tuple[PedalView, ...]:
        """The seven pedals at a moment.

        When each could be elsewhere is told of the likeliest reading alone: a pedal that another spelling
        would have left free is no freer for somebody who looks at this one.

        Args:
            tracker: with the readings then.
            moment: µs.
            pairs: of the tracker, as next_notes.table wants them.
            down: the keys that are down (a bit mask).
        """
        likely = self._likely(tracker)
        ready = table(tracker, _standing(pairs, likely), moment)
        changed = {change.pedal: change for change in self.changes}
        views = []
        for pedal in Pedal:
            known = letters(pairs, pedal)
            stands = likely[pedal]
            may, anywhere = self._where(pedal, known)
            first = self._stood.get(pedal) if stands == UNSET else stands
            order = [first, Position.NATURAL, *Position]
            positions = tuple(sorted(may, key=order.index))
            away = _away(ready[pedal], stands)
            views.append(
                PedalView(
                    pedal,
                    positions,
                    anywhere,
                    len(may) == 1 and all(one[0] != UNSET for one in known),
                    away.at if away.at < FAR else None,
                    pitches_of(away.held_by & down),
                    away.busy,
                    tracker.rules.lead[1],
                    changed.get(pedal),
                )
            )
        return tuple(views)

    def _likely(self, tracker: Tracker) -> tuple[int, ...]:
        """The positions of all pedals in the reading that moves least and is written most simply."""

        def price(pedal: int, position: int) -> int:
            stood = self._stood.get(Pedal(pedal))
            return 0 if position in (UNSET, stood) else reads(pedal, position, 1) + (stood is not None)

        best: tuple[int, tuple[int, ...]] | None = None
        for left, right in tracker.after:
            whole = 0
            positions: tuple[int, ...] = ()
            for side, first in ((left, 0), (right, RIGHT_FIRST_PEDAL)):
                simplest = min(
                    (sum(price(first + n, p) for n, p in enumerate(stand)), stand)
                    for stand in {tuple(letter[0] for letter in reading[0]) for reading in side}
                )
                whole, positions = whole + simplest[0], positions + simplest[1]
            if best is None or (whole, positions) < best:
                best = whole, positions
        assert best is not None
        return best[1]


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
