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

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.stretch import AS_WRITTEN, Stretch
from livepedal.advice.remedies.voices import Note, Voices
from livepedal.harp import Setting
from livepedal.model.feet.chords import Chords
from livepedal.model.findings import Finding, Kind, Layer, Outcome, Passage, keep
from livepedal.model.hands.figurations import SOON
from livepedal.model.monitor import BareMonitor
from livepedal.model.plan.prepared import Music
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
        cannot: the attacks that each of the three players cannot play.
        hands: those of them that their hands may have trouble with.
    """

    findings: dict[int, tuple[Finding, ...]]
    passages: tuple[Passage, ...]
    cannot: tuple[frozenset[int], ...]
    hands: tuple[frozenset[int], ...]

    @classmethod
    def of(cls, report: PartReport) -> Survey:
        """What a part's report says."""
        numbers = {us: number for number, us in enumerate(report.struck)}
        findings: dict[int, tuple[Finding, ...]] = {}
        for finding in sorted(report.findings, key=lambda one: one.us):
            if not finding.audible and finding.kind is not Kind.TOO_MUCH:
                number = numbers[finding.us]
                findings[number] = (*findings.get(number, ()), finding)
        cannot = [
            frozenset(numbers[one.us] for one in report.graded if one.outcomes[number] is Outcome.CANNOT)
            for number in range(3)
        ]
        troubled = [Layer.HANDS in one.layers and one.layers[Layer.HANDS].unplayable for one in report.counts]
        hands = [attacks if some else frozenset() for attacks, some in zip(cannot, troubled, strict=True)]
        mine = report.counts.index(report.mine)
        hands[mine] = frozenset(
            n for n, found in findings.items() if any(one.layer is Layer.HANDS for one in found)
        )
        return cls(findings, report.passages, tuple(cannot), tuple(hands))

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

    def __init__(
        self,
        attacks: Sequence[Gathered],
        basis: Basis,
        begin_us: int = 0,
        written: Sequence[int] | None = None,
    ) -> None:
        """A spelling that the basis asks for is ignored.

        Args:
            attacks: gathered, as they are judged.
            basis: what they are judged on.
            begin_us: when the pedals stand as the basis has them (µs).
            written: the ordinary names of the notes (music/ordinary.py); None: as the notes alone tell.
        """
        self.attacks = legato(attacks, min(player.overlap for player in basis.players))
        self.figures = replace(basis.figures, window=replace(basis.figures.window, attack=0))
        self.basis = replace(basis, figures=self.figures, asked=None)
        self.player = basis.chosen
        self.players = basis.players
        self.number = basis.number
        self.begin_us = begin_us
        self.chords = Chords(basis.instrument)
        self._written = written
        self._silent = BareMonitor(
            self.figures, basis.instrument, self.player.name, basis.layers or None, chords=self.chords
        )
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

    def music(self, until: int) -> Music:
        """The attacks before this one, made ready for a plan."""
        attacks, written = self.attacks[:until], self._written
        if written is not None:
            written = written[: sum(len(attack.notes) for attack in attacks)]
        return Music(attacks, self.chords, self.figures.ringing, written=written)

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

    def needed(self, music: Excerpt, stretch: Stretch = AS_WRITTEN) -> tuple[int | None, int]:
        """The first attack in trouble, if any, and the time (µs) that it needs at least; 0 if it is not about time."""
        explained = music.before.fork()
        explained.explain = explain
        found: dict[int, Finding] = {}
        trouble = self.first_trouble(replace(music, before=explained), stretch=stretch, findings=found)
        us = None if trouble is None else stretch.at(self.attacks[trouble].us)
        return trouble, min((one.needed for one in found.values() if one.needed and one.us == us), default=0)

    def faults(self, music: Excerpt, stretch: Stretch, until: int) -> dict[int, Outcome]:
        """The attacks that are not played at another tempo, or only with an audible pedal change, by their numbers.

        Args:
            music: from its first attack on.
            stretch: which music is slower.
            until: the attack before which it ends.
        """
        monitor = music.before.alone(layers=music.layers, audible=True)
        numbers: dict[int, int] = {}
        for note in self.play(monitor, self.events_from(music.attacks.start, stretch=stretch)):
            if note.source >= until + SOON:
                break
            if note.source < until:
                numbers[note.us] = note.source
        monitor.finish()
        graded = [(one, one.outcomes[monitor.number]) for one in monitor.record.graded if one.us in numbers]
        return {numbers[one.us]: met for one, met in graded if met is not Outcome.PLAYS}


class Run:
    """One run through the music as it is, with a fork from before each attack that may still be wanted.

    Args:
        monitor: just before the first attack; changed by this.
        kept: attacks whose forks are kept.
    """

    def __init__(self, trial: Trial, monitor: BareMonitor, kept: Iterable[int] = ()) -> None:
        self._monitor = monitor
        self._attacks = trial.play(monitor, trial.events)
        self._kept = frozenset(kept)
        self._forks: dict[int, BareMonitor] = {}
        self._since = 0

    def before(self, number: int) -> BareMonitor:
        """The fork from before an attack."""
        while number not in self._forks:
            came = next(self._attacks).source
            if came >= self._since or came in self._kept:
                self._forks[came] = self._monitor.fork()
        return self._forks[number]

    def forget(self, until: int) -> None:
        """Attacks before this one are not asked for any more, but for those that are kept."""
        self._since = until
        self._forks = {n: fork for n, fork in self._forks.items() if n >= until or n in self._kept}


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
