"""A file on its way through a monitor, event by event: for a replay what a take (take.py) is for a session."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import replace

from livepedal.advice.judging.basis import Basis
from livepedal.harp import Setting
from livepedal.live.question import MOST_CONTEXT, Question
from livepedal.model.findings import Finding, Passage
from livepedal.model.monitor import Monitor
from livepedal.model.settled import Settled
from livepedal.music.events import Event, SetPedals
from livepedal.music.song import Part


def _moment(event: Event) -> int:
    return event.us


class Playback:
    """One part, from its start. A `Followed`.

    Attributes:
        number: how often it was begun.
        next: the number of the event that comes next.
        set_first: how the pedals stood before the first attack.
        set_within: whether they were set by hand after that.
    """

    def __init__(self, part: Part, basis: Basis, middle_c: str, number: int = 1) -> None:
        self.number = number
        self.monitor = Monitor(
            basis.figures, basis.instrument, basis.player, only=basis.layers, follow=True, asked=basis.asked
        )
        self.bars = part.time_map
        self.next = 0
        self.over = False
        self.set_first = basis.setting
        self.set_within = False
        self._part, self._basis, self._middle_c = part, basis, middle_c
        # A passage is over when nothing has happened for so long; then the last one of the piece is as well.
        self._over_at = part.end_us + basis.figures.passage_rest
        self._settled = Settled(self.monitor, basis.figures.attack_window)
        self._by_hand: list[tuple[int, Setting]] = []  # when (µs) and how the pedals were set
        if basis.setting is not None:
            self.monitor.feed(SetPedals(0, basis.setting))

    @property
    def quarter(self) -> int:
        """The length of a quarter now (µs)."""
        return round(60_000_000 / self.bars.beats_per_minute(self.monitor.now))

    @property
    def due(self) -> int:
        """When something happens next (µs)."""
        events = self._part.events
        return events[self.next].us if self.next < len(events) else self._over_at

    def feed(self) -> tuple[Event, tuple[Finding, ...]]:
        """The event that comes next, and what the monitor finds."""
        event = self._part.events[self.next]
        self.next += 1
        found = self.monitor.feed(event)
        self._settled.found(found)
        return event, found

    def advance(self, us: int) -> None:
        """Time has passed."""
        self.monitor.advance(min(us, self._over_at))
        if self.next == len(self._part.events) and us >= self._over_at:
            self._settled.found(self.monitor.finish())
            self.over = True

    def set_pedals(self, setting: Setting) -> None:
        """Somebody sets the pedals now."""
        self.monitor.feed(SetPedals(self.monitor.now, setting))
        self._by_hand.append((self.monitor.now, setting))
        if self.monitor.attacks:
            self.set_within = True
        else:
            self.set_first = setting

    def news(self) -> list[Finding | Passage]:
        """What is settled and was not told before, in order of time: a passage after all that was found in it."""
        told: list[Finding | Passage] = [*self._settled.findings(self.over), *self._settled.passages()]
        return sorted(told, key=lambda what: what.us if isinstance(what, Finding) else what.end)

    def question(self, passage: Passage) -> Question:
        """What is to be asked about a passage that is over, for the player of now."""
        events = self._part.events
        first = bisect_left(events, passage.start, key=_moment)
        last = bisect_right(events, passage.end, key=_moment)
        settings = [(0, self._basis.setting), *self._by_hand]
        since, setting = [one for one in settings if one[0] <= passage.start][-1]
        context = events[max(first - MOST_CONTEXT, 0) : first]
        nearer = [one for one in context if one.us >= since]
        # A setting holds for what comes right after it.
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
