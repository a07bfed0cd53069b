"""Trying things on: music that was changed, judged from the readings as they stood before the change.

What has been gathered stays together, so that a change of tempo never makes other attacks of the same music:
gathered attacks are played to a monitor whose window is 0. A `Trial` holds such music as events; from a
monitor that was forked just before one of its attacks it judges the rest with some notes left out, put
elsewhere, or some span of time stretched. Since everything before the change is as it was, the fork is exact
there, and a remedy is judged in its place: with what the harp has to do before it, and on until the next
trouble that the music has anyway.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.stretch import Stretch
from livepedal.harp import Setting
from livepedal.model.findings import Finding, Layer, Outcome, Passage, keep
from livepedal.model.hands.figures import SOON
from livepedal.model.monitor import Monitor
from livepedal.music.attacks import Gathered, events_of
from livepedal.music.events import Event, NoteOff, NoteOn, SetPedals

# Which note: (number of the attack, pitch); and what becomes of it: another pitch, or None where it is left
# out.
Changes = Mapping[tuple[int, int], int | None]
UNCHANGED: Changes = {}


@dataclass(frozen=True, slots=True)
class Survey:
    """The music as it stands.

    Attributes:
        findings: by attack that the player cannot play, what stands against it.
        starts: monitors of all players just before each passage, by its start (µs).
        plays: whether each of the three players can play it all.
    """

    findings: dict[int, tuple[Finding, ...]]
    passages: tuple[Passage, ...]
    starts: dict[int, Monitor]
    plays: tuple[bool, ...]


def legato(attacks: Sequence[Gathered], overlap: int) -> tuple[Gathered, ...]:
    """The attacks; each key that is let go within `overlap` (µs) after one of them is let go with it, which is when
    its string counts as free (model/feet/free.py).

    How far a keyboard's legato runs over is no matter of the tempo. Stretched with the music it would run over too far
    to count, and a slower tempo could be harder.
    """
    moments = [attack.us for attack in attacks]
    found = []
    for attack in attacks:
        notes = []
        for pitch, end in attack.notes:
            if end is not None:
                latest = moments[bisect_right(moments, end) - 1]
                if attack.us < latest < end <= latest + overlap:
                    end = latest + 1  # as an event it comes after the attack
            notes.append((pitch, end))
        found.append(replace(attack, notes=tuple(notes)))
    return tuple(found)


class Trial:
    """One piece of gathered attacks for one player on one harp.

    Attributes:
        fed: the attacks judged so far, which is what trying things on costs.
    """

    def __init__(self, attacks: Sequence[Gathered], basis: Basis, begin_us: int = 0) -> None:
        """basis: its setting is that at `begin_us` (µs); how attacks are to be spelled does not count."""
        self.attacks = legato(attacks, min(player.overlap for player in basis.players))
        self.figures = replace(basis.figures, attack_window=0)
        self.basis = replace(basis, figures=self.figures, asked=None)
        self.instrument = basis.instrument
        self.player = basis.chosen
        self.players = basis.players
        self.number = basis.number
        self.setting = basis.setting
        self.begin_us = begin_us
        self.events = events_of(self.attacks)
        self.fed = 0
        self._begins: list[int] = []
        for place, event in enumerate(self.events):
            if isinstance(event, NoteOn) and event.source == len(self._begins):
                self._begins.append(place)

    def everybody(self, setting: Setting | None = None) -> Monitor:
        """A monitor of all three players to which nothing has been played yet; the pedals stand as in
        `setting`.
        """
        monitor = Monitor(self.figures, self.instrument, self.player.name, self.basis.layers or None)
        monitor.explains = False
        if setting is not None:
            monitor.feed(SetPedals(self.begin_us, setting))
        return monitor

    def fresh(self, setting: Setting | None = None) -> Monitor:
        """The same of the player alone, to try things on."""
        return self.everybody(setting).alone(self.number)

    def at(self, us: int) -> int:
        """The number of the first attack at or after a moment."""
        return bisect_left(self.attacks, us, key=lambda attack: attack.us)

    def events_from(
        self, first: int, changes: Changes = UNCHANGED, stretch: Stretch | None = None
    ) -> Iterator[Event]:
        """What is played from the attack `first` on, its changes made; earlier notes still come up when they
        did.
        """
        begin = self._begins[first] if first < len(self._begins) else len(self.events)
        for event in self.events[begin:]:
            assert isinstance(event, NoteOn | NoteOff)
            pitch = changes.get((event.source, event.pitch), event.pitch) if changes else event.pitch
            if pitch is None:
                continue
            us = event.us if stretch is None else stretch.at(event.us)
            yield event if us == event.us and pitch == event.pitch else replace(event, us=us, pitch=pitch)

    def attack_by_attack(self, monitor: Monitor, events: Iterable[Event]) -> Iterator[NoteOn]:
        """Feed events to a monitor; before each attack its first note is given."""
        attack = -1
        for event in events:
            if isinstance(event, NoteOn) and event.source != attack:
                yield event
                attack = event.source
                self.fed += 1
            monitor.feed(event)

    def first_trouble(
        self,
        monitor: Monitor,
        first: int,
        until: int,
        changes: Changes = UNCHANGED,
        stretch: Stretch | None = None,
        forks: dict[int, Monitor] | None = None,
        since: int = 0,
    ) -> int | None:
        """The number of the first attack from `first` on, before `until`, that the player cannot play; None
        where there is none. What the hands turn out to play as a figure is no trouble.

        Args:
            monitor: as it stood just before `first`, of a player alone; it is forked, not changed.
            forks: gets a fork from before each attack.
            since: the attack before which troubles do not count.
        """
        who = self.number  # any would do, of a player alone
        monitor = monitor.fork()
        before = monitor.counts()[who].unplayable
        of_hands = monitor.counts(Layer.HANDS)[who].unplayable
        attack, us = -1, 0
        for note in self.attack_by_attack(monitor, self.events_from(first, changes, stretch)):
            now = monitor.counts()[who].unplayable
            hands = monitor.counts(Layer.HANDS)[who].unplayable
            if now > before and attack >= since:
                coming = self.events_from(note.source, changes, stretch)
                if hands == of_hands or not _taken_back(monitor, us, coming, note.source + SOON):
                    return attack
            before, of_hands, attack, us = now, hands, note.source, note.us
            if attack >= until:
                return None
            if forks is not None:
                forks[attack] = monitor.fork()
        return attack if attack >= since and monitor.counts()[who].unplayable > before else None

    def needed(
        self, monitor: Monitor, first: int, until: int, stretch: Stretch | None = None, since: int = 0
    ) -> int:
        """The least time (µs) that the first trouble would take; 0 where there is none, or time is not the matter.

        Args:
            monitor, first, until, stretch, since: as for `first_trouble`.
        """
        trouble = self.first_trouble(monitor, first, until, stretch=stretch, since=since)
        if trouble is None:
            return 0
        monitor = monitor.fork()
        monitor.explains = True
        found: dict[int, Finding] = {}
        for event in self.events_from(first, stretch=stretch):
            if isinstance(event, NoteOn) and event.source > trouble:
                break
            keep(found, monitor.feed(event))
        us = self.attacks[trouble].us if stretch is None else stretch.at(self.attacks[trouble].us)
        return min((one.needed for one in found.values() if one.needed and one.us == us), default=0)

    def heard(
        self,
        monitor: Monitor,
        first: int,
        since: int,
        until: int,
        stretch: Stretch,
        number: int | None = None,
    ) -> tuple[int, int]:
        """How many attacks from `since` to before `until` are played only with an audible pedal change, at another
        tempo, and how many cannot be played at all.

        Args:
            monitor: of all players, just before the attack `first`, which may come before `since`; it is not changed.
            number: of the player, where it is not that of the trial.
        """
        who = self.number if number is None else number
        monitor = monitor.fork()
        moments: set[int] = set()
        for note in self.attack_by_attack(monitor, self.events_from(first, stretch=stretch)):
            if note.source >= until + SOON:
                break
            if since <= note.source < until:
                moments.add(note.us)
        monitor.finish()
        met = [one.outcomes[who] for one in monitor.record.graded if one.us in moments]
        return met.count(Outcome.AUDIBLE), met.count(Outcome.CANNOT)

    def survey(self) -> Survey:
        """The unchanged music once through, from the setting at the start."""
        monitor = self.everybody(self.setting)
        found: dict[int, tuple[Finding, ...]] = {}
        starts: dict[int, Monitor] = {}
        here: dict[int, Finding] = {}
        before = monitor.counts()[self.number].unplayable
        attack = -1

        def close() -> int:
            now = monitor.counts()[self.number].unplayable
            if now > before:
                found[attack] = tuple(finding for finding in here.values() if not finding.audible)
            here.clear()
            return now

        def take(findings: tuple[Finding, ...]) -> None:
            keep(here, findings)
            gone = {finding.id for finding in findings if finding.withdrawn}
            for number, said in list(found.items()) if gone else ():
                # A figure that was recognised later; nothing else takes back what was said of an attack that is over.
                left = tuple(finding for finding in said if finding.id not in gone)
                if left:
                    found[number] = left
                else:
                    del found[number]

        for event in self.events:
            if isinstance(event, NoteOn) and event.source != attack:
                before, attack = close(), event.source
                self.fed += 1
                fork = monitor.fork()
                findings = monitor.feed(event)
                if monitor.passages[-1].start == event.us:
                    starts[event.us] = fork
            else:
                findings = monitor.feed(event)
            take(findings)
        close()
        take(monitor.finish())
        plays = tuple(count.unplayable == 0 for count in monitor.counts())
        return Survey(found, monitor.passages, starts, plays)

    def walk(
        self, wanted: Sequence[range], monitor: Monitor | None = None, first: int = 0
    ) -> Iterator[dict[int, Monitor]]:
        """For each range of attacks (both ends upwards) monitors as they stand just before each of them, the
        music unchanged.

        Args:
            monitor: as it stands just before the attack `first`, of the player alone; it is forked, not changed.
        """
        monitor = self.fresh(self.setting) if monitor is None else monitor.fork()
        forks: dict[int, Monitor] = {}
        place = 0
        for note in self.attack_by_attack(monitor, self.events_from(first)):
            while place < len(wanted) and note.source >= wanted[place].stop:
                yield {number: forks[number] for number in wanted[place]}
                place += 1
                if place < len(wanted):
                    forks = {n: fork for n, fork in forks.items() if n >= wanted[place].start}
            if place == len(wanted):
                return
            if note.source >= wanted[place].start:
                forks[note.source] = monitor.fork()
        for numbers in wanted[place:]:
            yield {number: forks[number] for number in numbers}


def _taken_back(monitor: Monitor, us: int, coming: Iterable[Event], until: int) -> bool:
    """Whether an attack (µs) of a player alone that could not be played turns out to be played as a figure before the
    attack `until`. coming: what is played next.
    """
    ahead = monitor.fork()
    for event in coming:
        if isinstance(event, NoteOn) and event.source >= until:
            break
        ahead.feed(event)
    ahead.finish()
    return all(one.us != us or Outcome.CANNOT not in one.outcomes for one in ahead.record.graded)
