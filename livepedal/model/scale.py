"""Three players side by side, each tracked twice, without asking six trackers about every attack.

Whatever the relaxed player can do without a slide, every quicker player can do, and anyone can do with
slides: the *leader* (relaxed, held) has the least freedom, so each of its readings is also a reading of the
five others. As long as the leader plays on, all six do, and the others need not be asked. What was fed
meanwhile is kept in a log; when the leader fails, they catch up on it. (`caught_up` also does that whenever
there is nothing else to do, so that live nothing waits for it.)

Catching up does not replay a long log. From some moment in it a tracker is run twice: once from the leader's
readings of that moment (all true of this player too, perhaps not all there are) and once from a harp of which
nothing is known (nothing is ruled out that is true, perhaps too much is possible). What is really possible
lies between the two, so from the moment at which every reading of the second run is covered by one of the
first (readings.py), the first is exact. That takes a few seconds of music, since quiet feet forget. Where it
does not come about, the start is moved back, in the end to where the log begins, where all was exact.

After the leader has failed its readings are no longer readings of the others: all six are run, until each
reading of the leader is covered in every other tracker again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from livepedal.harp import Player
from livepedal.model.chords import Sharing
from livepedal.model.readings import Letter
from livepedal.model.tracker import Pair, Released, Tracker, covered

CALM = 16  # attacks without a failure of the leader before it is asked to lead again
LANDMARK = 16  # attacks between two moments of the log that catching up may start from
LONGEST_LOG = 4_096  # attacks; then the others catch up, to bound the memory


@dataclass(frozen=True, slots=True)
class _Open:
    moment: int


@dataclass(frozen=True, slots=True)
class _Strike:
    pitch: int
    moment: int


@dataclass(frozen=True, slots=True)
class _Release:
    before: bool
    released: tuple[Released, ...]


@dataclass(frozen=True, slots=True)
class _Judge:
    ways: tuple[Sharing, ...]
    moment: int


_Entry = _Open | _Strike | _Release | _Judge


@dataclass(frozen=True, slots=True)
class _Landmark:
    """A place in the log, just before an attack opens: the leader's pairs, and when each key was struck last."""

    place: int
    pairs: tuple[Pair, ...]
    struck: tuple[int, ...]


class Scale:
    """The six trackers of three players; slowest first, for each player first held, then sliding."""

    def __init__(self, players: Sequence[Player], ring: tuple[int, ...]) -> None:
        self.trackers = tuple(
            Tracker(player, sliding, ring) for player in players for sliding in (False, True)
        )
        # With techniques a player's changes are told apart by pedal, so a leader's would not be the others'.
        self._always_all = any(player.two_at_once or player.reach_across for player in players)
        self._struck = [0] * 128
        self.start(None)

    def start(self, letters: tuple[Letter, ...] | None) -> None:
        """Nothing owed; letters unset, or as given."""
        for tracker in self.trackers:
            tracker.start(letters)
        self._leads = not self._always_all
        self._calm = 0
        self._begin_log()

    def _begin_log(self) -> None:
        self._log: list[_Entry] = []
        self._landmarks: list[_Landmark] = []
        self._logged = 0

    @property
    def behind(self) -> bool:
        """Whether only the leader was asked lately: its readings are all true of the others, whose own are
        out of date.
        """
        return self._leads and bool(self._log)

    def fork(self) -> Scale:
        """A copy that goes its own way."""
        copy = object.__new__(Scale)
        copy.__dict__.update(self.__dict__)
        copy.trackers = tuple(tracker.fork() for tracker in self.trackers)
        copy._struck = list(self._struck)
        copy._log = list(self._log)
        copy._landmarks = list(self._landmarks)
        return copy

    # -- what is fed -----------------------------------------------------------------------------------------------

    def open(self, moment: int) -> None:
        """A new attack begins."""
        if not self._leads:
            for tracker in self.trackers:
                tracker.open(moment)
            return
        if self._logged >= LONGEST_LOG:
            self.catch_up()
        if self._logged % LANDMARK == 0:
            self._landmarks.append(_Landmark(len(self._log), self.trackers[0].after, tuple(self._struck)))
        self._logged += 1
        self._log.append(_Open(moment))
        self.trackers[0].open(moment)

    def strike(self, pitch: int, moment: int) -> None:
        """A key goes down."""
        self._struck[pitch] = moment
        self._feed(_Strike(pitch, moment))

    def release(self, released: Sequence[Released], before: bool) -> None:
        """Keys were released; `before`: ones struck before the open attack, while it is open."""
        self._feed(_Release(before, tuple(released)))

    def _feed(self, entry: _Entry) -> None:
        if self._leads:
            self._log.append(entry)
            _apply(self.trackers[0], entry)
        else:
            for tracker in self.trackers:
                _apply(tracker, entry)

    def judge(self, ways: tuple[Sharing, ...], moment: int) -> bool:
        """Whether every player can play the open attack without a slide; where not, each tracker's `failed`
        says who cannot.
        """
        entry = _Judge(ways, moment)
        leader = self.trackers[0]
        if self._leads:
            self._log.append(entry)
            if leader.judge(ways, moment):
                return True
            self.catch_up()
            self._leads = False
            self._calm = 0
            return False
        good = True
        for tracker in self.trackers:
            good = tracker.judge(ways, moment) and good
        if leader.failed:
            self._calm = 0
        else:
            self._calm += 1
            if good and self._calm % CALM == 0 and not self._always_all:
                self._try_to_lead(moment)
        return good

    def _try_to_lead(self, moment: int) -> None:
        leader = self.trackers[0]
        if all(covered(leader.before, other, other.before, moment) for other in self.trackers[1:]) and all(
            covered(leader.after, other, other.after, moment) for other in self.trackers[1:]
        ):
            self._leads = True
            self._begin_log()

    # -- catching up -----------------------------------------------------------------------------------------------

    def catch_up(self) -> None:
        """Bring all trackers to where the leader is. Changes no verdict."""
        if not self._leads or not self._log:
            return
        for tracker in self.trackers[1:]:
            self._catch_up(tracker)
        self._begin_log()

    def _catch_up(self, tracker: Tracker) -> None:
        back = 2
        while back < len(self._landmarks):
            if self._meet(tracker, self._landmarks[-back]):
                return
            back *= 2
        for entry in self._log:
            _apply(tracker, entry)

    def _meet(self, tracker: Tracker, landmark: _Landmark) -> bool:
        """Run the tracker from a landmark, from too few readings and from too many, until they meet; then on
        to the end.
        """
        low, high = tracker.fork(), tracker.fork()
        low.start(None)
        high.start(None)
        low.after = landmark.pairs
        for pitch, moment in enumerate(landmark.struck):
            low.strike(pitch, moment)
            high.strike(pitch, moment)
        met = False
        opened = 0
        for entry in self._log[landmark.place :]:
            _apply(low, entry)
            if met:
                continue
            _apply(high, entry)
            if isinstance(entry, _Open):
                opened += 1
                if opened % 4 == 0:
                    met = covered(high.before, low, low.before, entry.moment)
        if met:
            tracker.take(low)
        return met


def _apply(tracker: Tracker, entry: _Entry) -> None:
    if isinstance(entry, _Judge):
        tracker.judge(entry.ways, entry.moment)
    elif isinstance(entry, _Strike):
        tracker.strike(entry.pitch, entry.moment)
    elif isinstance(entry, _Open):
        tracker.open(entry.moment)
    elif entry.before:
        tracker.release_before(entry.released)
    else:
        tracker.release_after(entry.released)
