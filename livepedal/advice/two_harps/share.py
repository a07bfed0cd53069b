"""Two harps for one part: the music is dealt out so that each player can play what falls to them.

The players take turns, and fewest hand-overs come first: one plays on for as long as the model says that they
can, without an audible pedal change, then the other takes over, who has had all that time to set the pedals.
Playing less is never harder, so going on as long as possible gives the fewest turns. Within what leaves their
number as it is, each hand-over then goes back to where it is easiest: after a rest at a bar line, else at a
bar line, in a rest, on a beat. Nobody hands over inside a run (from string to string, as quick as a
glissando), but at its beginning.

Where the turns would be too quick to sound seamless, the music is dealt out otherwise, if that serves: by
height, one player having the upper strings and the other the lower; or by note, one player having all of one
or two pitch classes and the other the rest. An attack that neither can play alone is divided between both.
What even two cannot play stays with the player whose turn it is, and is said.

Too much at once (model/load.py) belongs to a passage, not to an attack, and is known only when the
pedal changes are planned. So a deal is not made by it: where a player has too much in the deal that came out, a few
others are made and each harp is judged again with all its layers, in turns of so many bars, then by height, then by
note; the first without any is taken, else the one whose busiest player has the least, and what was tried is said.

Two harps give the gap in which to pedal, and half the alterations each (common practice, no source). How
short a turn must be to be heard as a seam is a figure (figures.toml, [share]).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, pairwise
from typing import Any

from livepedal.advice.judging.part import attacks_of, judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.values import place_dict, setting_dict
from livepedal.advice.two_harps.chair import FINGERS, Chair
from livepedal.advice.two_harps.score import Sounded, Staff, midi_bytes, sounded
from livepedal.harp import Figures, Instrument, Setting
from livepedal.model.findings import Layer, Outcome
from livepedal.music.attacks import Gathered
from livepedal.music.parts import choose_parts
from livepedal.music.song import KeySignature, Part, read_song
from livepedal.music.timemap import Place

# Attacks of a part that deals by one pitch class and by two are tried for: 12 and 66 of them.
MOST_BY_CLASS = (600, 120)
MOST_DIVIDED = 12  # notes of an attack that every division is tried for
HEIGHTS = 9  # pitches that are tried as the border between an upper and a lower player
BARS = (8, 4, 2, 1)  # bars of a turn that are tried where somebody has too much at once (ours, no source)
NAMES = ("Harp 1", "Harp 2")
BOTH = 2
NEIGHBOURS = 4  # semitones from a flat string to the next one, if that is sharp and a whole tone above


@dataclass(frozen=True, slots=True)
class Turn:
    """From one attack (its place among all) to before another, one player plays, 0 or 1, or both (2).

    start, end: the bars and beats of its first attack and of its last.
    """

    first: int
    stop: int
    who: int
    start: Place
    end: Place
    us: int
    quick: bool = False


@dataclass(frozen=True, slots=True)
class Shared:
    """A part dealt out to two players.

    alone: how one player fares with all of it; turns: who plays what; by_height: the MIDI number from which
    the first player has the notes, where the deal is by height; by_class: the pitch classes that the second
    player has, where it is by note; impossible: the places that even two cannot play; audible: those with a
    pedal change to be heard; doubled: how many notes the second player adds; players: the reports of both,
    made from the new file's own notes; data: that file; seam: the turn (µs) below which it is quick; double:
    whether doubling was asked for; alone_too_much: passages that are too much at once for one player; tried: the
    deals that were judged for the sake of that, in words, and bars: how long turns are where such a deal was
    taken (0: it is no deal in turns of bars).
    """

    name: str
    alone: Outcome
    alone_unplayable: int
    alone_audible: int
    turns: tuple[Turn, ...]
    by_height: int | None
    by_class: tuple[int, ...]
    impossible: tuple[Place, ...]
    audible: tuple[Place, ...]
    doubled: int
    players: tuple[PartReport, ...]
    data: bytes
    seam: int
    double: bool = False
    alone_too_much: int = 0
    tried: tuple[str, ...] = ()
    bars: int = 0

    @property
    def too_much(self) -> int:
        """Passages that are too much at once for the player who has them."""
        return passages_too_much(self.players)

    @property
    def hand_overs(self) -> int:
        """How often another player goes on."""
        return _hand_overs(self.turns)

    def to_dict(self) -> dict[str, Any]:
        """What the JSON (format livepedal-share, version 1) has of it, besides where it was read and written."""
        return {
            "alone": {
                "unplayable": self.alone_unplayable,
                "audible": self.alone_audible,
                "too_much": self.alone_too_much,
            },
            "turns": [
                {
                    "from": place_dict(turn.start),
                    "to": place_dict(turn.end),
                    "harp": None if turn.who == BOTH else turn.who + 1,
                    "quick": turn.quick,
                }
                for turn in self.turns
            ],
            "from_note": self.by_height,
            "pitch_classes": list(self.by_class),
            "impossible": [place_dict(place) for place in self.impossible],
            "audible": [place_dict(place) for place in self.audible],
            "doubled": self.doubled,
            "parts": [_player_dict(report) for report in self.players],
        }


def _player_dict(report: PartReport) -> dict[str, Any]:
    mine = next(count for count in report.counts if count.player == report.player)
    return {
        "name": report.name,
        "verdict": report.verdict.word,
        "notes": report.notes,
        "unplayable": mine.unplayable,
        "audible": mine.audible,
        "too_much": mine.too_much,
        "changes": mine.changes,
        "setting": setting_dict(report.plan.setting),
    }


# Which player has each note of an attack, upwards.
Owners = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Deal:
    owners: tuple[Owners, ...]
    impossible: tuple[int, ...]
    audible: tuple[int, ...]

    @property
    def faults(self) -> tuple[int, int]:
        return len(self.impossible), len(self.audible)


def share_part(
    part: Part,
    keys: Sequence[KeySignature],
    title: str,
    figures: Figures,
    instrument: Instrument,
    player: str,
    *,
    setting: Setting | None = None,
    layers: tuple[Layer, ...] = (),
    double: bool = False,
    step: Callable[[int, int], None] = lambda done, total: None,
) -> Shared:
    """Deal a part out to two players. double: whoever rests doubles the other in octaves, where that can be
    played.
    """
    attacks = attacks_of(part.events, figures)
    dealer = _Dealer(part, attacks, figures, instrument, player, setting, layers, step)
    whole = judge_part(part, figures, instrument, player, setting=setting, layers=layers)
    heavy = passages_too_much((whole,))
    notes = sounded(part.events, figures, part.end_us)

    def made(owned: _Deal, extra: Sequence[tuple[int, Sounded]] = ()) -> tuple[bytes, tuple[PartReport, ...]]:
        staves = _staves(notes, attacks, owned, extra)
        data = midi_bytes(title, staves, part.time_map, keys)
        reports = judged(data, staves, figures, instrument, player, setting, layers, part.time_map.first_bar)
        return data, reports

    alone = dealer.alone()
    dealt = _Dealt(alone)
    tried: tuple[str, ...] = ()
    if alone.faults != (0, 0):
        dealt = _Dealt(dealer.deal())
        for other in dealer.otherwise(dealt.deal):
            if dealer.seams(other.deal) < dealer.seams(dealt.deal):
                dealt = other
    data, players = made(dealt.deal)
    if passages_too_much(players):
        dealt, tried = _lighter(dealer, dealt, lambda deal: _heaviest(made(deal)[1]))
        data, players = made(dealt.deal)
    deal = dealt.deal
    turns = dealer.turns(deal)
    extra = dealer.doublings(deal, turns) if double else ()
    if extra:
        doubled = made(deal, extra)
        if passages_too_much(doubled[1]) > passages_too_much(players):
            extra = ()
        else:
            data, players = doubled
    cannot = bool(alone.impossible or heavy)
    return Shared(
        part.name,
        Outcome.CANNOT if cannot else Outcome.AUDIBLE if alone.audible else Outcome.PLAYS,
        len(alone.impossible),
        len(alone.audible),
        turns,
        dealt.border,
        dealt.classes,
        tuple(part.time_map.place(attacks[n].us) for n in deal.impossible),
        tuple(part.time_map.place(attacks[n].us) for n in deal.audible),
        len(extra),
        players,
        data,
        figures.sharing.seam,
        double,
        heavy,
        tried,
        dealt.bars,
    )


def passages_too_much(reports: Iterable[PartReport]) -> int:
    """How many passages are too much at once for the player who has them."""
    return sum(load.too_much for report in reports for load in report.loads)


def _heaviest(reports: Iterable[PartReport]) -> int:
    """The most pedal changes that are too much at once for a player; 0 where nothing is."""
    return max((load.changes for report in reports for load in report.loads if load.too_much), default=0)


def _lighter(
    dealer: _Dealer, dealt: _Dealt, too_much: Callable[[_Deal], int]
) -> tuple[_Dealt, tuple[str, ...]]:
    """The deal that leaves least that is too much at once and is no worse otherwise, and what was tried for it.

    too_much: how much of a deal is (0: nothing).
    """
    wanted = dealt.deal.faults

    def order(deal: _Deal) -> tuple[tuple[int, int], int, int, int]:
        faults, quick, hand_overs = dealer.seams(deal)
        return faults, too_much(deal), quick, hand_overs

    best, found = order(dealt.deal), dealt
    tried: list[str] = []
    for name, others in dealer.lighter(wanted):
        tried.append(name)
        for other in others:
            if other.deal.faults > wanted:
                continue
            now = order(other.deal)
            if now < best:
                best, found = now, other
            if now[1:3] == (0, 0):
                return found, tuple(tried)
    return found, tuple(tried)


def judged(
    data: bytes,
    staves: Sequence[Staff],
    figures: Figures,
    instrument: Instrument,
    player: str,
    setting: Setting | None,
    layers: tuple[Layer, ...],
    first_bar: int,
) -> tuple[PartReport, ...]:
    """What `check` says of each track of a new file that has notes."""
    song = read_song(data, name="the new file", first_bar=first_bar)
    numbers = [str(number + 2) for number, staff in enumerate(staves) if staff.notes]
    return tuple(
        judge_part(part, figures, instrument, player, setting=setting, layers=layers)
        for number in numbers
        for part in choose_parts(song, (number,))
    )


def _staves(
    notes: Sequence[Sounded], attacks: Sequence[Gathered], deal: _Deal, extra: Sequence[tuple[int, Sounded]]
) -> tuple[Staff, Staff]:
    """The notes of each player, those added for weight included."""
    owner = {
        (number, pitch): who
        for number, (attack, owners) in enumerate(zip(attacks, deal.owners, strict=True))
        for (pitch, _), who in zip(attack.notes, owners, strict=True)
    }
    mine: tuple[list[Sounded], list[Sounded]] = ([], [])
    for note in notes:
        mine[owner[note.attack, note.pitch]].append(note)
    for who, note in extra:
        mine[who].append(note)
    return Staff(NAMES[0], tuple(mine[0])), Staff(NAMES[1], tuple(mine[1]))


@dataclass(frozen=True, slots=True)
class _Dealt:
    """A deal and how it was made: in turns of so many `bars`, at the `border` between an upper and a lower player, by
    the pitch `classes` of the second; none of these where turns are as long as they can be.
    """

    deal: _Deal
    border: int | None = None
    classes: tuple[int, ...] = ()
    bars: int = 0


class _Dealer:
    """Deals the attacks of one part."""

    def __init__(
        self,
        part: Part,
        attacks: Sequence[Gathered],
        figures: Figures,
        instrument: Instrument,
        player: str,
        setting: Setting | None,
        layers: tuple[Layer, ...],
        step: Callable[[int, int], None],
    ) -> None:
        self.part = part
        self.attacks = attacks
        self.window = figures.attack_window
        self.figures = figures.sharing
        self.quick = figures.glissando.step
        self.instrument = instrument
        self.fresh = Chair(figures, instrument, player, setting, layers)
        self.step = step
        self.hopeless = (0, 0)  # attacks that not even two fresh players can play, or only audibly

    def alone(self) -> _Deal:
        """Everything with the first player."""
        chair = self.fresh.fork()
        outcomes = [chair.play(attack) for attack in self.attacks]
        return _Deal(
            tuple((0,) * len(attack.notes) for attack in self.attacks),
            tuple(n for n, outcome in enumerate(outcomes) if outcome is Outcome.CANNOT),
            tuple(n for n, outcome in enumerate(outcomes) if outcome is Outcome.AUDIBLE),
        )

    # -- turns -------------------------------------------------------------------------------------

    def deal(self) -> _Deal:
        """In turns, as few as possible, handed over where that is easiest."""
        latest = self._in_turns()
        moved = self._moved(latest)
        if moved is not latest:
            again = self._played(moved.owners)
            if again.faults <= latest.faults:
                return again
        return latest

    def _in_turns(self) -> _Deal:
        attacks = self.attacks
        chairs = [self.fresh.fork(), self.fresh.fork()]
        owners: list[Owners] = []
        impossible: list[int] = []
        audible: list[int] = []
        who = 0
        place = 0
        while place < len(attacks):
            self.step(place, len(attacks))
            reach = chairs[who].fork().reach(attacks[place:])
            if not reach:
                reach = chairs[1 - who].fork().reach(attacks[place:])
                if reach:
                    who = 1 - who
            if reach:
                stop = next(
                    (n for n in range(place + reach, place, -1) if not self._in_run(n)), place + reach
                )
                reach = stop - place
                for attack in attacks[place : place + reach]:
                    chairs[who].play(attack)
                    owners.append((who,) * len(attack.notes))
                place += reach
                who = 1 - who
                continue
            # Neither can go on alone: both together, else with a change that is heard, else not at all.
            divided, outcome = self._divided(chairs, attacks[place], who)
            owners.append(divided)
            for one in (0, 1):
                self._hand(chairs[one], attacks[place], divided, one)
            if outcome is Outcome.CANNOT:
                impossible.append(place)
            elif outcome is Outcome.AUDIBLE:
                audible.append(place)
            place += 1
        self.hopeless = self._played_apart(impossible), self._played_apart(audible)
        return _Deal(tuple(owners), tuple(impossible), tuple(audible))

    def _in_run(self, number: int) -> bool:
        """Whether an attack goes on with a run that was begun before it."""
        if not 0 < number < len(self.attacks):
            return False
        before, here = self.attacks[number - 1], self.attacks[number]
        step = abs(here.notes[-1][0] - before.notes[-1][0])
        return here.us - before.us <= self.quick and 0 < step <= NEIGHBOURS

    def _played_apart(self, numbers: Sequence[int]) -> int:
        """How many of these attacks two players cannot play even by themselves."""
        fresh = (self.fresh, self.fresh)
        return sum(self._divided(fresh, self.attacks[n], 0)[1] is not Outcome.PLAYS for n in numbers)

    @staticmethod
    def _hand(chair: Chair, attack: Gathered, owners: Owners, who: int) -> Outcome:
        notes = tuple(note for note, owner in zip(attack.notes, owners, strict=True) if owner == who)
        return chair.play(Gathered(attack.us, notes)) if notes else Outcome.PLAYS

    def _divided(self, chairs: Sequence[Chair], attack: Gathered, who: int) -> tuple[Owners, Outcome]:
        """How to divide an attack that neither can play alone without being heard: at a height if possible,
        else any way.
        """
        best: tuple[Outcome, Owners] | None = None
        for owners in _divisions(len(attack.notes), who):
            outcome = max(self._hand(chairs[one].fork(), attack, owners, one) for one in (0, 1))
            if outcome is Outcome.PLAYS:
                return owners, outcome
            if best is None or outcome < best[0]:
                best = outcome, owners
        assert best is not None
        return best[1], best[0]

    def _played(self, owners: Sequence[Owners], stop: tuple[int, int] | None = None) -> _Deal:
        """A deal, played through by both; not to its end where it has more faults than `stop` before."""
        chairs = [self.fresh.fork(), self.fresh.fork()]
        impossible: list[int] = []
        audible: list[int] = []
        for number, (attack, mine) in enumerate(zip(self.attacks, owners, strict=True)):
            outcome = max(self._hand(chairs[one], attack, mine, one) for one in (0, 1))
            if outcome is Outcome.CANNOT:
                impossible.append(number)
            elif outcome is Outcome.AUDIBLE:
                audible.append(number)
            if stop is not None and (len(impossible), len(audible)) > stop:
                break
        return _Deal(tuple(owners), tuple(impossible), tuple(audible))

    def _moved(self, deal: _Deal) -> _Deal:
        """The same turns with each hand-over, from the last to the first, where it is easiest."""
        owners = list(deal.owners)
        borders = [
            n
            for n in range(1, len(owners))
            if len(set(owners[n])) == len(set(owners[n - 1])) == 1 and owners[n][0] != owners[n - 1][0]
        ]
        moved = False
        for border in reversed(borders):
            begin = self._turn_start(owners, border - 1)
            stop = self._turn_stop(owners, border)
            easy = (n for n in range(begin + 1, border + 1) if n == border or not self._in_run(n))
            places = sorted(easy, key=lambda n: (-self._ease(n), -n))
            for place in places[:8]:
                if place == border or self._ease(place) <= self._ease(border):
                    break
                if self.fresh.fork().reach(self.attacks[place:stop]) == stop - place:
                    who = owners[border][0]
                    for number in range(place, border):
                        owners[number] = (who,) * len(owners[number])
                    moved = True
                    break
        return _Deal(tuple(owners), deal.impossible, deal.audible) if moved else deal

    @staticmethod
    def _turn_start(owners: Sequence[Owners], place: int) -> int:
        while place > 0 and set(owners[place - 1]) == set(owners[place]):
            place -= 1
        return place

    @staticmethod
    def _turn_stop(owners: Sequence[Owners], place: int) -> int:
        here = set(owners[place])
        while place < len(owners) and set(owners[place]) == here:
            place += 1
        return place

    def _ease(self, number: int) -> int:
        """How easily the other player comes in at an attack: 3 after a rest at a bar line, 2 at a bar line or
        after a rest, 1 on a beat.
        """
        us = self.attacks[number].us
        ends = [end for _, end in self.attacks[number - 1].notes if end is not None]
        rest = bool(ends) and us - max(ends) >= self.figures.breath
        place = self.part.time_map.place(us + self.window)
        beats = 2 * self.window * self.part.time_map.beats_per_minute(us) / 60_000_000
        if place.beat - 1 <= beats:
            return 2 + rest
        return 2 if rest else int(place.beat % 1 <= beats)

    # -- by height and by note ---------------------------------------------------------------------

    def otherwise(self, deal: _Deal) -> Iterator[_Dealt]:
        """Other deals, where turns are too quick or do not serve: with the border between an upper and a
        lower player, or with the pitch classes of the second.
        """
        if self.hopeless == deal.faults and not any(turn.quick for turn in self.turns(deal)):
            return
        yield from self._by_height()
        for size in self._sizes():
            yield from self._by_class(size, deal.faults)

    def lighter(self, stop: tuple[int, int]) -> Iterator[tuple[str, Iterator[_Dealt]]]:
        """Deals that give each player less to do at once, with what they are in words. stop: the faults that they
        may have.
        """
        bars = [self._place(attack.us).bar for attack in self.attacks]
        lengths = [length for length in BARS if length <= bars[-1] - bars[0]]
        if lengths:
            several = f"{', '.join(map(str, lengths[:-1]))} and " if len(lengths) > 1 else ""
            name = f"turns of {several}{lengths[-1]} bar{'s' if lengths != [1] else ''}"
            yield name, (self._by_bars(bars, length, stop) for length in lengths)
        borders = len(self._borders())
        if borders:
            yield f"{borders} borders by height" if borders > 1 else "a border by height", self._by_height()
        for size in self._sizes():
            of_all = "each pitch class given" if size == 1 else "each two pitch classes given"
            yield f"{of_all} to one player", self._by_class(size, stop)

    def _by_bars(self, bars: Sequence[int], length: int, stop: tuple[int, int]) -> _Dealt:
        """Turns of so many bars. bars: that of each attack."""
        owners = [
            ((bar - bars[0]) // length % 2,) * len(attack.notes)
            for bar, attack in zip(bars, self.attacks, strict=True)
        ]
        return _Dealt(self._played(owners, stop), bars=length)

    def _borders(self) -> list[int]:
        """The pitches that are tried as borders."""
        pitches = sorted(pitch for attack in self.attacks for pitch, _ in attack.notes)
        tried = {pitches[len(pitches) * n // (HEIGHTS + 1)] for n in range(1, HEIGHTS + 1)}
        return sorted(tried - {pitches[0]})

    def _by_height(self) -> Iterator[_Dealt]:
        for border in self._borders():
            owners = [tuple(int(pitch < border) for pitch, _ in attack.notes) for attack in self.attacks]
            yield _Dealt(self._played(owners), border)

    def _sizes(self) -> Iterator[int]:
        """How many pitch classes at once are tried for one player."""
        for size, most in enumerate(MOST_BY_CLASS, start=1):
            if len(self.attacks) > most:
                return
            yield size

    def _by_class(self, size: int, stop: tuple[int, int]) -> Iterator[_Dealt]:
        known = sorted({pitch % 12 for attack in self.attacks for pitch, _ in attack.notes})
        for classes in combinations(known, size):
            owners = [
                tuple(int(pitch % 12 in classes) for pitch, _ in attack.notes) for attack in self.attacks
            ]
            yield _Dealt(self._played(owners, stop), classes=classes)

    def seams(self, deal: _Deal) -> tuple[tuple[int, int], int, int]:
        """For comparing deals, the less the better: what cannot be played, turns that are too quick,
        hand-overs.
        """
        turns = self.turns(deal)
        return deal.faults, sum(turn.quick for turn in turns), _hand_overs(turns)

    # -- what to say of it -------------------------------------------------------------------------

    def turns(self, deal: _Deal) -> tuple[Turn, ...]:
        """The turns of a deal; a quick one lies between the other player's (or begins the music before them, or
        ends it after them) and is shorter than the figure `share.seam`.
        """
        found: list[Turn] = []
        first = 0
        for number in range(1, len(deal.owners) + 1):
            if number < len(deal.owners) and _who(deal.owners[number]) == _who(deal.owners[first]):
                continue
            us = self.attacks[first].us
            who = _who(deal.owners[first])
            last = number == len(deal.owners)
            after = self._end(number - 1) if last else self.attacks[number].us
            other = 1 - who
            # The first turn is handed over as well, if only from it.
            seam = found[-1].who == other if found else not last and _who(deal.owners[number]) == other
            quick = seam and after - us < self.figures.seam
            found.append(
                Turn(
                    first,
                    number,
                    who,
                    self._place(us),
                    self.part.time_map.place(self.attacks[number - 1].us),
                    us,
                    quick,
                )
            )
            first = number
        return tuple(found)

    def _end(self, number: int) -> int:
        """When the last note of an attack ends (µs)."""
        return max(self.part.end_us if end is None else end for _, end in self.attacks[number].notes)

    def _place(self, us: int) -> Place:
        """Where an attack is; one just before a bar line counts as on it."""
        here, soon = self.part.time_map.place(us), self.part.time_map.place(us + self.window)
        return here if here.bar == soon.bar else Place(soon.bar, Fraction(1), soon.mark)

    def doublings(self, deal: _Deal, turns: Sequence[Turn]) -> tuple[tuple[int, Sounded], ...]:
        """Octaves that the resting player adds to whole turns: below the lowest note where that is a bass,
        else above the highest.
        """
        chairs = [self.fresh.fork(), self.fresh.fork()]
        found: list[tuple[int, Sounded]] = []
        for place, turn in enumerate(turns):
            if turn.who != BOTH and not turn.quick:
                idle = 1 - turn.who
                extra = [
                    (n, *note)
                    for n in range(turn.first, turn.stop)
                    if (note := self._octave(self.attacks[n]))
                ]
                trial = chairs[idle].fork()
                doubles = [Gathered(self.attacks[n].us, ((pitch, end),)) for n, pitch, end in extra]
                if (
                    extra
                    and trial.reach(doubles) == len(doubles)
                    and self._goes_on(trial, deal, turns[place + 1 :], idle)
                ):
                    for octave in doubles:
                        chairs[idle].play(octave)
                    found += [
                        (
                            idle,
                            Sounded(
                                n, self.attacks[n].us, end if end is not None else self.part.end_us, pitch
                            ),
                        )
                        for n, pitch, end in extra
                    ]
            for number in range(turn.first, turn.stop):
                for one in (0, 1):
                    self._hand(chairs[one], self.attacks[number], deal.owners[number], one)
        return tuple(found)

    def _goes_on(self, chair: Chair, deal: _Deal, turns: Sequence[Turn], who: int) -> bool:
        """Whether a player can play their next turn after what they did till now."""
        for turn in turns:
            if turn.who in (who, BOTH):
                outcomes = [
                    self._hand(chair, self.attacks[n], deal.owners[n], who)
                    for n in range(turn.first, turn.stop)
                ]
                return max(outcomes) is Outcome.PLAYS
        return True

    def _octave(self, attack: Gathered) -> tuple[int, int | None] | None:
        (low, low_end), (high, high_end) = attack.notes[0], attack.notes[-1]
        if low < 60 and self.instrument.spellings(low - 12):
            return low - 12, low_end
        return (high + 12, high_end) if self.instrument.spellings(high + 12) else None


def _hand_overs(turns: Sequence[Turn]) -> int:
    return sum(a.who != b.who and BOTH not in (a.who, b.who) for a, b in pairwise(turns))


def _who(owners: Owners) -> int:
    return owners[0] if len(set(owners)) == 1 else BOTH


def _divisions(count: int, who: int) -> list[Owners]:
    """Ways to divide an attack of so many notes: all with one, at a height, then with ever more notes given
    away.
    """
    found = [(who,) * count, (1 - who,) * count]
    heights = [n for n in range(1, count) if max(n, count - n) <= FINGERS] or list(range(1, count))
    heights.sort(key=lambda n: abs(2 * n - count))
    found += [(1,) * n + (0,) * (count - n) for n in heights]
    found += [(0,) * n + (1,) * (count - n) for n in heights]
    if count <= MOST_DIVIDED:
        for size in range(1, count // 2 + 1):
            for given in combinations(range(count), size):
                found.append(tuple(1 - who if n in given else who for n in range(count)))
    return list(dict.fromkeys(found))
