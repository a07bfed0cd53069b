"""One player, whole: feet, strings and hands, joined only while the choice of strings ties them together.

The feet alone (tracker.py) and the hands alone (hands.py) are quick. The joint search (joint.py) is slow, and
nearly always says what those two say. It can say anything else only where
- a string may be plucked too soon, whatever the readings are (repeats.Clashes); or
- an attack has more than one class of grips, with one of which the hands cannot play it, or by the next
  attack still stand differently. Even then it is enough, nearly always, to play on the strings that suit the
  hands best (plainly.py), and as long as that goes on nothing else is asked.

So the joint search is started only where it has to be, and from the past: from the attack with the first
pluck or the grips that matter. What is fed is kept for as long as that takes. From there on it watches the
strings concerned. Playing plainly, and the joint search, end as soon as they allow all that the feet and the
hands allow by themselves. The state of the joint search is kept with those attacks of the past through which
it ran, and is what a later start from there begins with.

Why that is exact. Before the start no string could be plucked too soon and no grips mattered, or the joint
search ran and watched it; so every history of the feet went with every one of the hands, on whatever strings.
What is played plainly is some of the joint histories, so where it goes on there is one. At the end each
history of the feet alone is covered by one of the joint ones, with hands that cover all hands. What is lost
with it is only which strings were plucked lately, and that is got back from the past when it matters.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from livepedal.harp import Instrument, Player, Ringing
from livepedal.model.chords import Sharing
from livepedal.model.entries import Judge, Release, Strike, feed
from livepedal.model.hands import HandsFault, HandsTracker, Links, Readings
from livepedal.model.joint import Joint, Obstacle
from livepedal.model.plainly import Plainly
from livepedal.model.readings import Letter
from livepedal.model.repeats import Clashes, StringFault
from livepedal.model.tracker import Feet, Pair, Released, Tracker, covered

LONGEST_WAY = 256  # attacks played plainly; then the joint search goes on, to bound the memory


@dataclass(slots=True)
class _Mark:
    """One attack of the past: what stood before it opened, and what was fed from then until the next one
    opened.

    `origin`: the moment of the attack from which the joint search has to begin that comes by here, unless
    `joint` has its state.
    """

    moment: int
    feet: Feet
    hands: Readings
    joint: Joint | None
    origin: int
    entries: list[Strike | Release | Judge] = field(default_factory=list)


class Performer:
    """One player under one notion of when a string is free. Fed as a Tracker is, with the pitches besides.

    `failed`: whether the open attack cannot be played, `obstacles` why; `feet` and `hands` are each by
    itself; `rolled`: whether the chord has to be rolled.
    """

    def __init__(self, player: Player, instrument: Instrument, sliding: bool, ringing: Ringing) -> None:
        self.feet = Tracker(player, sliding, ringing)
        self.hands = HandsTracker(player, instrument)
        self._clashes = Clashes(player, instrument)
        self._memory = self._clashes.repeats.memory
        self._new = Joint(player, instrument, sliding, ringing)
        self.start(None)

    def start(self, letters: tuple[Letter, ...] | None) -> None:
        """Nothing owed, hands free, nothing plucked; letters unset, or as given (seven, in the order of the
        pedals).
        """
        self.feet.start(letters)
        self.hands.start()
        self.failed = self.rolled = False
        self.obstacles: frozenset[Obstacle] = frozenset()
        self._pitches: tuple[int, ...] = ()
        self._moment = 0
        self._forget()

    def _forget(self) -> None:
        self._clashes.clear()
        self._marks: deque[_Mark] = deque()
        self._joint: Joint | None = None
        self._plainly: Plainly | None = None
        self._since = 0  # where either of them began
        self._classes: list[Readings] = []

    def fork(self) -> Performer:
        """A copy that goes its own way."""
        copy = object.__new__(Performer)
        copy.__dict__.update(self.__dict__)
        copy.feet = self.feet.fork()
        copy.hands = self.hands.fork()
        copy._clashes = self._clashes.fork()
        copy._joint = self._joint.fork() if self._joint else None
        copy._plainly = self._plainly.fork() if self._plainly else None
        # What the marks hold is never changed, except for the entries of the last one.
        copy._marks = deque(self._marks)
        if copy._marks:
            last = copy._marks.pop()
            copy._marks.append(replace(last, entries=list(last.entries)))
        return copy

    @property
    def _tied(self) -> bool:
        return self._joint is not None or self._plainly is not None

    # -- what is fed -----------------------------------------------------------------------------------------

    def open(self, moment: int) -> None:
        """A new attack begins at `moment` (µs)."""
        if self.failed:
            # What could not be played is reported once: nothing from before it stands against what comes.
            failed = self._marks[-1]
            self._forget()
            self._marks.append(replace(failed, joint=None, origin=failed.moment))
            self._clashes.add(self._pitches, self._moment)
            self.failed = False
        elif self._pitches:
            self._clashes.add(self._pitches, self._moment)
            if self._classes and not self._tied and self._grips_mattered(moment):
                self._play_plainly_from(self._moment)
        marks, joint, plainly = self._marks, self._joint, self._plainly
        origin = self._since if plainly is not None else moment
        marks.append(
            _Mark(moment, self.feet.known, self.hands.after, joint.fork() if joint else None, origin)
        )
        # Plucks may lead back so far, and from there to where playing plainly began.
        then = moment - self._memory
        if marks[0].moment < then:
            first = next(mark.origin for mark in marks if mark.moment >= then)
            while marks[0].moment < min(then, first):
                marks.popleft()
        self._moment = moment
        self._pitches = ()
        self._classes = []
        self.feet.open(moment)
        self.hands.open(moment)
        if joint is not None:
            joint.open(moment)
            if self._is_idle(joint, moment):
                self._joint = None
        if plainly is not None:
            plainly.open(moment)
            if plainly.allows_all(self.feet, self.hands, moment):
                self._plainly = None

    def _is_idle(self, joint: Joint, moment: int) -> bool:
        """Whether the joint search allows all that feet and hands allow by themselves."""
        return any(
            covered(self.feet.before, self.feet, _unmarked(branch.feet.before), moment)
            and self.hands.allow(branch.before, self.hands.before, moment)
            for branch in joint.before
        )

    def strike(self, pitch: int, moment: int) -> None:
        """A key goes down for the open attack; its earlier strike has been released."""
        self._feed(Strike(pitch, moment))

    def release_before(self, released: Sequence[Released]) -> None:
        """Keys that were struck before the open attack were released."""
        self._feed(Release(True, tuple(released)))

    def release_after(self, released: Sequence[Released]) -> None:
        """Keys were released, whichever attack struck them."""
        self._feed(Release(False, tuple(released)))

    def _feed(self, entry: Strike | Release) -> None:
        if self._marks:
            self._marks[-1].entries.append(entry)
        feed(self.feet, entry)
        if self._joint is not None:
            feed(self._joint, entry)
        if self._plainly is not None:
            feed(self._plainly, entry)

    def judge(
        self, pitches: tuple[int, ...], ways: tuple[Sharing, ...], moment: int, links: Links = ()
    ) -> bool:
        """Whether the open attack can be played; may be asked again when a note is added.

        pitches: upwards, each once, all with a string and together in some setting; ways: theirs (chords.py);
        links: hands.py.
        """
        self._pitches = pitches
        mark = self._marks[-1]
        mark.entries = [entry for entry in mark.entries if not isinstance(entry, Judge)]
        mark.entries.append(Judge(pitches, ways, moment, links))
        obstacles: set[Obstacle] = set()
        if not self.feet.judge(ways, moment):
            obstacles.add(Obstacle.FEET)
        if not self.hands.judge(pitches, ways, moment, links):
            obstacles.add(Obstacle.HANDS)
        self.rolled = self.hands.rolled
        if not obstacles:
            self._join(pitches, ways, moment, links)
            if self._joint is not None:
                obstacles |= self._joint.obstacles
                self.rolled = self._joint.rolled
        self.obstacles = frozenset(obstacles)
        self.failed = bool(obstacles)
        return not self.failed

    def hear(self, entry: Judge) -> bool:
        """As `judge`."""
        return self.judge(entry.pitches, entry.ways, entry.moment, entry.links)

    @property
    def bounded(self) -> int:
        """How often a safety net was met, in the feet or the hands."""
        return self.feet.bounded + self.hands.bounded

    def _join(self, pitches: tuple[int, ...], ways: tuple[Sharing, ...], moment: int, links: Links) -> None:
        """Let the joint search judge the open attack too, if it runs, or has to."""
        clash = self._clashes.possible(pitches, moment)
        if clash is not None and clash[0] < self._marks[0].moment:
            clash = None
        joint = self._joint
        if clash is not None:
            since, strings = clash
            if joint is None or since < self._since or not strings <= joint.watched:
                self._start_at(since, strings)
                return
        if joint is not None:
            joint.judge(pitches, ways, moment, links)
            return
        if self._plainly is None:
            self._classes = self._by_class(pitches, ways, moment, links)
            if not all(self._classes):
                self._play_plainly_from(moment)
        elif not self._plainly.judge(pitches, ways, moment, links) or len(self._marks) > LONGEST_WAY:
            self._start_at(self._since, frozenset())

    def _began(self, since: int) -> list[_Mark]:
        """The marks from `since` on, which from now on lead back to there: a later start from one of them needs
        what was before it, too. (Forks share marks, so they are made anew.)
        """
        self._marks = deque(
            replace(mark, origin=since) if mark.moment >= since else mark for mark in self._marks
        )
        return [mark for mark in self._marks if mark.moment >= since]

    def _play_plainly_from(self, since: int) -> None:
        """Play plainly from the attack at `since` up to the open one."""
        self._since = since
        marks = self._began(since)
        plainly = Plainly(self.feet.fork(), self.hands.fork())
        plainly.feet.go_on_from(marks[0].feet)
        plainly.hands.after = marks[0].hands
        for mark in marks:
            plainly.open(mark.moment)
            for entry in mark.entries:
                if not isinstance(entry, Judge):
                    feed(plainly, entry)
                elif not plainly.judge(entry.pitches, entry.ways, entry.moment, entry.links):
                    self._start_at(since, frozenset())
                    return
        self._plainly = plainly

    def hands_fault(self) -> HandsFault:
        """Why the hands cannot play the open attack, where they are an obstacle."""
        (judged,) = (entry for entry in self._marks[-1].entries if isinstance(entry, Judge))
        classes = self.hands.grips.classes(judged.pitches, judged.ways)
        return self.hands.fault(self.hands.before, classes, judged.pitches, judged.moment)

    def string_fault(self) -> StringFault | None:
        """Which string would be plucked again too soon in the open attack, where strings are an obstacle."""
        return self._clashes.fault(self._pitches, self._moment)

    def _by_class(
        self, pitches: tuple[int, ...], ways: tuple[Sharing, ...], moment: int, links: Links
    ) -> list[Readings]:
        """What each class of grips leaves of the hands; () where there is but one."""
        classes = self.hands.grips.classes(pitches, ways)
        if len(classes) == 1:
            return []
        return [self.hands.attempt(self.hands.before, chord, moment, links) for chord in classes]

    def _grips_mattered(self, moment: int) -> bool:
        """Whether the class of the attack that is over makes a difference to the hands at `moment`, when the
        next one opens.
        """
        hands = self.hands
        covers = hands.rules.covers
        free = hands.settle(hands.after, moment)
        return any(
            not any(covers(good[0], one[0], moment) and covers(good[1], one[1], moment) for good in some)
            for some in (hands.settle(after, moment) for after in self._classes)
            for one in free
        )

    def _start_at(self, since: int, strings: frozenset[int]) -> None:
        """Run the joint search from the attack at `since` or before, watching these strings too, up to the
        open attack.
        """
        marks = list(self._marks)
        if self._plainly is not None and self._since < since:
            since = self._since
        first = next(n for n, mark in enumerate(marks) if mark.moment >= since)
        if marks[first].joint is None:
            since = min(since, marks[first].origin)
            first = next(n for n, mark in enumerate(marks) if mark.moment >= since)
        mark = marks[first]
        watched = strings | (self._joint.watched if self._joint else frozenset())
        if mark.joint is not None:
            joint = mark.joint.fork()
            joint.watch(watched)
        else:
            joint = self._new.fork()
            joint.begin(mark.feet, mark.hands, watched)
        for past in self._began(since):
            joint.open(past.moment)
            for entry in past.entries:
                if isinstance(entry, Judge):
                    joint.judge(entry.pitches, entry.ways, entry.moment, entry.links)
                else:
                    feed(joint, entry)
        self._joint = joint
        self._plainly = None
        self._since = since


def _unmarked(pairs: tuple[Pair, ...]) -> tuple[Pair, ...]:
    return tuple(
        (tuple(reading[:2] for reading in left), tuple(reading[:2] for reading in right))
        for left, right in pairs
    )
