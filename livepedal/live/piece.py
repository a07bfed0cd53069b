"""A piece on its way through a monitor, event by event: a take, or a file that is replayed.

A finding is told when its attack is over, since until then a late note may revise it or take it back; a passage when it
is over.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import takewhile
from typing import TypeVar

from livepedal.advice.judging.basis import Basis
from livepedal.live.question import MOST_CONTEXT, Question
from livepedal.model.findings import Finding, Passage, keep
from livepedal.model.snapshot import Snapshot
from livepedal.model.watching import Monitor
from livepedal.music.events import Event, SetPedals
from livepedal.music.song import KeySignature
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
        keys: the key signatures that it is written with.
        found: the findings that were told and stand, by their ids.

    Args:
        failed: takes what goes wrong in judging; None: it is raised.
    """

    def __init__(
        self,
        number: int,
        basis: Basis,
        middle_c: str,
        *,
        keys: tuple[KeySignature, ...] = (),
        failed: Callable[[Exception], None] | None = None,
    ) -> None:
        self.number = number
        self.basis = basis
        self.keys = keys
        self.judged_until: int | None = None
        self.over = False
        self.found: dict[int, Finding] = {}
        self._fresh: dict[int, Finding] = {}  # not told yet
        self._withdrawn: list[Finding] = []  # told, and taken back since
        self._passages_told = 0
        self._middle_c, self._failed = middle_c, failed
        self._moment = 0  # of the last event (µs)
        self._settings = [(0, basis.setting)]  # when (µs) and how the pedals were set
        self._monitor: Monitor | None = None
        self._safely(self._begin, None)

    def _begin(self) -> None:
        basis = self.basis
        monitor = self._monitor = Monitor(
            basis.figures, basis.instrument, basis.player, basis.layers, asked=basis.asked
        )
        if basis.setting is not None:
            monitor.feed(SetPedals(0, basis.setting))

    @property
    def monitor(self) -> Monitor:
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
            self._monitor = None
            if self.judged_until is None:
                self.judged_until = self._moment
            self._failed(error)
            return otherwise

    def _feed(self, event: Event) -> tuple[Finding, ...]:
        """Feed an event; what the model finds."""
        if self.judged_until is not None:
            return ()
        return self._safely(lambda: self._found(self.monitor.feed(event)), _NOTHING)

    def _pass_to(self, us: int) -> None:
        """Nothing happens up to this moment (µs)."""
        self._safely(lambda: self._found(self.monitor.advance(us)), _NOTHING)

    def _last_verdicts(self) -> None:
        """Judge the attack that is open: nothing more will come."""
        if self.judged_until is None:
            self._safely(lambda: self._found(self.monitor.finish()), _NOTHING)

    def _found(self, found: tuple[Finding, ...]) -> tuple[Finding, ...]:
        self._withdrawn += [finding for finding in found if finding.withdrawn and finding.id in self.found]
        keep(self._fresh, found)
        return found

    def judged_as(self, other: Piece) -> None:
        """Take over the findings of another piece with the same events, as far as that was judged."""
        self.found, self.judged_until = {**other.found, **other._fresh}, other._moment

    def snapshot(self) -> Snapshot:
        """How it stands now."""
        return self.monitor.snapshot()

    # -- what there is to tell -------------------------------------------------------------------------------

    def news(self) -> list[Finding | Question]:
        """What is settled since the last call, in order of time: findings, and passages that are over."""
        known = not self._fresh and not self._withdrawn and len(self.closed) == self._passages_told
        return [] if known or self._monitor is None else self._safely(self._news, [])

    def _news(self) -> list[Finding | Question]:
        now, last = self.monitor.now, self.over or self.judged_until is not None
        window = self.basis.figures.window.attack
        settled = [finding for finding in self._fresh.values() if last or now - finding.us > window]
        for finding in settled:
            del self._fresh[finding.id]
        findings, self._withdrawn = [*self._withdrawn, *settled], []
        keep(self.found, findings)
        passages = [self.question(number) for number in range(self._passages_told, len(self.closed))]
        self._passages_told = len(self.closed)
        return sorted(
            [*findings, *passages],
            key=lambda news: news.us if isinstance(news, Finding) else news.passage.end,
        )

    def question(self, number: int) -> Question:
        """A passage that is over (from 0), as advice is asked for on it for the player chosen now."""
        passage = self.closed[number]
        context, events, time_map = self._music(passage)
        since, setting = [known for known in self._settings if known[0] <= passage.start][-1]
        nearer = [event for event in context if event.us >= since]
        # A setting only holds for what comes right after it.
        known = setting if len(nearer) < len(context) or len(context) < MOST_CONTEXT else None
        return Question(
            self.number,
            number + 1,
            passage,
            (*nearer, *events),
            time_map,
            self.bars is not None,
            replace(self.basis, player=self.monitor.player.name, setting=known),
            self._middle_c,
            since,
            any(passage.start < us <= passage.end for us, _ in self._settings),
            self._within(passage),
            self.keys,
        )

    def _within(self, passage: Passage) -> tuple[Finding, ...]:
        """What was found in a passage, and stands; the latest findings are looked at first."""
        since = takewhile(lambda finding: finding.us >= passage.start, reversed(self.found.values()))
        return tuple(finding for finding in since if finding.us <= passage.end)[::-1]

    def last_question(self) -> Question | None:
        """The last passage that is over; None where none is."""
        over = len(self.closed)
        return self._safely(lambda: self.question(over - 1), None) if over else None

    @abstractmethod
    def _music(self, passage: Passage) -> tuple[Sequence[Event], Sequence[Event], TimeMap]:
        """At most MOST_CONTEXT events before a passage, its own, and a time map for them."""
