"""Remedies carried out a second time, without the code that found them, and judged independently."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from livepedal.advice.judging.basis import Basis
from livepedal.advice.judging.part import attacks_of, judge_part
from livepedal.advice.judging.report import PartReport
from livepedal.advice.remedies.remedy import Remedy
from livepedal.harp import Figures, Setting
from livepedal.music.attacks import Gathered, events_of
from livepedal.music.parts import choose_parts
from livepedal.music.song import Part, read_song
from livepedal.music.timemap import TimeMap
from tests.judge import cpsat
from tests.judge.passages import PLAYERS
from tests.places import RECORDINGS

BUILTIN = Figures.builtin()
HARP = BUILTIN.instrument("47")
#: The built-in players as the judge has them; strings die away as the built-in table says.
JUDGED = {
    name: replace(figures, ring=tuple(BUILTIN.ringing.ring(pitch) for pitch in range(128)))
    for name, figures in PLAYERS.items()
}


def part_of(name: str) -> Part:
    return choose_parts(read_song(RECORDINGS / name))[0]


def attacks_in(name: str) -> tuple[Gathered, ...]:
    return attacks_of(part_of(name).events, BUILTIN)


def report_on(attacks: Sequence[Gathered], basis: Basis, time_map: TimeMap | None = None) -> PartReport:
    """What livepedal says of these attacks; two seconds a bar, where no time map is given."""
    events = tuple(events_of(attacks))
    part = Part("", (), events, events[-1].us, len(events), time_map or TimeMap.steady())
    return judge_part(part, basis, pedalling=False)


def passage(attacks: Sequence[Gathered], setting: Setting | None = None) -> cpsat.Passage:
    """Gathered attacks as the judge takes them."""
    start = None
    if setting is not None:
        start = cpsat.Start(0, tuple(None if p is None else int(p) for p in setting.positions))
    notes = (tuple(cpsat.Note(pitch, end) for pitch, end in attack.notes) for attack in attacks)
    return cpsat.Passage(
        tuple(cpsat.Attack(a.us, n) for a, n in zip(attacks, notes, strict=True)), start=start
    )


def judged(
    attacks: Sequence[Gathered],
    player: str = "working",
    setting: Setting | None = None,
    upto: int | None = None,
) -> bool:
    """Whether the judge finds a way to play the first `upto` attacks (default all), audibly or not."""
    last = len(attacks) if upto is None else upto
    return cpsat.feasible(passage(attacks, setting), JUDGED[player], "sliding", last)


def slowed(
    attacks: Sequence[Gathered], ratio: Fraction, start: int = 0, end: int | None = None
) -> list[Gathered]:
    """From `start` to `end` (µs) at `ratio` of the tempo, rounded half up; the rest in tempo, but later."""

    def at(us: int) -> int:
        inside = min(us, us if end is None else end) - start
        return us if inside <= 0 else us + int((1 / ratio - 1) * inside + Fraction(1, 2))

    return [
        Gathered(at(a.us), tuple((pitch, None if off is None else at(off)) for pitch, off in a.notes))
        for a in attacks
    ]


def apart(attacks: Sequence[Gathered], remedy: Remedy) -> tuple[list[Gathered], list[Gathered]]:
    """What the first and what the second harp plays, where that is the remedy."""
    deal = remedy.second
    assert deal is not None
    first, second = [], []
    for attack in attacks:
        theirs = set()
        if remedy.start <= attack.us < remedy.end:
            theirs = {pitch for pitch, _ in attack.notes}
            if deal.classes:
                theirs = {pitch for pitch in theirs if pitch % 12 in deal.classes}
            elif deal.below is not None:
                theirs = {pitch for pitch in theirs if pitch < deal.below}
            elif deal.above is not None:
                theirs = {pitch for pitch in theirs if pitch >= deal.above}
        for mine, player in ((False, first), (True, second)):
            notes = tuple(note for note in attack.notes if (note[0] in theirs) is mine)
            if notes:
                player.append(Gathered(attack.us, notes))
    assert sum(len(attack.notes) for attack in second) == deal.notes > 0
    return first, second


def helps(attacks: Sequence[Gathered], remedy: Remedy, player: str = "working") -> bool:
    """Whether the judge finds a way to play the music with the remedy: one player, or both."""
    if remedy.second is not None:
        return all(judged(part, player) for part in apart(attacks, remedy) if part)
    return judged(carried_out(attacks, remedy), player, remedy.setting)


def carried_out(attacks: Sequence[Gathered], remedy: Remedy) -> list[Gathered]:
    """The music with a remedy that changes tempo or notes."""
    if remedy.ratio is not None:
        return slowed(attacks, remedy.ratio, remedy.start, remedy.end)
    to = {(note.us, note.pitch): note.to for note in remedy.notes}
    assert to, remedy
    changed = []
    for attack in attacks:
        notes = []
        for pitch, off in attack.notes:
            goal = to.pop((attack.us, pitch), pitch)
            if goal is not None:
                notes.append((goal, off))
        changed.append(Gathered(attack.us, tuple(sorted(notes))))
    assert not to, "a remedy names notes that are not in the music"
    return changed
