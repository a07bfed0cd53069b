"""One letter of a printed pedalling, followed from note to note.

A letter that no mark has spoken of stands as its first note needs it, since parts seldom print what the key says. Where
a note needs its letter otherwise than it stands, the mark for it is missing, or stands too late (in this bar or the
next), or the last mark stood too early; then the letter is taken to stand as the note needs it, so that one slip is
told once.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from livepedal.advice.proofreading.slips import Fault, Slip
from livepedal.harp import Instrument, Pedal, Position
from livepedal.harp.fifths import strings
from livepedal.model.feet.chords import Narrowing
from livepedal.model.feet.free import FreeRule
from livepedal.music.attacks import Gathered
from livepedal.music.ordinary import ordinary
from livepedal.music.pedal_words import PedalMark
from livepedal.music.timemap import TimeMap


class Use(NamedTuple):
    """A note on a letter. free: when its string is free again; string: which one it is plucked on."""

    us: int
    free: int
    position: Position
    pitch: int


class Set(NamedTuple):
    """What a mark says of one letter. whole: as part of a diagram."""

    us: int
    position: Position
    whole: bool


class Change(NamedTuple):
    """A pedal that a mark moves. by: when the next note needs it."""

    us: int
    pedal: Pedal
    start: Position
    goal: Position
    whole: bool
    by: int | None


def uses_of(
    marks: Sequence[PedalMark],
    attacks: Sequence[Gathered],
    asked: Mapping[int, Narrowing],
    key: int | None,
    instrument: Instrument,
    rule: FreeRule,
) -> tuple[dict[Pedal, list[Use]], dict[Pedal, list[Set]]]:
    """The notes by letter, and the notes that might be on a letter but are taken to be on another.

    A note of a MIDI file is on a string that stands right, of two on the one that was set last (but not at this very
    moment), else where it is ordinarily written.
    """
    uses: dict[Pedal, list[Use]] = {pedal: [] for pedal in Pedal}
    others: dict[Pedal, list[Set]] = {pedal: [] for pedal in Pedal}
    stands: dict[Pedal, Position] = {}
    since: dict[Pedal, int] = {}
    onsets = [attack.us for attack in attacks]
    fifths = iter(ordinary([pitch for attack in attacks for pitch, _ in attack.notes], key))
    waiting = list(reversed(marks))
    for attack in attacks:
        while waiting and waiting[-1].us <= attack.us:
            mark = waiting.pop()
            stands |= dict(mark.stands)
            since |= dict.fromkeys(dict(mark.stands), mark.us)
        narrowed = dict(asked.get(attack.us, ()))
        damped = attack.damped
        for pitch, released in attack.notes:
            usual = next(fifths)
            options = _options(pitch, narrowed.get(pitch), instrument)
            if not options:
                continue
            right = [option for option in options if stands.get(option[0]) is option[1]]
            pedal, position = max(
                right,
                key=lambda option: (since.get(option[0], 0) < attack.us, since.get(option[0], 0)),
                default=next((option for option in options if option in strings(usual)), options[0]),
            )
            stands[pedal] = position
            for other, there in options:
                if other is not pedal:
                    others[other].append(Set(attack.us, there, whole=False))
            latest = onsets[bisect_right(onsets, released) - 1] if released is not None else attack.us
            uses[pedal].append(
                Use(
                    attack.us, rule.free(pitch, attack.us, released, latest, pitch in damped), position, pitch
                )
            )
    return uses, others


def _options(
    pitch: int, asked: tuple[tuple[int, int], ...] | None, instrument: Instrument
) -> list[tuple[Pedal, Position]]:
    """Where a note can be played; nowhere where its string has no pedal. asked: where it is printed, if anywhere."""
    spellings = instrument.spellings(pitch)
    if any(spelling.fixed for spelling in spellings):
        return []
    options = [(one.pedal, one.position) for one in spellings]
    wanted = [(Pedal(pedal), Position(position)) for pedal, position in asked or ()]
    return [option for option in options if option in wanted] or options


class Letter:
    """One letter, followed through its notes and marks."""

    def __init__(
        self,
        pedal: Pedal,
        sets: Sequence[Set],
        uses: Sequence[Use],
        others: Sequence[Set],
        time_map: TimeMap,
    ) -> None:
        self.pedal = pedal
        self.faults: list[Fault] = []
        self.changes: list[Change] = []
        self._sets = sets
        self._uses = uses
        self._others = others
        self._place = time_map.place
        self._stands: Position | None = None
        self._since: int | None = None
        self._made_up: set[int] = set()  # marks that came late, by their number
        self._last: tuple[Set, Position] | None = (
            None  # the last mark that changed something, and what stood before
        )
        self._follow()

    def _follow(self) -> None:
        number = 0
        for at, use in enumerate(self._uses):
            while number < len(self._sets) and self._sets[number].us <= use.us:
                self._mark(number)
                number += 1
            self._note(at, number)
        for left in range(number, len(self._sets)):
            self._mark(left)

    def _fault(self, slip: Slip, us: int, position: Position, **more: Any) -> None:
        self.faults.append(Fault(slip, us, self.pedal, position, **more))

    def _mark(self, number: int) -> None:
        mark = self._sets[number]
        # A diagram that says the same again is no other mark.
        others = (
            one for one in self._sets[number + 1 :] if not (one.whole and one.position is mark.position)
        )
        after = next(others, None)
        found = bisect_right(self._uses, mark.us - 1, key=lambda use: use.us)
        by = self._uses[found].us if found < len(self._uses) else None
        played = by is not None and (after is None or by < after.us)
        perhaps = any(
            other.position is mark.position and mark.us <= other.us and (after is None or other.us < after.us)
            for other in self._others
        )
        if number in self._made_up:
            self._since = mark.us
            return
        before, self._stands = self._stands, mark.position
        since, self._since = self._since, mark.us
        if (
            after is not None
            and after.position is not mark.position
            and (after.us == mark.us or (after.whole and not played and not mark.whole))
        ):
            self._fault(Slip.CONTRADICTED, mark.us, mark.position, other=after.position, other_us=after.us)
            return
        if not mark.whole and before is mark.position:
            self._fault(Slip.NEEDLESS, mark.us, mark.position, other=before, other_us=since)
            return
        if not mark.whole and not (played or perhaps):
            self._fault(Slip.NEEDLESS, mark.us, mark.position, other_us=None if after is None else after.us)
            return
        if before is not None and before is not mark.position:
            self._last = mark, before
            self.changes.append(
                Change(mark.us, self.pedal, before, mark.position, mark.whole, by if played else None)
            )

    def _note(self, at: int, number: int) -> None:
        use = self._uses[at]
        if self._stands is None or self._stands is use.position:
            self._since = use.us if self._stands is None else self._since
            self._stands = use.position
            return
        coming = self._sets[number] if number < len(self._sets) else None
        if self._last is not None and self._last[1] is use.position and self._comes_later(at, coming):
            mark = self._last[0]
            self._fault(
                Slip.EARLY, mark.us, mark.position, other=use.position, other_us=use.us, pitch=use.pitch
            )
            self._last = None  # told once; from here on it stands as it is marked
            return
        if (
            coming is not None
            and coming.position is use.position
            and not coming.whole
            and self._place(coming.us).bar - self._place(use.us).bar <= 1
        ):
            self._fault(
                Slip.LATE, coming.us, use.position, other=self._stands, other_us=use.us, pitch=use.pitch
            )
            self._made_up.add(number)
        else:
            self._fault(
                Slip.MISSING, use.us, use.position, other=self._stands, other_us=self._since, pitch=use.pitch
            )
        self._stands, self._since, self._last = use.position, use.us, None

    def _comes_later(self, at: int, coming: Set | None) -> bool:
        """Whether the letter, as the last mark has it, was not played yet and will be before the next mark."""
        last = self._last
        if last is None or any(
            last[0].us <= use.us and use.position is last[0].position for use in self._uses[:at]
        ):
            return False
        after = (use.position for use in self._uses[at + 1 :] if coming is None or use.us < coming.us)
        return last[0].position in after
