"""Two harps for one part: the music is dealt out (dealing.py) so that each player can play what falls to them.

What a deal is worth is said by the reports of the new file's own parts. Too much at once (model/load.py) belongs to
a passage, not to an attack, and is known only there. So where the first deal leaves a player too much, others are
made, in which the players take turns bar by bar there. The best is taken.

Two harps give the gap in which to pedal, and half the alterations each (common practice, no source).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import chain, product
from typing import Any

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import attacks_of, judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.values import place_dict, setting_dict
from livepedal.advice.two_harps.dealing import Dealer
from livepedal.advice.two_harps.doubling import doublings
from livepedal.advice.two_harps.score import Sounded, Staff, midi_bytes, sounded
from livepedal.advice.two_harps.turns import BOTH, Turn, quick_turns
from livepedal.model.findings import Outcome
from livepedal.music.parts import Wanted, choose_parts
from livepedal.music.song import Part, read_song
from livepedal.music.timemap import Place

NAMES = ("Harp 1", "Harp 2")
MOST_DEALS = 4  # that are judged


@dataclass(frozen=True, slots=True)
class Shared:
    """A part dealt out to two players.

    Attributes:
        alone: how one player fares with all of it.
        turns: who plays what.
        players: the reports of both, made from the new file's own notes.
        data: that file.
        seam: the turn (µs) below which it is quick.
        double: whether doubling was asked for.
        doubled: how many notes the resting player adds.
        short: the bars in which they take turns bar by bar, so that each has fewer pedal changes at once.
    """

    name: str
    alone: PartReport
    turns: tuple[Turn, ...]
    players: tuple[PartReport, ...]
    data: bytes
    seam: int
    double: bool = False
    doubled: int = 0
    short: tuple[int, ...] = ()

    @property
    def quick(self) -> list[Turn]:
        """The turns that are too short to sound seamless."""
        return quick_turns(self.turns, self.seam)

    @property
    def two_names(self) -> dict[tuple[str, str], list[int]]:
        """Notes of the same pitch that the players read under two names, that of the first before that of the second.

        With the bars in which both play them.
        """
        reads: list[defaultdict[tuple[int, int], set[str]]] = []
        for report in self.players:
            reads.append(defaultdict(set))
            for attack, spellings in report.spelled:
                for one in filter(None, spellings):
                    key = report.place(attack.us).bar, one.pitch % 12
                    reads[-1][key].add(f"{one.pedal.letter}{one.position.sign}")
        found: dict[tuple[str, str], list[int]] = {}
        for key in sorted(reads[0].keys() & reads[-1].keys()):
            for pair in product(sorted(reads[0][key]), sorted(reads[-1][key])):
                if pair[0] != pair[1]:
                    found.setdefault(pair, []).append(key[0])
        return found

    def places(self, outcome: Outcome) -> list[Place]:
        """Where a player fares so, in order."""
        return [
            self.alone.place(us)
            for us in sorted({us for report in self.players for us in report.attacks_that(outcome)})
        ]

    @property
    def exit_code(self) -> int:
        """1 where the new file has something that its player cannot play, as `check` judges it; else 0."""
        return int(any(player.outcome is Outcome.CANNOT for player in self.players))

    def to_dict(self) -> dict[str, Any]:
        """What the JSON (format livepedal-share, version 1) has of it, besides where it was read and written."""
        quick = self.quick
        return {
            "alone": _faults(self.alone),
            "turns": [
                {
                    "from": place_dict(turn.start),
                    "to": place_dict(turn.end),
                    "harp": None if turn.who == BOTH else turn.who + 1,
                    "quick": turn in quick,
                    "from_note": turn.split and turn.split.border,
                    "upper": turn.split.upper + 1 if turn.split and turn.split.border else None,
                    "pitch_classes": list(turn.split.classes) if turn.split else [],
                }
                for turn in self.turns
            ],
            "impossible": [place_dict(place) for place in self.places(Outcome.CANNOT)],
            "audible": [place_dict(place) for place in self.places(Outcome.AUDIBLE)],
            "doubled": self.doubled,
            "parts": [part_dict(report) for report in self.players],
        }


def part_dict(report: PartReport) -> dict[str, Any]:
    """How one player fares with a part, as the JSON of `share` and `combine` has it."""
    return {
        "name": report.name,
        "verdict": report.verdict.word,
        "notes": report.notes,
        **_faults(report),
        "changes": report.mine.changes,
        "setting": setting_dict(report.plan.setting),
    }


def _faults(report: PartReport) -> dict[str, int]:
    mine = report.mine
    return {"unplayable": mine.unplayable, "audible": mine.audible, "too_much": mine.too_much}


def share_part(
    part: Part,
    title: str,
    basis: Basis,
    *,
    double: bool = False,
    step: Callable[[int, int], None] = lambda done, total: None,
) -> Shared:
    """Deal a part out to two players.

    Args:
        part: the part.
        title: of the new file.
        basis: what it is judged on.
        double: whoever rests doubles the other in octaves, where that can be played.
        step: called with (attacks dealt, attacks in all).
    """
    attacks = attacks_of(part.events, basis.figures)
    notes = sounded(part.events, attacks.moments, basis.figures.lowest_note, part.end_us)
    dealer = Dealer(part, attacks, basis, step)
    alone = judge_part(part, basis)
    seam = basis.figures.share.seam

    def shared(
        turns: tuple[Turn, ...], short: Iterable[int] = (), octaves: Sequence[tuple[int, Sounded]] = ()
    ) -> Shared:
        staves = _staves(notes, turns, octaves)
        data = midi_bytes(title, staves, part.time_map, part.keys)
        players = judged(data, staves, basis, part.time_map.first_bar)
        return Shared(part.name, alone, turns, players, data, seam, double, len(octaves), tuple(sorted(short)))

    best = shared(dealer.alone() if alone.outcome is Outcome.PLAYS else dealer.deal())
    last, short = best, set[int]()
    for _ in range(MOST_DEALS - 1):
        busy = too_much(last.players)
        if busy <= short:
            break
        short |= busy
        last = shared(dealer.deal(short), short)
        best = min(best, last, key=_worth)
    if double and (octaves := list(doublings(dealer, best.turns, basis.instrument, seam))):
        doubled = shared(best.turns, best.short, octaves)
        if _troubles(doubled.players) <= _troubles(best.players):
            return doubled
    return best


def _staves(
    notes: Iterable[Sounded], turns: Iterable[Turn], octaves: Iterable[tuple[int, Sounded]]
) -> tuple[Staff, Staff]:
    """The tracks of both players: the notes as they are dealt out, and octaves added by the player of each number."""
    turn_of = {number: turn for turn in turns for number in range(turn.first, turn.stop)}
    first, second = list[Sounded](), list[Sounded]()
    dealt = ((turn_of[note.attack].player_of(note.pitch), note) for note in notes)
    for who, note in chain(dealt, octaves):
        (second if who else first).append(note)
    return Staff(NAMES[0], tuple(first)), Staff(NAMES[1], tuple(second))


def too_much(reports: Iterable[PartReport]) -> set[int]:
    """The bars in which a player has too many pedal changes at once."""
    return {
        bar
        for report in reports
        for load in report.loads
        if load.too_much
        for bar in range(report.place(load.start).bar, report.place(load.end).bar + 1)
    }


def _troubles(reports: Iterable[PartReport]) -> tuple[int, int, int]:
    """Attacks that cannot be played, the most pedal changes that are too much at once, and attacks only audible."""
    reports = list(reports)
    mine = [report.mine for report in reports]
    most = max((load.changes for report in reports for load in report.loads if load.too_much), default=0)
    return sum(one.unplayable for one in mine), most, sum(one.audible for one in mine)


def _worth(shared: Shared) -> tuple[tuple[int, int, int], int, int]:
    """For comparing deals, the less the better: troubles, turns that are too quick, turns."""
    return _troubles(shared.players), len(shared.quick), len(shared.turns)


def judged(data: bytes, staves: Sequence[Staff], basis: Basis, first_bar: int) -> tuple[PartReport, ...]:
    """What `check` says of each track of a new file that has notes."""
    song = read_song(data, name="the new file", first_bar=first_bar)
    numbers = [str(number + 2) for number, staff in enumerate(staves) if staff.notes]
    return tuple(
        judge_part(part, basis) for number in numbers for part in choose_parts(song, Wanted((number,)))
    )
