"""Two harps for one part: the music is dealt out (dealing.py) so that each player can play what falls to them.

Too much at once (model/load.py) belongs to a passage, not to an attack, and is known only when the
pedal changes are planned. So a deal is not made by it: where a player has too much in the deal that came out, a few
others are made and each harp is judged again with all its layers: turns of so many bars, then all of it note by
note. The first without any is taken, else the one whose busiest player has the least, and what was tried is said.

Two harps give the gap in which to pedal, and half the alterations each (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import attacks_of, judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.judging.values import place_dict, setting_dict
from livepedal.advice.two_harps.dealing import Dealer
from livepedal.advice.two_harps.score import Sounded, Staff, midi_bytes, sounded
from livepedal.advice.two_harps.turns import BOTH, Deal, Turn, hand_overs
from livepedal.model.findings import Outcome
from livepedal.music.attacks import Gathered
from livepedal.music.parts import Wanted, choose_parts
from livepedal.music.song import KeySignature, Part, read_song
from livepedal.music.timemap import Place

NAMES = ("Harp 1", "Harp 2")


@dataclass(frozen=True, slots=True)
class Shared:
    """A part dealt out to two players.

    Attributes:
        alone: how one player fares with all of it.
        turns: who plays what.
        impossible: the places that even two cannot play.
        audible: those with a pedal change to be heard.
        doubled: how many notes the second player adds.
        players: the reports of both, made from the new file's own notes.
        data: that file.
        seam: the turn (µs) below which it is quick.
        double: whether doubling was asked for.
        tried: the deals that were judged since a player had too much at once, in words, and bars: how long turns are
            where such a deal was taken (0: it is no deal in turns of bars).
    """

    name: str
    alone: PartReport
    turns: tuple[Turn, ...]
    impossible: tuple[Place, ...]
    audible: tuple[Place, ...]
    doubled: int
    players: tuple[PartReport, ...]
    data: bytes
    seam: int
    double: bool = False
    tried: tuple[str, ...] = ()
    bars: int = 0

    @property
    def hand_overs(self) -> int:
        """How often another player goes on."""
        return hand_overs(self.turns)

    @property
    def exit_code(self) -> int:
        """1 where the new file has something that its player cannot play, as `check` judges it; else 0."""
        return int(any(player.outcome is Outcome.CANNOT for player in self.players))

    def to_dict(self) -> dict[str, Any]:
        """What the JSON (format livepedal-share, version 1) has of it, besides where it was read and written."""
        return {
            "alone": _faults(self.alone),
            "turns": [
                {
                    "from": place_dict(turn.start),
                    "to": place_dict(turn.end),
                    "harp": None if turn.who == BOTH else turn.who + 1,
                    "quick": turn.quick,
                    "from_note": turn.split and turn.split.from_note,
                    "pitch_classes": list(turn.split.classes) if turn.split else [],
                }
                for turn in self.turns
            ],
            "impossible": [place_dict(place) for place in self.impossible],
            "audible": [place_dict(place) for place in self.audible],
            "doubled": self.doubled,
            "parts": [
                {
                    "name": report.name,
                    "verdict": report.verdict.word,
                    "notes": report.notes,
                    **_faults(report),
                    "changes": report.mine.changes,
                    "setting": setting_dict(report.plan.setting),
                }
                for report in self.players
            ],
        }


def _faults(report: PartReport) -> dict[str, int]:
    mine = report.mine
    return {"unplayable": mine.unplayable, "audible": mine.audible, "too_much": mine.too_much}


def share_part(
    part: Part,
    keys: Sequence[KeySignature],
    title: str,
    basis: Basis,
    *,
    double: bool = False,
    step: Callable[[int, int], None] = lambda done, total: None,
) -> Shared:
    """Deal a part out to two players.

    Args:
        part: the part.
        keys: the key signatures of the new file.
        title: its title.
        basis: what it is judged on.
        double: whoever rests doubles the other in octaves, where that can be played.
        step: called with (attacks dealt, attacks in all).
    """
    attacks = attacks_of(part.events, basis.figures)
    dealer = Dealer(part, attacks, basis, step)
    alone = judge_part(part, basis)
    notes = sounded(part.events, basis.figures, part.end_us)

    def made(deal: Deal, extra: Sequence[tuple[int, Sounded]] = ()) -> tuple[bytes, tuple[PartReport, ...]]:
        staves = _staves(notes, attacks, deal, extra)
        data = midi_bytes(title, staves, part.time_map, keys)
        return data, judged(data, staves, basis, part.time_map.first_bar)

    deal = dealer.deal() if alone.mine.unplayable or alone.mine.audible else dealer.alone()
    tried: tuple[str, ...] = ()
    data, players = made(deal)
    if _too_much(players):
        deal, tried = _lighter(dealer, deal, lambda other: _heaviest(made(other)[1]))
        data, players = made(deal)
    doubled = 0
    if double and (octaves := dealer.doublings(deal)):
        more = made(deal, octaves)
        if _too_much(more[1]) <= _too_much(players):
            (data, players), doubled = more, len(octaves)
    return Shared(
        part.name,
        alone,
        dealer.turns(deal),
        tuple(part.time_map.place(attacks[n].us) for n in deal.impossible),
        tuple(part.time_map.place(attacks[n].us) for n in deal.audible),
        doubled,
        players,
        data,
        basis.figures.share.seam,
        double,
        tried,
        deal.bars,
    )


def _too_much(reports: Iterable[PartReport]) -> int:
    """How many passages are too much at once for the player who has them."""
    return sum(report.mine.too_much for report in reports)


def _heaviest(reports: Iterable[PartReport]) -> int:
    """The most pedal changes that are too much at once for a player; 0 where nothing is."""
    return max((load.changes for report in reports for load in report.loads if load.too_much), default=0)


def _lighter(dealer: Dealer, deal: Deal, too_much: Callable[[Deal], int]) -> tuple[Deal, tuple[str, ...]]:
    """The deal that leaves least that is too much at once and is no worse otherwise, and what was tried for it.

    too_much: how much of a deal is (0: nothing).
    """

    def order(deal: Deal) -> tuple[tuple[int, int], int, int, int]:
        faults, quick, hands_over = dealer.seams(deal)
        return faults, too_much(deal), quick, hands_over

    best, most = order(deal), deal.faults
    tried: list[str] = []
    for name, others in dealer.lighter():
        tried.append(name)
        for other in others:
            now = order(other) if other.faults <= most else None
            if now is not None and now < best:
                best, deal = now, other
            if now is not None and now[1:3] == (0, 0):
                return deal, tuple(tried)
    return deal, tuple(tried)


def judged(data: bytes, staves: Sequence[Staff], basis: Basis, first_bar: int) -> tuple[PartReport, ...]:
    """What `check` says of each track of a new file that has notes."""
    song = read_song(data, name="the new file", first_bar=first_bar)
    numbers = [str(number + 2) for number, staff in enumerate(staves) if staff.notes]
    return tuple(judge_part(part, basis) for number in numbers for part in choose_parts(song, Wanted((number,))))


def _staves(
    notes: Sequence[Sounded], attacks: Sequence[Gathered], deal: Deal, extra: Sequence[tuple[int, Sounded]]
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
