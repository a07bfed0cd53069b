"""What was judged so far: attacks that are over, counted and graded, and the passages that they make.

What was said of the hands is taken back where they turn out to play a figuration (hands/figurations.py): one is
recognised when it has gone on for a while, and its first attacks may have been too fast or too wide for anything else.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from operator import add

from livepedal.harp import Player
from livepedal.model.faults import bearable, load_finding
from livepedal.model.feet.chords import Sharing
from livepedal.model.feet.trackers import Feet
from livepedal.model.findings import Finding, Graded, Layer, Outcome, Passage, Verdict, grade, worst
from livepedal.model.hands.judging import Hands
from livepedal.model.hands.strokes import MARGIN
from livepedal.model.load import Busiest
from livepedal.music.attacks import Attack

MOST_DOUBTED = 64  # attacks that a figuration may still excuse
Outcomes = tuple[Outcome, ...]
"""How the three players fare, the slowest first."""
ALL_CANNOT: Outcomes = (Outcome.CANNOT,) * 3
NOBODY: Outcomes = (Outcome.PLAYS,) * 3
FINE: Mapping[Layer, Outcomes] = dict.fromkeys(Layer, NOBODY)


@dataclass(frozen=True, slots=True)
class Judged:
    """An attack as it was judged.

    Attributes:
        us: its moment (µs).
        pitches: in the order of arrival.
        outcomes: by layer.
        feet: how the feet fare, whatever is judged.
        findings: what was said of it.
        cut: for whom it is not decided.
        ways: to put its notes on strings.
    """

    us: int
    pitches: tuple[int, ...] = ()
    outcomes: Mapping[Layer, Outcomes] = field(default_factory=lambda: FINE)
    feet: Outcomes = NOBODY
    findings: Mapping[Layer, Finding] = field(default_factory=dict)
    cut: tuple[bool, ...] = (False, False, False)
    ways: tuple[Sharing, ...] = ()

    @property
    def whole(self) -> Outcomes:
        """How each player fares in all layers together."""
        if self.outcomes is FINE:
            return NOBODY
        return tuple(map(max, *self.outcomes.values()))


class Record:
    """What is known of one piece.

    Attributes:
        last_id: of findings; ids go on where a new piece begins.
        troubles: of the feet, by attack, for the plan, which gives these up.
        graded: the attacks that are not easy.
        just: those that the chosen player's hands only just manage.
        undecided: how many attacks were not decided for each player, and for anybody.
        passage: the open one, as far as its attacks are over.
        busiest: what it asks of the feet, where that is judged.

    Args:
        players: the three.
        span: over how long a time their pedal changes are counted (µs); None: they are not.
        last_id: of the findings so far.
    """

    def __init__(self, players: Sequence[Player], span: int | None = None, last_id: int = 0) -> None:
        self.players = players
        self.busiest = None if span is None else Busiest(span, players)
        # In the open passage: the player that it was said for (0 to 2), and what was said.
        self._too_much: tuple[int, Finding] | None = None
        self.last_id = last_id
        # How many attacks: by layer (None: all of them together), player and outcome.
        self._tally: Counter[tuple[Layer | None, int, Outcome]] = Counter()
        self.troubles: list[tuple[int, Outcomes]] = []
        self.graded: list[Graded] = []
        self.just: list[Attack] = []
        self.undecided: tuple[int, ...] = (0, 0, 0, 0)
        self.passages: list[Passage] = []
        self.passage: Passage | None = None
        self._doubted: tuple[Judged, ...] = ()

    def fork(self) -> Record:
        """A copy that goes its own way."""
        twin = copy(self)
        twin._tally = self._tally.copy()
        for name in ("troubles", "graded", "just", "passages"):
            setattr(twin, name, list(getattr(self, name)))
        twin.busiest = self.busiest and self.busiest.fork()
        return twin

    def say(self, attack: Judged, found: Mapping[Layer, Finding]) -> tuple[Judged, tuple[Finding, ...]]:
        """The open attack with its findings, by layer, and what is to be told.

        Each finding gets the id of what was said of its layer before, and is revised, or a new one. What was said of
        other layers is withdrawn.
        """
        before = attack.findings
        if not found and not before:
            return attack, ()
        now: dict[Layer, Finding] = {}
        for layer, finding in found.items():
            known = before.get(layer)
            if known is None:
                self.last_id += 1
                now[layer] = replace(finding, id=self.last_id)
            else:
                now[layer] = replace(finding, id=known.id, revised=known.revised + 1)
        gone = [before[layer] for layer in sorted(before.keys() - now.keys())]
        return replace(attack, findings=now), (*withdrawn(gone), *now.values())

    def close(self, judged: Judged, hands: Hands | None, player: int) -> tuple[Finding, ...]:
        """An attack is over; returns the findings that are taken back, and what is too much at once now.

        The hands come as they judged it, where they are judged; the player is the chosen one (0 to 2).
        """
        self.passage = self.with_open(judged)
        self.undecided = self.undecided_with(judged)
        if judged.outcomes is not FINE:
            self._count(judged, 1)
            if judged.feet != NOBODY:
                self.troubles.append((judged.us, judged.feet))
            if judged.outcomes[Layer.HANDS] != NOBODY:
                self._doubted = (*self._doubted[1 - MOST_DOUBTED :], judged)
            self.graded += _graded(judged)
        gone: list[Finding] = []
        if hands is not None:
            gone = self._excuse(hands, player) if hands.here else []
            if hands.just(player):
                self.just.append(Attack(judged.us, tuple(sorted(judged.pitches))))
        return (*withdrawn(gone), *self._weigh(judged, player))

    def _weigh(self, judged: Judged, player: int) -> tuple[Finding, ...]:
        """Count the pedal changes of the open passage, with an attack that is over; what is too much at once now."""
        busiest, passage = self.busiest, self.passage
        if busiest is None or passage is None:
            return ()
        busiest.attack(judged.us, judged.pitches, judged.ways)
        if (verdict := bearable(busiest)) > passage.verdict:
            self.passage = replace(passage, verdict=verdict)
        told = self._too_much
        if not busiest.too_much[player] or (told is not None and told[0] == player):
            return ()
        self.last_id += told is None
        identity, revised = (self.last_id, 0) if told is None else (told[1].id, told[1].revised + 1)
        finding = load_finding(identity, busiest, player, self.players[player].name)
        finding = replace(finding, revised=revised)
        self._too_much = player, finding
        return (finding,)

    def with_open(self, judged: Judged | None) -> Passage | None:
        """The open passage, an attack that is not over yet included."""
        known = self.passage
        if judged is None or not judged.pitches:
            return known
        verdict, audible = grade(judged.whole)
        if known is None:
            return Passage(judged.us, judged.us, judged.us, verdict, audible, 1, open=True)
        return replace(
            known,
            last=judged.us,
            end=judged.us,
            verdict=max(known.verdict, verdict),
            audible=known.audible or audible,
            attacks=known.attacks + 1,
        )

    def undecided_with(self, judged: Judged | None) -> tuple[int, ...]:
        """How many attacks were not decided, one that is not over yet included."""
        if judged is None:
            return self.undecided
        return tuple(map(add, self.undecided, (*judged.cut, any(judged.cut))))

    def count(self, number: int, layer: Layer | None, judged: Judged | None) -> tuple[int, int]:
        """(unplayable, audible) of a player, in a layer or in all together; judged: an attack that is not over yet."""
        if layer is Layer.LOAD:
            now = self.busiest is not None and self.busiest.too_much[number]
            return now + sum(one.loads[number].too_much for one in self.passages if one.loads), 0
        here = None if judged is None else (judged.whole if layer is None else judged.outcomes[layer])[number]
        unplayable, audible = (
            self._tally[layer, number, outcome] + (outcome is here)
            for outcome in (Outcome.CANNOT, Outcome.AUDIBLE)
        )
        return unplayable, audible

    def _count(self, judged: Judged, by: int) -> None:
        for layer, outcomes in (*judged.outcomes.items(), (None, judged.whole)):
            for number, outcome in enumerate(outcomes):
                self._tally[layer, number, outcome] += by

    def close_passage(self, end: int) -> tuple[Finding, ...]:
        """The open passage is over; what is too much at once in it comes again if that is more by now.

        end: the last moment a key was down or struck (µs).
        """
        passage, busiest, told = self.passage, self.busiest, self._too_much
        if passage is None:
            return ()
        loads = () if busiest is None else busiest.loads()[0]
        self.passages.append(replace(passage, end=end, open=False, loads=loads))
        self.passage = self._too_much = None
        if busiest is None:
            return ()
        self.busiest = Busiest(busiest.span, self.players)
        if told is None or told[1].load == loads[told[0]]:
            return ()
        player, finding = told
        now = load_finding(finding.id, busiest, player, finding.player)
        return (replace(now, revised=finding.revised + 1),)

    def _excuse(self, hands: Hands, player: int) -> list[Finding]:
        """Take back what was said of the hands before the figuration that they play was recognised."""
        since = min(heard.figuration.start for heard in hands.here)
        while self.just and self.just[-1].us >= since:
            self.just.pop()
        pitches = {pitch for heard in hands.here for pitch in heard.figuration.pitches}
        beyond = [
            max(strains) > MARGIN for strains in zip(*(heard.strains for heard in hands.here), strict=True)
        ]
        kept: list[Judged] = []
        gone: list[Finding] = []
        for doubted in self._doubted:
            finding = doubted.findings.get(Layer.HANDS)
            fault = finding.hands if finding is not None else None
            notes = doubted.pitches if fault is None else fault.pitches
            was = doubted.outcomes[Layer.HANDS]
            now = tuple(was[n] if beyond[n] else Outcome.PLAYS for n in range(3))
            if doubted.us < since or now == was or not pitches.issuperset(notes):
                kept.append(doubted)
                continue
            self._recount(doubted, replace(doubted, outcomes={**doubted.outcomes, Layer.HANDS: now}))
            if finding is not None and now[player] is Outcome.PLAYS:
                gone.append(finding)
        self._doubted = tuple(kept)
        return gone

    def _recount(self, was: Judged, now: Judged) -> None:
        self._count(was, -1)
        self._count(now, 1)
        place = next(n for n in reversed(range(len(self.graded))) if self.graded[n].us == was.us)
        self.graded[place : place + 1] = _graded(now)
        passage = self.passage
        if passage is not None and passage.start <= was.us:
            grades = [grade(one.outcomes) for one in self.graded if one.us >= passage.start]
            self.passage = replace(
                passage,
                verdict=worst(verdict for verdict, _ in grades),
                audible=any(audible for _, audible in grades),
            )


def withdrawn(gone: Sequence[Finding]) -> tuple[Finding, ...]:
    """Findings as they are told when they are taken back."""
    return tuple(replace(finding, revised=finding.revised + 1, withdrawn=True) for finding in gone)


def _graded(judged: Judged) -> Sequence[Graded]:
    verdict, _ = grade(judged.whole)
    return () if verdict is Verdict.EASY else (Graded(judged.us, verdict, judged.whole),)


def of_feet(feet: Feet) -> Outcomes:
    """How each player's feet fare: by the tracker with strings held and the one with strings sliding."""
    return (
        tuple(
            Outcome.CANNOT if sliding.failed else Outcome.AUDIBLE if held.failed else Outcome.PLAYS
            for held, sliding in feet.by_player
        )
        or NOBODY
    )


def of_hands(cannot: Sequence[bool]) -> Outcomes:
    """How each player's hands fare."""
    return tuple(Outcome.CANNOT if no else Outcome.PLAYS for no in cannot)
