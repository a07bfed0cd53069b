"""The rolling model: fed events, it says at once what a harp could not do. No I/O, no clock, no thread.

Every event carries its own time (integer microseconds, never going back). Notes whose onsets lie within the
window of the first are one attack (music/attacks.py has the rule). A note is judged the moment it arrives: the
readings from before the open attack are kept, and the attack is judged again with the new note; a finding that a
late note changes comes again under the same `id`, its `revised` counted up, and one that it mends comes again
`withdrawn`. So the verdict on an attack does not hang on the order in which its notes arrive.

Three players are tracked side by side, each under two notions of when a string is free (free.py): six trackers of
the same code. No reading left under *sliding*: that player cannot play the attack. One under sliding but none under
*held*: only with an audible pedal change. The verdict of the attack follows (findings.grade). Findings are about the
chosen player; what the others meet is counted, since chromatic music would drown its reader in what a relaxed player
finds hard. The layers are judged apart, and the worst decides: the feet (tracker.py); the hands (hands/); the strings
that the harp has (tunings.py). What is said of the hands is taken back where they turn out to play a figuration.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Self

from livepedal.defaults import PLAYER
from livepedal.errors import LivepedalError
from livepedal.harp import Instrument, Player, Setting
from livepedal.model.faults import hands_finding, pedals_finding, strings_finding
from livepedal.model.feet.chords import Chords, Narrowing
from livepedal.model.feet.letters import FRESH
from livepedal.model.feet.tracker import Released, Tracker
from livepedal.model.feet.trackers import Feet
from livepedal.model.feet.tunings import Tunings
from livepedal.model.findings import Finding, Layer, Outcome, Passage, PlayerCount, grade
from livepedal.model.hands import Figuration, Hands, Share
from livepedal.model.keys import Keys
from livepedal.model.record import ALL_CANNOT, FINE, NOBODY, Judged, Record, of_feet, of_hands
from livepedal.music.attacks import Gathering
from livepedal.music.events import ChoosePlayer, Event, NoteOff, NoteOn, SetPedals, StartAfresh

if TYPE_CHECKING:
    from livepedal.harp import Figures

Explain = Callable[[Finding, Sequence[int], Tracker, Chords, Instrument], Finding]
"""Gives a finding about the pedals its reasons (why.py). The notes are in the order of arrival."""


class BareMonitor:
    """A harp and its three players, followed event by event; Monitor (watching.py) is one that can be looked at.

    Attributes:
        players: the three of the verdicts, the slowest first.
        number: which of them is the chosen one, whose troubles become findings.
        layers: those that are judged.
        now: the moment of the last event (µs).
        attacks: how many so far, the open one included.
        open: the open attack.
        below: how many notes were left out, as they lie below any harp.
        record: what was judged so far.
        tunings: of the strings without pedals.

    Args:
        figures: of players and strings.
        instrument: the harp.
        player: the name of the chosen player.
        only: the layers to judge (default: all).
        asked: the spelling of attacks, by their moment (µs), if the model must not choose it.
        chords: those of the instrument, if they were worked out before.
        explain: what gives findings their reasons; None where nobody reads them.

    Raises:
        LivepedalError: there is no such player.
    """

    watches_feet = False  # whether somebody looks at the feet even where they are not judged

    def __init__(
        self,
        figures: Figures,
        instrument: Instrument,
        player: str = PLAYER,
        only: Iterable[Layer] | None = None,
        *,
        asked: Mapping[int, Narrowing] | None = None,
        chords: Chords | None = None,
        explain: Explain | None = None,
    ) -> None:
        self.figures = figures
        self.instrument = instrument
        self.explain = explain
        self.players: tuple[Player, Player, Player] = figures.scale(player)
        self.layers = frozenset(only) if only else frozenset(Layer)
        self.chords = self._all_chords = chords or Chords(instrument)
        self._asked = asked
        feet_matter = self.watches_feet or Layer.PEDALS in self.layers
        self.feet = Feet(self.players if feet_matter else (), figures.ringing)
        self._choose(player)
        self.now = 0
        self._afresh()

    def _afresh(self, last_id: int = 0) -> None:
        """A new piece begins."""
        self.hands = Hands(self.players, self.instrument, self.figures) if Layer.HANDS in self.layers else None
        self.tunings = Tunings(self.instrument)
        self.keys = Keys()
        self.open: Judged | None = None
        self._gathering = Gathering(self.figures.window.attack, self.figures.glissando)
        span = self.figures.load.span if Layer.LOAD in self.layers else None
        self.record = Record(self.players, span, last_id)
        self.attacks = 0
        self.below = 0
        self._last_end = 0
        self._since_attack = 0
        self._besides: tuple[Finding, ...] = ()  # what is to be said of attacks that are over

    def _choose(self, name: str) -> None:
        names = [player.name for player in self.players]
        if name not in names:
            raise LivepedalError(f"there is no player {name!r} here; the players are {', '.join(names)}.")
        self.number = names.index(name)

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
                if self.keys.up(event, None if self.open is None else self.open.us):
                    self._last_end = max(self._last_end, event.us)
            case SetPedals():
                self._set(event.setting, event.us)
            case StartAfresh():
                found = self.finish()
                self.feet.start(None)
                self._afresh(self.record.last_id)
            case ChoosePlayer():
                self._choose(event.player)
        return self._told(found)

    def _told(self, found: tuple[Finding, ...] = ()) -> tuple[Finding, ...]:
        """These findings, after what is to be said of attacks that are over."""
        besides, self._besides = self._besides, ()
        return (*besides, *found)

    def advance(self, us: int) -> tuple[Finding, ...]:
        """Time passes without an event: an attack whose window is over closes, and a passage after its rest."""
        if us > self.now:
            self.now = us
        if self.open is not None and us - self.open.us > self.figures.window.attack:
            self._close_attack()
            self._gathering.over()
        self._rest(us)
        return self._told()

    def _rest(self, us: int) -> None:
        """Close the passage where its rest is over."""
        if self.open is None and not self.keys and us - self._last_end >= self.figures.window.passage_rest:
            self._besides += self.record.close_passage(self._last_end)

    def finish(self) -> tuple[Finding, ...]:
        """The music is over: the open attack and passage close."""
        self._close_attack()
        self._besides += self.record.close_passage(self._last_end)
        if self.hands is not None:
            self.hands.finish()
        return self._told()

    def _note_on(self, event: NoteOn) -> tuple[Finding, ...]:
        us, pitch = event.us, event.pitch
        if pitch < self.figures.lowest_note:
            self.below += 1
            return ()
        if self._gathering.opens(us, pitch):
            self._open_attack(us)
        attack = self.open
        assert attack is not None
        again = pitch in attack.pitches
        self.keys.strike(event, attack.us, again)
        if again:
            return ()
        if self.keys.before:
            self.feet.release(self.keys.released(self.keys.before, attack.us), before=True)
            self.keys.before = {}
        self.feet.strike(pitch, attack.us)
        if self.hands is not None:
            self.hands.strike(pitch, us, event.signs)
        if us > self._last_end:
            self._last_end = us
        return self._judge(replace(attack, pitches=(*attack.pitches, pitch)))

    def _open_attack(self, us: int) -> None:
        self._close_attack()
        self._rest(us)
        self.feet.open(us)
        if self.hands is not None:
            self.hands.open(us)
        if self.attacks and not self.keys and us - self._last_end >= self.figures.window.retune:
            self.tunings.rest()
        if self._asked is not None:
            self.chords = self._all_chords.narrowed(self._asked.get(us, ()))
        self.open = Judged(us)
        self.attacks += 1

    def _close_attack(self) -> None:
        """The open attack is over: count it.

        The readings after it hear of the keys that were released meanwhile.
        """
        attack = self.open
        if attack is not None:
            if self.hands is not None:
                self.hands.close()
            self._besides += self.record.close(attack, self.hands, self.number)
            self._over(attack)
            self.open = None
            self._since_attack = attack.us
        released = self.released()
        if released:
            self.feet.release(released, before=False)
            self.keys.before = self.keys.own = {}

    def _over(self, attack: Judged) -> None:
        """An attack is over, and its readings are still at hand; for whoever watches (watching.py)."""

    def released(self) -> list[Released]:
        """The keys released since the feet were told last."""
        latest = self._since_attack if self.open is None else self.open.us
        return self.keys.released({**self.keys.before, **self.keys.own}, latest)

    def _set(self, setting: Setting, us: int) -> None:
        """Somebody sets the pedals."""
        self._close_attack()
        self._gathering.over()
        letters = tuple(
            FRESH if position is None else (int(position), us, 0, ()) for position in setting.positions
        )
        self.feet.start(letters)

    # -- judging ---------------------------------------------------------------------------------------------

    def _judge(self, attack: Judged) -> tuple[Finding, ...]:
        """Judge the open attack with the note that has come last."""
        us, arrived = attack.us, attack.pitches
        out_of_tune = self.tunings.judge(arrived, us)
        options = self.chords.options
        missing = [p for p in arrived if options[p] is None or p in out_of_tune]
        strung = [p for p in arrived if p not in missing] if missing else list(arrived)
        ways, left_out = self.chords.most_of(strung)
        held = tuple(sorted(set(strung) - set(left_out) if left_out else strung))
        self.feet.judge(ways, us)
        attack = replace(attack, ways=ways)
        feet = ALL_CANNOT if left_out else of_feet(self.feet)
        if Layer.PEDALS in self.layers:
            attack = replace(
                attack, cut=tuple(held.cut or sliding.cut for held, sliding in self.feet.by_player)
            )
        cannot = self.hands.judge(held, us) if self.hands is not None and held else (False, False, False)
        outcomes, found = FINE, {}
        if feet != NOBODY or any(cannot) or missing:
            of_layers = {
                Layer.PEDALS: feet,
                Layer.HANDS: of_hands(cannot),
                Layer.STRINGS: ALL_CANNOT if missing else NOBODY,
                Layer.LOAD: NOBODY,  # a matter of whole passages (record.py)
            }
            outcomes = {layer: of_layers[layer] if layer in self.layers else NOBODY for layer in Layer}
            found = dict(self._findings(replace(attack, outcomes=outcomes), strung, held, missing))
        self.open, said = self.record.say(replace(attack, outcomes=outcomes, feet=feet), found)
        return said

    def _findings(
        self, attack: Judged, strung: Sequence[int], held: Sequence[int], missing: Sequence[int]
    ) -> Iterator[tuple[Layer, Finding]]:
        """What the chosen player cannot do, by layer; the findings get their ids later.

        Args:
            attack: with its outcomes.
            strung: its notes that have a string, in the order of arrival.
            held: those of them that one setting holds.
            missing: those that have none.
        """
        for layer, outcomes in attack.outcomes.items():
            outcome = outcomes[self.number]
            if outcome is Outcome.PLAYS:
                continue
            make = partial(
                Finding,
                id=0,
                layer=layer,
                verdict=grade(outcomes)[0],
                audible=outcome is Outcome.AUDIBLE,
                us=attack.us,
                pitches=tuple(sorted(attack.pitches)),
                player=self.player.name,
            )
            if layer is Layer.PEDALS:
                tracker = self.tracker(held=outcome is Outcome.AUDIBLE)
                finding = pedals_finding(make, tracker, self.chords, strung, attack.us)
                if self.explain is not None:
                    finding = self.explain(finding, strung, tracker, self.chords, self.instrument)
            elif layer is Layer.HANDS:
                assert self.hands is not None
                faults = self.hands.faults(self.number)
                finding = hands_finding(make, faults, [pitch for pitch in strung if pitch in held])
            else:
                finding = strings_finding(make, missing[0], self.tunings)
            yield layer, finding

    def tracker(self, *, held: bool) -> Tracker:
        """The chosen player's tracker, with strings held or sliding."""
        return self.feet.trackers[2 * self.number + (0 if held else 1)]

    # -- what can be asked -----------------------------------------------------------------------------------

    @property
    def player(self) -> Player:
        """The player whose troubles become findings."""
        return self.players[self.number]

    @property
    def undecided(self) -> tuple[int, int, int]:
        """How many attacks are not decided, for each player (feet/tracker.py).

        What is said of them and of what follows may be too good, until nothing of that matters any more.
        """
        relaxed, working, virtuoso, _ = self.record.undecided_with(self.open)
        return relaxed, working, virtuoso

    @property
    def bounded(self) -> int:
        """The same for anybody."""
        return self.record.undecided_with(self.open)[3]

    @property
    def passages(self) -> tuple[Passage, ...]:
        """The passages so far, the open one last."""
        last = self.record.with_open(self.open)
        return tuple(self.record.passages) if last is None else (*self.record.passages, last)

    @property
    def figurations(self) -> tuple[Figuration, ...]:
        """The figurations so far, in order of time; () where hands are not judged."""
        return () if self.hands is None else self.hands.figurations

    @property
    def shares(self) -> tuple[Share, ...]:
        """Which hand takes what, as far as it is settled, all once the music is over; () where hands are not judged."""
        return () if self.hands is None else self.hands.shares

    def counts(self, layer: Layer | None = None) -> tuple[PlayerCount, ...]:
        """What each player met so far, in one layer or in all of them together (an attack counts once).

        Too much at once is counted by itself, by passages.
        """
        return tuple(
            PlayerCount(player.name, *self.record.count(number, layer, self.open))
            for number, player in enumerate(self.players)
        )

    def fork(self) -> Self:
        """A copy that goes its own way, to try things on."""
        twin = copy(self)
        twin.hands = self.hands.fork() if self.hands is not None else None
        twin.feet, twin.tunings = self.feet.fork(), self.tunings.fork()
        twin._gathering, twin.keys = self._gathering.fork(), self.keys.fork()
        twin.record = self.record.fork()
        return twin

    def alone(
        self, number: int | None = None, layers: frozenset[Layer] | None = None, *, audible: bool = False
    ) -> Self:
        """A fork for one of the three players only, who is its chosen one; what is said of the others means nothing.

        Args:
            number: of the player (0 to 2, the relaxed first), where it is not the chosen one.
            layers: the only ones that it goes on judging, of those that are judged.
            audible: whether to tell apart what is played only with an audible change.
        """
        twin = self.fork()
        if number is not None:
            twin.number = number
        if layers is not None:
            twin.layers = self.layers & layers
        feet_matter = Layer.PEDALS in twin.layers
        twin.feet = self.feet.alone(twin.number, audible) if feet_matter else Feet((), self.figures.ringing)
        if Layer.HANDS not in twin.layers:
            twin.hands = None
        if Layer.LOAD not in twin.layers:
            twin.record.busiest = None
        return twin
