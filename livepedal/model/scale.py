"""Three players side by side, each under two notions of free, without asking all six about every attack.

Whatever a player can do without a slide, a quicker player can do, and anyone can do with slides. So whoever
has less freedom *leads* those who have more: each of the leader's readings is also one of theirs. As long as
a leader plays on, its followers do, and need not be asked. They stand in a tree: the relaxed player without
slides leads the same with slides and the working player without, who leads the same with slides and the
virtuoso, who leads the same with slides. What was fed meanwhile is kept in a log; when the leader fails, its
followers catch up on it. (`catch_up` also does that whenever there is nothing else to do, so that live
nothing waits for it.)

Catching up does not replay a long log. From some moment in it a follower is run twice: once from the leader's
readings of that moment (all true of this player too, perhaps not all there are) and once from a harp of which
nothing is known (nothing is ruled out that is true, perhaps too much is possible). What is really possible
lies between the two, so from the moment at which every reading of the second run is covered by one of the
first (readings.py), the first is exact. That takes a few seconds of music, since quiet feet and free hands
forget. Where it does not come about, the start is moved back, in the end to where the log begins, where all
was exact.

Where the whole music is known, a *guide* says how each attack may well be spelled (plan.py). Then the relaxed
player who is kept to that leads all the others: one reading, so nearly nothing to do. Whatever the guide says, it
takes away freedom and gives none.

After a leader has failed its readings are no longer readings of its followers: they are run too, until each
reading of the leader is covered by each of theirs again.

All that holds for the feet alone (tracker.py) as for the whole player (performer.py). A scale is of the one
or of the other.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from itertools import pairwise

from livepedal.harp import Instrument, Player
from livepedal.model.entries import Entry, Guided, Judge, One, Open, Release, Strike, feed
from livepedal.model.performer import Performer
from livepedal.model.readings import Letter
from livepedal.model.tracker import Released, Tracker

CALM = 16  # attacks without a failure of a leader before it is asked to lead again
LANDMARK = 16  # attacks between two moments of the log that catching up may start from
LONGEST_LOG = 4_096  # attacks; then the followers catch up, to bound the memory

# Player figures of which more makes a player quicker; of the others less does. `name` is none, and `sustained` is
# no matter of what can be played attack by attack.
MORE = ("overlap", "reach", "inner_reach", "rolled_reach", "turn_reach", "fingers", "roll")
NEITHER = ("name", "sustained")


@dataclass(frozen=True, slots=True)
class _Landmark:
    """A place in the log, just before an attack opens: what the leader lends, and when each key was struck
    last.
    """

    place: int
    lent: object
    struck: tuple[int, ...]


class _Leader:
    """One tracker, and those that it leads. `leads`: whether they are not asked at present."""

    def __init__(self, one: One, followers: Sequence[_Leader] = (), *, may_lead: bool = True) -> None:
        self.one = one
        self.followers = tuple(followers)
        self._may_lead = may_lead and bool(followers)
        self.leads = self._may_lead
        self._calm = 0
        self._begin_log()

    def _begin_log(self) -> None:
        self._log: list[Entry] = []
        self._landmarks: list[_Landmark] = []
        self._logged = 0

    @property
    def ahead(self) -> bool:
        """Whether the followers have not been asked lately."""
        return self.leads and bool(self._log)

    def all(self) -> Iterator[One]:
        """This one's tracker, then the followers'."""
        yield self.one
        for follower in self.followers:
            yield from follower.all()

    def start(self, letters: tuple[Letter, ...] | None) -> None:
        """Nothing owed; letters unset, or as given."""
        self.one.start(letters)
        self.leads = self._may_lead
        self._calm = 0
        self._begin_log()
        for follower in self.followers:
            follower.start(letters)

    def never_lead(self) -> None:
        """Never lead any more."""
        self._may_lead = False
        for follower in self.followers:
            follower.never_lead()

    def fork(self) -> _Leader:
        """A copy that goes its own way."""
        copy = object.__new__(_Leader)
        copy.__dict__.update(self.__dict__)
        copy.one = self.one.fork()
        copy.followers = tuple(follower.fork() for follower in self.followers)
        copy._log = list(self._log)
        copy._landmarks = list(self._landmarks)
        return copy

    # -- what is fed -----------------------------------------------------------------------------------------

    def feed(self, entry: Open | Strike | Release, struck: Sequence[int]) -> None:
        """Feed this tracker, and the followers unless it leads. struck: when each key was struck last."""
        if not self.leads:
            for follower in self.followers:
                follower.feed(entry, struck)
        else:
            if isinstance(entry, Open):
                self._mark(struck)
            self._log.append(entry)
        feed(self.one, entry)

    def _mark(self, struck: Sequence[int]) -> None:
        if self._logged >= LONGEST_LOG:
            self.catch_up()
        if self._logged % LANDMARK == 0:
            lent = self.one.lend()
            if lent is not None:
                self._landmarks.append(_Landmark(len(self._log), lent, tuple(struck)))
        self._logged += 1

    def judge(self, entry: Judge | Guided) -> bool:
        """Whether this player, and so all followers, or else each of them, can play the open attack."""
        plays = self._hear(entry)
        if self.leads:
            self._log.append(entry)
            if not plays:
                self._step_back()
            return plays
        all_play = plays
        for follower in self.followers:
            all_play = follower.judge(entry.free) and all_play
        if not plays:
            self._calm = 0
        elif self.followers:
            self._calm += 1
            if (
                all_play
                and self._may_lead
                and self._calm % CALM == 0
                and self._is_covered(self, entry.moment)
            ):
                self.leads = True
                self._begin_log()
        return all_play

    def _hear(self, entry: Judge | Guided) -> bool:
        return self.one.hear(entry.free)

    def _step_back(self) -> None:
        """Lead no more."""
        self.catch_up()
        self.leads = False
        self._calm = 0

    def _is_covered(self, leader: _Leader, moment: int) -> bool:
        """Whether each reading of a leader above is one of every follower here."""
        return all(
            leader.one.covered_by(follower.one, moment)
            and (follower.leads or follower._is_covered(leader, moment))
            for follower in self.followers
        )

    # -- catching up -----------------------------------------------------------------------------------------

    def catch_up(self) -> None:
        """Bring the followers to where this one is. Changes no verdict."""
        if self.leads and self._log:
            for follower in self.followers:
                follower._follow(self._log, self._landmarks)
            self._begin_log()
        for follower in self.followers:
            follower.catch_up()

    def _follow(self, log: list[Entry], landmarks: list[_Landmark]) -> None:
        """Come to the end of the leader's log."""
        self._come_to_the_end(log, landmarks)
        if not self.leads:
            for follower in self.followers:
                follower._follow(log, landmarks)
            return
        self._landmarks += [_Landmark(len(self._log) + m.place, m.lent, m.struck) for m in landmarks]
        self._log += log
        self._logged += sum(isinstance(entry, Open) for entry in log)
        if self.one.failed:
            self._step_back()

    def _come_to_the_end(self, log: list[Entry], landmarks: list[_Landmark]) -> None:
        back = 2
        while back < len(landmarks):
            if self._meet(log, landmarks[-back]):
                return
            back *= 2
        for entry in log:
            _apply(self.one, entry)

    def _meet(self, log: list[Entry], landmark: _Landmark) -> bool:
        """Run the tracker from a landmark, from too few readings and from too many, until they meet; then on
        to the end.
        """
        low, high = self.one.fork(), self.one.fork()
        low.begin(landmark.lent)
        high.start(None)
        for pitch, moment in enumerate(landmark.struck):
            low.strike(pitch, moment)
            high.strike(pitch, moment)
        met = False
        opened = 0
        for entry in log[landmark.place :]:
            _apply(low, entry)
            if met:
                continue
            _apply(high, entry)
            if isinstance(entry, Open):
                opened += 1
                if opened % 4 == 0:
                    met = high.covered_by(low, entry.moment)
        if met and not low.uncertain:
            self.one.take(low)
            return True
        return False


class _Guided(_Leader):
    """The relaxed player kept to one way for each attack, where such a guide is given."""

    def _hear(self, entry: Judge | Guided) -> bool:
        return self.one.hear(entry.kept)


class Scale:
    """The six trackers of three players; slowest first, for each player first held, then sliding."""

    def __init__(
        self,
        players: Sequence[Player],
        instrument: Instrument,
        ring: tuple[int, ...],
        *,
        whole: bool,
        guided: bool = False,
    ) -> None:
        """whole: the players with their hands, not their feet alone; guided: whether attacks come with a guide."""

        def tracker(number: int, sliding: bool) -> One:
            if whole:
                return Performer(players[number], instrument, sliding, ring)
            return Tracker(players[number], sliding, ring)

        # With techniques a player's changes are told apart by pedal, so a leader's would not be the others'.
        may_lead = not any(player.two_at_once or player.reach_across for player in players) and all(
            _no_quicker(slow, quick) for slow, quick in pairwise(players)
        )
        leader: tuple[_Leader, ...] = ()
        for number in reversed(range(len(players))):
            sliding = _Leader(tracker(number, True))
            leader = (_Leader(tracker(number, False), (sliding, *leader), may_lead=may_lead),)
        if guided:
            leader = (_Guided(tracker(0, False), leader, may_lead=may_lead),)
        (self._leader,) = leader
        self._guided = guided
        self._struck = [0] * 128

    @property
    def trackers(self) -> tuple[One, ...]:
        """The trackers in order."""
        return tuple(self._leader.all())[self._guided :]

    def start(self, letters: tuple[Letter, ...] | None) -> None:
        """Nothing owed; letters unset, or as given."""
        self._leader.start(letters)

    def never_lead(self) -> None:
        """Ask all six about every attack, from the next start on: slower, and the same answers."""
        self._leader.never_lead()

    def known(self, number: int) -> tuple[One, bool]:
        """A tracker that is up to date and all of whose readings are true of the player of this number: their
        own without slides, with slides where that is all they can, or that of a slower one who leads them; and
        whether it is their own.
        """
        leader = self._leader
        if self._guided:
            if leader.ahead:
                return leader.one, False
            (leader,) = leader.followers
        for _ in range(number):
            if leader.ahead:
                return leader.one, False
            leader = leader.followers[1]
        return leader.followers[0].one if leader.one.failed else leader.one, True

    def fork(self) -> Scale:
        """A copy that goes its own way."""
        copy = object.__new__(type(self))
        copy._leader = self._leader.fork()
        copy._guided = self._guided
        copy._struck = list(self._struck)
        return copy

    def open(self, moment: int) -> None:
        """A new attack begins."""
        self._leader.feed(Open(moment), self._struck)

    def strike(self, pitch: int, moment: int) -> None:
        """A key goes down."""
        self._struck[pitch] = moment
        self._leader.feed(Strike(pitch, moment), self._struck)

    def release(self, released: Sequence[Released], before: bool) -> None:
        """Keys were released; `before`: ones struck before the open attack, while it is open."""
        self._leader.feed(Release(before, tuple(released)), self._struck)

    def judge(self, entry: Judge | Guided) -> bool:
        """Whether every player is sure to play the open attack without a slide; where not, each tracker's `failed`
        says who cannot.
        """
        return self._leader.judge(entry)

    def catch_up(self) -> None:
        """Bring all trackers to where the one that leads is. Changes no verdict."""
        self._leader.catch_up()


class Alone(Scale):
    """One tracker in the place of all six, for trying things on.

    A remedy is a question about one player: can this be played, audibly or not? The tracker that slides answers
    it by itself, exactly as it does among the six, in a fraction of their time. As all three players are then
    this one, whatever is asked of any of them is answered for this one, and nothing is ever audible.
    """

    def __init__(self, scale: Scale, number: int) -> None:
        """scale: one that has caught up; it is not to be fed any more. number: of the player, the relaxed 0."""
        self._leader = _Leader(scale.trackers[2 * number + 1])
        self._guided = False
        self._struck = scale._struck

    @property
    def trackers(self) -> tuple[One, ...]:
        """The one, in the place of each."""
        return (self._leader.one,) * 6

    def known(self, number: int) -> tuple[One, bool]:
        """The one, which is any player's own."""
        return self._leader.one, True


def _apply(one: One, entry: Entry) -> None:
    if isinstance(entry, Judge | Guided):
        one.hear(entry.free)
    else:
        feed(one, entry)


def _no_quicker(slow: Player, quick: Player) -> bool:
    """Whether the first player is nowhere quicker, and reaches nowhere farther, than the second."""
    for one in fields(Player):
        if one.name not in NEITHER:
            mine, other = getattr(slow, one.name), getattr(quick, one.name)
            if (mine > other) if one.name in MORE else (mine < other):
                return False
    return True
