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
that the harp has (tunings.py). What is said of the hands is taken back where they turn out to play a figuration.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from livepedal.defaults import PLAYER
from livepedal.errors import LivepedalError
from livepedal.harp import Figures, Instrument, Player, Setting
from livepedal.model.faults import Where, hands_finding, pedals_finding, strings_finding
from livepedal.model.feet.chords import Chords, Narrowing
from livepedal.model.feet.letters import FRESH
from livepedal.model.feet.tracker import Released, Tracker
from livepedal.model.feet.trackers import Scale
from livepedal.model.feet.tunings import Tuned, Tunings
from livepedal.model.findings import (
    Finding,
    Layer,
    NextNote,
    Outcome,
    Passage,
    PlayerCount,
    Snapshot,
    Verdict,
    grade,
)
from livepedal.model.following import Following
from livepedal.model.hands import Figuration, Hands, Share
from livepedal.model.instead import Case
from livepedal.model.keys import Keys
from livepedal.model.next_notes import next_notes, table
from livepedal.model.record import ALL_CANNOT, FINE, NOBODY, Judged, Record, Said, of_feet, of_hands
from livepedal.music.attacks import Gathering
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


class Monitor:
    """A harp and its three players, followed event by event.

    Attributes:
        figures: the figures of players and strings.
        instrument: the harp.
        player: the name of the player whose troubles become findings.
        only: the layers to judge (default: all).
        follow: whether to keep the last notes for snapshots.
        asked: the spelling of attacks, by their moment (µs), if the model must not choose it.
        chords: those of the instrument, if they were worked out before.

    Raises:
        LivepedalError: there is no such player.
    """

    def __init__(
        self,
        figures: Figures,
        instrument: Instrument,
        player: str = PLAYER,
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
        self._window = figures.window.attack
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
        self._said = Said()
        self.now = 0
        self._afresh()

    # -- state that a new piece resets -----------------------------------------------------------------------

    def _afresh(self) -> None:
        self._keys = Keys()
        self._open: Judged | None = None
        self._gathering = Gathering(self._window, self.figures.glissando)
        self.record = Record()
        self.attacks = 0  # so far, the open one included
        self._last_end = 0
        self._said.forget()
        self._following = Following(self.instrument)
        self._latest: Verdict | None = None
        self._since_attack = 0
        self.below = 0
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

        Raises:
            LivepedalError: a ChoosePlayer names none of the three players.
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
                for pitch, source in self._keys.held_by(event.source):
                    self._key_up(event.us, pitch, source)
            case SetPedals():
                self._set(event.setting, event.us)
            case StartAfresh():
                self._close_attack()
                self._scale.start(None)
                if self._hands is not None:
                    self._hands = Hands(self.players, self.instrument, self.figures.glissando.notes)
                self._tunings.start()
                self._afresh()
            case Sustain():
                self._keys.sustain(event)
            case ChoosePlayer():
                self._choose(event.player)
        return (*self._taken_back(), *found)

    def _taken_back(self) -> tuple[Finding, ...]:
        """What was withdrawn since this was asked last."""
        excused, self._excused = self._excused, ()
        return excused

    def advance(self, us: int) -> None:
        """Time passes without an event: an attack whose window is over closes, and a passage after its rest.

        What is withdrawn then is told with the next event.
        """
        if us > self.now:
            self.now = us
        if self._open is not None and us - self._open.us > self._window:
            self._close_attack()
            self._gathering.over()
        self._rest(us)

    def _rest(self, us: int) -> None:
        """Close the passage where its rest is over."""
        if self._open is None and not self._keys and us - self._last_end >= self.figures.window.passage_rest:
            self.record.close_passage(self._last_end)

    def finish(self) -> tuple[Finding, ...]:
        """The music is over: the open attack and passage close. Returns what is withdrawn."""
        self._close_attack()
        self.record.close_passage(self._last_end)
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
        attack = self._open
        assert attack is not None
        again = pitch in attack.pitches
        self._keys.strike(event, attack.us, again)
        if again:
            return ()
        if self._keys.before:
            released = self._keys.released(self._keys.before, attack.us)
            self._scale.release(released, before=True)
            self._keys.before = {}
        self._scale.strike(pitch, attack.us)
        if self._hands is not None:
            self._hands.strike(pitch, us, event.signs)
        if us > self._last_end:
            self._last_end = us
        return self._judge(replace(attack, pitches=(*attack.pitches, pitch)))

    def _open_attack(self, us: int) -> None:
        self._close_attack()
        self._rest(us)
        self._scale.open(us)
        if self._hands is not None:
            self._hands.open(us)
        if self.attacks and not self._keys and us - self._last_end >= self.figures.window.retune:
            self._tunings.rest()
        if self._asked is not None:
            self._chords = self._all_chords.narrowed(self._asked.get(us, ()))
        self._open = Judged(us)
        self.attacks += 1

    def _close_attack(self) -> None:
        """The open attack is over: count it.

        The readings after it hear of the keys that were released meanwhile.
        """
        attack = self._open
        if attack is not None:
            if self._hands is not None:
                self._hands.close()
            gone = self.record.close(
                attack, self._hands if Layer.HANDS in self.layers else None, self._player
            )
            self._excused += self._said.take_back(gone)
            if self.follow:
                audible = attack.whole[self._player] is Outcome.AUDIBLE
                wanted = sorted({*self._keys.down} - {*attack.pitches}) if audible else ()
                self._following.over(self._shown(), attack.us, attack.pitches, wanted)
            self._open = None
            self._since_attack = attack.us
        released = self._released()
        if released:
            self._scale.release(released, before=False)
            self._keys.before = self._keys.own = {}

    def _key_up(self, us: int, pitch: int, source: int) -> None:
        if self._keys.up(us, pitch, source, None if self._open is None else self._open.us):
            self._last_end = max(self._last_end, us)

    def _released(self) -> list[Released]:
        """The keys released since the feet were told last."""
        latest = self._since_attack if self._open is None else self._open.us
        return self._keys.released({**self._keys.before, **self._keys.own}, latest)

    def _set(self, setting: Setting, us: int) -> None:
        self._close_attack()
        self._gathering.over()
        letters = tuple(
            FRESH if position is None else (int(position), us, 0, ()) for position in setting.positions
        )
        self._scale.start(letters)
        self._following.set_to(setting)

    # -- judging ---------------------------------------------------------------------------------------------

    def _judge(self, attack: Judged) -> tuple[Finding, ...]:
        """Judge the open attack with the note that has come last."""
        us, arrived = attack.us, attack.pitches
        out_of_tune = self._tunings.judge(arrived, us)
        options = self._chords.options
        missing = [p for p in arrived if options[p] is None or p in out_of_tune]
        strung = [p for p in arrived if p not in missing] if missing else list(arrived)
        ways, left_out = self._chords.most_of(strung)
        held = tuple(sorted(set(strung) - set(left_out) if left_out else strung))
        all_play = self._scale.judge(ways, us)
        cannot = self._hands.judge(held, us) if self._hands is not None else (False, False, False)
        if Layer.PEDALS in self.layers:
            attack = replace(attack, cut=self._scale.cut)
        if all_play and not any(cannot) and not left_out and not missing:
            return self._say(replace(attack, outcomes=FINE, feet=NOBODY), [])
        outcomes = {
            Layer.PEDALS: ALL_CANNOT if left_out else of_feet(self._scale.trackers),
            Layer.HANDS: of_hands(cannot),
            Layer.STRINGS: ALL_CANNOT if missing else NOBODY,
            Layer.LOAD: NOBODY,  # a matter of whole passages (advice/judging/burden.py)
        }
        feet = outcomes[Layer.PEDALS]
        outcomes = {layer: outcomes[layer] if layer in self.layers else NOBODY for layer in Layer}
        attack = replace(attack, outcomes=outcomes, feet=feet)
        found = []
        for layer in Layer:
            where = Where.of(attack, layer, self._player, self.player)
            if where.outcome is Outcome.PLAYS:
                continue
            if layer is Layer.PEDALS:
                tracker = self._tracker(held=where.audible)
                why = self.explains
                found.append(
                    pedals_finding(where, tracker, self._chords, self.instrument, strung, bool(left_out), why)
                )
            elif layer is Layer.HANDS:
                assert self._hands is not None
                faults = self._hands.faults(self._player)
                found.append(hands_finding(where, faults, [p for p in strung if p in held]))
            else:
                found.append(strings_finding(where, missing[0], self._tunings))
        return self._say(attack, found)

    def _tracker(self, *, held: bool) -> Tracker:
        """The chosen player's tracker, with strings held or sliding."""
        return self._scale.trackers[2 * self._player + (0 if held else 1)]

    def _say(self, attack: Judged, found: Sequence[Finding]) -> tuple[Finding, ...]:
        """The open attack is judged, and these are its findings."""
        self._latest, _ = grade(attack.whole)
        self._open, said = self._said.say(attack, found)
        return said

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

    # -- views -----------------------------------------------------------------------------------------------

    @property
    def player(self) -> Player:
        """The player whose troubles become findings."""
        return self.players[self._player]

    @property
    def undecided(self) -> tuple[int, int, int]:
        """How many attacks are not decided, for each player (feet/tracker.py).

        What is said of them and of what follows may be too good, until nothing of that matters any more.
        """
        return self.record.undecided_with(self._open)[:3]

    @property
    def bounded(self) -> int:
        """The same for anybody."""
        return self.record.undecided_with(self._open)[3]

    @property
    def tuned(self) -> tuple[Tuned, ...]:
        """The strings without pedals that have to be tuned otherwise than usual, in the order in which it showed."""
        return self._tunings.changed

    @property
    def passages(self) -> tuple[Passage, ...]:
        """The passages so far, the open one last."""
        last = self.record.with_open(self._open)
        return tuple(self.record.passages) if last is None else (*self.record.passages, last)

    @property
    def figurations(self) -> tuple[Figuration, ...]:
        """The figurations so far, in order of time; () where hands are not judged."""
        return () if self._hands is None else self._hands.figurations

    @property
    def shares(self) -> tuple[Share, ...]:
        """Which hand takes what, as far as it is settled, all once the music is over; () where hands are not judged."""
        return () if self._hands is None else self._hands.shares

    def counts(self, layer: Layer | None = None) -> tuple[PlayerCount, ...]:
        """What each player met so far, in one layer or in all of them together (an attack counts once)."""
        return tuple(
            PlayerCount(player.name, *self.record.count(number, layer, self._open))
            for number, player in enumerate(self.players)
        )

    def fork(self) -> Monitor:
        """A copy that goes its own way, to try things on."""
        copy = object.__new__(Monitor)
        copy.__dict__.update(self.__dict__)
        copy._hands = self._hands.fork() if self._hands is not None else None
        copy._scale, copy._tunings = self._scale.fork(), self._tunings.fork()
        copy._gathering, copy._keys = self._gathering.fork(), self._keys.fork()
        copy._said, copy._following = self._said.fork(), self._following.fork()
        copy.record = self.record.fork()
        return copy

    def alone(
        self, number: int | None = None, layers: frozenset[Layer] | None = None, *, audible: bool = False
    ) -> Monitor:
        """A fork that follows one of the three players only, whose `counts` say the same of all three.

        Args:
            number: of the player (0 to 2, the relaxed first); None: the only one that this follows.
            layers: the only ones that it goes on judging, of those that are judged.
            audible: whether to tell apart what is played only with an audible change.
        """
        copy = self.fork()
        if layers is not None:
            copy.layers = self.layers & layers
        copy._scale = self._scale.alone(number or 0, audible)
        if not copy.layers & {Layer.PEDALS, Layer.LOAD}:
            copy._scale = copy._scale.idle()
        if Layer.HANDS not in copy.layers:
            copy._hands = None
        elif copy._hands is not None and number is not None:
            copy._hands = copy._hands.alone(number)
        return copy

    def snapshot(self) -> Snapshot:
        """The monitor at this moment, as a value that does not change."""
        tracker = self._shown()
        attack = self._open
        notes = list(self._following.notes)
        if attack is not None and self._feet:
            notes += self._following.spelled(tracker, attack.us, attack.pitches)
        held, sliding = (self._tracker(held=held) for held in (True, False))
        # The next note is one of another attack than the open one.
        soonest = self.now if attack is None else max(self.now, attack.us + self._window + 1)
        released = self._released() if self._feet else []
        pairs = held.let_go(released)
        struck: tuple[NextNote, ...] = ()
        if self.follow:
            struck = next_notes(
                table(held, pairs, soonest), table(sliding, sliding.let_go(released), soonest)
            )
        down = self._keys.down
        passage = self.record.with_open(attack) or (
            self.record.passages[-1] if self.record.passages else None
        )
        since = 0 if passage is None else passage.start
        return Snapshot(
            us=self.now,
            player=self.player.name,
            pedals=self._following.pedals(held, pairs, sum(1 << pitch for pitch in down), soonest),
            notes=tuple(notes),
            passage=passage,
            counts=tuple(
                PlayerCount(player.name, *self.record.met(number, since, attack))
                for number, player in enumerate(self.players)
            ),
            findings=tuple(self._said.recent),
            attacks=self.attacks,
            keys_down=down,
            latest=self._latest,
            changes=tuple(self._following.changes),
            next_notes=struck,
            tuned=self.tuned,
            soonest=soonest,
            sustained=self._keys.sustained,
        )

    def _shown(self) -> Tracker:
        """The feet that views speak of: the chosen player's, without slides while that is possible."""
        return self._tracker(held=not self._tracker(held=True).failed)
