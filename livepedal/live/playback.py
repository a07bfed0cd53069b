"""A file on its way through a monitor, event by event, and the clock that says how far it is."""

from __future__ import annotations

import time
from bisect import bisect_left, bisect_right
from collections.abc import Callable
from dataclasses import replace

from livepedal.advice.judging.basis import Basis
from livepedal.harp import Setting
from livepedal.live.question import MOST_CONTEXT, Question
from livepedal.model.findings import Finding, Passage
from livepedal.model.settled import Settled
from livepedal.model.watching import WatchedMonitor
from livepedal.music.events import Event, SetPedals
from livepedal.music.song import Part


def _moment(event: Event) -> int:
    return event.us


class Pace:
    """The clock of a replay, with a speed and pauses."""

    def __init__(self, speed: float = 1.0, clock: Callable[[], int] = time.monotonic_ns) -> None:
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


class Playback:
    """One part from its start; for a replay what a take is for a session.

    Attributes:
        number: how often it was begun.
        bars: its time map.
        next: the index of the next event.
        over: whether the piece is.
        set_first: how the pedals stood before the first attack.
        set_within: whether they were set by hand after that.
    """

    def __init__(self, part: Part, basis: Basis, middle_c: str, number: int = 1) -> None:
        self.number = number
        self.monitor = WatchedMonitor(
            basis.figures, basis.instrument, basis.player, basis.layers, asked=basis.asked
        )
        self.bars = part.time_map
        self.next = 0
        self.over = False
        self.set_first = basis.setting
        self.set_within = False
        self._part, self._basis, self._middle_c = part, basis, middle_c
        # The last passage is over when nothing has happened for the length of a rest.
        self._over_at = part.end_us + basis.figures.window.passage_rest
        self._settled = Settled(self.monitor, basis.figures.window.attack)
        self._by_hand: list[tuple[int, Setting]] = []  # when (µs) and how the pedals were set
        if basis.setting is not None:
            self.monitor.feed(SetPedals(0, basis.setting))

    @property
    def quarter(self) -> int:
        """The length of a quarter now (µs)."""
        return round(60_000_000 / self.bars.beats_per_minute(self.monitor.now))

    @property
    def due(self) -> int:
        """The moment of the next event, or of the end (µs)."""
        events = self._part.events
        return events[self.next].us if self.next < len(events) else self._over_at

    def feed(self) -> tuple[Event, tuple[Finding, ...]]:
        """Feed the next event; the event and its findings."""
        event = self._part.events[self.next]
        self.next += 1
        found = self.monitor.feed(event)
        self._settled.found(found)
        return event, found

    def advance(self, us: int) -> None:
        """Let time pass to this moment (µs)."""
        self.monitor.advance(min(us, self._over_at))
        if self.next == len(self._part.events) and us >= self._over_at:
            self._settled.found(self.monitor.finish())
            self.over = True

    def set_pedals(self, setting: Setting) -> None:
        """Set the pedals by hand, now."""
        self.monitor.feed(SetPedals(self.monitor.now, setting))
        self._by_hand.append((self.monitor.now, setting))
        if self.monitor.attacks:
            self.set_within = True
        else:
            self.set_first = setting

    def news(self) -> list[Finding | Passage]:
        """Findings and passages that are settled since the last call, in order of time."""
        news: list[Finding | Passage] = [*self._settled.findings(self.over), *self._settled.passages()]
        return sorted(news, key=lambda what: what.us if isinstance(what, Finding) else what.end)

    def question(self, passage: Passage) -> Question:
        """A closed passage as advice is asked for on it, for the player chosen now."""
        events = self._part.events
        first = bisect_left(events, passage.start, key=_moment)
        last = bisect_right(events, passage.end, key=_moment)
        settings = [(0, self._basis.setting), *self._by_hand]
        since, setting = [(us, setting) for us, setting in settings if us <= passage.start][-1]
        context = events[max(first - MOST_CONTEXT, 0) : first]
        nearer = [event for event in context if event.us >= since]
        # A setting only holds for what comes right after it.
        known = setting if len(nearer) < len(context) or first <= MOST_CONTEXT else None
        return Question(
            self.number,
            self.monitor.passages.index(passage) + 1,
            passage,
            (*nearer, *events[first:last]),
            self.bars,
            True,
            replace(self._basis, player=self.monitor.player.name, setting=known),
            self._middle_c,
            since,
            any(passage.start < us <= passage.end for us, _ in self._by_hand),
        )
