"""The rolling model: fed events, it says at once what a harp could not do. No I/O, no clock, no thread.

Every event carries its own time (integer microseconds, never going back). Notes whose onsets lie within the
window of the first are one attack (music/attacks.py has the rule). A note is judged the moment it arrives: the
readings from before the open attack are kept, and the attack is judged again with the new note; a finding that a
late note changes comes again under the same `id`, its `revised` counted up, and one that it mends comes again
`withdrawn`. So the verdict on an attack does not hang on the order in which its notes arrive.

Three players are tracked side by side, each under two notions of when a string is free (readings.py): six trackers of
the same code. No reading left under *sliding*: that player cannot play the attack. One under sliding but none under
*held*: only with an audible pedal change. The verdict of the attack follows (findings.grade). Findings are about the
chosen player; what the others meet is counted, since chromatic music would drown its reader in what a relaxed player
finds hard. The layers are judged apart, and the worst decides: the feet (tracker.py); the hands (hands/); the strings
that the harp has (tunings.py). What is said of the hands is taken back where they turn out to play a figure.

When is a key's string free under *held*? When the key is released, except that a release within `overlap`
after the latest attack counts as at that attack, since keyboard legato runs over; or when the string has died
away by itself, by register. The sustain pedal does not count: keyboard players hold it for colour. Taking the
latest attack and not an earlier one is what makes the rule safe to apply as it happens: no attack judged
while the key was down can be judged otherwise later.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from livepedal.errors import LivepedalError
from livepedal.harp import Figures, Instrument, Player, Setting
from livepedal.model.faults import Where, hands_finding, pedals_finding, strings_finding
from livepedal.model.feet.chords import Chords, Narrowing
from livepedal.model.feet.readings import FRESH
from livepedal.model.feet.tracker import Released, Tracker
from livepedal.model.feet.trackers import Scale
from livepedal.model.feet.tunings import Tuned, Tunings
from livepedal.model.findings import (
    Finding,
    Graded,
    Layer,
    NextNote,
    Outcome,
    Passage,
    PlayerCount,
    Snapshot,
    Verdict,
    grade,
    worst,
)
from livepedal.model.following import Following
from livepedal.model.hands import Figure, Hands, Share
from livepedal.model.instead import Case
from livepedal.model.next_notes import next_notes, table
from livepedal.music.attacks import Attack, Gathering
from livepedal.music.events import (
    AllNotesOff,
    ChoosePlayer,
    Event,
    NoteOff,
    NoteOn,
    SetPedals,
    StartAfresh,
    Sustain,
)
from livepedal.sources.scores.written import Sign

RECENT_FINDINGS = 50
MOST_DOUBTED = 64  # attacks of one passage that a figure may still excuse
NOBODY = (Outcome.PLAYS, Outcome.PLAYS, Outcome.PLAYS)
FINE: Mapping[Layer, tuple[Outcome, Outcome, Outcome]] = dict.fromkeys(Layer, NOBODY)
EASY = grade(NOBODY)
ALL_CANNOT = (Outcome.CANNOT, Outcome.CANNOT, Outcome.CANNOT)


@dataclass(frozen=True, slots=True)
class _Doubted:
    """An attack (µs) that the hands could not play, and that may turn out to belong to a figure. outcomes: by layer."""

    us: int
    pitches: frozenset[int]
    outcomes: Mapping[Layer, tuple[Outcome, Outcome, Outcome]]
    finding: Finding | None


class Monitor:
    """A harp and its three players, followed event by event.

    figures: the players' and strings' figures; instrument: the harp; player: the name of the player whose
    troubles become findings; only: the layers to judge (default all); follow: keep the last notes for
    snapshots; asked: how attacks are to be spelled, by their moment (µs), where that is not left to the
    model; chords: those of the instrument, as far as they were worked out before. Raises LivepedalError where there
    is no such player.
    """

    def __init__(
        self,
        figures: Figures,
        instrument: Instrument,
        player: str = "working",
        only: Iterable[Layer] | None = None,
        follow: bool = False,
        asked: Mapping[int, Narrowing] | None = None,
        chords: Chords | None = None,
    ) -> None:
        self.explains = True  # whether findings say why; where things are tried on, nobody reads it
        self.figures = figures
        self.follow = follow
        self.instrument = instrument
        self.players: tuple[Player, Player, Player] = figures.scale(player)
        self.layers = frozenset(only) if only else frozenset(Layer)
        self._chords = self._all_chords = chords or Chords(instrument)
        self._asked = asked
        self._window = figures.attack_window
        self._rest = figures.passage_rest
        self._lowest = figures.lowest_note
        # Whether anybody wants to know of the feet: what is too much at once comes from their plan.
        self._feet = follow or bool(self.layers & {Layer.PEDALS, Layer.LOAD})
        self._scale = Scale(self.players, figures.ringing, idle=not self._feet)
        # What is too much at once needs to know who takes what.
        judged = self.layers & {Layer.HANDS, Layer.LOAD}
        self._hands = Hands(self.players, instrument, figures.glissando.notes) if judged else None
        self._tunings = Tunings(instrument)
        self._player = 1
        self._choose(player)
        self._last_id = 0
        self.now = 0
        self._afresh()

    # -- state that a new piece resets -----------------------------------------------------------------------

    def _afresh(self) -> None:
        self._down: dict[int, set[int]] = {}
        self._struck: dict[int, int] = {}
        self._sustained: frozenset[int] = frozenset()  # sources whose sustain pedal is down
        self._damped: frozenset[int] = frozenset()  # keys whose strings are damped when they come up (étouffé)
        self._attack: int | None = None
        self._gathering = Gathering(self._window, self.figures.glissando)
        self._arrived: list[int] = []
        self._outcomes: Mapping[Layer, tuple[Outcome, Outcome, Outcome]] = {}
        self._pedals = NOBODY  # what stands against the feet, whatever is judged
        self._slots: dict[Layer, Finding] = {}
        self._released_before: dict[int, int] = {}
        self._released_own: dict[int, int] = {}
        self._tally: dict[Layer, list[list[int]]] = {layer: [[0, 0] for _ in range(3)] for layer in Layer}
        self._total: list[list[int]] = [[0, 0] for _ in range(3)]
        self._attacks = 0
        self._passages: list[Passage] = []
        self._passage: Passage | None = None
        self._passage_first = 0  # the number of its first attack
        self._passage_before: Passage | None = None  # as it was before the open attack
        self._last_end = 0
        self._findings: deque[Finding] = deque(maxlen=RECENT_FINDINGS)
        self._following = Following(self.instrument)
        self._latest: Verdict | None = None
        self._since_attack = 0
        self.below = 0
        self._held: tuple[int, ...] = ()  # the notes of the open attack that some setting holds
        self._undecided = (
            0,
            0,
            0,
            0,
        )  # attacks for which the search was cut short: of each player, of anybody
        self._bounds = (
            0,
            0,
            0,
        )  # how often each player's trackers had relaxed their readings before the open attack
        self.troubles: list[tuple[int, tuple[Outcome, Outcome, Outcome]]] = []
        self.graded: list[Graded] = []  # the closed attacks that are not easy
        self.just: tuple[Attack, ...] = ()  # the closed ones that the chosen player's hands only just manage
        self._doubted: tuple[_Doubted, ...] = ()
        self._excused: tuple[Finding, ...] = ()  # withdrawn since the last event

    def _choose(self, name: str) -> None:
        for number, player in enumerate(self.players):
            if player.name == name:
                self._player = number
                return
        raise LivepedalError(
            f"there is no player {name!r} here; the players are {', '.join(p.name for p in self.players)}."
        )

    # -- events ----------------------------------------------------------------------------------------------

    def feed(self, event: Event) -> tuple[Finding, ...]:
        """Take one event; the findings that it makes, revises or withdraws.

        Raises LivepedalError for a ChoosePlayer that names none of the three.
        """
        if event.us > self.now:
            self.now = event.us
        found: tuple[Finding, ...] = ()
        match event:
            case NoteOn():
                found = self._note_on(event)
            case NoteOff():
                self._key_up(event.us, event.pitch, event.source)
            case AllNotesOff():
                for pitch in sorted(self._down):
                    sources = self._down[pitch]
                    for source in sorted(sources) if event.source is None else {event.source} & sources:
                        self._key_up(event.us, pitch, source)
            case SetPedals():
                self._set(event.setting, event.us)
            case StartAfresh():
                self._close_attack()
                self._close_passage()
                self._scale.start(None)
                if self._hands is not None:
                    self._hands = Hands(self.players, self.instrument, self.figures.glissando.notes)
                self._tunings.start()
                self._afresh()
            case Sustain():
                others = self._sustained - {event.source}
                self._sustained = others | {event.source} if event.down else others
            case ChoosePlayer():
                self._choose(event.player)
        return (*self._taken_back(), *found)

    def _taken_back(self) -> tuple[Finding, ...]:
        """What was withdrawn since this was asked last."""
        excused, self._excused = self._excused, ()
        return excused

    def advance(self, us: int) -> None:
        """Time passes without an event: an attack whose window is over closes, and a passage after its rest. What is
        withdrawn then is told with the next event.
        """
        if us > self.now:
            self.now = us
        if self._attack is not None and us - self._attack > self._window:
            self._close_attack()
            self._gathering.over()
        if self._passage is not None and not self._down and us - self._last_end >= self._rest:
            self._close_passage()

    def finish(self) -> tuple[Finding, ...]:
        """The music is over: the open attack and passage close. Returns what is withdrawn."""
        self._close_attack()
        self._close_passage()
        if self._hands is not None:
            self._hands.finish()
        return self._taken_back()

    def _note_on(self, event: NoteOn) -> tuple[Finding, ...]:
        us, pitch = event.us, event.pitch
        if pitch < self._lowest:
            self.below += 1
            return ()
        if self._gathering.opens(us, pitch):
            self._open_attack(us)
        moment = self._attack
        assert moment is not None
        sources = self._down.setdefault(pitch, set())
        if pitch in self._arrived:
            # Struck twice within one attack: one note, held until the last of its keys is released.
            sources.add(event.source)
            self._released_own.pop(pitch, None)
            return ()
        if sources:
            # Struck again while held: released at that moment, which is within this attack. Another keyboard that holds
            # it holds the new note too.
            self._released_before[pitch] = moment
        sources.add(event.source)
        if self._released_before:
            self._scale.release(self._released(self._released_before), before=True)
            self._released_before = {}
        self._struck[pitch] = moment
        if event.signs & Sign.DAMPED:
            self._damped |= {pitch}
        elif pitch in self._damped:
            self._damped -= {pitch}
        self._scale.strike(pitch, moment)
        if self._hands is not None:
            self._hands.strike(pitch, us, event.signs)
        self._arrived.append(pitch)
        if us > self._last_end:
            self._last_end = us
        return self._judge()

    def _open_attack(self, us: int) -> None:
        self._close_attack()
        if self._passage is not None and not self._down and us - self._last_end >= self._rest:
            self._close_passage()
        self._scale.open(us)
        if self._hands is not None:
            self._hands.open(us)
        rested = bool(self._attacks) and not self._down and us - self._last_end >= self.figures.retune
        if rested:
            self._tunings.rest()
        if self._asked is not None:
            self._chords = self._all_chords.narrowed(self._asked.get(us, ()))
        self._attack = us
        self._attacks += 1
        self._passage_before = self._passage

    def _close_attack(self) -> None:
        """The open attack is over: count it, and let the readings after it know of the keys released
        meanwhile.
        """
        moment = self._attack
        if moment is not None:
            self._count()
            if self._hands is not None:
                self._hands.close()
                self._excuse(self._hands)
                if Layer.HANDS in self.layers and self._hands.just(self._player):
                    self.just += (Attack(moment, tuple(sorted(self._arrived))),)
            self._undecided = self._undecided_now()
            self._bounds = self._relaxed()
            if self.follow:
                audible = self._combined()[self._player] is Outcome.AUDIBLE
                wanted = sorted({*self._down} - {*self._arrived}) if audible else ()
                self._following.over(self._shown(), moment, self._arrived, wanted)
            self._attack = None
            self._arrived = []
            self._outcomes = {}
            self._slots = {}
            self._since_attack = moment
        if self._released_before or self._released_own:
            released = self._released({**self._released_before, **self._released_own})
            self._scale.release(released, before=False)
            self._released_before = {}
            self._released_own = {}

    def _key_up(self, us: int, pitch: int, source: int) -> None:
        sources = self._down.get(pitch)
        if not sources or source not in sources:
            return  # a note-off without its note-on means nothing
        sources.discard(source)
        if sources:
            return
        del self._down[pitch]
        if us > self._last_end:
            self._last_end = us
        if self._attack is not None and self._struck[pitch] == self._attack:
            self._released_own[pitch] = us
        else:
            self._released_before[pitch] = us

    def _released(self, released: dict[int, int]) -> list[Released]:
        """Released keys, each with the latest attack up to its release (its own at the earliest)."""
        latest = self._attack if self._attack is not None else self._since_attack
        return [
            (pitch, moment, latest if latest <= moment else self._struck[pitch], pitch in self._damped)
            for pitch, moment in released.items()
        ]

    def _set(self, setting: Setting, us: int) -> None:
        self._close_attack()
        self._gathering.over()
        letters = tuple(
            FRESH if position is None else (int(position), us, 0, ()) for position in setting.positions
        )
        self._scale.start(letters)
        self._following.set_to(setting)

    # -- judging ---------------------------------------------------------------------------------------------

    def _judge(self) -> tuple[Finding, ...]:
        moment = self._attack
        assert moment is not None
        out_of_tune = self._tunings.judge(self._arrived, moment)
        options = self._chords.options
        missing = [p for p in self._arrived if options[p] is None or p in out_of_tune]
        strung = [p for p in self._arrived if p not in missing] if missing else list(self._arrived)
        held = tuple(sorted(strung))
        ways, left_out = self._chords.most_of(strung)
        if left_out:
            held = tuple(sorted(set(strung) - set(left_out)))
        self._held = held
        all_play = self._scale.judge(ways, moment)
        cannot = self._hands.judge(held, moment) if self._hands is not None else (False, False, False)
        if all_play and not any(cannot) and not left_out and not missing:
            self._outcomes, self._pedals = FINE, NOBODY
            self._follow_passage(moment)
            return self._withdraw(())
        trackers = self._scale.trackers
        outcomes = {
            Layer.PEDALS: ALL_CANNOT if left_out else _of_feet(trackers),
            Layer.HANDS: _of_hands(cannot),
            Layer.STRINGS: ALL_CANNOT if missing else NOBODY,
            Layer.LOAD: NOBODY,  # a matter of whole passages (advice/judging/burden.py)
        }
        self._pedals = outcomes[Layer.PEDALS]
        self._outcomes = {layer: outcomes[layer] if layer in self.layers else NOBODY for layer in Layer}
        self._follow_passage(moment)
        found: list[Finding] = []
        for layer in Layer:
            if self._outcomes[layer][self._player] is not Outcome.PLAYS:
                where = self._where(layer)
                if layer is Layer.PEDALS:
                    found.append(
                        pedals_finding(
                            where,
                            self._tracker(held=where.audible),
                            self._chords,
                            self.instrument,
                            strung,
                            one_letter=bool(left_out),
                            explains=self.explains,
                        )
                    )
                elif layer is Layer.HANDS:
                    assert self._hands is not None
                    faults = self._hands.faults(self._player)
                    found.append(hands_finding(where, faults, [p for p in strung if p in held]))
                else:
                    found.append(strings_finding(where, missing[0], self._tunings))
        published = tuple(self._publish(finding) for finding in found)
        return (*self._withdraw(published), *published)

    def _where(self, layer: Layer) -> Where:
        """The open attack, for a finding."""
        assert self._attack is not None
        outcomes = self._outcomes[layer]
        audible = outcomes[self._player] is Outcome.AUDIBLE
        return Where(self._attack, tuple(sorted(self._arrived)), self.player.name, outcomes, audible)

    def _tracker(self, *, held: bool) -> Tracker:
        """The chosen player's tracker, with strings held or sliding."""
        return self._scale.trackers[2 * self._player + (0 if held else 1)]

    def _combined(self) -> tuple[Outcome, Outcome, Outcome]:
        outcomes = [max(layer[n] for layer in self._outcomes.values()) for n in range(3)]
        return outcomes[0], outcomes[1], outcomes[2]

    def _publish(self, finding: Finding) -> Finding:
        """Give the finding its id: the one of the same attack and layer where there is one, revised, else a
        new one.
        """
        known = self._slots.get(finding.layer)
        if known is None:
            self._last_id += 1
            finding = replace(finding, id=self._last_id)
        else:
            finding = replace(finding, id=known.id, revised=known.revised + 1)
            self._findings.remove(known)
        self._slots[finding.layer] = finding
        self._findings.append(finding)
        return finding

    def _withdraw(self, found: Sequence[Finding]) -> tuple[Finding, ...]:
        """Take back what was said of the open attack in layers of which nothing is found any more."""
        gone = self._slots.keys() - {finding.layer for finding in found}
        taken = tuple(self._slots.pop(layer) for layer in sorted(gone))
        for finding in taken:
            self._findings.remove(finding)
        return tuple(replace(finding, revised=finding.revised + 1, withdrawn=True) for finding in taken)

    def _count(self) -> None:
        if self._outcomes is FINE:
            return
        for layer, outcomes in self._outcomes.items():
            for number, outcome in enumerate(outcomes):
                if outcome is not Outcome.PLAYS:
                    self._tally[layer][number][0 if outcome is Outcome.CANNOT else 1] += 1
        if self._pedals != NOBODY and self._attack is not None:
            # For the plan, which gives these up.
            self.troubles.append((self._attack, self._pedals))
        combined = self._combined()
        for number, outcome in enumerate(combined):
            if outcome is not Outcome.PLAYS:
                self._total[number][0 if outcome is Outcome.CANNOT else 1] += 1
        verdict, _ = grade(combined)
        if verdict is not Verdict.EASY and self._attack is not None:
            self.graded.append(Graded(self._attack, verdict, combined))

    def _excuse(self, hands: Hands) -> None:
        """Take back what was said of the hands before the figure that they play was recognised."""
        assert self._attack is not None
        cannot = self._outcomes.get(Layer.HANDS, NOBODY)
        if cannot != NOBODY:
            one = _Doubted(
                self._attack, frozenset(self._arrived), self._outcomes, self._slots.get(Layer.HANDS)
            )
            self._doubted = (*self._doubted[1 - MOST_DOUBTED :], one)
        if not hands.here:
            return
        since = min(figure.start for figure, _ in hands.here)
        while self.just and self.just[-1].us >= since:
            self.just = self.just[:-1]
        if not self._doubted:
            return
        pitches = {pitch for figure, _ in hands.here for pitch in figure.pitches}
        beyond = [any(failed[n] for _, failed in hands.here) for n in range(3)]
        kept: list[_Doubted] = []
        for one in self._doubted:
            fault = one.finding.hands if one.finding else None
            notes = one.pitches if fault is None else fault.pitches
            was = one.outcomes[Layer.HANDS]
            a, b, c = (was[n] if beyond[n] else Outcome.PLAYS for n in range(3))
            now = a, b, c
            if one.us < since or now == was or not pitches.issuperset(notes):
                kept.append(one)
                continue
            self._recount(one, now)
            finding = one.finding
            if finding is not None and now[self._player] is Outcome.PLAYS:
                self._excused += (replace(finding, revised=finding.revised + 1, withdrawn=True),)
                if finding in self._findings:
                    self._findings.remove(finding)
        self._doubted = tuple(kept)

    def _recount(self, one: _Doubted, now: tuple[Outcome, Outcome, Outcome]) -> None:
        """Count an attack again that turned out easier for the hands."""
        whole = {**one.outcomes, Layer.HANDS: now}
        for number in range(3):
            was, then = (
                max(layer[number] for layer in one.outcomes.values()),
                max(o[number] for o in whole.values()),
            )
            for tally, before, after in (
                (self._tally[Layer.HANDS][number], one.outcomes[Layer.HANDS][number], now[number]),
                (self._total[number], was, then),
            ):
                for outcome, more in ((before, -1), (after, 1)):
                    if outcome is not Outcome.PLAYS:
                        tally[0 if outcome is Outcome.CANNOT else 1] += more
        place = next(n for n in reversed(range(len(self.graded))) if self.graded[n].us == one.us)
        first, second, third = (max(layer[n] for layer in whole.values()) for n in range(3))
        combined = first, second, third
        verdict, _ = grade(combined)
        self.graded[place : place + 1] = (
            [] if verdict is Verdict.EASY else [Graded(one.us, verdict, combined)]
        )
        passage = self._passage
        if passage is not None and passage.start <= one.us:
            here = [one for one in self.graded if one.us >= passage.start]
            grades = [grade((a, b, c)) for a, b, c in (one.outcomes for one in here)]
            self._passage = replace(
                passage,
                verdict=worst(verdict for verdict, _ in grades),
                audible=any(audible for _, audible in grades),
            )

    def case(self, finding: Finding) -> Case:
        """What there is to know about the open attack, of which this finding says that it cannot be played."""
        return Case(
            finding,
            self._player,
            self._tracker(held=False).fork(),
            None if self._hands is None else self._hands.fork(),
            self._tunings.fork(),
            self._chords,
            self._feet,
        )

    # -- passages --------------------------------------------------------------------------------------------

    def _follow_passage(self, moment: int) -> None:
        verdict, audible = EASY if self._outcomes is FINE else grade(self._combined())
        self._latest = verdict
        if self._passage is None:
            self._passage_first = self._attacks
        before = self._passage_before
        if before is None:
            self._passage = Passage(moment, moment, moment, verdict, audible, 1, open=True)
            return
        self._passage = Passage(
            before.start,
            moment,
            moment,
            max(before.verdict, verdict),
            before.audible or audible,
            self._attacks - self._passage_first + 1,
            open=True,
        )

    def _close_passage(self) -> None:
        if self._passage is not None:
            p = self._passage
            self._passages.append(Passage(p.start, p.last, self._last_end, p.verdict, p.audible, p.attacks))
            self._passage = None

    # -- views -----------------------------------------------------------------------------------------------

    @property
    def player(self) -> Player:
        """The player whose troubles become findings."""
        return self.players[self._player]

    @property
    def attacks(self) -> int:
        """How many attacks there were so far, the open one included."""
        return self._attacks

    @property
    def bounded(self) -> int:
        """For how many attacks the search was cut short for some player (tracker.py, chords.py): what it says of them
        and of what follows may be too good, until nothing of that matters any more.
        """
        return self._undecided_now()[3]

    @property
    def undecided(self) -> tuple[int, int, int]:
        """The same for each player."""
        return self._undecided_now()[:3]

    def _relaxed(self) -> tuple[int, int, int]:
        if Layer.PEDALS not in self.layers:
            return 0, 0, 0
        held_and_sliding = [one.bounded for one in self._scale.trackers]
        relaxed, working, virtuoso = map(sum, zip(held_and_sliding[::2], held_and_sliding[1::2], strict=True))
        return relaxed, working, virtuoso

    def _undecided_now(self) -> tuple[int, int, int, int]:
        if self._attack is None:
            return self._undecided
        everybody = self._held in self._chords.cut
        cut = [everybody or now > before for now, before in zip(self._relaxed(), self._bounds, strict=True)]
        relaxed, working, virtuoso, anybody = (
            known + more for known, more in zip(self._undecided, (*cut, any(cut)), strict=True)
        )
        return relaxed, working, virtuoso, anybody

    @property
    def tuned(self) -> tuple[Tuned, ...]:
        """The strings without pedals that have to be tuned otherwise than usual, in the order in which it showed."""
        return self._tunings.changed

    @property
    def passages(self) -> tuple[Passage, ...]:
        """The passages so far, the open one last."""
        return tuple(self._passages) if self._passage is None else (*self._passages, self._passage)

    @property
    def figures_played(self) -> tuple[Figure, ...]:
        """The figures so far, in order of time; () where hands are not judged."""
        return () if self._hands is None else self._hands.figures

    @property
    def shares(self) -> tuple[Share, ...]:
        """Which hand takes what, as far as it is settled, all once the music is over; () where hands are not judged."""
        return () if self._hands is None else self._hands.shares

    def counts(self, layer: Layer | None = None) -> tuple[PlayerCount, ...]:
        """What each player met so far, in one layer or in all of them together (an attack counts once)."""
        closed = self._total if layer is None else self._tally[layer]
        opened = NOBODY
        if self._outcomes:
            opened = self._combined() if layer is None else self._outcomes.get(layer, NOBODY)
        return tuple(
            PlayerCount(
                player.name,
                closed[n][0] + (opened[n] is Outcome.CANNOT),
                closed[n][1] + (opened[n] is Outcome.AUDIBLE),
            )
            for n, player in enumerate(self.players)
        )

    def fork(self) -> Monitor:
        """A copy that goes its own way, to try things on."""
        copy = object.__new__(Monitor)
        copy.__dict__.update(self.__dict__)
        copy._scale = self._scale.fork()
        copy._hands = self._hands.fork() if self._hands is not None else None
        copy._tunings = self._tunings.fork()
        copy._gathering = self._gathering.fork()
        copy._down = {pitch: set(sources) for pitch, sources in self._down.items()}
        for name in (
            "_struck",
            "_released_before",
            "_released_own",
            "_slots",
        ):
            setattr(copy, name, dict(getattr(self, name)))
        for name in ("_arrived", "_passages", "troubles", "graded"):
            setattr(copy, name, list(getattr(self, name)))
        copy._tally = {layer: [list(row) for row in rows] for layer, rows in self._tally.items()}
        copy._total = [list(row) for row in self._total]
        copy._findings = deque(self._findings, maxlen=RECENT_FINDINGS)
        copy._following = self._following.fork()
        return copy

    def alone(self, number: int) -> Monitor:
        """A fork that follows one of the three players only (0 to 2, the relaxed first), and only whether they
        can play, audibly or not; its `counts` then say the same of all three.
        """
        copy = self.fork()
        copy._scale = self._scale.alone(number)
        copy._hands = self._hands.alone(number) if self._hands is not None else None
        return copy

    def snapshot(self) -> Snapshot:
        """The monitor at this moment, as a value that does not change."""
        tracker = self._shown()
        notes = list(self._following.notes)
        if self._attack is not None and self._feet:
            notes += self._following.spelled(tracker, self._attack, self._arrived)
        held, sliding = (self._tracker(held=held) for held in (True, False))
        # The next note is one of another attack than the open one.
        soonest = self.now if self._attack is None else max(self.now, self._attack + self._window + 1)
        released = self._released({**self._released_before, **self._released_own}) if self._feet else []
        pairs = held.let_go(released)
        struck: tuple[NextNote, ...] = ()
        if self.follow:
            struck = next_notes(
                table(held, pairs, soonest), table(sliding, sliding.let_go(released), soonest)
            )
        return Snapshot(
            us=self.now,
            player=self.player.name,
            pedals=self._following.pedals(held, pairs, sum(1 << pitch for pitch in self._down), soonest),
            notes=tuple(notes),
            passage=self._passage or (self._passages[-1] if self._passages else None),
            counts=self.counts(),
            findings=tuple(self._findings),
            attacks=self._attacks,
            keys_down=tuple(sorted(self._down)),
            latest=self._latest,
            changes=tuple(self._following.changes),
            next_notes=struck,
            tuned=self.tuned,
            soonest=soonest,
            sustained=bool(self._sustained),
        )

    def _shown(self) -> Tracker:
        """The feet that views speak of: the chosen player's, without slides while that is possible."""
        return self._tracker(held=not self._tracker(held=True).failed)


def _of_feet(trackers: Sequence[Tracker]) -> tuple[Outcome, Outcome, Outcome]:
    """How each player's feet fare, by the tracker with strings held and the one with strings sliding."""
    one, two, three = (
        Outcome.CANNOT if sliding.failed else Outcome.AUDIBLE if held.failed else Outcome.PLAYS
        for held, sliding in zip(trackers[::2], trackers[1::2], strict=True)
    )
    return one, two, three


def _of_hands(cannot: tuple[bool, bool, bool]) -> tuple[Outcome, Outcome, Outcome]:
    """How each player's hands fare."""
    one, two, three = (Outcome.CANNOT if no else Outcome.PLAYS for no in cannot)
    return one, two, three
