"""A monitor that can be looked at while it listens: reasons, recent findings, and snapshots for screens.

Nothing here is part of a verdict. The sustain pedal is only shown: keyboard players hold it for colour.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Self

from livepedal.defaults import PLAYER
from livepedal.harp import Figures, Instrument, Setting
from livepedal.model.feet.chords import Narrowing
from livepedal.model.feet.tracker import Tracker
from livepedal.model.findings import Finding, Layer, Outcome, PlayerCount, Verdict, grade, keep
from livepedal.model.following import Following
from livepedal.model.monitor import BareMonitor
from livepedal.model.next_notes import next_notes, table
from livepedal.model.record import Judged
from livepedal.model.snapshot import Snapshot
from livepedal.model.why import explain
from livepedal.music.events import Event, Sustain

RECENT_FINDINGS = 50


class Monitor(BareMonitor):
    """A harp and its three players, followed event by event: findings with their reasons, and snapshots for screens.

    What it decides is decided by BareMonitor (monitor.py), which is for trying things on, where nobody looks.

    Args:
        figures: of players and strings.
        instrument: the harp.
        player: the name of the player whose troubles become findings.
        only: the layers to judge (default: all).
        asked: the spelling of attacks, by their moment (µs), if the model must not choose it.

    Raises:
        LivepedalError: there is no such player.
    """

    watches_feet = True

    def __init__(
        self,
        figures: Figures,
        instrument: Instrument,
        player: str = PLAYER,
        only: Iterable[Layer] | None = None,
        asked: Mapping[int, Narrowing] | None = None,
    ) -> None:
        super().__init__(figures, instrument, player, only, asked=asked, explain=explain)

    def _afresh(self, last_id: int = 0) -> None:
        super()._afresh(last_id)
        self._following = Following(self.instrument)
        self._recent: dict[int, Finding] = {}
        self._latest: Verdict | None = None  # of the last attack that is over
        self._sustained: frozenset[int] = frozenset()  # sources whose sustain pedal is down

    def feed(self, event: Event) -> tuple[Finding, ...]:
        """Take one event; the findings that it makes, revises or withdraws."""
        if isinstance(event, Sustain):
            others = self._sustained - {event.source}
            self._sustained = others | {event.source} if event.down else others
        return super().feed(event)

    def _told(self, found: tuple[Finding, ...] = ()) -> tuple[Finding, ...]:
        found = super()._told(found)
        for finding in found:
            self._recent.pop(finding.id, None)  # the latest stands last
        keep(self._recent, found)
        for number in [*self._recent][:-RECENT_FINDINGS]:
            del self._recent[number]
        return found

    def _over(self, attack: Judged) -> None:
        self._latest, _ = grade(attack.whole)
        audible = attack.whole[self.number] is Outcome.AUDIBLE
        wanted = sorted({*self.keys.down} - {*attack.pitches}) if audible else ()
        self._following.over(self._shown(), attack.us, attack.pitches, wanted)

    def _set(self, setting: Setting, us: int) -> None:
        super()._set(setting, us)
        self._following.set_to(setting)

    def fork(self) -> Self:
        """A copy that goes its own way, to try things on."""
        twin = super().fork()
        twin._following, twin._recent = self._following.fork(), dict(self._recent)
        return twin

    def snapshot(self) -> Snapshot:
        """The monitor at this moment, as a value that does not change."""
        attack, tracker = self.open, self._shown()
        notes = list(self._following.notes)
        if attack is not None:
            notes += self._following.spelled(tracker, attack.us, attack.pitches)
        held, sliding = self.tracker(held=True), self.tracker(held=False)
        # The next note is one of another attack than the open one.
        soonest = self.now if attack is None else max(self.now, attack.us + self.figures.window.attack + 1)
        released = self.released()
        pairs = held.let_go(released)
        struck = next_notes(table(held, pairs, soonest), table(sliding, sliding.let_go(released), soonest))
        passages = self.passages
        gone = {finding.id for finding in self._besides if finding.withdrawn}
        return Snapshot(
            us=self.now,
            player=self.player.name,
            pedals=self._following.pedals(held, pairs, sum(1 << pitch for pitch in self.keys.down), soonest),
            notes=tuple(notes),
            passage=passages[-1] if passages else None,
            counts=self._counts_since(passages[-1].start if passages else 0),
            findings=tuple(finding for number, finding in self._recent.items() if number not in gone),
            attacks=self.attacks,
            latest=self._latest if attack is None else grade(attack.whole)[0],
            changes=tuple(self._following.changes),
            next_notes=struck,
            tuned=self.tunings.changed,
            soonest=soonest,
            sustained=bool(self._sustained),
        )

    def _counts_since(self, us: int) -> tuple[PlayerCount, ...]:
        """What each player met in the attacks from a moment (µs) on."""
        outcomes: list[tuple[Outcome, ...]] = [] if self.open is None else [self.open.whole]
        for graded in reversed(self.record.graded):
            if graded.us < us:
                break
            outcomes.append(graded.outcomes)
        return tuple(
            PlayerCount(player.name, mine.count(Outcome.CANNOT), mine.count(Outcome.AUDIBLE))
            for number, player in enumerate(self.players)
            for mine in [[outcome[number] for outcome in outcomes]]
        )

    def _shown(self) -> Tracker:
        """The feet that views speak of: the chosen player's, without slides while that is possible."""
        return self.tracker(held=not self.tracker(held=True).failed)
