"""A piece on its way through a monitor, event by event: a take, or a file that is replayed."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import TypeVar

from livepedal.advice.judging.basis import Basis
from livepedal.live.question import MOST_CONTEXT, Question
from livepedal.model.findings import Finding, Passage
from livepedal.model.settled import Settled
from livepedal.model.snapshot import Snapshot
from livepedal.model.watching import WatchedMonitor
from livepedal.music.events import Event, SetPedals
from livepedal.music.timemap import TimeMap

_NOTHING: tuple[Finding, ...] = ()
_Made = TypeVar("_Made")


class Piece(ABC):
    """The verdicts on one piece. Where judging fails there are no more of them, and nothing else is lost.

    Attributes:
        number: of the take, or how often the replay was begun; from 1.
        basis: what it is judged on, with the player at its start.
        judged_until: µs up to which it was judged; None for all of it.
        over: whether it is over.

    Args:
        judged: False where only its notes are wanted.
        failed: takes what goes wrong in judging; None: it is raised.
    """

    def __init__(
        self,
        number: int,
        basis: Basis,
        middle_c: str,
        *,
        judged: bool = True,
        failed: Callable[[Exception], None] | None = None,
    ) -> None:
        self.number = number
        self.basis = basis
        self.judged_until: int | None = None if judged else 0
        self.over = False
        self._middle_c, self._failed = middle_c, failed
        self._moment = 0  # of the last event (µs)
        self._settings = [(0, basis.setting)]  # when (µs) and how the pedals were set
        self._monitor: WatchedMonitor | None = None
        self._settled: Settled | None = None
        if judged:
            self._safely(self._begin, None)

    def _begin(self) -> None:
        basis = self.basis
        monitor = self._monitor = WatchedMonitor(
            basis.figures, basis.instrument, basis.player, basis.layers, asked=basis.asked
        )
        self._settled = Settled(monitor, basis.figures.window.attack)
        if basis.setting is not None:
            monitor.feed(SetPedals(0, basis.setting))

    @property
    def monitor(self) -> WatchedMonitor:
        """Its monitor; only of a piece that is judged."""
        assert self._monitor is not None
        return self._monitor

    @property
    def closed(self) -> Sequence[Passage]:
        """The passages that are over."""
        return () if self._monitor is None else self._monitor.record.passages

    @property
    def passage_open(self) -> bool:
        """Whether the last passage goes on."""
        monitor = self._monitor
        if monitor is None:
            return False
        return self._safely(lambda: any(passage.open for passage in monitor.passages[-1:]), False)

    @property
    @abstractmethod
    def bars(self) -> TimeMap | None:
        """Bars and beats as far as they are known now; None where nobody counts."""

    @property
    def quarter(self) -> int | None:
        """The length of a quarter now (µs); None where nobody counts."""
        return None if self.bars is None else round(60_000_000 / self.bars.beats_per_minute(self.monitor.now))

    # -- what is judged --------------------------------------------------------------------------------------

    def _safely(self, step: Callable[[], _Made], otherwise: _Made) -> _Made:
        """What a step of judging makes; `otherwise` where it fails, and then nothing is judged any more."""
        try:
            return step()
        except Exception as error:
            if self._failed is None:
                raise
            self._monitor = self._settled = None
            if self.judged_until is None:
                self.judged_until = self._moment
            self._failed(error)
            return otherwise

    def _feed(self, event: Event) -> tuple[Finding, ...]:
        """Feed an event; what the model finds."""
        if self.judged_until is not None:
            return ()
        return self._safely(lambda: self._found(self.monitor.feed(event)), _NOTHING)

    def _last_verdicts(self) -> None:
        """Judge the attack that is open: nothing more will come."""
        if self.judged_until is None:
            self._safely(lambda: self._found(self.monitor.finish()), _NOTHING)

    def _found(self, found: tuple[Finding, ...]) -> tuple[Finding, ...]:
        assert self._settled is not None
        self._settled.found(found)
        return found

    def snapshot(self) -> Snapshot:
        """How it stands now."""
        return self.monitor.snapshot()

    # -- what there is to tell -------------------------------------------------------------------------------

    def news(self) -> list[Finding | Question]:
        """What is settled since the last call, in order of time: findings, and passages that are over."""
        return [] if self._settled is None else self._safely(partial(self._news, self._settled), [])

    def _news(self, settled: Settled) -> list[Finding | Question]:
        findings = settled.findings(self.over or self.judged_until is not None)
        first = settled.passages_handed
        over = [self.question(number) for number, _ in enumerate(settled.passages(), first)]
        return sorted(
            [*findings, *over], key=lambda news: news.us if isinstance(news, Finding) else news.passage.end
        )

    def question(self, number: int) -> Question:
        """A passage that is over (from 0), as advice is asked for on it for the player chosen now."""
        passage = self.closed[number]
        first, last = self._span(passage)
        before, began = max(first - MOST_CONTEXT, 0), first <= MOST_CONTEXT
        since, setting = [known for known in self._settings if known[0] <= passage.start][-1]
        context = self._events(before, first)
        nearer = [event for event in context if event.us >= since]
        # A setting only holds for what comes right after it.
        known = setting if len(nearer) < len(context) or began else None
        return Question(
            self.number,
            number + 1,
            passage,
            (*nearer, *self._events(first, last)),
            self._time_map(before),
            self.bars is not None,
            replace(self.basis, player=self.monitor.player.name, setting=known),
            self._middle_c,
            since,
            any(passage.start < us <= passage.end for us, _ in self._settings),
        )

    def last_question(self) -> Question | None:
        """The last passage that is over; None where none is."""
        over = len(self.closed)
        return self._safely(lambda: self.question(over - 1), None) if over else None

    @abstractmethod
    def _span(self, passage: Passage) -> tuple[int, int]:
        """The numbers of the first event of a passage, and of the first one after it."""

    @abstractmethod
    def _events(self, first: int, last: int) -> Sequence[Event]:
        """The events from one number to before another."""

    @abstractmethod
    def _time_map(self, first: int) -> TimeMap:
        """A time map for what comes from this event on."""
