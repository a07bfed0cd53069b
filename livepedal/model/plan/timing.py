"""When each pedal change of a plan is made.

The search knows in which order each foot can make its changes, and between which moments (`Due`). Within that a change
goes where harpists make it (common practice, no source; printed parts have a whole setting in the rest before an
entry), at ease where the foot has the time, to the first of these that there is:

1. one that is heard: as late as its foot allows, since a slide is loudest right after the pluck (Canton & Overlach) and
   the next attack covers it;
2. one that makes room for the next of its foot: the last beat before that, so that a setting stands together;
3. a beat or more before its attack, in the last rest of at least a bar, else in one of at least a beat in the bar
   before: on the last bar line in it, else the last beat, else at its beginning;
4. the last bar line a beat or more before its attack, else the last beat;
5. the same two without that beat between;
6. as soon as its string allows.

They are placed from the last to the first. What the left and the right foot have for attacks within a beat of each
other is made together if it can be (of the printed changes with the same bar that were looked at all are such pairs).
Where the music does not say its metre, only rests count, a bar is four beats, and in a longer rest a change is made a
bar before its end.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace

from livepedal.harp import Foot, Pedal, Position
from livepedal.harp.ringing import NEVER
from livepedal.model.feet.free import LONG_AGO
from livepedal.model.feet.schedule import as_one
from livepedal.model.plan.orders import PLAIN, Job, orderable, possible
from livepedal.model.plan.stands import Move
from livepedal.music.attacks import Gathered
from livepedal.music.beats import Beats

UNKNOWN_BEAT = 500_000  # µs where nobody knows the tempo: 120 a minute, as in a file that does not say it
ROUNDED = 2  # µs by which a beat may be shorter than the one before
UNKNOWN_BAR = 4  # beats of a bar where nobody knows the metre


@dataclass(frozen=True, slots=True)
class PedalChange:
    """One pedal going to another position.

    Attributes:
        us: when the foot starts (µs).
        attack_us: the attack that needs it.
        possible: False where the foot has no time for it, as where the attack cannot be played: then `us` is only where
            it would have to be, or where the string was struck last if that is later.
    """

    us: int
    attack_us: int
    pedal: Pedal
    start: Position
    goal: Position
    foot: Foot
    audible: bool
    tight: bool
    possible: bool = True


@dataclass(frozen=True, slots=True)
class Due:
    """A move to be placed for the attack that needs it.

    Attributes:
        attack: when that is (µs).
        window: its own window.
        widest: the widest window that the player has at all.
        held: since when its letter is free when held counts (µs).
        struck: when a string of it was last struck, or the letter set (µs).
    """

    move: Move
    attack: int
    window: Job
    widest: Job
    held: int
    struck: int = LONG_AGO

    @property
    def foot(self) -> Foot:
        """The foot that makes it."""
        own = Pedal(self.move.pedal).foot
        return next(foot for foot in Foot if (foot is own) is not self.move.across)


class Moments:
    """Where changes may go in some music. beats: None where nobody knows them."""

    def __init__(self, attacks: Sequence[Gathered], beats: Beats | None) -> None:
        self.beats = beats
        self._bars = beats if beats is not None and beats.metre_known else None
        # The rests: from when all keys are up until the next attack.
        self._since, self._until = array("q"), array("q")
        silent = -NEVER
        for attack in attacks:
            if -NEVER < silent < attack.us:
                self._since.append(silent)
                self._until.append(attack.us)
            silent = max([silent, *[NEVER if end is None else end for _, end in attack.notes]])

    def beat_length(self, us: int) -> int:
        """How long a beat is there (µs)."""
        return UNKNOWN_BEAT if self.beats is None else self.beats.length(us)

    def best(self, low: int, high: int, due: int) -> int:
        """The best moment between two for a change that is needed at `due` (all µs), by the rule at the head."""
        for latest in (min(high, due - self.beat_length(due) + ROUNDED), high):
            if low < latest:
                found = self._in_rest(low, latest) or self._line(low, latest)
                if found is not None:
                    return found
        return low

    def beat(self, low: int, high: int) -> int | None:
        """The last beat between two moments, if there is one."""
        beat = low - 1 if self._bars is None else self._bars.beat(high)
        return beat if low <= beat else None

    def _in_rest(self, low: int, high: int) -> int | None:
        """In the last rest of at least a bar between two moments, else in one of a beat in the bar before the later."""
        beat = self.beat_length(high)
        bar = UNKNOWN_BAR * beat if self.beats is None else self.beats.bar_length(high)
        found = None
        for number in reversed(range(bisect_left(self._until, low + 1), bisect_left(self._since, high + 1))):
            begin, end = self._since[number], self._until[number]
            if end - begin >= (beat if found is None and end > high - bar else bar):
                last = min(high, end - 1)
                found = self._line(max(low, begin), last) or max(low, begin, last - bar)
                if end - begin >= bar:
                    break
        return found

    def _line(self, low: int, high: int) -> int | None:
        """The last bar line between two moments, else the last beat, if there is one."""
        bar_line = low - 1 if self._bars is None else self._bars.bar_line(high)
        return bar_line if low <= bar_line else self.beat(low, high)


@dataclass(slots=True)
class _Placed:
    """A change on its way to its moment, or two that one foot makes at once.

    Attributes:
        at: when it starts, at first the earliest (µs).
        span: between which moments it may, while those of its foot that are placed stay (µs).
        paired: whether the other foot has one at the same time.
    """

    dues: tuple[Due, ...]
    window: Job
    at: int
    span: tuple[int, int] = (0, 0)
    paired: bool = False

    @property
    def attack(self) -> int:
        """The first attack that needs it."""
        return min([due.attack for due in self.dues])


class Timing:
    """Gives the moves of a player's plan their moments. easy_lead, easy_cycle: of a change at ease (µs)."""

    def __init__(self, moments: Moments, easy_lead: Sequence[int], easy_cycle: int) -> None:
        self.moments = moments
        self.easy_lead = easy_lead
        self.easy_cycle = easy_cycle

    def changes(self, moves: Sequence[Due]) -> tuple[PedalChange, ...]:
        """The changes, in the order of their starts."""
        changes: list[PedalChange] = []
        feet: list[list[_Placed]] = []
        for foot in Foot:
            mine = [due for due in moves if due.foot is foot]
            able, starts = self._with_others(*in_order(mine), mine)
            kept = {(due.move.pedal, due.attack) for due in able}
            # What there is no time for is put where it would have to be, but not before its string is done with.
            for due in mine:
                if (due.move.pedal, due.attack) not in kept:
                    at = min(max(due.window[0], due.struck), due.attack)
                    changes.append(self._change(due, at, None, False))
            feet.append(self._placed(able, starts))
        self._place(feet)
        for placed in feet:
            last: int | None = None
            for move in placed:
                changes += [self._change(due, move.at, last, True) for due in move.dues]
                last = move.at
        return tuple(sorted(changes, key=lambda change: (change.us, change.pedal)))

    @staticmethod
    def _with_others(able: list[Due], starts: list[int], mine: Sequence[Due]) -> tuple[list[Due], list[int]]:
        """These moves with those that the search gave up, and when they start at the earliest.

        A move that was given up with its attack comes in if there is room for it: quietly, else as best it can.
        """
        for due in mine:
            if due.move.possible:
                continue
            latest, _, *more = due.widest
            move = due.move._replace(possible=True)
            for window in ((latest, due.held, *more), due.widest):
                found, when = in_order([*able, replace(due, move=move, window=window)])
                if len(found) > len(able):
                    able, starts = found, when
                    break
        return able, starts

    def _placed(self, able: Sequence[Due], starts: Sequence[int]) -> list[_Placed]:
        placed: list[_Placed] = []
        for due, start in zip(able, starts, strict=True):
            # Two that start at one moment were put together, where one foot may do that.
            together = placed.pop().dues if due.window[PLAIN:] and placed and placed[-1].at == start else ()
            dues = (*together, due)
            placed.append(_Placed(dues, as_one([one.window for one in dues]), start))
        return placed

    def _place(self, feet: Sequence[Sequence[_Placed]]) -> None:
        """Give all changes their moments, from the last to the first, and pair them."""
        waiting = [list(foot) for foot in feet]
        placed: list[_Placed | None] = [None, None]  # the last one of each foot
        mine = 0
        while any(waiting):
            # The later attack first; of changes for one attack, the feet in turn.
            attacks = [foot[-1].attack if foot else LONG_AGO for foot in waiting]
            mine = max((1 - mine, mine), key=attacks.__getitem__)
            move = waiting[mine].pop()
            self._place_one(move, waiting[mine][-1] if waiting[mine] else None, placed[mine])
            placed[mine], other = move, placed[1 - mine]
            if other is not None and not other.paired:
                self._pair(move, other)

    def _place_one(self, move: _Placed, before: _Placed | None, after: _Placed | None) -> None:
        """As late as the one after it allows, at ease where that is possible; by the rule at the head."""
        low, high = move.at, move.window[0]
        room = high
        if after is not None:
            at_ease = after.at - self.easy_cycle
            room = at_ease if at_ease >= low else after.at - after.window[2]
        easy = min([due.attack - self.easy_lead[abs(due.move.goal - due.move.start)] for due in move.dues])
        followed = room < min(high, easy)
        high = max(low, min(high, room, easy))
        if before is not None and before.at + self.easy_cycle <= high:
            low = max(low, before.at + self.easy_cycle)
        # Where nobody hears it, or as late as it can be.
        low = min(max(low, *[due.held for due in move.dues]), high)
        move.span = low, high
        near = self.moments.beat(low, high) if followed else None
        move.at = self.moments.best(low, high, move.attack) if near is None else near

    def _pair(self, move: _Placed, other: _Placed) -> None:
        """Make two of both feet together that are needed within a beat of each other, where that can be."""
        first = min(move.attack, other.attack)
        low, high = max(move.span[0], other.span[0]), min(move.span[1], other.span[1])
        if low <= high and abs(move.attack - other.attack) <= self.moments.beat_length(first):
            both = [at for at in (move.at, other.at) if low <= at <= high]
            move.at = other.at = min(both) if both else self.moments.best(low, high, first)
            move.paired = other.paired = True

    def _change(self, due: Due, us: int, last: int | None, possible: bool) -> PedalChange:
        """The change as it comes out.

        Args:
            due: the move.
            us: when it starts (µs).
            last: when the foot's change before started, if there is one (µs).
            possible: whether there is time for it.
        """
        move = due.move
        pedal = Pedal(move.pedal)
        in_time = us <= due.attack - self.easy_lead[abs(move.goal - move.start)]
        at_ease = in_time and (last is None or us - last >= self.easy_cycle)
        return PedalChange(
            us,
            due.attack,
            pedal,
            Position(move.start),
            Position(move.goal),
            due.foot,
            possible and us < due.held,
            possible and not at_ease,
            possible,
        )


def in_order(moves: Sequence[Due]) -> tuple[list[Due], list[int]]:
    """The moves of one foot that it has time for, in the order of their starts, and their starts.

    It has time for all of them as they are, unless an attack that cannot be played stands among them or the
    search was bounded: then some are widened, and some may be left out.
    """
    kept: list[Due] = []
    starts: list[int] = []
    for due in sorted((due for due in moves if due.move.possible), key=lambda due: due.window[:2]):
        latest, earliest, distance = due.window[:PLAIN]
        start = max([earliest, *(at + distance for at in starts[-1:])])
        if start <= latest:
            kept.append(due)
            starts.append(start)
            continue
        # The order of deadlines fails here: look at longer and longer stretches before this move for another
        # order.
        for widen in (False, True):
            found = _again(kept, starts, due, widen)
            if found is not None:
                kept, starts = found
                break
    return kept, starts


def _again(
    kept: Sequence[Due], starts: Sequence[int], due: Due, widen: bool
) -> tuple[list[Due], list[int]] | None:
    """The moves kept so far and one more, in another order from some place on, and their starts.

    From there on they may be widened.
    """
    for begin in range(len(kept), -1, -1):
        stretch = [*kept[begin:], due]
        if widen:
            stretch = [replace(one, window=one.widest) for one in stretch]
        last = starts[begin - 1] if begin else LONG_AGO
        windows = [one.window for one in stretch]
        found = orderable([(late, max(early, last + gap), gap, *more) for late, early, gap, *more in windows])
        if found is not None:
            # Of those that start at one moment, where a cycle takes no time, the one that needs the time before it.
            order = sorted(range(len(stretch)), key=lambda i: (found[i], -stretch[i].window[2]))
            return [*kept[:begin], *(stretch[i] for i in order)], [
                *starts[:begin],
                *(found[i] for i in order),
            ]
        if not possible(windows):
            return None  # there is no room for these alone, so a longer stretch has none either
    return None
