"""A file on its way through a monitor, event by event, and the clock that says how far it is."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence

from livepedal.advice.judging.basis import Basis
from livepedal.harp import Setting
from livepedal.live.piece import Piece
from livepedal.live.question import MOST_CONTEXT
from livepedal.model.findings import Finding, Passage
from livepedal.music.events import Event, SetPedals
from livepedal.music.song import Part
from livepedal.music.timemap import TimeMap
from livepedal.sources.ports import stamps


def _moment(event: Event) -> int:
    return event.us


class Pace:
    """The clock of a replay, with a speed and pauses."""

    def __init__(self, speed: float = 1.0, clock: Callable[[], int] = stamps.clock) -> None:
        self.speed = speed
        self._clock = clock
        self._since: int | None = clock()
        self._before = 0

    @property
    def paused(self) -> bool:
        """Whether it stands still."""
        return self._since is None

    def position(self) -> int:
        """How far the music has got (µs)."""
        if self._since is None:
            return self._before
        return self._before + int((self._clock() - self._since) * self.speed) // 1000

    def pause(self) -> None:
        """Pause, or go on."""
        if self._since is None:
            self._since = self._clock()
        else:
            self._before = self.position()
            self._since = None

    def restart(self) -> None:
        """Start again."""
        self._before, self._since = 0, self._clock()

    def until(self, us: int) -> float:
        """Seconds until the music gets there; never below 0."""
        return max(us - self.position(), 0) / 1_000_000 / self.speed


class Playback(Piece):
    """One part from its start; for a replay what a take is for a session.

    Attributes:
        next: the index of the next event.
        set_first: how the pedals stood before the first attack.
        set_within: whether they were set by hand after that.
    """

    def __init__(self, part: Part, basis: Basis, middle_c: str, number: int = 1) -> None:
        super().__init__(number, basis, middle_c, keys=part.keys)
        self.next = 0
        self.set_first = basis.setting
        self.set_within = False
        self._part = part
        # The last passage is over when nothing has happened for the length of a rest.
        self._over_at = part.end_us + basis.figures.window.passage_rest

    @property
    def bars(self) -> TimeMap:
        """The part's time map."""
        return self._part.time_map

    @property
    def due(self) -> int:
        """The moment of the next event, or of the end (µs)."""
        events, number = self._part.events, self.next  # read once: a key in another thread may feed meanwhile
        return events[number].us if number < len(events) else self._over_at

    def feed(self) -> tuple[Event, tuple[Finding, ...]]:
        """Feed the next event; the event and its findings."""
        event = self._part.events[self.next]
        self.next += 1
        return event, self._feed(event)

    def advance(self, us: int) -> None:
        """Let time pass to this moment (µs)."""
        self._pass_to(min(us, self._over_at))
        if self.next == len(self._part.events) and us >= self._over_at:
            self._last_verdicts()
            self.over = True

    def set_pedals(self, setting: Setting) -> None:
        """Set the pedals by hand, now."""
        self._feed(SetPedals(self.monitor.now, setting))
        self._settings.append((self.monitor.now, setting))
        if self.monitor.attacks:
            self.set_within = True
        else:
            self.set_first = setting

    def _music(self, passage: Passage) -> tuple[Sequence[Event], Sequence[Event], TimeMap]:
        events = self._part.events
        first, last = (
            bisect_left(events, passage.start, key=_moment),
            bisect_right(events, passage.end, key=_moment),
        )
        return events[max(first - MOST_CONTEXT, 0) : first], events[first:last], self.bars
