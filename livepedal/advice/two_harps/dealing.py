"""Dealing a part out to two players, attack by attack, so that each can play what falls to them.

The players take turns, and fewest hand-overs come first: one plays on for as long as the model says that they
can, without an audible pedal change, then the other takes over, who has had all that time to set the pedals.
Playing less is never harder, so going on as long as possible gives the fewest turns. Within what leaves their
number as it is, each hand-over then goes back to where it is easiest: after a rest at a bar line, else at a
bar line, in a rest, on a beat. Nobody hands over inside a run (from string to string, as quick as a
glissando), but at its beginning; only a run that no player can play whole is handed over in turns that are not quick.

Where turns would be too quick to sound seamless, both play: of two voices each has one, and a single line is shared
note by note, each player having the notes of one whole-tone scale. (Common practice, no source. Seven strings hold
the six notes of such a scale at once, so no pedal moves; counted over all settings in the tests.) A run is shared so
to its end, also where it cannot be played so: quick turns inside it only look playable. An attack that
neither can play alone is divided between both. What even two cannot play stays with the player whose turn it is,
and is said.

How short a turn must be to be heard as a seam is a figure (figures.toml, [share]).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby

from livepedal.advice.judging.basis import Basis
from livepedal.advice.remedies.second import WHOLE_TONES
from livepedal.advice.two_harps.chair import Chair, divisions, give, give_part
from livepedal.advice.two_harps.score import Sounded
from livepedal.advice.two_harps.turns import BOTH, Deal, Owners, Split, Turn, hand_overs, turn_around, who_has
from livepedal.model.findings import Outcome
from livepedal.model.hands.glissando import BETWEEN
from livepedal.music.attacks import Gathered
from livepedal.music.song import Part
from livepedal.music.timemap import Place

BARS = (8, 4, 2, 1)  # bars of a turn that are tried where somebody has too much at once (ours, no source)
NEIGHBOURS = 4  # semitones from a flat string to the next one, if that is sharp and a whole tone above
MOST_MOVED = 8  # places that one hand-over is tried at


class Dealer:
    """Deals the attacks of one part."""

    def __init__(
        self, part: Part, attacks: Sequence[Gathered], basis: Basis, step: Callable[[int, int], None]
    ) -> None:
        """step: called with (attacks dealt, attacks in all)."""
        self.part = part
        self.attacks = attacks
        self.basis = basis
        self.step = step
        self._window = basis.figures.window.attack
        self._fresh = Chair(basis)

    def alone(self) -> Deal:
        """Everything with the first player."""
        return Deal(tuple((0,) * len(attack.notes) for attack in self.attacks))

    def deal(self) -> Deal:
        """In turns, as few as possible, handed over where that is easiest; both play where turns would be quick."""
        deal = self._in_turns()
        for better in (self._moved, self._split):
            other = better(deal)
            if other is not deal:
                other = self._played(other)
                mended = sum(map(self._in_run, other.borders)) < sum(map(self._in_run, deal.borders))
                deal = other if mended or other.faults <= deal.faults else deal
        return deal

    def lighter(self) -> Iterator[tuple[str, Iterator[Deal]]]:
        """Deals that give each player less to do at once, with what they are in words."""
        bars = [self._place(attack.us).bar for attack in self.attacks]
        lengths = [length for length in BARS if length <= bars[-1] - bars[0]]
        if lengths:
            several = f"{', '.join(map(str, lengths[:-1]))} and " if len(lengths) > 1 else ""
            name = f"turns of {several}{lengths[-1]} bar{'s' if lengths != [1] else ''}"
            yield name, (self._by_bars(bars, length) for length in lengths)
        everything = (Split(0, len(self.attacks), classes=scale) for scale in WHOLE_TONES)
        yield (
            "all of it note by note",
            (self._played(self._shared_out(self.alone(), one)) for one in everything),
        )

    def _by_bars(self, bars: Sequence[int], length: int) -> Deal:
        """Turns of so many bars. bars: that of each attack."""
        owners = tuple(
            ((bar - bars[0]) // length % 2,) * len(attack.notes)
            for bar, attack in zip(bars, self.attacks, strict=True)
        )
        return self._played(Deal(owners, bars=length))

    # -- turns -------------------------------------------------------------------------------------

    def _in_turns(self) -> Deal:
        attacks = self.attacks
        chairs = [self._fresh.fork(), self._fresh.fork()]
        owners: list[Owners] = []
        who = 0
        while len(owners) < len(attacks):
            place = len(owners)
            self.step(place, len(attacks))
            reach = chairs[who].fork().reach(attacks[place:])
            if not reach:
                reach = chairs[1 - who].fork().reach(attacks[place:])
                who = 1 - who if reach else who
            if reach:
                stops = range(place + reach, place, -1)
                stop = next((n for n in stops if not self._in_run(n)), place + reach)
                for attack in attacks[place:stop]:
                    chairs[who].play(attack)
                    owners.append((who,) * len(attack.notes))
                who = 1 - who
                continue
            # Neither can play it alone: they play it together, if need be with an audible change, or with a fault.
            owners.append(self._divided(chairs, attacks[place], who))
            give(chairs, attacks[place], owners[-1])
        return self._with_faults(Deal(tuple(owners)), chairs)

    def _in_run(self, number: int) -> bool:
        """Whether an attack goes on with a run, or with one of several at once, that was begun before it."""
        if number >= len(self.attacks):
            return False
        here, step = self.attacks[number], self.basis.figures.glissando.step
        for before in reversed(self.attacks[max(0, number - BETWEEN) : number]):
            steps = (abs(pitch - last) for pitch, _ in here.notes for last, _ in before.notes)
            if here.us - before.us <= step and any(0 < one <= NEIGHBOURS for one in steps):
                return True
        return False

    def _divided(self, chairs: Sequence[Chair], attack: Gathered, who: int) -> Owners:
        """How to divide an attack that neither can play alone silently: at a height if possible, else in any way."""
        best: tuple[Outcome, Owners] | None = None
        for owners in divisions(len(attack.notes), who):
            outcome = give([chair.fork() for chair in chairs], attack, owners)
            if outcome is Outcome.PLAYS:
                return owners
            if best is None or outcome < best[0]:
                best = outcome, owners
        assert best is not None
        return best[1]

    def _played(self, deal: Deal) -> Deal:
        """A deal with its faults, played through by both."""
        chairs = [self._fresh.fork(), self._fresh.fork()]
        self._play(chairs, deal, 0, len(self.attacks))
        return self._with_faults(deal, chairs)

    def _with_faults(self, deal: Deal, chairs: Sequence[Chair]) -> Deal:
        """The deal with its faults, as the chairs met them that played it."""
        met = [chair.graded() for chair in chairs]
        plays = Outcome.PLAYS
        worst = [max(one.get(attack.us, plays) for one in met) for attack in self.attacks]
        impossible, audible = (
            tuple(n for n, outcome in enumerate(worst) if outcome is wanted)
            for wanted in (Outcome.CANNOT, Outcome.AUDIBLE)
        )
        return replace(deal, impossible=impossible, audible=audible)

    def _moved(self, deal: Deal) -> Deal:
        """The same turns with each hand-over, from the last to the first, where it is easiest."""
        owners = list(deal.owners)
        for border in reversed(deal.borders):
            begin, stop = turn_around(owners, border - 1).start, turn_around(owners, border).stop
            easy = [n for n in range(begin + 1, border + 1) if n == border or not self._in_run(n)]
            for place in sorted(easy, key=lambda n: (-self._ease(n), -n))[:MOST_MOVED]:
                if place == border or self._ease(place) <= self._ease(border):
                    break
                if self._fresh.fork().reach(self.attacks[place:stop]) == stop - place:
                    for number in range(place, border):
                        owners[number] = (who_has(owners[border]),) * len(owners[number])
                    break
        return deal if tuple(owners) == deal.owners else replace(deal, owners=tuple(owners))

    def _ease(self, number: int) -> int:
        """How easily the other player comes in at an attack.

        3: after a rest at a bar line; 2: at a bar line or after a rest; 1: on a beat; 0: anywhere else.
        """
        us = self.attacks[number].us
        ends = [end for _, end in self.attacks[number - 1].notes if end is not None]
        rest = bool(ends) and us - max(ends) >= self.basis.figures.share.breath
        place = self.part.time_map.place(us + self._window)
        beats = 2 * self._window * self.part.time_map.beats_per_minute(us) / 60_000_000
        if place.beat - 1 <= beats:
            return 2 + rest
        return 2 if rest else int(place.beat % 1 <= beats)

    # -- both --------------------------------------------------------------------------------------

    def _split(self, deal: Deal) -> Deal:
        """The deal with its quick turns shared by both, where that is no worse or where they cut a run.

        Each is tried with all the music before it, and on to the next quick turns.
        """
        spans = self._quick_spans(deal)
        chairs = [self._fresh.fork(), self._fresh.fork()]
        done = 0
        for number, (first, stop) in enumerate(spans):
            until = spans[number + 1][0] if number + 1 < len(spans) else len(self.attacks)
            self._play(chairs, deal, done, first)
            done = first
            ways = [self._shared_out(deal, split) for split in self._splits(first, stop)]
            if not any(self._in_run(border) for border in deal.borders if first <= border < stop):
                ways.append(deal)
            # Of equally good ones the first.
            deal = min(ways, key=lambda way: self._play(_forked(chairs), way, first, until))
        return deal

    def _quick_spans(self, deal: Deal) -> list[tuple[int, int]]:
        """Groups of quick turns, as spans of attacks; each is widened by what it would leave of a run it cuts."""
        turns, attacks = self.turns(deal), self.attacks
        seam = self.basis.figures.share.seam
        rough = [turn.quick and not self._whole_run(turn) for turn in turns]
        spans: list[tuple[int, int]] = []
        for wanted, group in groupby(range(len(turns)), lambda n: rough[n] or turns[n].who == BOTH):
            numbers = list(group)
            if not wanted or not any(rough[n] for n in numbers):
                continue
            first, stop = begin, end = turns[numbers[0]].first, turns[numbers[-1]].stop
            while self._in_run(first) and attacks[begin].us - attacks[first - 1].us < seam:
                first -= 1
            while self._in_run(stop) and attacks[stop].us - attacks[end - 1].us < seam:
                stop += 1
            while spans and first <= spans[-1][1]:
                first = min(first, spans.pop()[0])
            spans.append((first, stop))
        return spans

    def _whole_run(self, turn: Turn) -> bool:
        """Whether the turn is exactly one run, which is best left to one player."""
        inside = range(turn.first + 1, turn.stop)
        return (
            bool(inside)
            and [self._in_run(n) for n in (turn.first, turn.stop)] == [False, False]
            and all(map(self._in_run, inside))
        )

    def _splits(self, first: int, stop: int) -> Iterator[Split]:
        """Ways to share attacks: a voice each, if there are two voices throughout; then note by note."""
        attacks = self.attacks[first:stop]
        low = max(attack.notes[0][0] for attack in attacks)
        high = min(attack.notes[-1][0] for attack in attacks)
        if low < high:
            yield Split(first, stop, from_note=high)
        for scale in WHOLE_TONES:
            yield Split(first, stop, classes=scale)

    def _shared_out(self, deal: Deal, split: Split) -> Deal:
        shared = tuple(split.owners(attack) for attack in self.attacks[split.first : split.stop])
        owners = (*deal.owners[: split.first], *shared, *deal.owners[split.stop :])
        return replace(deal, owners=owners, splits=(*deal.splits, split))

    def _play(self, chairs: Sequence[Chair], deal: Deal, first: int, stop: int) -> tuple[int, int]:
        """Play on; how many attacks more cannot be played, and how many only audibly."""
        before = [chair.faults for chair in chairs]
        for number in range(first, stop):
            give(chairs, self.attacks[number], deal.owners[number])
        cannot, audible = (
            sum(chair.faults[which] - was[which] for chair, was in zip(chairs, before, strict=True))
            for which in (0, 1)
        )
        return cannot, audible

    # -- what to say of it -------------------------------------------------------------------------

    def seams(self, deal: Deal) -> tuple[tuple[int, int], int, int]:
        """For comparing deals, the less the better: faults, turns that are too quick, hand-overs."""
        turns = self.turns(deal)
        return deal.faults, sum(turn.quick for turn in turns), hand_overs(turns)

    def turns(self, deal: Deal) -> tuple[Turn, ...]:
        """The turns of a deal.

        One is quick if it is shorter than the figure `share.seam` and another player's turn comes before or after it.
        """
        split_at = {n: split for split in deal.splits for n in range(split.first, split.stop)}
        keys = [
            (split_at.get(n), BOTH if n in split_at else who_has(one)) for n, one in enumerate(deal.owners)
        ]
        found: list[Turn] = []
        for (split, who), group in groupby(range(len(keys)), keys.__getitem__):
            numbers = list(group)
            first, stop = numbers[0], numbers[-1] + 1
            us = self.attacks[first].us
            after = self._end(stop - 1) if stop == len(keys) else self.attacks[stop].us
            # The first turn is handed over as well, if only from it.
            beside = found[-1].who if found else keys[stop][1] if stop < len(keys) else BOTH
            quick = {who, beside} == {0, 1} and after - us < self.basis.figures.share.seam
            end = self.part.time_map.place(self.attacks[stop - 1].us)
            found.append(Turn(first, stop, who, self._place(us), end, us, quick, split))
        return tuple(found)

    def _end(self, number: int) -> int:
        """When the last note of an attack ends (µs)."""
        return max(self.part.end_us if end is None else end for _, end in self.attacks[number].notes)

    def _place(self, us: int) -> Place:
        """Where an attack is; one just before a bar line counts as on it."""
        here, soon = self.part.time_map.place(us), self.part.time_map.place(us + self._window)
        return here if here.bar == soon.bar else Place(soon.bar, Fraction(1), soon.mark)

    def doublings(self, deal: Deal) -> list[tuple[int, Sounded]]:
        """Octaves that the resting player adds to whole turns, and who that is.

        They lie below the lowest note where that is a bass, else above the highest.
        """
        chairs = [self._fresh.fork(), self._fresh.fork()]
        found: list[tuple[int, Sounded]] = []
        turns = self.turns(deal)
        for place, turn in enumerate(turns):
            idle = 1 - turn.who
            if idle >= 0 and not turn.quick:
                extra = [octave for n in range(turn.first, turn.stop) if (octave := self._octave(n))]
                doubles = [Gathered(one.us, ((one.pitch, one.end),)) for one in extra]
                trial = chairs[idle].fork()
                if trial.reach(doubles) == len(doubles) and self._goes_on(
                    trial, deal, turns[place + 1 :], idle
                ):
                    for double in doubles:
                        chairs[idle].play(double)
                    found += [(idle, one) for one in extra]
            self._play(chairs, deal, turn.first, turn.stop)
        return found

    def _goes_on(self, chair: Chair, deal: Deal, turns: Sequence[Turn], who: int) -> bool:
        """Whether a player can play their next turn after what they did till now."""
        for turn in turns:
            if turn.who in (who, BOTH):
                before = chair.faults
                for number in range(turn.first, turn.stop):
                    give_part(chair, self.attacks[number], deal.owners[number], who)
                return chair.faults <= before
        return True

    def _octave(self, number: int) -> Sounded | None:
        """The octave that is added to an attack, if a string gives it."""
        attack = self.attacks[number]
        (low, low_end), (high, high_end) = attack.notes[0], attack.notes[-1]
        spellings = self.basis.instrument.spellings
        if low < 60 and spellings(low - 12):
            pitch, end = low - 12, low_end
        elif spellings(high + 12):
            pitch, end = high + 12, high_end
        else:
            return None
        return Sounded(number, attack.us, self.part.end_us if end is None else end, pitch)


def _forked(chairs: Sequence[Chair]) -> list[Chair]:
    return [chair.fork() for chair in chairs]
