"""Proofreading a printed pedalling: does each note's string stand right by the marks, and is each mark in its place?

The marks are a plan that somebody else has made. Letter by letter they are followed from note to note. A letter that
no mark has spoken of stands as its first note needs it, since parts seldom print what the key says. Where a note
needs its letter otherwise than it stands, the mark for it is missing, or stands too late (in this bar or the next),
or the last mark stood too early; then the letter is taken to stand as the note needs it, so that one slip is told once.

A mark is where the foot moves. A mark of all seven pedals (a diagram) says how they stand from there on, so its
changes are made before, as soon as their strings are free. Changes of one foot come one after another, in the order
in which they are printed, as the player's `cycle` allows (harp/players.py); each takes its flick and is settled
before the note that needs it. When a string is free is told as for the verdict (model/feet/free.py).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, NamedTuple

from livepedal.advice.judging.values import seconds
from livepedal.harp import Instrument, Pedal, Player, Position, Ringing
from livepedal.model.feet.chords import Narrowing
from livepedal.model.feet.free import FreeRule
from livepedal.music.attacks import Gathered
from livepedal.music.ordinary import ordinary, strings
from livepedal.music.pedal_words import PedalMark
from livepedal.music.timemap import TimeMap

MARGIN = 1000  # µs: a mark is a place on paper, and none is wrong by less (judgement)


class Slip(StrEnum):
    """What a proofreader marks."""

    MISSING = "missing"  # a note needs what no mark has set
    LATE = "late"  # the mark stands after the note that needs it
    HURRIED = "hurried"  # it stands before it, but the player needs longer
    EARLY = "early"  # the letter is still needed as it stood before
    NEEDLESS = "needless"  # it stands so already, or is not played before its next mark
    CONTRADICTED = (
        "contradicted"  # a diagram says otherwise before the letter is played, or two marks at once do
    )
    AUDIBLE = "audible"  # the pedal moves while its string is wanted


@dataclass(frozen=True, slots=True)
class Fault:
    """One slip. us: of the mark, or of the note where its mark is missing. Times in µs.

    position: what is needed or marked; other: how the pedal stands instead or before, since `other_us` (or what else
    concerns it happens then); needed, available: the time for the change; pitch: a note that is concerned (MIDI
    number).
    """

    slip: Slip
    us: int
    pedal: Pedal
    position: Position
    other: Position | None = None
    other_us: int | None = None
    needed: int = 0
    available: int = 0
    pitch: int | None = None


@dataclass(frozen=True, slots=True)
class Printed:
    """A printed pedalling, proofread. marks: as printed; faults: in order of time, from the first mark on; before:
    how many changes the notes before the first mark need; changes: how many pedals the marks move.
    """

    marks: tuple[PedalMark, ...]
    faults: tuple[Fault, ...]
    before: int
    changes: int

    def to_dict(self, time_map: TimeMap) -> dict[str, Any]:
        def where(us: int) -> dict[str, Any]:
            place = time_map.place(us)
            return {
                "seconds": seconds(us),
                "bar": int(place.bar),
                "beat": [place.beat.numerator, place.beat.denominator],
            }

        return {
            "marks": [
                {
                    **where(mark.us),
                    "text": mark.text,
                    "pedals": {pedal.letter: position.word for pedal, position in mark.stands},
                    "feet": sorted({pedal.foot.value for pedal, _ in mark.stands}),
                }
                for mark in self.marks
            ],
            "faults": [
                {
                    "kind": fault.slip.value,
                    **where(fault.us),
                    "pedal": fault.pedal.letter,
                    "position": fault.position.word,
                    "other": None if fault.other is None else fault.other.word,
                    "other_place": None if fault.other_us is None else where(fault.other_us),
                    "needed_s": seconds(fault.needed),
                    "available_s": seconds(fault.available),
                }
                for fault in self.faults
            ],
            "before_first_mark": self.before,
        }


class _Use(NamedTuple):
    """A note on a letter. free: when its string is free again; string: which one it is plucked on."""

    us: int
    free: int
    position: Position
    pitch: int


class _Set(NamedTuple):
    """What a mark says of one letter. whole: as part of a diagram."""

    us: int
    position: Position
    whole: bool


class _Change(NamedTuple):
    """A pedal that a mark moves. by: when the next note needs it."""

    us: int
    pedal: Pedal
    start: Position
    goal: Position
    whole: bool
    by: int | None


def proofread(
    marks: Sequence[PedalMark],
    attacks: Sequence[Gathered],
    asked: Mapping[int, Narrowing],
    key: int | None,
    time_map: TimeMap,
    instrument: Instrument,
    player: Player,
    ringing: Ringing,
) -> Printed:
    """Follow the marks through the music. asked: the strings that the notes are printed on, as for a judgement; key:
    fifths of the key signature, by which other notes are written.
    """
    uses, others = _uses(marks, attacks, asked, key, instrument, FreeRule.held(player, ringing))
    faults: list[Fault] = []
    changes: list[_Change] = []
    for pedal in Pedal:
        sets = [
            _Set(mark.us, position, mark.whole)
            for mark in marks
            for one, position in mark.stands
            if one is pedal
        ]
        letter = _Letter(pedal, sets, uses[pedal], others[pedal], time_map)
        faults += letter.faults
        changes += letter.changes
    late = {(fault.us, fault.pedal) for fault in faults if fault.slip in (Slip.LATE, Slip.EARLY)}
    faults += _hurried(
        [change for change in changes if (change.us, change.pedal) not in late], uses, player, ringing
    )
    first = marks[0].us if marks else 0
    told = sorted((fault for fault in faults if fault.us >= first), key=lambda fault: (fault.us, fault.pedal))
    return Printed(tuple(marks), tuple(told), len(faults) - len(told), len(changes))


def _uses(
    marks: Sequence[PedalMark],
    attacks: Sequence[Gathered],
    asked: Mapping[int, Narrowing],
    key: int | None,
    instrument: Instrument,
    rule: FreeRule,
) -> tuple[dict[Pedal, list[_Use]], dict[Pedal, list[_Set]]]:
    """The notes by letter, and the notes that might be on a letter but are taken to be on another.

    A note of a MIDI file is on a string that stands right, of two on the one that was set last (but not at this very
    moment), else where it is ordinarily written.
    """
    uses: dict[Pedal, list[_Use]] = {pedal: [] for pedal in Pedal}
    others: dict[Pedal, list[_Set]] = {pedal: [] for pedal in Pedal}
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
            spellings = instrument.spellings(pitch)
            usual = next(fifths)
            if any(spelling.fixed for spelling in spellings):
                continue
            options = [(one.pedal, one.position) for one in spellings]
            if pitch in narrowed:
                wanted = [(Pedal(pedal), Position(position)) for pedal, position in narrowed[pitch]]
                options = [option for option in options if option in wanted] or options
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
                    others[other].append(_Set(attack.us, there, whole=False))
            latest = onsets[bisect_right(onsets, released) - 1] if released is not None else attack.us
            uses[pedal].append(
                _Use(attack.us, rule.free(pitch, attack.us, released, latest, pitch in damped), position, pitch)
            )
    return uses, others


class _Letter:
    """One letter, followed through its notes and marks."""

    def __init__(
        self,
        pedal: Pedal,
        sets: Sequence[_Set],
        uses: Sequence[_Use],
        others: Sequence[_Set],
        time_map: TimeMap,
    ) -> None:
        self.pedal = pedal
        self.faults: list[Fault] = []
        self.changes: list[_Change] = []
        self._sets = sets
        self._uses = uses
        self._others = others
        self._place = time_map.place
        self._stands: Position | None = None
        self._since: int | None = None
        self._made_up: set[int] = set()  # marks that came late, by their number
        self._last: tuple[_Set, Position] | None = (
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
            one.position is mark.position and mark.us <= one.us and (after is None or one.us < after.us)
            for one in self._others
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
                _Change(mark.us, self.pedal, before, mark.position, mark.whole, by if played else None)
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

    def _comes_later(self, at: int, coming: _Set | None) -> bool:
        """Whether the letter, which stands as the last mark says, has not been played so yet and will be before the
        next mark.
        """
        last = self._last
        if last is None or any(
            last[0].us <= use.us and use.position is last[0].position for use in self._uses[:at]
        ):
            return False
        after = (use.position for use in self._uses[at + 1 :] if coming is None or use.us < coming.us)
        return last[0].position in after


def _hurried(
    changes: Sequence[_Change], uses: Mapping[Pedal, Sequence[_Use]], player: Player, ringing: Ringing
) -> Iterator[Fault]:
    """Changes that the player has no time for, and audible ones."""
    rule = FreeRule.held(player, ringing)
    jobs: list[tuple[int, int, _Change]] = []
    for change in changes:
        before = [use for use in uses[change.pedal] if use.us < change.us]
        free = max((_free(use, uses[change.pedal], change, rule) for use in before), default=0)
        jobs.append((min(change.us, free) if change.whole else change.us, free, change))
    last: dict[str, int] = {}
    for release, free, change in sorted(jobs, key=lambda job: (job[0], job[2].by or 0, job[2].pedal)):
        foot = change.pedal.foot.value
        start = max(release, last[foot] + player.cycle) if foot in last else release
        last[foot] = start
        lead = player.leads[abs(change.goal - change.start)]
        if change.by is not None and start + lead > change.by + MARGIN:
            needed, there = start - release + lead, change.by - release
            yield Fault(
                Slip.HURRIED,
                change.us,
                change.pedal,
                change.goal,
                change.start,
                change.by,
                needed,
                max(0, there),
            )
        elif free > start + MARGIN:
            yield Fault(
                Slip.AUDIBLE,
                change.us,
                change.pedal,
                change.goal,
                change.start,
                needed=free - start,
                pitch=_ringing(uses[change.pedal], free),
            )


def _free(use: _Use, uses: Sequence[_Use], change: _Change, rule: FreeRule) -> int:
    """When the string of a note is free for this change."""
    again = change.by is not None and any(
        other.us == change.by and other.pitch - other.position == use.pitch - use.position for other in uses
    )
    return rule.damped(use.free, use.us, change.by) if again and change.by is not None else use.free


def _ringing(uses: Sequence[_Use], free: int) -> int | None:
    return next((use.pitch for use in uses if use.free == free), None)
