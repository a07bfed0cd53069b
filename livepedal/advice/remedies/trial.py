"""Changed music, judged from the readings as they stood before the change.

A `Trial` holds the attacks of a piece as they were gathered, and plays them to a monitor whose window is 0, so that a
change of tempo never gathers other attacks. From a monitor that was forked just before an attack it judges the rest
with some notes left out or moved, or with some of the music slower. What came before the change is as it was, so the
verdict from there on is exact: with what the harp has to do before the change, and on until the next trouble that the
music has anyway.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.stretch import AS_WRITTEN, Stretch
from livepedal.advice.remedies.voices import Note, Voices
from livepedal.harp import Setting
from livepedal.model.findings import Finding, Kind, Layer, Outcome, Passage, keep
from livepedal.model.hands.figurations import SOON
from livepedal.model.monitor import BareMonitor
from livepedal.model.why import explain
from livepedal.music.attacks import Gathered, events_of
from livepedal.music.events import Event, NoteOff, NoteOn, SetPedals

Changes = Mapping[Note, int | None]  # the pitch that a note goes to; None: it is left out
UNCHANGED: Changes = {}
Forks = Mapping[int, BareMonitor]  # by attack: the player just before it
FEET = frozenset((Layer.PEDALS, Layer.STRINGS))
HANDS = frozenset((Layer.HANDS,))


@dataclass(frozen=True, slots=True)
class Survey:
    """The music as it stands.

    Attributes:
        findings: for each attack that the player cannot play, by its number, what stands against it.
        starts: monitors of all players just before each passage, by its start (µs).
        cannot: the attacks that each of the three players cannot play.
        hands: those that their hands could not play, unless it turned out to be a figure.
    """

    findings: dict[int, tuple[Finding, ...]]
    passages: tuple[Passage, ...]
    starts: dict[int, BareMonitor]
    cannot: tuple[frozenset[int], ...]
    hands: tuple[frozenset[int], ...]

    def slower(self, number: int, attacks: range) -> frozenset[Layer]:
        """The layers in which a player (0 to 2) may still not manage these attacks at a slower tempo.

        What the hands can play they can play slower (a law of the model, tests/model).
        """
        return FEET if self.hands[number].isdisjoint(attacks) else FEET | HANDS


@dataclass(frozen=True, slots=True)
class Excerpt:
    """Some of the music, as it is put to one player.

    Attributes:
        before: of the player alone, just before the first attack; it is forked, not changed.
        attacks: their numbers; judging stops before the end of them.
        since: troubles before this attack do not count.
        layers: the only ones in which a trouble counts.
    """

    before: BareMonitor
    attacks: range
    since: int = 0
    layers: frozenset[Layer] = FEET | HANDS


def legato(attacks: Sequence[Gathered], overlap: int) -> tuple[Gathered, ...]:
    """The attacks, where a key that comes up within `overlap` (µs) after one of them comes up with it.

    That is when its string counts as free (model/feet/free.py). The overlap of a keyboard's legato has nothing to do
    with the tempo: stretched with the music it would become too long to count, and a slower tempo could be harder.
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
    """The attacks of one piece, for one player on one harp.

    Attributes:
        voices: of the attacks.
        judged: how many attacks have been judged so far, which is what trying things out costs.
    """

    def __init__(self, attacks: Sequence[Gathered], basis: Basis, begin_us: int = 0) -> None:
        """The setting of `basis` is that at `begin_us` (µs); a spelling that it asks for is ignored."""
        self.attacks = legato(attacks, min(player.overlap for player in basis.players))
        self.figures = replace(basis.figures, window=replace(basis.figures.window, attack=0))
        self.basis = replace(basis, figures=self.figures, asked=None)
        self.player = basis.chosen
        self.players = basis.players
        self.number = basis.number
        self.begin_us = begin_us
        self._silent = BareMonitor(self.figures, basis.instrument, self.player.name, basis.layers or None)
        self.events = events_of(self.attacks)
        self.voices = Voices.of(self.attacks, self.player.overlap)
        self.judged = 0
        self._begins: list[int] = []
        for place, event in enumerate(self.events):
            if isinstance(event, NoteOn) and event.source == len(self._begins):
                self._begins.append(place)

    def everybody(self, setting: Setting | None = None) -> BareMonitor:
        """A new monitor of all three players, with the pedals set like this."""
        monitor = self._silent.fork()
        if setting is not None:
            monitor.feed(SetPedals(self.begin_us, setting))
        return monitor

    def fresh(self, setting: Setting | None = None) -> BareMonitor:
        """A new monitor of the player alone."""
        return self.everybody(setting).alone(self.number)

    def at(self, us: int) -> int:
        """The number of the first attack at or after a moment (µs)."""
        return bisect_left(self.attacks, us, key=lambda attack: attack.us)

    def events_from(
        self, first: int, changes: Changes = UNCHANGED, stretch: Stretch = AS_WRITTEN
    ) -> Iterator[Event]:
        """The events from the attack `first` on, changed; keys that are down by then still come up."""
        begin = self._begins[first] if first < len(self._begins) else len(self.events)
        for event in self.events[begin:]:
            assert isinstance(event, NoteOn | NoteOff)
            pitch = changes.get((event.source, event.pitch), event.pitch) if changes else event.pitch
            if pitch is None:
                continue
            us = event.us if stretch is AS_WRITTEN else stretch.at(event.us)
            yield event if us == event.us and pitch == event.pitch else replace(event, us=us, pitch=pitch)

    def play(
        self, monitor: BareMonitor, events: Iterable[Event], findings: dict[int, Finding] | None = None
    ) -> Iterator[NoteOn]:
        """Feed events to a monitor and stop before each attack, which is told by its first note.

        Args:
            monitor: changed by this.
            events: from `events_from`, or of other attacks.
            findings: receives what the monitor says, by its id.
        """
        attack = -1
        for event in events:
            if isinstance(event, NoteOn) and event.source != attack:
                yield event
                attack = event.source
                self.judged += 1
            said = monitor.feed(event)
            if findings is not None:
                keep(findings, said)

    def first_trouble(
        self,
        music: Excerpt,
        changes: Changes = UNCHANGED,
        stretch: Stretch = AS_WRITTEN,
        *,
        forks: dict[int, BareMonitor] | None = None,
        findings: dict[int, Finding] | None = None,
    ) -> int | None:
        """The number of the first attack that the player cannot play; None if there is none.

        What the hands turn out to play as a figuration is no trouble.

        Args:
            music: as far as it is judged.
            changes: of notes.
            stretch: which music is slower.
            forks: receives a fork from before each attack.
            findings: as for `play`.
        """
        monitor, since = music.before.alone(layers=music.layers), music.since
        before, of_hands = self._unplayable(monitor), self._unplayable(monitor, Layer.HANDS)
        attack, us = -1, 0
        for note in self.play(monitor, self.events_from(music.attacks.start, changes, stretch), findings):
            now, hands = self._unplayable(monitor), self._unplayable(monitor, Layer.HANDS)
            if now > before and attack >= since:
                coming = self.events_from(note.source, changes, stretch)
                if hands == of_hands or not _taken_back(monitor, us, coming, note.source + SOON):
                    return attack
            before, of_hands, attack, us = now, hands, note.source, note.us
            if attack >= music.attacks.stop:
                return None
            if forks is not None:
                forks[attack] = monitor.fork()
        return attack if attack >= since and self._unplayable(monitor) > before else None

    def _unplayable(self, monitor: BareMonitor, layer: Layer | None = None) -> int:
        return monitor.record.count(monitor.number, layer, monitor.open)[0]

    def plays(self, music: Excerpt, changes: Changes = UNCHANGED, stretch: Stretch = AS_WRITTEN) -> bool:
        """Whether there is no trouble: for the feet, which are quickly judged, and then for the hands."""
        return not any(
            self.first_trouble(replace(music, layers=layers), changes, stretch) is not None
            for layers in (FEET & music.layers, HANDS & music.layers)
            if layers & music.before.layers
        )

    def needed(self, music: Excerpt, stretch: Stretch = AS_WRITTEN) -> int:
        """The time (µs) that the first trouble needs at least; 0 if there is none, or it is not about time."""
        explained = music.before.fork()
        explained.explain = explain
        found: dict[int, Finding] = {}
        trouble = self.first_trouble(replace(music, before=explained), stretch=stretch, findings=found)
        us = None if trouble is None else stretch.at(self.attacks[trouble].us)
        return min((one.needed for one in found.values() if one.needed and one.us == us), default=0)

    def faults(self, music: Excerpt, stretch: Stretch, counted: range | None = None) -> tuple[int, int]:
        """How many attacks are played only with an audible pedal change at another tempo, and how many not at all.

        Args:
            music: put to a player who tells these apart.
            stretch: which music is slower.
            counted: the attacks to count; None: all.
        """
        monitor = music.before.alone(layers=music.layers, audible=True)
        counted = music.attacks if counted is None else counted
        moments: set[int] = set()
        for note in self.play(monitor, self.events_from(music.attacks.start, stretch=stretch)):
            if note.source >= counted.stop + SOON:
                break
            if note.source in counted:
                moments.add(note.us)
        monitor.finish()
        met = [one.outcomes[monitor.number] for one in monitor.record.graded if one.us in moments]
        return met.count(Outcome.AUDIBLE), met.count(Outcome.CANNOT)

    def survey(self) -> Survey:
        """Judge the music as it is, once through."""
        monitor = before = self.everybody(self.basis.setting)
        findings: dict[int, Finding] = {}
        starts: dict[int, BareMonitor] = {}
        us: int | None = None
        hands: tuple[set[int], ...] = (set(), set(), set())
        met = monitor.counts(Layer.HANDS)
        for number, note in enumerate(chain(self.play(monitor, self.events, findings), (None,))):
            if us is not None and monitor.passages[-1].start == us:
                starts[us] = before
            known, met = met, monitor.counts(Layer.HANDS)
            for some, now, then in zip(hands, met, known, strict=True):
                if now != then:  # or a figure was recognised
                    some.add(number - 1)
            if note is not None:
                before, us = monitor.fork(), note.us
        keep(findings, monitor.finish())
        cannot = tuple(
            frozenset(
                self.at(one.us) for one in monitor.record.graded if one.outcomes[number] is Outcome.CANNOT
            )
            for number in range(3)
        )
        return Survey(
            self._by_attack(findings.values()), monitor.passages, starts, cannot, tuple(map(frozenset, hands))
        )

    def survey_of(self, findings: Iterable[Finding], passages: tuple[Passage, ...]) -> Survey:
        """The same for the chosen player alone, from what was found already, without any monitors."""
        troubles = self._by_attack(findings)
        hands = frozenset(
            n for n, found in troubles.items() if any(one.layer is Layer.HANDS for one in found)
        )
        return Survey(troubles, passages, {}, (frozenset(troubles),) * 3, (hands,) * 3)

    def _by_attack(self, findings: Iterable[Finding]) -> dict[int, tuple[Finding, ...]]:
        """The findings that say that an attack cannot be played, by its number."""
        troubles: dict[int, tuple[Finding, ...]] = {}
        for finding in sorted(findings, key=lambda one: one.us):
            if not finding.audible and finding.kind is not Kind.TOO_MUCH:
                number = self.at(finding.us)
                troubles[number] = (*troubles.get(number, ()), finding)
        return troubles

    def forks_before(
        self, wanted: Iterable[range], monitor: BareMonitor | None = None, first: int = 0
    ) -> Iterator[dict[int, BareMonitor]]:
        """For each range of attacks, monitors of the player alone just before each of them.

        They tell apart what is played only with an audible change.

        Args:
            wanted: their starts and their ends in order.
            monitor: of the player alone, just before the attack `first`; it is forked, not changed.
            first: the attack to start from.
        """
        if monitor is None:
            monitor = self.everybody(self.basis.setting).alone(self.number, audible=True)
        else:
            monitor = monitor.fork()
        notes = self.play(monitor, self.events_from(first))
        forks: dict[int, BareMonitor] = {}
        for numbers in wanted:
            forks = {number: fork for number, fork in forks.items() if number >= numbers.start}
            while numbers[-1] not in forks:
                number = next(notes).source
                if number >= numbers.start:
                    forks[number] = monitor.fork()
            yield {number: forks[number] for number in numbers}


def last_fork(forks: Forks, number: int) -> int:
    """The last attack with a fork that is not after this one."""
    return max(n for n in forks if n <= number)


def _taken_back(monitor: BareMonitor, us: int, coming: Iterable[Event], until: int) -> bool:
    """Whether an attack (µs) that could not be played turns out to be part of a figuration.

    Args:
        monitor: of a player alone; it is not changed.
        us: the moment of the attack (µs).
        coming: the events that follow.
        until: the attack by which it is known.
    """
    ahead = monitor.fork()
    for event in coming:
        if isinstance(event, NoteOn) and event.source >= until:
            break
        ahead.feed(event)
    ahead.finish()
    return all(
        one.us != us or one.outcomes[monitor.number] is not Outcome.CANNOT for one in ahead.record.graded
    )
